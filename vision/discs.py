"""Beads of one round shape, told by their rims where regions cannot tell them.

In a clump the gaps between beads lie in shadow and the beads show each other's colour; silver or glass
has its bed's colour but for the rim. Where the beads of a lot that stand alone are round and of not too
different sizes, those sizes are looked for in the rest: rings of such radii are summed over the edges
at every place (a Hough transform of circles), and count where they are nearly as complete as round the
beads that stand alone.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.bed import Image
from vision.fragment import Fragment
from vision.records import FloatArray

_FEWEST, _SOUND_SHARE = 5, 0.25
"""Beads that must stand alone to show the lot's sizes, and their share of all that was found, by area."""
_CONVEX, _LONGEST = 0.95, 1.25
"""Share of its hull that a round region fills, and its length over its width."""
_LOW, _HIGH, _STEP = 0.85, 1.1, 1.05
"""Radii looked for: from this times the small ones to this times the large ones, in such steps; regions
are larger than their beads by blur and shadow."""
_MIXED = 2.5
"""Large over small radius beyond which rings within beads could pass for beads."""
_OUTER, _SIZE = 0.03, 0.2
"""How much less complete a larger ring round the same middle may be, and how much its size counts."""
_FINENESS = 8.0
"""Cells that the smallest radius is divided into at the least."""
_RIM = 0.5
"""Sharpness over that of the usual rim from which an edge counts in full."""
_WIDE = 0.07
"""A rim seen aslant is no circle: how far off the ring it may lie, over the radius."""
_COMPLETE, _PARTIAL = 0.75, 0.55
"""How complete a ring must be, over the usual; the second where several scraps lie in it."""
_APART = 0.77
"""Of the sum of both radii: beads do not overlap, but their rings may by blur and tilt."""
_ROUND, _SMALL = 0.85, 0.7
"""How complete rings round the beads of a round lot are; area over the usual below which all is scraps."""
_COVERED, _HALF = 0.6, 0.5
"""Share of a fragment in a disc from which it is a scrap of it, and of a disc from which it is taken."""
_ALONE, _FREE = 0.9, 0.12
"""How complete a ring must be, and how much of it beads known already may cover, where nothing else was
found: the gap within a wreath of beads has rims all round too, but they bulge into it."""
_BEHIND, _HEMMED = 1.2, 0.4
"""Where to look for them, over the radius, and on which share of the sides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A round bead found by its rim: middle (x, y), radius (cells), and how complete the rim is, 0 to 1."""

    middle: FloatArray
    radius: float
    complete: float

    def fragment(self) -> Fragment:
        """Return the cells inside."""
        low = np.floor(self.middle - self.radius).astype(int)
        size = int(np.ceil(2 * self.radius)) + 2
        y, x = np.mgrid[0:size, 0:size]
        mask = np.hypot(x + low[0] - self.middle[0], y + low[1] - self.middle[1]) <= self.radius
        return Fragment(mask=mask, corner=(int(low[0]), int(low[1])), unsure=True, ring=True)


def round_beads(found: list[Fragment], sharp: Image, firm: NDArray[np.bool_]) -> list[Fragment]:
    """Return the fragments of a lot with rings in place of what they do not part.

    Parameters
    ----------
    found : list of Fragment
    sharp : ndarray, shape (H, W)
        Edges, in multiples of the bed's grain.
    firm : ndarray of bool, shape (B,)
        Which of them have an edge all round.
    """
    even = np.array([crisp and _round(f) for f, crisp in zip(found, firm, strict=True)], bool)
    if even.sum() < _FEWEST:
        return found
    area = np.array([f.area for f in found])
    low, usual, high = _usual_radii(np.sqrt(area[even] / np.pi))
    known = even & (area > _SMALL * np.pi * usual**2)
    sound = [f for f, is_known in zip(found, known, strict=True) if is_known]
    share = area[known].sum() / area.sum()
    if len(sound) < _FEWEST or share < _SOUND_SHARE or high > _MIXED * low:
        return found
    rim = float(np.median([_rim(f, sharp) for f in sound]))
    edges = np.clip((sharp - 1) / max(_RIM * rim - 1, 0.5), 0, 1).astype(np.float32)
    rings = _Rings.of(edges, np.geomspace(_LOW * low, _HIGH * high, _radii_between(low, high)))
    typical = float(np.median([rings.complete_at(f) for f in sound]))
    if typical < _ROUND:
        return found
    return _replaced(found, known, rings.apart(typical, usual))


def _usual_radii(radii: FloatArray) -> tuple[float, float, float]:
    """Return the radii below which a tenth, half and nine tenths of all cells are: scraps have few."""
    radii = np.sort(radii)
    share = np.cumsum(radii**2) / np.sum(radii**2)
    low, usual, high = (float(radii[np.searchsorted(share, q)]) for q in (0.1, 0.5, 0.9))
    return low, usual, high


def _radii_between(low: float, high: float) -> int:
    return 1 + int(np.ceil(np.log(_HIGH * high / (_LOW * low)) / np.log(_STEP)))


def _round(f: Fragment) -> bool:
    if f.area < _CONVEX * f.hull_area:
        return False
    (_, (a, b), _) = cv2.minAreaRect(f.hull.astype(np.float32))
    return max(a, b) < _LONGEST * min(a, b)


def _middle_cell(f: Fragment) -> tuple[int, int]:
    rows, columns = np.nonzero(f.mask)
    return round(float(rows.mean())) + f.corner[1], round(float(columns.mean())) + f.corner[0]


def _rim(f: Fragment, sharp: Image) -> float:
    """Return how sharp the sharpest edges of a fragment usually are, looking outwards from its middle."""
    row, column = _middle_cell(f)
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)[:, None]
    reach = np.linspace(0.7, 1.1, 25)[None] * np.sqrt(f.area / np.pi)
    x, y = (np.round(c + reach * turn(angle)).astype(int) for c, turn in ((column, np.cos), (row, np.sin)))
    height, width = sharp.shape
    return float(np.median(sharp[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)].max(axis=1)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rings:
    """How complete the most complete ring round each place is, and its radius, one cell in `step`."""

    complete: Image
    radius: Image
    step: int

    @classmethod
    def of(cls, edges: Image, radii: FloatArray) -> "_Rings":
        """Sum edges, 0 to 1, along rings of all radii (cells) round every place."""
        reach = max(1, round(_WIDE * float(np.median(radii))))
        step = max(1, int(radii[0] / _FINENESS))
        wide = cv2.dilate(edges, np.ones((2 * reach + 1,) * 2, np.uint8))[::step, ::step]
        best, radius = np.zeros(wide.shape, np.float32), np.zeros(wide.shape, np.float32)
        for r in radii / step:
            size = int(np.ceil(r)) + 1
            y, x = np.mgrid[-size : size + 1, -size : size + 1]
            kernel = (np.abs(np.hypot(x, y) - r) < 0.5).astype(np.float32)
            ring = cv2.filter2D(wide, -1, kernel / kernel.sum(), borderType=cv2.BORDER_CONSTANT)
            better = ring > best - _OUTER
            best[better], radius[better] = ring[better], r * step
        return cls(complete=best, radius=radius, step=step)

    def complete_at(self, f: Fragment) -> float:
        """Return how complete the ring round a fragment's middle is."""
        row, column = _middle_cell(f)
        return float(self.complete[row // self.step, column // self.step])

    def apart(self, typical: float, usual: float) -> list[Disc]:
        """Return the most complete rings, none of which lies in another; larger ones count for more."""
        near = round(usual / 3 / self.step)
        summit = self.complete >= cv2.dilate(self.complete, np.ones((2 * near + 1,) * 2, np.uint8))
        rows, columns = np.nonzero(summit & (self.complete > _PARTIAL * typical))
        complete, radius = self.complete[rows, columns] / typical, self.radius[rows, columns]
        kept: list[Disc] = []
        for k in np.argsort(-complete - _SIZE * np.log(radius / usual), kind="stable"):
            at = np.array([columns[k], rows[k]], float) * self.step
            if all(np.linalg.norm(at - d.middle) > _APART * (d.radius + radius[k]) for d in kept):
                kept.append(Disc(middle=at, radius=float(radius[k]), complete=float(complete[k])))
        return kept


def _replaced(found: list[Fragment], known: NDArray[np.bool_], discs: list[Disc]) -> list[Fragment]:
    """Put discs in place of fragments that hold several of them, and of scraps that lie in one."""
    if not discs:
        return found
    cells = np.array([[_overlap(f, d) for d in discs] for f in found])
    size = np.array([np.pi * d.radius**2 for d in discs])
    area = np.array([f.area for f in found])
    held = np.array([[_holds(f, d.middle) for d in discs] for f in found])
    lone = known | (held.sum(axis=1) == 1)
    explained = (lone[:, None] & held & (cells > _HALF * size)).any(axis=0)
    held &= ~explained
    complete = np.array([d.complete for d in discs])
    held &= complete > _COMPLETE
    parted = ~known & (held.sum(axis=1) > 1)
    scraps = (
        (cells > _COVERED * area[:, None]) & (area[:, None] < _HALF * size) & ~explained & ~known[:, None]
    )
    shown = (complete > _COMPLETE) | (scraps.sum(axis=0) > 1)
    gone = parted | (scraps & shown).any(axis=1)
    free = np.array([not _hemmed_in(d, found) for d in discs])
    missed = (complete > _ALONE) & (cells.sum(axis=0) < _FREE * size) & free
    new = ~explained & (held[parted].any(axis=0) | (scraps.any(axis=0) & shown) | missed)
    return [f for f, out in zip(found, gone, strict=True) if not out] + [
        d.fragment() for d, use in zip(discs, new, strict=True) if use
    ]


def _hemmed_in(disc: Disc, found: list[Fragment]) -> bool:
    """Return whether others lie on most sides of a ring, right behind it."""
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    behind = disc.middle + _BEHIND * disc.radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return float(np.mean([any(_holds(f, point) for f in found) for point in behind])) > _HEMMED


def _holds(f: Fragment, point: FloatArray) -> bool:
    """Return whether a point (x, y) lies in a fragment."""
    x, y = (round(float(v)) - c for v, c in zip(point, f.corner, strict=True))
    return 0 <= y < f.mask.shape[0] and 0 <= x < f.mask.shape[1] and bool(f.mask[y, x])


def _overlap(f: Fragment, disc: Disc) -> int:
    """Return how many of a fragment's cells lie in a disc."""
    low = np.array(f.corner) - disc.middle
    if np.any(low > disc.radius) or np.any(low + f.mask.shape[::-1] < -disc.radius):
        return 0
    rows, columns = np.nonzero(f.mask)
    return int(np.sum(np.hypot(columns + low[0], rows + low[1]) <= disc.radius))
