"""Trains the network of strands, while more samples are still being drawn.

python -m tests.training.train_strand OUT.onnx SAMPLES_DIR... --seconds 1200
"""

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
from torch.nn import functional

from tests.training.network import STRAND_CHANNELS, STRAND_MAPS, Network
from tests.training.train import (
    DEVICE,
    PLAIN,
    UNKNOWN,
    kind_loss,
    log_loss,
    newly_drawn,
    options,
    readers,
    recoloured,
    train,
)

ACROSS, ROWS, COLUMNS, BATCH = 40, 128, 512, 40
"""The widest beads are about ACROSS cells wide."""
BUMP = 1.5  # standard deviation, in cells, of the mark at a bead's end
MIDDLE = slice(48, 80)  # rows about the string
HEART = 0.25  # of a bead's length, from either end; between them its size across is estimated
LEAST_CELLS = 2.0
SIZE_WEIGHT = 0.05


def read_strand(path: Path) -> tuple:
    """Read a sample: whether traced; layers, slant, ends of beads and stoppers, widths, kinds, the widest."""
    with np.load(path) as one:
        layers = np.dstack([one["rgb"], one["inside"]]).transpose(2, 0, 1)
        rest = (*(one[k] for k in ("slant", "beads", "stoppers", "across")), _kinds(one))
        return "kinds" in one, np.ascontiguousarray(layers), *rest, float(one["width_cells"])


class Strands:
    """Straightened strands: colours and inside on the device; slants, and where beads and stoppers end."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self.folders, self.known, self.readers = folders, set(), readers()
        self.traced, self.drawn, self.held = [], [], []

    def __len__(self) -> int:
        """Return how many there are to train on."""
        return len(self.traced) + len(self.drawn)

    def refresh(self) -> None:
        """Load the samples drawn since the last call."""
        for held, (traced, layers, *rest) in newly_drawn(self.folders, self.known, read_strand, self.readers):
            image = torch.from_numpy(layers).to(DEVICE)
            (self.held if held else self.traced if traced else self.drawn).append((image, *rest))

    def batch(self, rng: np.random.Generator) -> tuple[torch.Tensor, torch.Tensor]:
        """Return the network's input (N, 5, ROWS, COLUMNS), and the truth (N, 6, ROWS, COLUMNS).

        The truth: inside a strung part, near an end, between ends; log size across, where it counts; kind.
        """
        images, truths = zip(*(self.crop(rng) for _ in range(BATCH)), strict=True)
        layers, slants = (torch.cat(part) for part in zip(*images, strict=True))
        marks = torch.cat(truths)
        inside = layers[:, 3:]
        return torch.cat([recoloured(layers[:, :3], rng), slants], dim=1), torch.cat([inside, marks], dim=1)

    def crop(self, rng: np.random.Generator):  # noqa: ANN201
        """Cut a piece, mirrored and scaled at random, its axis a little beside the true one."""
        drawn = self.drawn and (rng.random() < PLAIN or not self.traced)
        among = self.drawn if drawn else self.traced
        *strand, wide = among[rng.integers(len(among))]
        per_cell = wide / ACROSS / math.exp(rng.uniform(math.log(0.7), math.log(1.45)))
        ends = np.concatenate(strand[2:4]).ravel()
        middle = (
            rng.choice(ends) + rng.uniform(-0.5, 0.5) * COLUMNS * per_cell
            if rng.random() < 0.4
            else rng.uniform(ends.min(), ends.max())
        )
        turn, flip = rng.choice([-1, 1], 2)
        aside = rng.normal(0, 0.06) * wide
        wave = rng.normal(0, 0.04) * wide, rng.uniform(4, 25) * wide, rng.uniform(0, 2 * math.pi)
        return _piece(strand, middle, turn * per_cell, flip * per_cell, (aside, *wave))

    def whole(self, held) -> tuple[torch.Tensor, torch.Tensor, np.ndarray]:  # noqa: ANN001
        """Return a held-back strand as the program straightens it, its truth, its beads' ends in cells."""
        *strand, wide = held
        per_cell = wide / ACROSS
        columns = int(strand[0].shape[2] / per_cell) // 32 * 32
        middle = columns * per_cell / 2
        (layers, slants), marks = _piece(strand, middle, per_cell, per_cell, (0, 0, 1, 0), columns)
        truth = torch.cat([layers[:, 3:], marks], dim=1)
        places = (strand[2] - middle) / per_cell + (columns - 1) / 2
        return torch.cat([layers[:, :3], slants], dim=1), truth, places


def _piece(strand, middle, along, across, course, columns=COLUMNS):  # noqa: ANN001, ANN202
    """Resample a strand: `along` and `across` are its cells per cell of the piece, negative if mirrored."""
    image, slant, beads, stoppers, wide, kinds = strand
    aside, height, length, phase = course
    _, rows, known = image.shape
    at = middle + (np.arange(columns) - (columns - 1) / 2) * along
    down = (np.arange(ROWS) - (ROWS - 1) / 2) * across
    centre = (rows - 1) / 2 + aside + height * np.sin(2 * math.pi * at / length + phase)
    low = max(int(min(at[0], at[-1])) - 4, 0)
    high = max(min(int(max(at[0], at[-1])) + 5, known), low + 8)
    window = image[None, :, :, low:high].float() / 255
    shift = 0.0
    if abs(along) > 1.25:  # made smaller: average first, against aliasing
        window, shift = functional.avg_pool2d(window, 2, 1), 0.5
    size = window.shape[3], window.shape[2]
    x = torch.tensor((at - low - shift + 0.5) * 2 / size[0] - 1, dtype=torch.float32, device=DEVICE)
    y0 = torch.tensor((centre - shift + 0.5) * 2 / size[1] - 1, dtype=torch.float32, device=DEVICE)
    dy = torch.tensor(down * 2 / size[1], dtype=torch.float32, device=DEVICE)
    grid = torch.stack([x[None].expand(ROWS, -1), y0[None] + dy[:, None]], dim=2)[None]
    layers = functional.grid_sample(window, grid, padding_mode="border", align_corners=False)
    signs = np.sign([along, across])
    slants = np.stack([s * np.interp(at, np.arange(known), one) for s, one in zip(signs, slant, strict=True)])
    slants = torch.tensor(slants + 0.5, dtype=torch.float32, device=DEVICE)[None, :, None]
    ends = np.concatenate([beads, stoppers]).ravel()
    near = np.abs(at[:, None] - ends[None]).min(axis=1) / abs(along)
    bump = np.exp(-0.5 * (near / BUMP) ** 2)
    within = (at[:, None] - beads[None, :, 0]), (beads[None, :, 1] - at[:, None])
    share = np.clip(np.minimum(*within) / abs(along) + 0.5, 0, 1).max(axis=1)
    heart = np.minimum(*within) > HEART * (beads[:, 1] - beads[:, 0])
    size = np.log(wide[heart.argmax(axis=1)] / abs(across) / ACROSS)
    kind = kinds[np.clip(np.rint(at).astype(int), 0, len(kinds) - 1)]
    layers_of_truth = np.stack([bump, share, size, heart.any(axis=1), kind])
    marks = torch.tensor(layers_of_truth, dtype=torch.float32, device=DEVICE)[None, :, None]
    return (layers, slants.expand(-1, -1, ROWS, -1)), marks.expand(-1, -1, ROWS, -1)


def _kinds(one) -> np.ndarray:  # noqa: ANN001
    """Return what lies on the string at each column, shape (S,): beads and stoppers if no more is known."""
    if "kinds" in one:
        return one["kinds"]
    kinds = np.full(one["rgb"].shape[1], UNKNOWN, np.uint8)
    for spans, kind in ((one["stoppers"], 6), (one["beads"], 1)):
        for start, end in spans:
            kinds[max(math.ceil(start), 0) : max(int(end), 0) + 1] = kind
    return kinds


def along_of(logits: torch.Tensor) -> torch.Tensor:
    """Return what is estimated along the string only, from (N, 14, ROWS, W) to (N, 13, W).

    Logits of an end and of lying between ends; logarithms of the size across over ACROSS, and of its scale;
    logits of the kinds.
    The size is the width of what is inside a bead, corrected by what the network adds to its logarithm.
    """
    estimates = logits[:, 1:, MIDDLE].mean(dim=2)
    shows = torch.sigmoid(logits[:, 0].detach()).sum(dim=1)
    size = torch.log((shows + LEAST_CELLS) / ACROSS) + estimates[:, 2]
    return torch.cat([estimates[:, :2], size[:, None], estimates[:, 3:]], dim=1)


def loss_of(logits: torch.Tensor, truth: torch.Tensor) -> torch.Tensor:
    """Return the loss; outlines and ends of beads weigh more than the rest."""
    inside = truth[:, 0]
    grown = functional.max_pool2d(inside[:, None], 5, 1, 2)[:, 0]
    shrunk = -functional.max_pool2d(-inside[:, None], 5, 1, 2)[:, 0]
    weight = 0.4 + 1.2 * ((grown - shrunk) > 0.5).float()
    sure = functional.binary_cross_entropy_with_logits(logits[:, 0], inside, reduction="none")
    estimates, marks = along_of(logits), truth[:, 1:, 0]
    ends = functional.binary_cross_entropy_with_logits(estimates[:, 0], marks[:, 0], reduction="none")
    far = (torch.sigmoid(estimates[:, 0]) - marks[:, 0]).abs()
    between = functional.binary_cross_entropy_with_logits(estimates[:, 1], marks[:, 1], reduction="none")
    size = log_loss(marks[:, 2], estimates[:, 2], estimates[:, 3])
    size = (size * marks[:, 3]).sum() / marks[:, 3].sum().clamp(min=1)
    kinds = kind_loss(estimates[:, 4:], marks[:, 4], torch.ones_like(marks[:, 4]))
    return (weight * sure).mean() + (ends + 2 * far + 0.5 * between).mean() + SIZE_WEIGHT * size + 0.5 * kinds


@torch.no_grad()
def evaluate(network: Network, pool: Strands) -> str:
    """Return how well held-back strands are divided, by thresholds alone."""
    network.eval()
    right, beads, found_all, missed, off, wide, alike = 0, 0, 0, 0, [], [], []
    for held in pool.held:
        shown, marks, truth = pool.whole(held)
        estimates = along_of(network(shown))
        ends, between = torch.sigmoid(estimates[0, :2]).float().cpu().numpy()
        heart = marks[0, 4, 0] > 0
        told = marks[0, 5, 0] != UNKNOWN
        alike.append(float((estimates[0, 4:].argmax(dim=0) == marks[0, 5, 0])[told].float().mean()))
        far = (estimates[0, 2] - marks[0, 3, 0]).abs()
        shows = marks[0, 0].sum(dim=0).clamp(min=1).div(ACROSS).log()
        outline = (shows - marks[0, 3, 0]).abs()
        wide.append(
            torch.stack([far, far * torch.exp(-estimates[0, 3]), outline])[:, heart].float().cpu().numpy()
        )
        shown = np.diff(np.r_[0, ((between > 0.5) & (ends < 0.5)).astype(int), 0])
        runs = zip(np.flatnonzero(shown > 0), np.flatnonzero(shown < 0), strict=True)
        spans = np.array([(start, stop - 1) for start, stop in runs if stop - start > 2])
        middles = spans.mean(axis=1) if len(spans) else np.zeros(0)
        hit = [np.abs(middles - t.mean()).min() < 0.25 * np.ptp(t) if len(middles) else False for t in truth]
        right += bool(np.all(hit)) and len(spans) == len(truth)
        missed += len(truth) - sum(hit)
        beads += len(truth)
        found_all += len(spans)
        peaks = np.flatnonzero((ends[1:-1] > 0.5) & (ends[1:-1] >= ends[:-2]) & (ends[1:-1] > ends[2:])) + 1
        if len(peaks):
            weights = np.stack([ends[np.clip(peaks + k, 0, len(ends) - 1)] for k in range(-3, 4)])
            exact = peaks + (weights * np.arange(-3, 4)[:, None]).sum(axis=0) / weights.sum(axis=0)
            off += list(np.abs(exact[:, None] - truth.ravel()[None]).min(axis=1))
    median, most = np.percentile(off, [50, 95]) / ACROSS if off else (1, 1)
    wide = np.percentile(np.concatenate(wide, axis=1), [50, 95], axis=1).T if wide else np.ones((3, 2))
    (half, most_wide), (scaled, most_scaled), (plain, most_plain) = wide
    return (
        f"held back {len(pool.held)}: {right} right; kinds {np.mean(alike):.3f}; "
        f"{missed} of {beads} beads missed, {found_all} found; "
        f"ends off by {median:.4f}, 95 % {most:.4f} of the width; "
        f"across off by {half:.4f}, 95 % {most_wide:.4f} (the true outline's width by {plain:.4f}, "
        f"{most_plain:.4f}), over its scale {scaled:.2f}, {most_scaled:.2f}"
    )


def main() -> None:
    """Command line."""
    given = options(__doc__)
    pool = Strands(given.samples)
    network = Network(STRAND_CHANNELS, STRAND_MAPS, wider=given.wider)
    train(network, pool, loss_of, lambda trained: evaluate(trained, pool), given)


if __name__ == "__main__":
    main()
