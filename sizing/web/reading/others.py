"""What lies on a photo besides and is not counted, as a page shows it."""

from sizing.report.records.photo import css_colour
from sizing.report.sentences.phrases import opening
from sizing.web.reading.marks import Mark, outline_points
from sizing.web.reading.reading import Card
from vision.common.records import Other
from vision.marks.colours import UNCOUNTED

OTHER = css_colour(UNCOUNTED)


def other_mark(other: Other, k: int) -> Mark:
    """Return the mark on the k-th of them."""
    return Mark(
        key=f"other-{k}",
        number="",
        title=f"{opening(other.kind)}, not counted",
        points=outline_points(other.outline_px),
        x=round(other.centre_px[0], 1),
        y=round(other.centre_px[1], 1),
        radius=0.0,
        colour=OTHER,
        states="other",
    )


def other_card(other: Other, k: int, photo: str) -> Card:
    """Return the card of the k-th of them, which lies on a photo."""
    return Card(
        key=f"other-{k}",
        title=f"{opening(other.kind)}: not counted",
        rows=(),
        doubts=(),
        photo=photo,
        numbers=(),
        px=other.centre_px,
        is_bead=False,
    )
