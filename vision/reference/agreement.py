"""Which of the candidate edges belong to the thing: those that agree on one place, turn and size.

Random minimal sets of candidates propose a change of the outline, and all profiles vote (RANSAC, Fischler and
Bolles 1981). The proportions of a card, and where else edges can lie, tell its own edges from others: print
lies inside them, shadow just outside.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray
from vision.reference.objects import Reference
from vision.reference.outline import Outline, Pose
from vision.reference.steps import Candidates

_TRIALS = 6000
_SEED = 7
SCALES = (0.915, 1.04)
"""Of prints, fitted to a page or enlarged (dated trade notes): at another scale it is another thing."""
_NEEDED = 0.7
"""Share of the profiles of every side that must agree."""
_ALIKE = 0.004
"""Proportions that differ by less are right: the tolerance of a card is 0.25 %, edges add the rest."""
_STRONG = 0.5
"""Of the strongest proposal: where a shadow ends, light rises about a third as steeply as at the rim."""
_SHADOW_MM = 1.0
"""A card's shadow reaches no further: 0.76 mm of thickness under light from 40 degrees above the sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """The proposed change of an outline that most profiles agree on.

    Attributes
    ----------
    change : ndarray, shape (K,)
        In the order of `Outline.slopes`.
    whole : bool
        Whether enough of every side agrees, at a size that prints have.
    alike : bool
        Whether the proportions are the thing's as well.
    """

    change: FloatArray
    whole: bool
    alike: bool


def agree(outline: Outline, steps: Candidates, *, pose: Pose, thing: Reference, near_mm: float) -> Agreement:
    """Return the change of an outline that explains the candidates of most profiles.

    Parameters
    ----------
    outline : Outline
        Of G points.
    steps : Candidates
        Of the profiles across it.
    pose : Pose
        Of the outline.
    thing : Reference
    near_mm : float
        A candidate this near to the proposed outline agrees with it.
    """
    changes = _proposals(outline, steps.offsets_mm)
    ratio = (np.array(pose.size_mm) + changes[:, -len(pose.size_mm) :]) / np.array(thing.size_mm)
    possible = (ratio > 1 / SCALES[1]).all(axis=1) & (ratio < 1 / SCALES[0]).all(axis=1)
    votes = [_votes(outline, steps, change=change, near_mm=near_mm) for change in changes]
    shares, strength = np.array([v[0] for v in votes]), np.array([v[1] for v in votes])
    good = (shares.min(axis=1) >= _NEEDED) & possible
    alike = np.ptp(ratio, axis=1) < _ALIKE
    if (good & alike).any():
        good &= alike
    if good.any():
        size = ratio.mean(axis=1) * max(thing.size_mm)
        shadow_mm = 0.0 if thing.is_round else 2 * _SHADOW_MM
        chosen = _chosen(np.flatnonzero(good), size, strength=strength, shadow_mm=shadow_mm, near_mm=near_mm)
    else:
        chosen = int(np.argmax(shares.min(axis=1) + shares.mean(axis=1)))
    return Agreement(change=changes[chosen], whole=bool(good[chosen]), alike=bool(alike[chosen]))


def _chosen(
    good: NDArray[np.intp], size_mm: FloatArray, *, strength: FloatArray, shadow_mm: float, near_mm: float
) -> int:
    """Return the strongest of the largest proposals, or of those that a shadow may lie around."""
    size, own = size_mm[good], strength[good]
    largest = size[own >= _STRONG * own.max()].max()
    low = size[size >= largest - shadow_mm].min() if shadow_mm else largest - 2 * near_mm
    near = (size >= low) & (size <= low + 4 * near_mm)
    return int(good[near][np.argmax(own[near])])


def _proposals(outline: Outline, offsets_mm: FloatArray) -> FloatArray:
    """Return changes, shape (T, K), that minimal sets of candidates propose; zeros if they propose none."""
    rng = np.random.default_rng(_SEED)
    known = np.isfinite(offsets_mm).sum(axis=1)
    unknowns = outline.slopes.shape[1]
    none = np.zeros((1, unknowns))
    sides = outline.side.max() + 1
    pools = [np.flatnonzero((outline.side == k) & (known > 0)) for k in range(sides)]
    if min(len(pool) for pool in pools) == 0:
        return none
    order = rng.permuted(np.tile(np.arange(sides), (_TRIALS, 1)), axis=1)
    picked = np.concatenate([order, order], axis=1)[:, :unknowns]
    rows = np.empty(picked.shape, dtype=np.intp)
    for k, pool in enumerate(pools):
        here = picked == k
        rows[here] = pool[rng.integers(len(pool), size=int(here.sum()))]
    column = (rng.random(rows.shape) * known[rows]).astype(int)
    matrix, right = outline.slopes[rows], offsets_mm[rows, column]
    sound = np.abs(np.linalg.det(matrix)) > 1e-3
    return np.linalg.solve(matrix[sound], right[sound][..., None])[..., 0] if sound.any() else none


def _votes(
    outline: Outline, steps: Candidates, *, change: FloatArray, near_mm: float
) -> tuple[FloatArray, float]:
    """Return the share of each side's profiles that agree with a change, and how strong their steps are."""
    with np.errstate(invalid="ignore"):
        hit = np.abs(steps.offsets_mm - (outline.slopes @ change)[:, None]) < near_mm
    share = np.bincount(outline.side, hit.any(axis=1)) / np.bincount(outline.side)
    return share, float(np.where(hit, steps.strength, 0).max(axis=1).mean())
