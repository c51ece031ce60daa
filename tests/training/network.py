"""Small U-nets: they segment beads in the top view and on the strand, and correct sizes of single beads."""

import itertools

import torch
from torch import nn
from torch.nn import functional

WIDTHS = (32, 48, 64, 96, 128)
KINDS = 9  # bed, bead, spacer, cover, finding, chain, stopper, string, other
MAPS = 2 + KINDS  # probability that a cell shows a strung part; how deep inside its piece it lies; kinds
STRAND_CHANNELS = 5  # colours, and the slant of the line of sight along and across the string
STRAND_MAPS = 5 + KINDS
"""Probability of a strung part, of its end near by, of lying between ends; two maps of width; kinds."""
CLOSE_UP_CHANNELS = 12  # colours, share inside the outline, and eight facts
PIECE_CHANNELS, PIECE_WIDTHS = 14, (48, 64, 96, 128)  # layers of a picture, and the size of the piece
WHOLES = 4  # what a piece may be: none, one bead, a part of one, several
ESTIMATES = 5  # of a close-up: two places, two log scales, and the log odds of a bead

Features = tuple[int, int]
"""How many features a layer had as it was stored, and how many it has."""


def widened(wider: float) -> list[int]:
    """Return the numbers of features of all levels, in multiples of 16: integers are computed 16 at once."""
    return [max(16, 16 * round(width * wider / 16)) for width in WIDTHS]


class Block(nn.Module):
    """Two convolutions of 3 x 3 cells."""

    def __init__(self, before: int, after: int) -> None:
        super().__init__()
        self.layers = nn.Sequential(
            nn.Conv2d(before, after, 3, padding=1, bias=False),
            nn.BatchNorm2d(after),
            nn.ReLU(inplace=True),
            nn.Conv2d(after, after, 3, padding=1, bias=False),
            nn.BatchNorm2d(after),
            nn.ReLU(inplace=True),
        )

    def forward(self, cells: torch.Tensor) -> torch.Tensor:
        """Keep height and width."""
        return self.layers(cells)


class Network(nn.Module):
    """Channels, colours first, (N, C, H, W), 0 to 1, to logits (N, M, H, W); H and W multiples of 32."""

    def __init__(self, channels: int = 3, maps: int = MAPS, *, wider: float = 1.0) -> None:
        super().__init__()
        widths = widened(wider)
        self.channels, self.side, self.any_size = channels, 32, {2: "rows", 3: "columns"}
        # two by two cells become channels first: the finest level takes most of the time
        steps = list(itertools.pairwise(widths))
        self.down = nn.ModuleList([Block(4 * channels, widths[0]), *(Block(a, b) for a, b in steps)])
        self.up = nn.ModuleList([Block(a + b, a) for a, b in steps])
        self.head = nn.Conv2d(widths[0], 4 * maps, 1)

    def forward(self, seen: torch.Tensor) -> torch.Tensor:
        """Return the logits of all maps."""
        return functional.pixel_shuffle(self.folded(functional.pixel_unshuffle(seen - 0.5, 2)), 2)

    def folded(self, cells: torch.Tensor) -> torch.Tensor:
        """Return the maps with their two by two finer cells as channels."""
        return self.head(self.levels(cells)[1])

    def ends(self, *, deep: Features, fine: Features) -> list[tuple[nn.Module, list[Features]]]:  # noqa: ARG002
        """Return the layers after the blocks, each with the features it gets, coarsest and finest ones."""
        return [(self.head, [fine])]

    def levels(self, cells: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """Go down to coarser cells, which cover the surroundings, and up again."""
        kept = []
        for k, block in enumerate(self.down):
            cells = block(cells if k == 0 else functional.max_pool2d(cells, 2))
            kept.append(cells)
        for k in reversed(range(len(self.up))):
            cells = functional.interpolate(cells, scale_factor=2.0, mode="nearest")
            cells = self.up[k](torch.cat([kept[k], cells], dim=1))
        return kept[-1], cells


class CloseUpNetwork(Network):
    """Pictures of single beads, shape (N, CLOSE_UP_CHANNELS, 64, 64), 0 to 1, to ESTIMATES, (N, 5).

    A place estimates the logarithm of the true over the measured size, largest and smallest; a log scale is
    the uncertainty of that. The last are the log odds that it is the outline of one bead. During
    training the network also segments the bead, which helps it to find edges.
    """

    def __init__(self, *, wider: float = 1.0) -> None:
        super().__init__(CLOSE_UP_CHANNELS, 1, wider=wider)
        self.any_size = {0: "beads"}
        coarse, fine = (widened(wider)[k] for k in (-1, 0))
        self.numbers = nn.Sequential(
            nn.Linear(2 * coarse + fine, 128), nn.ReLU(inplace=True), nn.Linear(128, ESTIMATES)
        )
        with torch.no_grad():  # at first it changes no size, with an uncertainty of a few per cent
            self.numbers[-1].weight.mul_(0.1)
            self.numbers[-1].bias.copy_(torch.tensor([0.0, 0.0, -3.5, -3.5, 0.0]))

    def forward(self, seen: torch.Tensor) -> torch.Tensor:
        """Return what it estimates, and the logits of all cells, shape (N, ESTIMATES + 64 x 64)."""
        deep, fine = self.levels(functional.pixel_unshuffle(seen - 0.5, 2))
        shown = functional.pixel_shuffle(self.head(fine), 2).flatten(1)
        return torch.cat([self._estimates(deep, fine).float(), shown.float()], dim=1)

    def folded(self, cells: torch.Tensor) -> torch.Tensor:
        """Return what it estimates."""
        return self._estimates(*self.levels(cells))

    def ends(self, *, deep: Features, fine: Features) -> list[tuple[nn.Module, list[Features]]]:
        """Return the layers after the blocks, each with the features it gets, coarsest and finest ones."""
        first, _, second = self.numbers
        return [(first, [deep, deep, fine]), (second, [(first.out_features,) * 2])]

    def _estimates(self, deep: torch.Tensor, fine: torch.Tensor) -> torch.Tensor:
        with torch.autocast(deep.device.type, enabled=False):
            pooled = [deep.mean(dim=(2, 3)), deep.amax(dim=(2, 3)), fine.float().mean(dim=(2, 3))]
            return self.numbers(torch.cat([p.float() for p in pooled], dim=1))


class PieceNetwork(nn.Module):
    """Pictures of pieces, (N, PIECE_CHANNELS, 48, 48), 0 to 1, to logits of what they are, (N, WHOLES)."""

    def __init__(self, *, wider: float = 1.0) -> None:
        super().__init__()
        self.channels, self.side, self.any_size = PIECE_CHANNELS, 24, {0: "pieces"}
        widths = [16 * round(wider * width / 16) for width in PIECE_WIDTHS]
        steps = list(itertools.pairwise((4 * PIECE_CHANNELS, *widths)))
        self.down = nn.ModuleList([Block(a, b) for a, b in steps])
        self.numbers = nn.Sequential(
            nn.Linear(2 * widths[-1], 128), nn.ReLU(inplace=True), nn.Dropout(0.3), nn.Linear(128, WHOLES)
        )

    def forward(self, seen: torch.Tensor) -> torch.Tensor:
        """Return the logits."""
        return self.folded(functional.pixel_unshuffle(seen - 0.5, 2))

    def folded(self, cells: torch.Tensor) -> torch.Tensor:
        """Return the logits, from two by two cells as channels."""
        for k, block in enumerate(self.down):
            cells = block(cells if k == 0 else functional.max_pool2d(cells, 2))
        pooled = torch.cat([cells.mean(dim=(2, 3)), cells.amax(dim=(2, 3))], dim=1)
        return self.numbers(pooled)
