"""Teaches the network that looks at each loose bead, while more samples are still being drawn.

python tests/training/train_closeup.py SAMPLES_DIR OUT.onnx --seconds 1200
"""

from pathlib import Path

import numpy as np
import torch
from network import Look
from train import DEVICE, newly_drawn, options, recoloured, surprise, teach

BATCH = 128
SLANT_ASIDE = 5  # channel; in a mirror it is the other way


class Beads:
    """Pictures of beads, facts, and by how much the sizes found are off, on the device."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.known = folder, set()
        self.parts, self.held_parts = [], []
        self.beads = self.held = None

    def __len__(self) -> int:
        """Return how many can be learnt from."""
        return 0 if self.beads is None else len(self.beads[0])

    def refresh(self) -> None:
        """Take in what has been drawn since."""
        for held, one in newly_drawn(self.folder, self.known):
            sound = np.isfinite(one["off"]).all(axis=1) & np.isfinite(one["facts"]).all(axis=1)
            part = tuple(torch.from_numpy(one[k][sound]) for k in ("seen", "facts", "off"))
            (self.held_parts if held else self.parts).append(part)
        if self.parts:
            self.beads = tuple(torch.cat(p).to(DEVICE) for p in zip(*self.parts, strict=True))
        if self.held_parts:
            self.held = tuple(torch.cat(p).to(DEVICE) for p in zip(*self.held_parts, strict=True))

    def batch(self, rng: np.random.Generator) -> tuple[torch.Tensor, torch.Tensor]:
        """Return pictures, (N, 12, CELLS, CELLS), and what their sizes are off by, (N, 2)."""
        picked = torch.from_numpy(rng.integers(len(self), size=BATCH)).to(DEVICE)
        seen, facts, off = (layer[picked] for layer in self.beads)
        shown = picture(seen, facts)
        rgb = recoloured(shown[:, :3], rng)
        shown = torch.cat([rgb, shown[:, 3:]], dim=1)
        flipped = torch.from_numpy(rng.random(BATCH) < 0.5).to(DEVICE)[:, None, None, None]
        mirrored = shown.flip(2)
        mirrored[:, SLANT_ASIDE] = 1 - mirrored[:, SLANT_ASIDE]
        return torch.where(flipped, mirrored, shown), off


def picture(seen: torch.Tensor, facts: torch.Tensor) -> torch.Tensor:
    """Return what the network is shown, 0 to 1 about: colours, outline, facts."""
    flat = facts[:, :, None, None].expand(-1, -1, *seen.shape[1:3]) + 0.5
    return torch.cat([seen.permute(0, 3, 1, 2).float() / 255, flat], dim=1)


def loss_of(told: torch.Tensor, off: torch.Tensor) -> torch.Tensor:
    """Return the mean surprise of both sizes."""
    return surprise(off, told[:, :2], told[:, 2:]).mean()


@torch.no_grad()
def judge(network: Look, pool: Beads) -> str:
    """Return how far off the sizes of beads never learnt from are, before and after."""
    if pool.held is None:
        return "none held"
    network.eval()
    seen, facts, off = pool.held
    told = torch.cat([network(picture(*p)) for p in zip(seen.split(256), facts.split(256), strict=True)])
    left, scale = off - told[:, :2], torch.exp(told[:, 2:])
    ratio = torch.quantile((left.abs() / scale).flatten().cpu()[:100000], torch.tensor([0.5, 0.9, 0.95]))
    words = [f"held {len(off)}"]
    for name, error in (("before", off), ("after", left)):
        flat = error.abs().flatten().float().cpu()
        quantiles = torch.quantile(flat[:100000], torch.tensor([0.5, 0.95]))
        words.append(f"{name} {quantiles[0]:.4f} 95 % {quantiles[1]:.4f}")
    words.append("over its scale: " + " ".join(f"{v:.2f}" for v in ratio))
    return "; ".join(words)


def main() -> None:
    """Command line."""
    given = options(__doc__)
    pool = Beads(given.samples)
    teach(Look(), pool, loss_of, lambda taught: judge(taught, pool), given)


if __name__ == "__main__":
    main()
