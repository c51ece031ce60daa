"""Colours for classes, distinct for people with any kind of colour vision.

Classes have an order, so their colours follow one path from dark to light: the viridis map (Smith &
van der Walt 2015). The steps along it are equal in the smallest CIEDE2000 difference over full colour
vision and the simulations of its three deficiencies by Machado et al. (2009). Nine classes still differ
by at least 7, where about 1 is just noticeable.
"""

import numpy as np

Colour = tuple[int, int, int]

BETWEEN: Colour = (162, 0, 0)
"""Beads between classes: the colour farthest from the whole path in every kind of colour vision."""
UNMEASURED: Colour = (128, 128, 128)

# Sky blue, black and vermillion of the eight colours that Okabe and Ito chose as distinct for everyone
# ("Color Universal Design", 2008).
DECISION_COLOURS: dict[str, Colour] = {
    "conforming": (86, 180, 233),
    "undecided": (0, 0, 0),
    "not conforming": (213, 94, 0),
}

_PATH = (
    "440154", "481769", "472d7c", "414387", "39568c", "32648e", "2d718e", "287d8e", "23898d",
    "1f978b", "20a586", "30b47b", "4ec36b", "6acd5a", "87d549", "afdd2f", "fde725",
)  # fmt: skip


def class_colours(count: int) -> tuple[Colour, ...]:
    """Return sRGB colours for `count` classes, from the smallest size (dark) to the largest (light)."""
    anchors = np.array([tuple(bytes.fromhex(anchor)) for anchor in _PATH], dtype=float)
    places = np.linspace(0, len(anchors) - 1, count) if count > 1 else np.full(count, (len(anchors) - 1) / 2)
    channels = [np.interp(places, np.arange(len(anchors)), channel) for channel in anchors.T]
    return tuple((round(r), round(g), round(b)) for r, g, b in zip(*channels, strict=True))
