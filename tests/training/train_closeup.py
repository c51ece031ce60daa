"""Trains the network that tells beads and corrects their sizes, while more samples are still being drawn.

python -m tests.training.train_closeup OUT.onnx SAMPLES_DIR... --seconds 1200
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
from torch.nn import functional

from tests.training.network import ESTIMATES, CloseUpNetwork
from tests.training.train import DEVICE, PLAIN, log_loss, newly_drawn, options, readers, recoloured, train

BATCH = 256
SHOWN, TOLD = 5.0, 0.5  # weights in the loss of the segmentation, and of whether it is a bead
TRUE = 4  # layer of `seen` with the true share of each cell
AS_IT_IS = 0.3  # share of pictures that are not turned
BEAD = 2  # number of the truth, after both sizes


Layers = tuple[torch.Tensor, ...]


def read_beads(path: Path) -> tuple[bool, list[np.ndarray]]:
    """Read a sample: whether traced; pictures, facts, errors with whether it is a bead (B, 3)."""
    with np.load(path) as one:
        sound = np.isfinite(one["facts"]).all(axis=1)
        truth = np.column_stack([np.nan_to_num(one["off"]), one["bead"]]).astype(np.float32)
        clear = sound & ((one["bead"] == 0) | (one["bead"] == 1))
        return "traced" in one, [one["seen"][clear], one["facts"][clear], truth[clear]]


class Beads:
    """Pictures of pieces, facts, and errors of their measured sizes, on the device."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self.folders, self.known, self.readers = folders, set(), readers()
        self.traced: Layers | None = None
        self.drawn: Layers | None = None
        self.held: Layers | None = None

    def __len__(self) -> int:
        """Return how many there are to train on."""
        return sum(len(layers[0]) for layers in (self.traced, self.drawn) if layers is not None)

    def refresh(self) -> None:
        """Load the samples drawn since the last call."""
        parts: dict[str, list[Layers]] = {"held": [], "traced": [], "drawn": []}
        for held, (traced, layers) in newly_drawn(self.folders, self.known, read_beads, self.readers):
            name = "held" if held else "traced" if traced else "drawn"
            parts[name].append(tuple(torch.from_numpy(layer) for layer in layers))
        for name, new in parts.items():
            setattr(self, name, with_new(getattr(self, name), new))

    def batch(self, rng: np.random.Generator) -> tuple[torch.Tensor, torch.Tensor]:
        """Return pictures, (N, 12, CELLS, CELLS), with errors of sizes, whether a bead, and true shares."""
        pools = [pool for pool in (self.drawn, self.traced) if pool is not None]
        counts = [round(PLAIN * BATCH), BATCH - round(PLAIN * BATCH)] if len(pools) > 1 else [BATCH]
        picked = [some(pool, count, rng) for pool, count in zip(pools, counts, strict=True)]
        seen, facts, off = (torch.cat(layer) for layer in zip(*picked, strict=True))
        cells = seen.permute(0, 3, 1, 2).float() / 255
        cells, facts, off = turned(cells, facts, off, rng)
        shown = picture(torch.cat([recoloured(cells[:, :3], rng), cells[:, 3:TRUE]], dim=1), facts)
        return shown, torch.cat([off, cells[:, TRUE].flatten(1)], dim=1)


def with_new(known: Layers | None, parts: list[Layers]) -> Layers | None:
    """Move what is new to the device, after what is there."""
    if not parts:
        return known
    fresh = tuple(torch.cat(layer).to(DEVICE) for layer in zip(*parts, strict=True))
    return fresh if known is None else tuple(torch.cat(pair) for pair in zip(known, fresh, strict=True))


def some(pool: Layers, count: int, rng: np.random.Generator) -> Layers:
    """Return so many of a pool, drawn at random, the same of each layer."""
    rows = torch.from_numpy(rng.integers(len(pool[0]), size=count)).to(DEVICE)
    return tuple(layer[rows] for layer in pool)


def turned(
    cells: torch.Tensor, facts: torch.Tensor, off: torch.Tensor, rng: np.random.Generator
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
    """Turn, mirror, shift and scale most pictures; scale the outline in them; adapt facts and errors.

    So the error of a kind of beads cannot be learnt by heart: the picture must show it.
    """
    number = len(cells)
    whole = rng.random(number) < AS_IT_IS
    angle = np.where(whole, 0.0, rng.uniform(-np.pi, np.pi, number))
    mirror = np.where(rng.random(number) < 0.5, -1.0, 1.0)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]).transpose(2, 0, 1)
    turn[:, :, 1] *= mirror[:, None]
    zoom = np.where(whole, 1.0, np.exp(rng.normal(0, 0.05, number)))
    shift = np.where(whole[:, None], 0.0, rng.normal(0, 0.02, (number, 2)))
    grown = np.where(rng.random(number) < AS_IT_IS, 1.0, np.exp(rng.laplace(0, 0.012, number)))

    def sampled(layers: torch.Tensor, scale: np.ndarray) -> torch.Tensor:
        theta = np.concatenate([turn * (zoom * scale)[:, None, None], shift[:, :, None]], axis=2)
        grid = functional.affine_grid(
            torch.tensor(theta, dtype=torch.float32, device=layers.device),
            list(layers.shape),
            align_corners=False,
        )
        return functional.grid_sample(layers, grid, padding_mode="border", align_corners=False)

    outline = 3  # channel
    view = sampled(cells, np.ones(number))
    view[:, outline : outline + 1] = sampled(cells[:, outline : outline + 1], 1 / grown)
    back = torch.tensor(turn, dtype=torch.float32, device=cells.device)  # from the new frame to the old
    slants = torch.einsum("nij,ni->nj", back, facts[:, :2])
    off = torch.cat([off[:, :BEAD] - torch.tensor(np.log(grown)).to(off)[:, None], off[:, BEAD:]], dim=1)
    return view, torch.cat([slants, facts[:, 2:]], dim=1), off


def picture(cells: torch.Tensor, facts: torch.Tensor) -> torch.Tensor:
    """Return the network's input, about 0 to 1, of colours and outline, (N, 4, CELLS, CELLS), and facts."""
    flat = facts[:, :, None, None].expand(-1, -1, *cells.shape[2:]) + 0.5
    return torch.cat([cells, flat], dim=1)


def loss_of(estimates: torch.Tensor, truth: torch.Tensor) -> torch.Tensor:
    """Return the mean loss of both sizes, that of the segmentation, and that of which are beads."""
    off, bead, shown = truth[:, :BEAD], truth[:, BEAD], truth[:, BEAD + 1 :]
    sizes = log_loss(off, estimates[:, :2], estimates[:, 2:4]).mean(dim=1)
    cells = functional.binary_cross_entropy_with_logits(estimates[:, ESTIMATES:], shown, reduction="none")
    told = functional.binary_cross_entropy_with_logits(estimates[:, ESTIMATES - 1], bead)
    of_beads = ((sizes + SHOWN * cells.mean(dim=1)) * bead).sum() / bead.sum().clamp(min=1)
    return of_beads + TOLD * told


@torch.no_grad()
def evaluate(network: CloseUpNetwork, pool: Beads) -> str:
    """Return the errors of sizes of held-back beads, before and after correction, and how many are told."""
    if pool.held is None:
        return "none held back"
    network.eval()
    seen, facts, truth = pool.held
    parts = zip(seen[..., :TRUE].permute(0, 3, 1, 2).split(256), facts.split(256), strict=True)
    estimates = torch.cat([network(picture(cells.float() / 255, known)) for cells, known in parts])
    beads = truth[:, BEAD] == 1
    told = estimates[:, ESTIMATES - 1] > 0
    off, estimates = truth[beads, :BEAD], estimates[beads]
    left, scale = off - estimates[:, :2], torch.exp(estimates[:, 2:4])
    ratio = torch.quantile((left.abs() / scale).flatten().cpu()[:100000], torch.tensor([0.5, 0.9, 0.95]))
    words = [f"held back {len(off)}"]
    for name, error in (("before", off), ("after", left)):
        flat = error.abs().flatten().float().cpu()
        quantiles = torch.quantile(flat[:100000], torch.tensor([0.5, 0.95]))
        words.append(f"{name} {quantiles[0]:.4f} 95 % {quantiles[1]:.4f}")
    words.append("error over its scale: " + " ".join(f"{v:.2f}" for v in ratio))
    words.append(
        f"beads told {told[beads].sum()} of {beads.sum()}, others {told[~beads].sum()} of {(~beads).sum()}"
    )
    return "; ".join(words)


def main() -> None:
    """Command line."""
    given = options(__doc__)
    pool = Beads(given.samples)
    train(CloseUpNetwork(wider=given.wider), pool, loss_of, lambda trained: evaluate(trained, pool), given)


if __name__ == "__main__":
    main()
