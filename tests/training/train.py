"""Trains the network of the top view, while more samples are still being drawn.

python -m tests.training.train OUT.onnx SAMPLES_DIR... --seconds 1200
"""

import argparse
import copy
import math
import multiprocessing
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, TypeVar

import cv2
import numpy as np
import torch
from torch.nn import functional
from torch.optim.swa_utils import update_bn

from tests.rendering.views import HIDDEN, UNKNOWN
from tests.training.network import KINDS, MAPS, Network
from tests.training.stored import export, load_onnx, settle

CROP, BATCH = 256, 48
WINDOWS = 4  # of a batch, from one sample
LAYERS = 5
PLAIN = 0.45  # share of windows from samples without kinds, where there are any
STRUNG_KINDS = slice(1, 4)
KIND_WEIGHTS = (0.3, 1.0, 3.0, 3.0, 2.5, 2.5, 1.5, 1.5, 1.0)  # the rarer, the more
TAIL = 4.0  # degrees of freedom of Student's t: errors have heavier tails than a normal distribution
SETTLING = 40
"""Batches by which averaged weights are normalised anew: those of neither network fit their mean."""
HELD_BACK = 40  # one sample in so many is kept for evaluation
DEVICE = "cuda" if torch.cuda.is_available() else "cpu"


class Samples(Protocol):
    """All samples drawn so far."""

    def __len__(self) -> int: ...
    def refresh(self) -> None:
        """Load the samples drawn since the last call."""

    def batch(self, rng: np.random.Generator) -> tuple[torch.Tensor, torch.Tensor]:
        """Return the network's input, and the truth."""


T = TypeVar("T")


def readers() -> Executor:
    """Return processes that read samples: in a thread that would hold up the training."""
    return ProcessPoolExecutor(4, mp_context=multiprocessing.get_context("spawn"))


def newly_drawn(
    folders: Sequence[Path], known: set[Path], read: Callable[[Path], T], readers: Executor
) -> Iterator[tuple[bool, T]]:
    """Read the samples that are not `known` yet, each with whether it is held back."""
    fresh = [p for folder in folders for p in sorted(folder.glob("[0-9]*.npz")) if p not in known]
    for path, one in zip(fresh, readers.map(read, fresh), strict=True):
        known.add(path)
        yield len(known) % HELD_BACK == 0, one


@dataclass(frozen=True, slots=True, kw_only=True)
class TopView:
    """A sample as the training takes it: layers (6, H, W), number of pieces, whether kinds are known.

    `places` (256, 2) are rows and columns about which windows are cut.
    """

    layers: np.ndarray
    count: int
    told: bool
    places: np.ndarray


def read_top_view(path: Path) -> TopView:
    """Read a sample: colours, inside, depth, kind."""
    with np.load(path) as one:
        kind, owner = one["kind"], one["owner"]
        stacked = np.dstack([one["rgb"], one["inside"], one["depth"], kind]).transpose(2, 0, 1)
    shown = (kind > 0) & (kind < HIDDEN)
    places = np.argwhere(shown if shown.any() else ~shown)
    return TopView(
        layers=np.ascontiguousarray(stacked),
        count=len(np.unique(owner[(owner > 0) & (kind != HIDDEN)])),
        told=not (kind == UNKNOWN).any(),
        places=_spread(places, kind, np.random.default_rng(len(places))),
    )


class Pool:
    """Top views on the device: colours, inside, depth, kind."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self.folders, self.known, self.readers = folders, set(), readers()
        self.images, self.places, self.held = [], [], []
        self.plain, self.kinds = [], []  # numbers of images without and with kinds

    def refresh(self) -> None:
        """Load the samples drawn since the last call."""
        for held, one in newly_drawn(self.folders, self.known, read_top_view, self.readers):
            image = torch.from_numpy(one.layers)
            if held:
                self.held.append((image, one.count, one.told))
                continue
            self.images.append(image.to(DEVICE))
            self.places.append(one.places)
            # Last, for windows are cut while this thread still reads.
            (self.kinds if one.told else self.plain).append(len(self.images) - 1)

    def __len__(self) -> int:
        """Return how many there are to train on."""
        return len(self.images)

    def batch(self, rng: np.random.Generator) -> tuple[torch.Tensor, torch.Tensor]:
        """Return the network's input, and the truth."""
        cut = torch.cat([self.windows(rng) for _ in range(BATCH // WINDOWS)])
        return recoloured(cut[:, :3], rng), cut[:, 3:]  # inside, depth, and the code of the kind

    def windows(self, rng: np.random.Generator) -> torch.Tensor:
        """Cut windows from one sample, turned, mirrored and scaled at random, 0 to 1.

        The shape is (WINDOWS, LAYERS + 1, CROP, CROP). Those of a sample have one scale.
        """
        among = self.plain if self.plain and (rng.random() < PLAIN or not self.kinds) else self.kinds
        k = among[rng.integers(len(among))]
        image, places = self.images[k][None].float(), self.places[k]
        scale = math.exp(rng.uniform(math.log(0.62), math.log(1.7)))
        size = np.array([image.shape[3], image.shape[2]])
        theta = np.stack([_placed(places, size, scale, rng) for _ in range(WINDOWS)])
        grid = functional.affine_grid(
            torch.tensor(theta, dtype=torch.float32, device=DEVICE),
            [WINDOWS, LAYERS, CROP, CROP],
            align_corners=False,
        ).reshape(1, WINDOWS * CROP, CROP, 2)
        way = {"padding_mode": "border", "align_corners": False}
        kinds = functional.grid_sample(image[:, LAYERS:], grid, mode="nearest", **way)
        layers = image[:, :LAYERS] / 255
        if scale > 1.2:  # made smaller: average first, against aliasing
            layers = functional.avg_pool2d(layers, 2, 1, padding=0)
        cut = torch.cat([functional.grid_sample(layers, grid, **way), kinds.round()], dim=1)
        return cut.reshape(LAYERS + 1, WINDOWS, CROP, CROP).transpose(0, 1)


def _placed(places: np.ndarray, size: np.ndarray, scale: float, rng: np.random.Generator) -> np.ndarray:
    """Return how a window lies in a picture, shape (2, 3), in the coordinates of torch's affine grids."""
    among = places[:, ::-1] if rng.random() < 0.85 else np.array([rng.integers(size)])
    middle = among[rng.integers(len(among))] + rng.uniform(-CROP, CROP, 2) / 2.5
    angle, flip = rng.uniform(0, 2 * math.pi), rng.choice([-1, 1])
    turn = np.array([[flip * math.cos(angle), -math.sin(angle)], [flip * math.sin(angle), math.cos(angle)]])
    return np.c_[turn * scale * CROP / size[:, None], (middle + 0.5) * 2 / size - 1]


def recoloured(rgb: torch.Tensor, rng: np.random.Generator) -> torch.Tensor:
    """Change light, colours, sharpness and noise of a batch."""
    number = len(rgb)

    def drawn(size: float, shape: tuple[int, ...]) -> torch.Tensor:
        return torch.tensor(rng.normal(0, size, shape), dtype=torch.float32, device=rgb.device)

    orders = np.where(
        rng.random((number, 1)) < 0.4, np.argsort(rng.random((number, 3)), axis=1), np.arange(3)
    )
    mixed = rgb[torch.arange(number)[:, None], torch.from_numpy(orders).to(rgb.device)]
    grey = torch.from_numpy(rng.random(number) < 0.08).to(rgb.device)[:, None, None, None]
    rgb = torch.where(grey, mixed.mean(dim=1, keepdim=True), mixed)
    rgb = rgb.clamp(1e-3, 1) ** torch.exp(drawn(0.22, (number, 1, 1, 1)))
    rgb = rgb * torch.exp(drawn(0.15, (number, 3, 1, 1))) + drawn(0.04, (number, 1, 1, 1))
    soft = functional.avg_pool2d(functional.pad(rgb, (1, 1, 1, 1), mode="replicate"), 3, 1)
    share = torch.tensor(
        rng.choice([0, 0, 0, 0.5, 1.0, -0.5], number), dtype=torch.float32, device=rgb.device
    )
    rgb = rgb + share[:, None, None, None] * (soft - rgb)
    noise = torch.tensor(rng.exponential(0.008, number), dtype=torch.float32, device=rgb.device)
    return (rgb + noise[:, None, None, None] * torch.randn_like(rgb)).clamp(0, 1)


def _spread(places: np.ndarray, kind: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return 256 of the places (N, 2), each kind as often as another."""
    codes = kind[tuple(places.T)].astype(int)
    chances = 1 / np.bincount(codes, minlength=256)[codes]
    return places[rng.choice(len(places), 256, p=chances / chances.sum())]


def kind_loss(logits: torch.Tensor, kind: torch.Tensor, weight: torch.Tensor) -> torch.Tensor:
    """Return the loss of kinds, logits (N, KINDS, ...), truth and weight (N, ...).

    Where nothing is known but that no strung part shows, it is that of the strung kinds together.
    """
    log_p = functional.log_softmax(logits, dim=1)
    known = kind < KINDS
    picked = -log_p.gather(1, torch.where(known, kind, 0).long()[:, None])[:, 0]
    strung = log_p[:, STRUNG_KINDS].exp().sum(dim=1).clamp(max=1 - 1e-6)
    rarity = torch.tensor(KIND_WEIGHTS, device=logits.device)[torch.where(known, kind, 0).long()]
    return (torch.where(known, picked * rarity, -torch.log1p(-strung)) * weight).mean()


def loss_of(logits: torch.Tensor, truth: torch.Tensor) -> torch.Tensor:
    """Return the loss; beads and what is near them weigh more than bare bed."""
    inside, depth, kind = truth.unbind(1)
    near = functional.max_pool2d(inside[:, None], 9, 1, 4)[:, 0]
    narrow = -functional.max_pool2d(-inside[:, None], 5, 1, 2)[:, 0]
    rim = (functional.max_pool2d(inside[:, None], 5, 1, 2)[:, 0] - narrow) > 0.5
    shown = 1 - functional.max_pool2d((kind == HIDDEN).float()[:, None], 5, 1, 2)[:, 0]
    weight = (0.25 + 0.75 * (near > 0).float() + 0.75 * rim.float()) * shown
    sure = functional.binary_cross_entropy_with_logits(logits[:, 0], inside, reduction="none")
    deep = functional.binary_cross_entropy_with_logits(logits[:, 1], depth, reduction="none")
    far = (torch.sigmoid(logits[:, 1]) - depth).abs()
    thing = functional.max_pool2d(((kind > 0) & (kind < HIDDEN)).float()[:, None], 9, 1, 4)[:, 0]
    kinds = kind_loss(logits[:, 2:], kind, (0.3 + 0.7 * thing) * shown)
    return (weight * (sure + deep + 2 * far)).mean() + kinds


@torch.no_grad()
def evaluate(network: Network, pool: Pool) -> str:
    """Return how well beads of held-back samples are counted: connected regions of both maps."""
    network.eval()
    said = []
    for known in (False, True):
        held = [(image, count) for image, count, has_kinds in pool.held if has_kinds == known]
        if held:
            said.append(
                _counted(network, held) + (f"; overlap by kind {_by_kind(network, held)}" if known else "")
            )
    return "\n".join(said)


def _maps(network: Network, image: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    height, width = (v // 32 * 32 for v in image.shape[1:])
    one = image[None, :, :height, :width].to(DEVICE).float()
    return network(one[:, :3] / 255)[0].float(), one[0]


def _counted(network: Network, held: Sequence[tuple[torch.Tensor, int]]) -> str:
    right, off, beads, overlap = 0, 0, 0, []
    for image, count in held:
        logits, truth = _maps(network, image)
        maps = torch.sigmoid(logits[:2]).cpu().numpy()
        seeds = ((maps[1] > 0.5) & (maps[0] > 0.5)).astype(np.uint8)
        found = cv2.connectedComponents(seeds)[0] - 1
        inside = truth[3].cpu().numpy() > 127
        overlap.append(((maps[0] > 0.5) & inside).sum() / max(((maps[0] > 0.5) | inside).sum(), 1))
        right += found == count
        off += abs(found - count)
        beads += count
    counts = f"{right} counted right, {off} of {beads} pieces too many or too few"
    return f"held back {len(held)}: {counts}, overlap {np.mean(overlap):.3f}"


def _by_kind(network: Network, held: Sequence[tuple[torch.Tensor, int]]) -> str:
    both, either = np.zeros(KINDS), np.zeros(KINDS)
    for image, _ in held:
        logits, truth = _maps(network, image)
        said = logits[2:].argmax(dim=0)
        for k in range(KINDS):
            both[k] += float(((said == k) & (truth[5] == k)).sum())
            either[k] += float((((said == k) & (truth[5] != HIDDEN)) | (truth[5] == k)).sum())
    return " ".join(f"{share:.2f}" for share in both / np.maximum(either, 1))


def log_loss(off: torch.Tensor, place: torch.Tensor, scale: torch.Tensor) -> torch.Tensor:
    """Return the negative log likelihood of a place and a log scale, without its constant (Student's t)."""
    pull = (off - place) ** 2 * torch.exp(-2 * scale)
    return scale + (TAIL + 1) / 2 * torch.log1p(pull / TAIL)


def _rate(given: argparse.Namespace, step: int, done: float) -> float:
    """Return the learning rate: it rises for 200 steps, then falls along half a cosine."""
    slow = given.last + (1 - given.last) * (0.5 + 0.5 * math.cos(math.pi * done))
    return given.rate * min(1, (step + 1) / 200) * slow + 1e-6


@torch.no_grad()
def _average(mean: Network, network: Network, *, share: float) -> None:
    """Move the running mean of the weights towards a network's weights."""
    for old, new in zip(mean.state_dict().values(), network.state_dict().values(), strict=True):
        old.lerp_(new, share) if old.is_floating_point() else old.copy_(new)


def _read_on(pool: Samples) -> None:
    """Read samples as they are drawn, beside the training."""
    while True:
        pool.refresh()
        time.sleep(5)


def train(
    network: Network,
    pool: Samples,
    loss_of: Callable[[torch.Tensor, torch.Tensor], torch.Tensor],
    evaluate: Callable[[Network], str],
    given: argparse.Namespace,
) -> None:
    """Train a network for so many seconds; write its weights and the ONNX file."""
    rng = np.random.default_rng(given.seed)
    threading.Thread(target=_read_on, args=(pool,), daemon=True).start()
    while len(pool) < given.least:
        time.sleep(1)
    began, step, fresh = time.time(), 0, time.time()
    network = network.to(DEVICE, memory_format=torch.channels_last)
    if given.start and given.start.suffix == ".onnx":
        load_onnx(network, given.start)
        settle(network, pool.batch(rng)[0])
    elif given.start:
        network.load_state_dict(torch.load(given.start, map_location=DEVICE))
    start, mean = copy.deepcopy(network), copy.deepcopy(network)
    best = torch.optim.AdamW(network.parameters(), lr=given.rate, weight_decay=1e-4)
    total = 0.0
    while (done := (time.time() - began) / given.seconds) < 1:
        for group in best.param_groups:
            group["lr"] = _rate(given, step, done)
        shown, truth = pool.batch(rng)
        network.train()
        with torch.autocast(DEVICE, dtype=torch.bfloat16):
            logits = network(shown.contiguous(memory_format=torch.channels_last))
        loss = loss_of(logits.float(), truth)
        best.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        best.step()
        _average(mean, network, share=1 - min(0.999, step / (step + 50)))
        total += loss.detach()
        step += 1
        if step % 250 == 0:
            word = f"samples {len(pool)}, loss {float(total) / 250:.4f}"
            print(f"{time.time() - began:6.0f} s, step {step}, {word}", flush=True)
            total = 0.0
        if time.time() - fresh > 60:
            print(evaluate(mean), flush=True)
            torch.save(mean.state_dict(), given.out.with_suffix(".pt"))
            fresh = time.time()
    print(evaluate(mean), flush=True)
    if given.kept:
        _average(mean, start, share=given.kept)
        update_bn((pool.batch(rng)[0] for _ in range(SETTLING)), mean)
    torch.save(mean.state_dict(), given.out.with_suffix(".pt"))
    export(mean, given.out)


def options(description: str | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("out", type=Path)
    parser.add_argument("samples", type=Path, nargs="+", help="folders of samples")
    parser.add_argument("--seconds", type=float, default=1200)
    parser.add_argument("--least", type=int, default=200, help="samples to wait for")
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--last", type=float, default=0.0, help="share of the rate at the end")
    parser.add_argument("--wider", type=float, default=1.0, help="times as many features")
    parser.add_argument("--start", type=Path, help="weights to go on from")
    parser.add_argument("--seed", type=int, default=5, help="of the order in which samples are shown")
    parser.add_argument("--kept", type=float, default=0.0, help="their share in the weights that are written")
    return parser.parse_args()


def main() -> None:
    """Command line."""
    given = options(__doc__)
    pool = Pool(given.samples)
    train(
        Network(maps=MAPS, wider=given.wider), pool, loss_of, lambda network: evaluate(network, pool), given
    )


if __name__ == "__main__":
    main()
