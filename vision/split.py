"""From a map of what is no bed to one region a bead."""

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.bed import SHARP_WEIGHT, Bed, Image
from vision.clump import CRISP, FAINTEST, FIRM, LEVELS, SOLID, TELLING, Evidence
from vision.discs import round_beads
from vision.fragment import (
    SMALLEST_MM,
    Fragment,
    blobs_above,
    connected,
    part,
    rejoin,
    round_kernel,
    touch,
    union,
    window,
)

_ALIKE_LEAST, _LARGE, _SMALL, _PATCHED = 5, 1.5, 0.75, 0.75
"""From so many beads on; sizes over the usual that are two beads, or a scrap; how full a patched one is."""
_JOINED, _MOSTLY = 0.895, 0.8
"""More than the 0.88 that two touching discs fill of their common hull."""
_EVEN_MM, _RARE, _RAGGED = 0.35, 6.0, 0.85
_EDGE_MM = 0.25
_PALEST = 5.0
_NEAR_MM = 1.5


def bead_regions(bed: Bed) -> list[Fragment]:
    """Return one fragment a bead, in no order."""
    per_mm = bed.top.cells_per_mm
    reach = np.ones((2 * round(_EDGE_MM * per_mm) + 1,) * 2, np.uint8)
    blurred = cv2.GaussianBlur(bed.unlike, (0, 0), 0.1 * per_mm)
    unlike = np.maximum(blurred, 1.01 * _enclosed(bed))  # just above the level it is compared with
    evidence = Evidence(
        unlike=unlike.astype(np.float32), sharp=np.asarray(cv2.dilate(bed.sharp, reach)), per_mm=per_mm
    )
    least = 0.6 * (SMALLEST_MM * per_mm) ** 2
    blobs = blobs_above(evidence.unlike, LEVELS[0], per_mm)
    resolved = [f for blob in blobs for f in evidence.resolve(blob, 0)]
    found = _by_usual_size([f for f in resolved if f.area >= least], evidence)
    found = _regroup(found, _patchy(bed), evidence)
    found = round_beads(found, bed.sharp, _firm(found, evidence))
    crisp = [float(np.median(evidence.border(f))) for f in found]
    plain = [float(np.mean(evidence.unlike[window(f)][f.mask])) for f in found]
    near = [round(max(_NEAR_MM * per_mm, f.inner_radius)) for f in found]  # shadows fall about so far
    return [
        f
        for k, f in enumerate(found)
        if max(crisp[k] / FAINTEST, plain[k] / _PALEST) > 1
        and not any(
            _hanger_on(f, g, near[j]) and (crisp[k] < 0.4 * crisp[j] or plain[k] < 0.6 * plain[j])
            for j, g in enumerate(found)
        )
    ]


def _firm(found: list[Fragment], evidence: Evidence) -> NDArray[np.bool_]:
    """Return which fragments have an edge nearly all round, as crisp as is usual in the lot."""
    borders = [evidence.border(f) for f in found]
    crisp = float(np.median([np.median(b) for b in borders])) if borders else 0.0
    return np.array([np.mean(b > CRISP * crisp) > FIRM for b in borders], bool)


def _enclosed(bed: Bed) -> Image:
    """Return how sharp the closed lines are that surround each cell with a convex shape, as unlikeness.

    Polished silver, glass or a pearl can have the colour of its bed all over, but not its edge. Gaps that
    a clump of beads encloses have edges all round too, but are not convex.
    """
    per_mm = bed.top.cells_per_mm
    inside = np.zeros(bed.sharp.shape, np.float32)
    for level in LEVELS:
        lines = cv2.morphologyEx(
            (bed.sharp > level / SHARP_WEIGHT).astype(np.uint8),
            cv2.MORPH_CLOSE,
            round_kernel(_EDGE_MM * per_mm),
        )
        for blob in connected(lines > 0, (SMALLEST_MM * per_mm) ** 2 / 2):
            for piece in part(blob, fill=True):
                if piece.area > SOLID * piece.hull_area:
                    inside[window(piece)][piece.mask] = level
    return inside


def _by_usual_size(found: list[Fragment], evidence: Evidence) -> list[Fragment]:
    """Part what is too large for one bead of the lot and no convex piece; join what is too small.

    Beads of one lot are mostly alike; this decides only where the outline leaves it open.
    """
    if len(found) < _ALIKE_LEAST:
        return found
    usual = float(np.median([f.area for f in found]))
    parted = [p for f in found for p in (evidence.part_further(f, usual) if f.area > _LARGE * usual else [f])]
    shares = np.array([f.area / usual for f in parted])
    alike = float(np.mean((shares > _SMALL) & (shares < _LARGE))) > _MOSTLY
    small = [f for f in parted if f.area < _SMALL * usual]
    large = [f for f in parted if f.area >= _SMALL * usual]
    return large + rejoin(small, lambda one, other: _mismatch(one, other, usual, alike=alike))


def _mismatch(one: Fragment, other: Fragment, usual: float, *, alike: bool) -> float:
    """Return 0 where two pieces make up one bead of the usual size, else 1.

    Scraps may; convex pieces only in a lot of beads all alike, where the whole is convex too.
    """
    both = union(one, other)
    ragged = min(f.area / f.hull_area for f in (one, other)) < _RAGGED
    full = both.area > (_PATCHED if ragged else _JOINED) * both.hull_area
    return 0.0 if full and (ragged or alike) and both.area < _LARGE * usual else 1.0


def _patchy(bed: Bed) -> list[Fragment]:
    """Return regions that are unlike the bed on average over about a millimetre, however patchily.

    Glass shows its bed, here brighter and there darker: no patch is a bead, all together are. The bare
    bed's own average hardly varies.
    """
    per_mm = bed.top.cells_per_mm
    even = cv2.GaussianBlur(np.minimum(bed.unlike, TELLING), (0, 0), _EVEN_MM * per_mm)
    some = even[::7, ::7][bed.region[::7, ::7]]
    usual = float(np.median(some))
    spread = 1.4826 * float(np.median(np.abs(some - usual)))
    rise = np.where(bed.region, even - usual, 0) / max(_RARE * spread, 0.4 * usual)
    return [
        p for blob in blobs_above(rise.astype(np.float32), 1.0, per_mm) for p in rejoin(part(blob, fill=True))
    ]


def _regroup(found: list[Fragment], patchy: list[Fragment], evidence: Evidence) -> list[Fragment]:
    """Put a patchy region in place of the scraps found in it, where they make up little of it."""
    out = list(found)
    for region in patchy:
        scraps = [f for f in out if _centred_in(f, region)]
        covered = sum(f.area for f in scraps)
        if not scraps or covered > 0.5 * region.area or region.area < SOLID * region.hull_area:
            continue
        ragged = covered < _RAGGED * sum(f.hull_area for f in scraps)
        crisp = float(np.median(np.concatenate([evidence.border(f) for f in scraps])))
        if ragged and np.mean(evidence.border(region) > CRISP * crisp) > FIRM:
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
    return bead.area > 4 * scrap.area and touch(bead, scrap, near)
