"""Tables of `tests.rendering` as a perfect, or a fairly good, network would map them; the truth beside."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.rendering.arrangement import Strung, Table, arranged
from tests.rendering.things import Part
from vision.topview.kinds import STRUNG
from vision.topview.region import Fragment

HALF = (105.0, 78.0)
"""Of a table, mm: as the pictures show that networks learn from."""
PER_MM = 5.0
_SAMPLES_PER_CELL = 2.0
"""Along the longest side of a triangle: no cell of it is missed."""
_Z_STEPS_PER_MM = 1000
KINDS = 9
_BLUR_CELLS = 1.2
"""Standard deviation: outlines of networks are about as soft."""
_NOISE_CELLS = 6.0
"""Errors of networks go on over about a millimetre."""
LEAST_CELLS = 25
"""What shows less of itself is no piece: 1 mm2."""


@dataclass(frozen=True)
class DrawnMap:
    """What is seen of a table, and what is true of it.

    Attributes
    ----------
    kinds : ndarray, shape (9, H, W)
        Probability of each kind.
    fragments : list of Fragment
        The strung parts and loose beads, each whole.
    owners : list of int
        Number of each fragment's piece in the table.
    strings : list of Strung
    """

    kinds: np.ndarray
    fragments: list[Fragment]
    owners: list[int]
    strings: list[Strung]


def _samples(part: Part) -> np.ndarray:
    """Return points (N, 3) on the triangles of a part that face up, a few in every cell."""
    corners = part.mesh.points[part.mesh.faces]
    sides = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    corners = corners[np.cross(*sides)[:, 2] > 0]
    reach = np.linalg.norm(corners[:, [1, 2, 0], :2] - corners[..., :2], axis=2).max(axis=1, initial=0)
    steps = np.maximum(np.ceil(reach * PER_MM * _SAMPLES_PER_CELL), 1).astype(int)
    found = [np.zeros((0, 3))]
    for count in np.unique(steps):
        u, v = np.meshgrid(*2 * [np.arange(count + 1) / count])
        weights = np.stack([1 - u - v, u, v], axis=-1)[u + v <= 1 + 1e-9]
        found.append(np.einsum("sk,tkx->tsx", weights, corners[steps == count]).reshape(-1, 3))
    return np.concatenate(found)


def topmost(table: Table) -> np.ndarray:
    """Return the number of the part that is seen from above in each cell, from 1; 0 on the bed, (H, W)."""
    width, height = (round(2 * half * PER_MM) for half in table.half)
    top = np.zeros((height, width), np.int64)
    for number, part in enumerate(table.parts, start=1):
        points = _samples(part)
        columns, rows = np.floor((points[:, :2] + table.half) * PER_MM).astype(int).T
        seen = (columns >= 0) & (columns < width) & (rows >= 0) & (rows < height)
        high = (np.maximum(points[:, 2], 0) * _Z_STEPS_PER_MM + 1).astype(np.int64) << 16 | number
        np.maximum.at(top, (rows[seen], columns[seen]), high[seen])
    return top & 0xFFFF


def _softened(kinds: np.ndarray, rng: np.random.Generator, noise: float) -> np.ndarray:
    """Return labels (H, W) as probabilities (9, H, W): blurred, with errors as wide as a network's."""
    soft = np.stack(
        [cv2.GaussianBlur((kinds == k).astype(np.float32), (0, 0), _BLUR_CELLS) for k in range(KINDS)]
    )
    size = tuple(max(2, round(side / _NOISE_CELLS)) for side in kinds.shape[::-1])
    waves = rng.normal(0, noise, (KINDS, size[1], size[0])).astype(np.float32)
    errors = np.stack([cv2.resize(w, kinds.shape[::-1], interpolation=cv2.INTER_CUBIC) for w in waves])
    logits = np.log(soft + 0.01) + errors
    out = np.exp(logits - logits.max(axis=0))
    return out / out.sum(axis=0)


def drawn_map(seed: int, *, noise: float = 1.0) -> DrawnMap:
    """Draw a table and map it; `noise` is the standard deviation of the errors of the logits."""
    rng = np.random.default_rng([seed, 77])
    return mapped(arranged(rng, HALF), rng, noise=noise)


def mapped(table: Table, rng: np.random.Generator, *, noise: float) -> DrawnMap:
    """Map a table."""
    top = topmost(table)
    kinds = np.array([0, *(part.kind for part in table.parts)])[top]
    owner = np.array([0, *(part.owner if part.kind in STRUNG else 0 for part in table.parts)])[top]
    fragments, owners = [], []
    for number in np.unique(owner[owner > 0]).tolist():
        mask = owner == number
        if mask.sum() < LEAST_CELLS:
            continue
        x, y, w, h = cv2.boundingRect(mask.astype(np.uint8))
        fragments.append(Fragment(mask=mask[y : y + h, x : x + w], corner=(x, y)))
        owners.append(number)
    return DrawnMap(_softened(kinds, rng, noise), fragments, owners, table.strings)
