"""The networks that tell beads from what is under them: small U-nets on the top view and on the strand."""

import itertools

import torch
from torch import nn
from torch.nn import functional

WIDTHS = (24, 40, 64, 96, 128)
MAPS = 2  # how sure a cell shows a bead; how deep inside its bead it lies
STRAND_CHANNELS = 5  # colours, and the slants under which the string is seen
STRAND_MAPS = 5  # how sure a cell shows a bead; near a bead's end; between a bead's ends; two of its width
LOOK_CHANNELS = 12  # colours, what the outline holds, and eight facts


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
        widths = [int(w * wider) for w in WIDTHS]
        self.channels, self.any_size = channels, {2: "rows", 3: "columns"}
        # two by two cells become channels at once: most of the time goes into the finest level
        steps = list(itertools.pairwise(widths))
        self.down = nn.ModuleList([Block(4 * channels, widths[0]), *(Block(a, b) for a, b in steps)])
        self.up = nn.ModuleList([Block(a + b, a) for a, b in steps])
        self.head = nn.Conv2d(widths[0], 4 * maps, 1)

    def forward(self, seen: torch.Tensor) -> torch.Tensor:
        """Return the logits of all maps."""
        return functional.pixel_shuffle(self.look(functional.pixel_unshuffle(seen - 0.5, 2)), 2)

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


class Look(nn.Module):
    """Pictures of single beads, shape (N, LOOK_CHANNELS, 64, 64), 0 to 1, to place and log scale, (N, 4).

    By how much, as a logarithm, its largest and smallest size are off; and how well that is known.
    """

    def __init__(self) -> None:
        super().__init__()
        self.channels, self.any_size = LOOK_CHANNELS, {0: "beads"}
        widths = (32, 48, 72, 96, 128)
        first = nn.Sequential(
            nn.Conv2d(4 * LOOK_CHANNELS, widths[0], 3, padding=1, bias=False),
            nn.BatchNorm2d(widths[0]),
            nn.ReLU(inplace=True),
        )
        self.body = nn.Sequential(
            first,
            Block(widths[0], widths[1]),
            nn.MaxPool2d(2),
            Block(widths[1], widths[2]),
            nn.MaxPool2d(2),
            Block(widths[2], widths[3]),
            nn.MaxPool2d(2),
            Block(widths[3], widths[4]),
        )
        self.head = nn.Sequential(nn.Linear(2 * widths[-1], 128), nn.ReLU(inplace=True), nn.Linear(128, 4))
        with torch.no_grad():  # begin with: nothing is off, by a few per cent
            self.head[-1].weight.mul_(0.1)
            self.head[-1].bias.copy_(torch.tensor([0.0, 0.0, -3.5, -3.5]))

    def forward(self, seen: torch.Tensor) -> torch.Tensor:
        """Return two places and two log scales."""
        return self.look(functional.pixel_unshuffle(seen - 0.5, 2))

    def look(self, cells: torch.Tensor) -> torch.Tensor:
        """Look at the whole picture, its middle and all of it."""
        seen = self.body(cells)
        return self.head(torch.cat([seen.mean(dim=(2, 3)), seen.amax(dim=(2, 3))], dim=1))
