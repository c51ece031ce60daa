"""Which two pieces may follow each other on a string, and what lies between them."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from vision.chains.pieces import Piece
from vision.chains.seen import BRIDGES, CLASPS, SHOWN, STEP_MM, Seen
from vision.common.numerics import quarter_turn, unit
from vision.common.records import FloatArray, Mask
from vision.topview.kinds import Kind
from vision.topview.region import PROBABLE, SMALLEST_MM, disc, owners

_SECTORS = 8
"""Directions about a piece. A string goes on to the nearest piece ahead; six like discs touch a seventh."""
_FARTHEST_MM = 50.0
"""Free string before the next part: spaced beads lie an inch or two apart (common practice, no source)."""
_TIGHTEST_MM = 20.0
"""Radius of the tightest curve in which a string lies between two parts; a bracelet's is 28 mm."""
_ASIDE_MM = 1.0
"""A string is looked for so far to either side of a way."""
_SOFT_MM = 0.5
"""An outline is known no better: nearer pieces touch."""
_TENTHS = 1
"""Decimals of that share that count: a speck more is no reason for a bent way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Two pieces that may follow each other.

    Attributes
    ----------
    pieces : tuple of int
        Their indices, the smaller one first.
    ways : ndarray, shape (2, 2)
        Unit vectors in which the string leaves the first piece for the second, and the second for the first.
    gap : float
        Shortest distance between the outlines over the mean size of both pieces; 0 where they touch.
    bridged : float
        Share of the way between them on which string, finding or chain is seen; 0 where they touch.
    clasp : float
        The same of finding or chain alone.
    """

    pieces: tuple[int, int]
    ways: FloatArray
    gap: float
    bridged: float
    clasp: float

    @property
    def touches(self) -> bool:
        """Whether nothing lies between."""
        return self.gap == 0


def links_of(pieces: Sequence[Piece], seen: Seen) -> list[Link]:
    """Return the candidate links: near pieces with no third one and no stopper between them."""
    ground = _Ground(
        seen=seen,
        owner=owners((piece.fragment for piece in pieces), seen.bed.shape).astype(np.int32) - 1,
        stopper=seen.chance(Kind.STOPPER) > PROBABLE,
        bridges=bridged_cells(seen),
        clasps=_near(_clasps(seen), seen.per_mm),
    )
    found = []
    for pair in _near_pairs(pieces):
        first, second = (pieces[k] for k in pair)
        between = ground.between(first.centre_mm, second.centre_mm, pair)
        if between is None:
            continue
        bridged, clasp, bend = between
        apart = max(float(cdist(first.outline_mm, second.outline_mm).min()) - _SOFT_MM, 0.0)
        found.append(
            Link(
                pieces=pair,
                ways=_turned(second.centre_mm - first.centre_mm, bend),
                gap=apart / (first.size_mm + second.size_mm) * 2,
                bridged=bridged,
                clasp=clasp,
            )
        )
    return found


def bridged_cells(seen: Seen) -> Mask:
    """Return which cells show string, clasp or chain, or lie near some, shape (H, W)."""
    return _near((seen.chance(*BRIDGES) > SHOWN) | _clasps(seen), seen.per_mm)


def _clasps(seen: Seen) -> Mask:
    """Return which cells show clasp or chain, with what they enclose: the inside of a ring is part of it."""
    shown = (seen.chance(*CLASPS) > SHOWN).astype(np.uint8)
    outlines, _ = cv2.findContours(shown, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return cv2.drawContours(np.zeros_like(shown), outlines, -1, 1, cv2.FILLED) > 0


def _near(cells: Mask, per_mm: float) -> Mask:
    """Return which cells lie near some."""
    return cv2.dilate(cells.astype(np.uint8), disc(_ASIDE_MM * per_mm)) > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """What lies between the pieces: what each cell shows, shape (H, W), or one near by."""

    seen: Seen
    owner: NDArray[np.int32]
    stopper: Mask
    bridges: Mask
    clasps: Mask

    def between(self, start: FloatArray, stop: FloatArray, pair: tuple[int, int]) -> tuple[float, ...] | None:
        """Return what lies on the straightest way of those that show most string; None: no way is free.

        That is `bridged` and `clasp` of a `Link`, and by how much the way is bent at either end, radians.
        """
        ways, bends = _ways(start, stop)
        columns, rows = np.moveaxis(self.seen.to_cells(ways), -1, 0)
        owner = self.owner[rows, columns]
        stopped = self.stopper[rows, columns].sum(axis=1) * STEP_MM > SMALLEST_MM  # a shorter one is a speck
        free = np.isin(owner, (-1, *pair)).all(axis=1) & ~stopped
        if not free.any():
            return None
        outside = owner < 0
        bridged, clasp = (
            (layer[rows, columns] & outside).sum(axis=1) / np.maximum(outside.sum(axis=1), 1)
            for layer in (self.bridges, self.clasps)
        )
        best = int(np.argmax(np.where(free, np.round(bridged, _TENTHS), -1.0)))
        return float(bridged[best]), float(clasp[best]), float(bends[best])


def _ways(start: FloatArray, stop: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the straight way between two points, then ever more bent arcs, (W, N, 2), and bends (W,)."""
    off = stop - start
    length = float(np.hypot(*off))
    sag = length**2 / 8 / _TIGHTEST_MM
    out = np.linspace(0, sag, int(sag / _ASIDE_MM) + 1)[1:]
    bows = np.concatenate([[0.0], np.column_stack([out, -out]).ravel()])
    share = np.linspace(0, 1, int(length / STEP_MM) + 2)
    aside = bows[:, None] * (4 * share * (1 - share))
    normal = quarter_turn(off) / length
    return start + share[:, None] * off + aside[..., None] * normal, np.arctan(4 * bows / length)


def _turned(way: FloatArray, bend: float) -> FloatArray:
    """Return the unit vector of a way, bent, and that of the way back, shape (2, 2)."""
    x, y = unit(way)
    c, s = np.cos(bend), np.sin(bend)
    return np.array([(c * x - s * y, c * y + s * x), (-c * x - s * y, s * x - c * y)])


def _near_pairs(pieces: Sequence[Piece]) -> list[tuple[int, int]]:
    """Return the pairs of which one is the nearest of the other in one of eight directions."""
    if len(pieces) < 2:
        return []
    centres = np.array([piece.centre_mm for piece in pieces])
    half = np.array([piece.size_mm / 2 for piece in pieces])
    middles = cdist(centres, centres)
    apart = middles - half[:, None] - half
    off = centres[None] - centres[:, None]
    sector = np.floor(np.arctan2(off[..., 1], off[..., 0]) / (2 * np.pi) * _SECTORS).astype(int) % _SECTORS
    outside = (middles < _SOFT_MM) | (apart > _FARTHEST_MM)
    pairs = set()
    for number in range(_SECTORS):
        there = np.where((sector != number) | outside, np.inf, apart)
        nearest = np.argmin(there, axis=1)
        found = np.flatnonzero(np.isfinite(there.min(axis=1)))
        pairs |= {
            (min(a, b), max(a, b)) for a, b in zip(found.tolist(), nearest[found].tolist(), strict=True)
        }
    return sorted(pairs)
