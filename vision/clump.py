"""How clumps are taken apart: which level of evidence leaves beads, and which pieces are one.

How unlike the bed a cell must be to count is decided clump by clump: as little as the bed's noise
allows, and more only where that leaves parts that are not convex, as contact shadows and colour cast
on the bed do.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import cv2
import numpy as np

from vision.bed import Image
from vision.fragment import (
    Fragment,
    at_necks,
    between_lines,
    blobs_above,
    filled,
    part,
    rejoin,
    round_kernel,
    shifted,
    whole,
    window,
    without_spurs,
)

LEVELS = (4.5, 7.0, 11.0, 17.0, 27.0)
"""Standard deviations of the bed; a bare bed passes the first in no blob of a bead's size."""
SOLID = 0.93
"""Share of its convex hull that a bead fills at the least, blur and grain included."""
CRISP, FIRM = 0.3, 0.85
"""A border is an edge where it is this share as sharp as usual, and firm where that holds for most of it."""
FAINTEST = 1.2
"""Sharpness, over the bed's grain, of the weakest border of a bead."""
TELLING = 5.0
"""Standard deviations of the bed: below this a shadow may be all there is."""
_FULL = 6.0
"""So much above it nothing more is learnt."""
_NEARLY = 0.945
_SHALLOW_NECK, _SLACK = 0.96, 0.01
_SCRAP, _SMALL_SHARE, _LEAST_USUAL, _MOST_USUAL = 0.1, 0.4, 0.75, 1.35
_EDGE_MM = 0.25
_ALIKE, _LOST = 0.9, 0.6
_LINES = (0.3, 0.5, 0.7)
"""Sharpness over that of a piece's border from which a line inside may be a border too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """The maps by which clumps are parted.

    Attributes
    ----------
    unlike : ndarray, shape (H, W)
        How unlike bare bed each cell is, slightly blurred.
    sharp : ndarray, shape (H, W)
        Sharpest edge near each cell.
    per_mm : float
    """

    unlike: Image
    sharp: Image
    per_mm: float

    def resolve(self, blob: Fragment, level: int) -> list[Fragment]:
        """Part a region at its necks, and any part that is still not one bead at a higher level."""
        pieces = rejoin(part(blob, fill=True))
        share = max(self.solidity(pieces, level), self.enclosed(pieces))
        if share < SOLID:
            hollow = rejoin(part(blob, fill=False))
            pieces = pieces if share > self.solidity(hollow, level) - 0.01 else hollow
        if level + 1 == len(LEVELS):
            return pieces
        return [p for piece in pieces for p in self.tighten(piece, level)]

    def enclosed(self, parts: list[Fragment]) -> float:
        """Return how solid parts are if holes count as theirs; 0 where a border is not crisp all round.

        A grey bead on white paper is no darker than a shadow can be, but has an edge all round.
        """
        borders = [self.border(p) for p in parts]
        firm = min(float(np.mean(b > CRISP * np.median(b))) for b in borders)
        if firm < FIRM or min(float(np.median(b)) for b in borders) < 2 * FAINTEST:
            return 0.0
        return sum(p.area for p in parts) / sum(p.hull_area for p in parts)

    def tighten(self, piece: Fragment, level: int) -> list[Fragment]:
        """Return what a piece becomes at the next level where that tells more, else the piece itself."""
        own = np.where(filled(piece.mask), self.unlike[window(piece)], 0)
        blobs = [shifted(b, piece.corner) for b in blobs_above(own, LEVELS[level + 1], self.per_mm)]
        children = [p for blob in blobs for p in self.resolve(blob, level + 1)]
        if not children:
            return [piece]
        kept = self.kept(piece, children)
        solid, solid_then = self.solidity([piece], level), self.solidity(children, level + 1)
        if len(children) == 1:
            return children if kept > _ALIKE and solid_then > min(SOLID, solid - 0.01) else [piece]
        return children if self.better(piece, children, (solid, solid_then, kept)) else [piece]

    def part_further(self, piece: Fragment, usual: float) -> list[Fragment]:
        """Part what is no convex piece at shallower necks, at the level that leaves the most convex parts."""
        alone = piece.area / piece.hull_area
        if alone > _NEARLY + _SLACK:
            return [piece]
        best = (alone, [piece])
        for parts in self.ways(piece, usual):
            if len(parts) < 2 or self.kept(piece, parts) < _LOST:
                continue
            solid = sum(p.area for p in parts) / sum(p.hull_area for p in parts)
            shares = [p.area / usual for p in parts]
            if min(shares) > _LEAST_USUAL and max(shares) < _MOST_USUAL:
                solid += 2 * _SLACK
            elif min(shares) < _SMALL_SHARE:
                solid -= 2 * _SLACK
            if solid > best[0] + _SLACK:
                best = (solid, [replace(p, unsure=True) for p in parts])
        return best[1]

    def ways(self, piece: Fragment, usual: float) -> Iterator[list[Fragment]]:
        """Give the ways a piece can be parted: at its necks, at any level, or between edges."""
        own = np.where(filled(piece.mask), self.unlike[window(piece)], 0)
        for level, along_edges in product(LEVELS, (False, True)):
            blobs = [shifted(b, piece.corner) for b in blobs_above(own, level, self.per_mm)]
            cuts = [
                p
                for b in blobs
                for p in at_necks(
                    whole(b), _SHALLOW_NECK, edges=self.sharp[window(b)] if along_edges else None
                )
            ]
            yield [without_spurs(p) if along_edges else p for p in cuts if p.area > _SCRAP * piece.area]
        line = float(np.median(self.border(piece)))
        for share in _LINES:
            cuts = between_lines(piece, self.sharp[window(piece)], share * line)
            yield [p for cut in cuts if (p := without_spurs(cut)).area > _SMALL_SHARE * usual]

    def better(self, piece: Fragment, children: list[Fragment], how: tuple[float, float, float]) -> bool:
        """Return whether several children are rather beads than their parent is one.

        `how`: solidity of the parent, of the children, and the share of evidence that they keep.
        """
        solid, solid_then, kept = how
        if kept < _LOST:
            return False
        # one bead, however patchy, has a crisp border all round; two leave a notch in their common hull
        crisp = float(np.median(np.concatenate([self.border(c) for c in children])))
        firm = float(np.mean(self.border(piece) > CRISP * crisp))
        if firm > FIRM:
            return False
        return solid_then > (solid + (0.02 if kept < _ALIKE else 0) if solid < SOLID else SOLID)

    def border(self, piece: Fragment) -> Image:
        """Return the sharpest edge beside every cell of a fragment's hull."""
        mask = np.zeros(np.add(piece.mask.shape, 2), np.uint8)
        cv2.fillConvexPoly(mask, (piece.hull - np.array(piece.corner)).astype(np.int32) + 1, 1)
        lines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        cells = max(lines, key=len)[:, 0] - 1
        near: Image = self.sharp[cells[:, 1] + piece.corner[1], cells[:, 0] + piece.corner[0]]
        return near

    def kept(self, piece: Fragment, children: list[Fragment]) -> float:
        """Return which share of a piece's evidence lies in its children, their blurred edges included."""
        covered = np.zeros(piece.mask.shape, np.uint8)
        for child in children:
            cv2.fillConvexPoly(covered, (child.hull - np.array(piece.corner)).astype(np.int32), 1)
        near = cv2.dilate(covered, round_kernel(_EDGE_MM * self.per_mm))
        weight = np.clip(self.unlike[window(piece)] - TELLING, 0, _FULL)
        own = np.where(filled(piece.mask), weight, 0)
        return float(own[near > 0].sum() / max(float(own.sum()), 1e-9))

    def solidity(self, parts: list[Fragment], level: int) -> float:
        """Return which share of the parts' hulls is filled by cells above a level."""
        inside = hull = 0.0
        for piece in parts:
            inside += float((piece.mask & (self.unlike[window(piece)] > LEVELS[level])).sum())
            hull += piece.hull_area
        return inside / hull if hull else 0.0
