"""Trains the network that tells what a piece is, while more samples are still being drawn.

python -m tests.training.train_pieces OUT.onnx SAMPLES_DIR... --seconds 600
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
from torch.nn import functional

from tests.training.network import WHOLES, PieceNetwork
from tests.training.train import DEVICE, newly_drawn, options, readers, recoloured, train
from tests.training.train_closeup import Layers, some, with_new
from vision.pieces.second_look import MAP, TYPICAL_CELLS

BATCH = 1024
TOUCHING = 0.5  # weight of things and groups, which most pieces are not
UNSEEN = 0.1  # share of pictures without the layers of the map: the network shall look for itself


def read_pieces(path: Path) -> list[np.ndarray]:
    """Read a sample: pictures, the size of each, what it is, how it was found."""
    with np.load(path) as one:
        return [one["seen"], one["cells"], one["what"].astype(np.int64), one["sort"]]


class Pieces:
    """Pictures of pieces on the device."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self.folders, self.known, self.readers = folders, set(), readers()
        self.layers: Layers | None = None
        self.held: Layers | None = None

    def __len__(self) -> int:
        """Return how many there are to train on."""
        return 0 if self.layers is None else len(self.layers[0])

    def refresh(self) -> None:
        """Load the samples drawn since the last call."""
        parts: dict[bool, list[Layers]] = {True: [], False: []}
        for held, layers in newly_drawn(self.folders, self.known, read_pieces, self.readers):
            parts[held].append(tuple(torch.from_numpy(layer) for layer in layers))
        self.held = with_new(self.held, parts[True])
        self.layers = with_new(self.layers, parts[False])

    def batch(self, rng: np.random.Generator) -> tuple[torch.Tensor, torch.Tensor]:
        """Return pictures, (N, PIECE_CHANNELS, CELLS, CELLS), and what they are with how they were found."""
        seen, cells, what, sort = some(self.layers, BATCH, rng)
        image = turned(seen.permute(0, 3, 1, 2).float() / 255)
        shown = torch.tensor(rng.random(BATCH) >= UNSEEN, device=DEVICE)[:, None, None, None]
        maps = torch.where(shown, image[:, MAP:], 0.0)
        grown = torch.tensor(np.exp(rng.normal(0, 0.1, BATCH)), dtype=torch.float32, device=DEVICE)
        image = torch.cat([recoloured(image[:, :3], rng), image[:, 3:MAP], maps], dim=1)
        return picture(image, cells * grown), torch.stack([what, sort.long()], dim=1)


def turned(image: torch.Tensor) -> torch.Tensor:
    """Turn and mirror pictures: an eighth of them in each way."""
    ways = []
    for k, part in enumerate(image.chunk(8)):
        one = torch.rot90(part, k % 4, dims=(2, 3))
        ways.append(one.flip(3) if k > 3 else one)
    return torch.cat(ways)


def picture(image: torch.Tensor, cells: torch.Tensor) -> torch.Tensor:
    """Return the network's input."""
    size = 0.5 * torch.log(cells / TYPICAL_CELLS) + 0.5
    return torch.cat([image, size[:, None, None, None].expand(-1, 1, *image.shape[2:])], dim=1)


def loss_of(logits: torch.Tensor, truth: torch.Tensor) -> torch.Tensor:
    """Return the cross entropy."""
    weight = torch.where(truth[:, 1] > 0, TOUCHING, 1.0)
    each = functional.cross_entropy(logits, truth[:, 0], reduction="none")
    return (each * weight).sum() / weight.sum()


@torch.no_grad()
def evaluate(network: PieceNetwork, pool: Pieces) -> str:
    """Return the loss, and how often what is what is said to be what."""
    if pool.held is None:
        return "none held back"
    network.eval()
    seen, cells, what, sort = pool.held
    parts = zip(seen.permute(0, 3, 1, 2).split(1024), cells.split(1024), strict=True)
    logits = torch.cat([network(picture(codes.float() / 255, size)) for codes, size in parts]).float()
    words = []
    for name, mine in (("found", sort == 0), ("things", sort == 1), ("groups", sort == 2)):
        loss = functional.cross_entropy(logits[mine], what[mine])
        said = logits[mine].argmax(dim=1)
        table = torch.bincount(what[mine] * WHOLES + said, minlength=WHOLES**2).reshape(WHOLES, WHOLES)
        words.append(f"{name} {loss:.4f} {table.tolist()}")
    return "; ".join(words)


def main() -> None:
    """Command line."""
    given = options(__doc__)
    pool = Pieces(given.samples)
    train(PieceNetwork(wider=given.wider), pool, loss_of, lambda trained: evaluate(trained, pool), given)


if __name__ == "__main__":
    main()
