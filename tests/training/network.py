"""The network that tells beads from what is under them: a small U-net on the top view."""

import itertools

import torch
from torch import nn
from torch.nn import functional

WIDTHS = (24, 40, 64, 96, 128)
MAPS = 2  # how sure a cell shows a bead; how deep inside its bead it lies


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
    """Colours, shape (N, 3, H, W), 0 to 1, to logits, shape (N, MAPS, H, W); H and W multiples of 32."""

    def __init__(self) -> None:
        super().__init__()
        # two by two cells become channels at once: most of the time goes into the finest level
        steps = list(itertools.pairwise(WIDTHS))
        self.down = nn.ModuleList([Block(12, WIDTHS[0]), *(Block(a, b) for a, b in steps)])
        self.up = nn.ModuleList([Block(a + b, a) for a, b in steps])
        self.head = nn.Conv2d(WIDTHS[0], 4 * MAPS, 1)

    def forward(self, rgb: torch.Tensor) -> torch.Tensor:
        """Return the logits of both maps."""
        return functional.pixel_shuffle(self.look(functional.pixel_unshuffle(rgb - 0.5, 2)), 2)

    def look(self, cells: torch.Tensor) -> torch.Tensor:
        """Go down to coarser cells and up again, each level seeing what lies round the finer ones."""
        kept = []
        for k, block in enumerate(self.down):
            cells = block(cells if k == 0 else functional.max_pool2d(cells, 2))
            kept.append(cells)
        for k in reversed(range(len(self.up))):
            cells = functional.interpolate(cells, scale_factor=2.0, mode="nearest")
            cells = self.up[k](torch.cat([kept[k], cells], dim=1))
        return self.head(cells)
