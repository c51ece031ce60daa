"""From a map of what is no bed to one region a bead: touching beads are parted at their necks.

Beads are nearly convex, so a clump narrows where two of them touch. In the distance transform each
bead is a summit; two summits belong to one bead unless the saddle between them is much lower than
both, a ratio without any size in it. How unlike the bed a cell must be to count is decided clump by
clump: as little as the bed's noise allows, and more only where that leaves parts that are not
convex, as contact shadows and colour cast on the bed do.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.morphology import reconstruction
from skimage.segmentation import watershed

from vision.bed import Bed, Image, Mask

_LEVELS = (4.5, 7.0, 11.0, 17.0, 27.0)
"""Standard deviations of the bed; a bare bed passes the first in no blob of a bead's size."""
_SOLID = 0.93
"""Share of its convex hull that a bead fills at the least, blur and grain included."""
_NEARLY = 0.945
_NECK = 0.85
"""Saddle over summit below which two beads touch; bumps of one irregular bead stay above it."""
_SHALLOW_NECK, _SLACK = 0.96, 0.01
_ALIKE_LEAST, _LARGE, _SMALL, _PATCHED = 5, 1.5, 0.6, 0.75
_NOTCH = 0.1
"""Room in the notches between two pieces, over the area of the smaller: two equal discs leave 0.27."""
_EVEN_MM, _RARE, _RAGGED = 0.35, 6.0, 0.85
_TELLING, _FULL = 5.0, 6.0
"""Below the first a shadow may be all there is; this much above it nothing more is learnt."""
_EDGE_MM = 0.25
_CRISP, _FIRM = 0.3, 0.85
_FAINTEST, _PALEST = 1.2, 5.0
_NEAR_MM = 1.5
_ALIKE, _LOST = 0.9, 0.6
_SMALLEST_MM = 1.5
_SUMMIT_CELLS = 12
_CLOSE_MM = 0.3

Labels = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fragment:
    """The cells of one bead.

    Attributes
    ----------
    mask : ndarray of bool, shape (h, w)
    corner : tuple of int
        (column, row) of the mask's first cell in the top view.
    unsure : bool
        Parted from, or joined with, others only because the lot's usual size suggests it.
    """

    mask: Mask
    corner: tuple[int, int]
    unsure: bool = False

    @property
    def hull(self) -> NDArray[np.float64]:
        """Convex hull of the cells, shape (N, 2), (x, y) in cells."""
        points = cv2.findNonZero(self.mask.astype(np.uint8))
        hull: NDArray[np.float64] = cv2.convexHull(points)[:, 0].astype(float) + np.array(self.corner)
        return hull

    @property
    def area(self) -> int:
        """Cells."""
        return int(self.mask.sum())

    @property
    def inner_radius(self) -> float:
        """Cells."""
        return float(cv2.distanceTransform(np.pad(self.mask, 1).astype(np.uint8), cv2.DIST_L2, 5).max())

    @property
    def hull_area(self) -> float:
        """Cells inside the convex hull, its own cells whole."""
        points = cv2.convexHull(cv2.findNonZero(self.mask.astype(np.uint8)))
        # the polygon runs through cell centres: half a cell is added all round
        return cv2.contourArea(points) + cv2.arcLength(points, closed=True) / 2 + 1


def bead_regions(bed: Bed) -> list[Fragment]:
    """Return one fragment a bead, in no order."""
    per_mm = bed.top.cells_per_mm
    reach = np.ones((2 * round(_EDGE_MM * per_mm) + 1,) * 2, np.uint8)
    unlike = cv2.GaussianBlur(bed.unlike, (0, 0), 0.1 * per_mm)
    evidence = _Evidence(unlike=unlike, sharp=cv2.dilate(bed.sharp, reach), per_mm=per_mm)
    least = 0.6 * (_SMALLEST_MM * per_mm) ** 2
    blobs = _blobs(evidence.unlike, _LEVELS[0], per_mm)
    resolved = [f for blob in blobs for f in evidence.resolve(blob, 0)]
    found = _by_usual_size([f for f in resolved if f.area >= least], evidence)
    found = _regroup(found, _patchy(bed), evidence)
    crisp = [float(np.median(evidence.border(f))) for f in found]
    plain = [float(np.mean(evidence.unlike[_window(f)][f.mask])) for f in found]
    near = round(_NEAR_MM * per_mm)
    return [
        f
        for k, f in enumerate(found)
        if max(crisp[k] / _FAINTEST, plain[k] / _PALEST) > 1
        and not any(
            _hanger_on(f, g, near) and (crisp[k] < 0.4 * crisp[j] or plain[k] < 0.6 * plain[j])
            for j, g in enumerate(found)
        )
    ]


def _by_usual_size(found: list[Fragment], evidence: "_Evidence") -> list[Fragment]:
    """Part what is too large for one bead of the lot and no convex piece; join what is too small.

    Beads of one lot are mostly alike; this decides only where the outline leaves it open.
    """
    if len(found) < _ALIKE_LEAST:
        return found
    usual = float(np.median([f.area for f in found]))
    parted = [p for f in found for p in (evidence.part_further(f, usual) if f.area > _LARGE * usual else [f])]
    ragged = [f for f in parted if f.area < min(_SMALL * usual, _RAGGED * f.hull_area)]
    whole = [f for f in parted if f.area >= min(_SMALL * usual, _RAGGED * f.hull_area)]
    return whole + _rejoin(ragged, lambda one, other: _mismatch(one, other, usual))


def _mismatch(one: Fragment, other: Fragment, usual: float) -> float:
    """Return 0 where two scraps make up one bead of the usual size, else 1."""
    both = _union(one, other)
    fits = both.area < usual / _SMALL and both.area > _PATCHED * both.hull_area
    return 0.0 if fits else 1.0


def _patchy(bed: Bed) -> list[Fragment]:
    """Return regions that are unlike the bed on average over about a millimetre, however patchily.

    Glass shows its bed, here brighter and there darker: no patch is a bead, all together are. The bare
    bed's own average hardly varies.
    """
    per_mm = bed.top.cells_per_mm
    even = cv2.GaussianBlur(np.minimum(bed.unlike, _TELLING), (0, 0), _EVEN_MM * per_mm)
    some = even[::7, ::7][bed.region[::7, ::7]]
    usual = float(np.median(some))
    spread = 1.4826 * float(np.median(np.abs(some - usual)))
    rise = np.where(bed.region, even - usual, 0) / max(_RARE * spread, 0.4 * usual)
    return [
        p for blob in _blobs(rise.astype(np.float32), 1.0, per_mm) for p in _rejoin(_part(blob, fill=True))
    ]


def _regroup(found: list[Fragment], patchy: list[Fragment], evidence: "_Evidence") -> list[Fragment]:
    """Put a patchy region in place of the scraps found in it, where they make up little of it."""
    out = list(found)
    for region in patchy:
        scraps = [f for f in out if _centred_in(f, region)]
        whole = sum(f.area for f in scraps)
        if not scraps or whole > 0.5 * region.area or region.area < _SOLID * region.hull_area:
            continue
        ragged = whole < _RAGGED * sum(f.hull_area for f in scraps)
        crisp = float(np.median(np.concatenate([evidence.border(f) for f in scraps])))
        if ragged and np.mean(evidence.border(region) > _CRISP * crisp) > _FIRM:
            out = [f for f in out if all(f is not s for s in scraps)] + [region]
    return out


def _centred_in(scrap: Fragment, region: Fragment) -> bool:
    """Return whether a fragment's middle lies in a region."""
    rows, columns = np.nonzero(scrap.mask)
    x = int(columns.mean()) + scrap.corner[0] - region.corner[0]
    y = int(rows.mean()) + scrap.corner[1] - region.corner[1]
    return 0 <= y < region.mask.shape[0] and 0 <= x < region.mask.shape[1] and bool(region.mask[y, x])


def _hanger_on(scrap: Fragment, bead: Fragment, near: int) -> bool:
    """Return whether a fragment can be a scrap of shadow or glare beside a bead: much smaller, and close."""
    return bead.area > 4 * scrap.area and _touch(bead, scrap, near)


def _blobs(unlike: Image, level: float, per_mm: float) -> list[Fragment]:
    """Return the connected regions above a level, gaps closed and threads taken off."""
    mask = (unlike > level).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, _round(_CLOSE_MM * per_mm / 2))
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, _round(_CLOSE_MM * per_mm))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    found = []
    for k in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[k])
        if area > (_SMALLEST_MM * per_mm) ** 2 / 2:
            found.append(Fragment(mask=labels[y : y + h, x : x + w] == k, corner=(x, y)))
    return found


def _round(radius: float) -> NDArray[np.uint8]:
    reach = max(1, round(radius))
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1,) * 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Evidence:
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
        whole, hollow = (_rejoin(_part(blob, fill=fill)) for fill in (True, False))
        share = max(self.solidity(whole, level), self.enclosed(whole))
        pieces = whole if share > min(_SOLID, self.solidity(hollow, level) - 0.01) else hollow
        if level + 1 == len(_LEVELS):
            return pieces
        return [part for piece in pieces for part in self.tighten(piece, level)]

    def enclosed(self, parts: list[Fragment]) -> float:
        """Return how solid parts are if holes count as theirs; 0 where a border is not crisp all round.

        A grey bead on white paper is no darker than a shadow can be, but has an edge all round.
        """
        borders = [self.border(p) for p in parts]
        firm = min(float(np.mean(b > _CRISP * np.median(b))) for b in borders)
        if firm < _FIRM or min(float(np.median(b)) for b in borders) < 2 * _FAINTEST:
            return 0.0
        return sum(p.area for p in parts) / sum(p.hull_area for p in parts)

    def tighten(self, piece: Fragment, level: int) -> list[Fragment]:
        """Return what a piece becomes at the next level where that tells more, else the piece itself."""
        own = np.where(_filled(piece.mask), self.unlike[_window(piece)], 0)
        blobs = [_shift(b, piece.corner) for b in _blobs(own, _LEVELS[level + 1], self.per_mm)]
        children = [part for blob in blobs for part in self.resolve(blob, level + 1)]
        if not children:
            return [piece]
        kept = self.kept(piece, children)
        solid, solid_then = self.solidity([piece], level), self.solidity(children, level + 1)
        if len(children) == 1:
            return children if kept > _ALIKE and solid_then > min(_SOLID, solid - 0.01) else [piece]
        return children if self.better(piece, children, (solid, solid_then, kept)) else [piece]

    def part_further(self, piece: Fragment, usual: float) -> list[Fragment]:
        """Part what is no convex piece at shallower necks, at the level that leaves the most convex parts."""
        alone = piece.area / piece.hull_area
        if alone > _NEARLY + _SLACK:
            return [piece]
        own = np.where(_filled(piece.mask), self.unlike[_window(piece)], 0)
        best = (alone, [piece])
        for level in _LEVELS:
            blobs = [_shift(b, piece.corner) for b in _blobs(own, level, self.per_mm)]
            parts = [
                p for b in blobs for p in _at_necks(_whole(b), _SHALLOW_NECK) if p.area > 0.1 * piece.area
            ]
            solid = sum(p.area for p in parts) / max(sum(p.hull_area for p in parts), 1e-9)
            shares = [p.area / usual for p in parts]
            if shares and min(shares) > 0.75 and max(shares) < 1.35:
                solid += 2 * _SLACK
            elif shares and min(shares) < 0.45:
                solid -= 2 * _SLACK
            if len(parts) > 1 and solid > best[0] + _SLACK and self.kept(piece, parts) > _LOST:
                best = (solid, [replace(p, unsure=True) for p in parts])
        return best[1]

    def better(self, piece: Fragment, children: list[Fragment], how: tuple[float, float, float]) -> bool:
        """Return whether several children are rather beads than their parent is one.

        `how`: solidity of the parent, of the children, and the share of evidence that they keep.
        """
        solid, solid_then, kept = how
        if kept < _LOST:
            return False
        # one bead, however patchy, has a crisp border all round; two leave a notch in their common hull
        crisp = float(np.median(np.concatenate([self.border(c) for c in children])))
        firm = float(np.mean(self.border(piece) > _CRISP * crisp))
        if firm > _FIRM:
            return False
        return solid_then > (solid + (0.02 if kept < _ALIKE else 0) if solid < _SOLID else _SOLID)

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
        covered = cv2.dilate(covered, _round(_EDGE_MM * self.per_mm))
        weight = np.clip(self.unlike[_window(piece)] - _TELLING, 0, _FULL)
        own = np.where(_filled(piece.mask), weight, 0)
        return float(own[covered > 0].sum() / max(float(own.sum()), 1e-9))

    def solidity(self, parts: list[Fragment], level: int) -> float:
        """Return which share of the parts' hulls is filled by cells above a level."""
        inside = hull = 0.0
        for part in parts:
            inside += float((part.mask & (self.unlike[_window(part)] > _LEVELS[level])).sum())
            hull += part.hull_area
        return inside / hull if hull else 0.0


def _window(part: Fragment) -> tuple[slice, slice]:
    """Return the rows and columns of the top view that a fragment covers."""
    (x, y), (h, w) = part.corner, part.mask.shape
    return slice(y, y + h), slice(x, x + w)


def _shift(part: Fragment, by: tuple[int, int]) -> Fragment:
    return Fragment(mask=part.mask, corner=(part.corner[0] + by[0], part.corner[1] + by[1]))


def _filled(mask: Mask) -> Mask:
    """Return a mask without holes."""
    rings, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    out = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(out, rings, -1, 1, cv2.FILLED)
    return out > 0


def _part(blob: Fragment, *, fill: bool) -> list[Fragment]:
    """Part one connected region at its necks."""
    return _at_necks(_whole(blob) if fill else blob, _NECK)


def _whole(blob: Fragment) -> Fragment:
    """Return a fragment without holes."""
    return Fragment(mask=_filled(blob.mask), corner=blob.corner)


def _at_necks(blob: Fragment, neck: float) -> list[Fragment]:
    """Part a region by a watershed from the summits of its distance transform."""
    padded = np.pad(blob.mask, 1).astype(np.uint8)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 5)
    shrink = max(1, int(depth.max() / _SUMMIT_CELLS))
    small = depth[::shrink, ::shrink] / shrink
    seeds = _seeds(small, neck)
    if seeds.max() < 2:
        return [blob]
    flooded = watershed(-small, seeds, mask=small > 0).astype(np.uint16)
    spread = cv2.resize(flooded, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_NEAREST)
    height, width = blob.mask.shape
    full = np.where(blob.mask, spread[1 : height + 1, 1 : width + 1], 0)
    return [part for k in range(1, int(seeds.max()) + 1) if (part := _cut(full == k, blob.corner))]


def _cut(mask: Mask, corner: tuple[int, int]) -> Fragment | None:
    """Return a mask's filled part; None where it is empty."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return None
    cut = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return Fragment(mask=cut, corner=(corner[0] + int(columns[0]), corner[1] + int(rows[0])))


def _seeds(depth: NDArray[np.float32], neck: float) -> Labels:
    """Label the summits that rise over every saddle by the neck ratio."""
    height = np.log(np.maximum(depth, 0.5))
    filled = reconstruction(height + np.log(neck), height, method="dilation")
    summit = (height - filled >= -np.log(neck) - 1e-6) & (depth > 1)
    return np.asarray(cv2.connectedComponents(summit.astype(np.uint8))[1], dtype=np.int32)


def _rejoin(
    parts: list[Fragment], misfit: Callable[[Fragment, Fragment], float] | None = None
) -> list[Fragment]:
    """Join pieces that make up one convex bead, the best match first."""
    parts = list(parts)
    while len(parts) > 1:
        pairs = [(i, j) for j in range(len(parts)) for i in range(j) if _touch(parts[i], parts[j])]
        notches = [((misfit or _notch)(parts[i], parts[j]), i, j) for i, j in pairs]
        room, i, j = min(notches, default=(1.0, 0, 0))
        if room > _NOTCH:
            break
        joined = _union(parts[i], parts[j])
        parts = [p for k, p in enumerate(parts) if k not in (i, j)] + [joined]
    return parts


def _touch(one: Fragment, other: Fragment, near: int = 0) -> bool:
    """Return whether the boxes of two pieces come as near as that many cells."""
    return all(
        one.corner[k] <= other.corner[k] + other.mask.shape[1 - k] + near
        and other.corner[k] <= one.corner[k] + one.mask.shape[1 - k] + near
        for k in (0, 1)
    )


def _union(one: Fragment, other: Fragment) -> Fragment:
    """Return two pieces as one."""
    left, top = (min(one.corner[k], other.corner[k]) for k in (0, 1))
    right, bottom = (max(p.corner[k] + p.mask.shape[1 - k] for p in (one, other)) for k in (0, 1))
    mask = np.zeros((bottom - top, right - left), dtype=bool)
    for p in (one, other):
        (x, y), (h, w) = p.corner, p.mask.shape
        mask[y - top : y - top + h, x - left : x - left + w] |= p.mask
    return Fragment(mask=mask, corner=(left, top))


def _notch(one: Fragment, other: Fragment) -> float:
    """Return how much their common hull adds to their own hulls, over the smaller of them."""
    both = _union(one, other).hull_area
    return (both - one.hull_area - other.hull_area) / min(one.hull_area, other.hull_area)
