"""Loose beads on the bed: from photo and camera to caliper sizes with their doubt."""

from dataclasses import dataclass

import cv2
import numpy as np

from vision import flags
from vision.bed import Bed, study_bed
from vision.camera import Camera
from vision.conic import Curve, agreement, fit_curve, rim_points
from vision.errors import NoBeadsError
from vision.feret import Section, smallest
from vision.orthophoto import orthophoto
from vision.outline import Outline, trace
from vision.records import FloatArray, LooseBead, Photo
from vision.sheet import Sheet
from vision.solidity import Build, judge_build
from vision.split import bead_regions


_ELLIPTIC = 0.65


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """One bead as traced: its outline in the photo and on the plane of the bed."""

    outline: Outline
    curve: Curve
    section: Section
    agreement: float
    rim: float


def loose_beads(
    photo: Photo,
    camera: Camera,
    sheet: Sheet,
    *,
    scale: float,
    scale_rel_u: float,
    bed_height_mm: float,
    flat: bool | None = None,
) -> tuple[tuple[LooseBead, ...], bool]:
    """Measure all loose beads of a photo.

    Parameters
    ----------
    photo, camera, sheet
    scale : float
        Printed size of the sheet over its nominal size.
    scale_rel_u : float
        Relative standard uncertainty of `scale`.
    bed_height_mm : float
    flat : bool, optional
        Whether the objects are flat discs; None: judged from how they look towards the edge of the view.

    Returns
    -------
    beads : tuple of LooseBead
        In reading order.
    flat : bool

    Raises
    ------
    NoBeadsError
    """
    top = orthophoto(photo, camera, sheet, scale=scale, height_mm=bed_height_mm)
    bed = study_bed(top, sheet, scale=scale)
    fragments = bead_regions(bed)
    if not fragments:
        raise _nothing()
    outlines = trace(photo, camera, bed, fragments)
    seen = _look_at_all(outlines, camera, bed_height_mm)
    if not seen:
        raise _nothing()
    build = judge_build([s.section for s in seen], flat=flat)
    beads = [
        _bead(photo, camera, s, build, k, bed_height_mm, scale_rel_u) for k, s in enumerate(seen)
    ]
    return tuple(_numbered(beads)), build.flat


def _nothing() -> NoBeadsError:
    return NoBeadsError(
        "the sheet is seen but no beads on it: lay them on the clear bed, apart from its edges, in even light"
    )


def _look_at_all(outlines: list[Outline], camera: Camera, bed_height_mm: float) -> list[_Seen]:
    """Fit all outlines; where most beads of the lot are ellipses to within the noise, all as ellipses."""
    free = [s for o in outlines if (s := _look(o, camera, bed_height_mm, ellipse=True))]
    agree = [s.agreement for s in free]
    print('agreement', np.percentile(agree,[10,25,50,75,90]).round(2), 'rim', np.percentile([s.rim for s in free],[10,25,50,75,90]).round(2))
    if np.median(agree) > _ELLIPTIC:
        return free
    return [s for o in outlines if (s := _look(o, camera, bed_height_mm, ellipse=False))]


def _look(outline: Outline, camera: Camera, bed_height_mm: float, *, ellipse: bool) -> _Seen | None:
    ground = camera.to_plane(outline.points_px, bed_height_mm)
    middle = ground.mean(axis=0)
    per_mm = camera.px_per_mm(np.array([*middle, bed_height_mm]))
    within = 0.35 / per_mm + 0.006 * float(np.median(np.linalg.norm(ground - middle, axis=1)))
    try:
        rim = rim_points(ground, outline.seen, within=2 * within)
        curve = fit_curve(ground, rim, ellipse=ellipse)
    except ValueError:
        return None
    section = Section.of(curve.polygon(), camera.centre_mm, bed_height_mm)
    agree = agreement(ground[rim], curve, within=within)
    return _Seen(outline=outline, curve=curve, section=section, agreement=agree, rim=float(np.mean(rim)))


def _bead(photo, camera, seen, build, k, bed_height_mm, scale_rel_u) -> LooseBead:
    widths, u_height, b = build.widths[k], build.widths_u[k], build.half_height[k]
    largest, least = int(np.argmax(widths)), int(np.argmin(widths))
    middle = seen.section.middle(b)
    at = camera.centre_mm[:2] + np.array([middle[0], middle[len(middle) // 2]])
    centre = camera.project(np.array([*at, bed_height_mm + b]))
    per_mm = camera.px_per_mm(np.array([*at, bed_height_mm + b]))
    u_edge = np.hypot(seen.curve.spread * 2 / np.sqrt(max(seen.curve.points / 6, 1)), 0.12 / per_mm)
    u = [np.sqrt(u_edge**2 + (widths[i] * scale_rel_u) ** 2 + u_height[i] ** 2) for i in (largest, least)]
    polygon = seen.curve.polygon(72)
    line = camera.project(np.column_stack([polygon, np.full(len(polygon), bed_height_mm)]))
    return LooseBead(
        photo=photo.name,
        number=0,
        centre_px=(float(centre[0]), float(centre[1])),
        max_feret_mm=float(widths[largest]),
        max_feret_u95_mm=2 * float(u[0]),
        min_feret_mm=smallest(widths),
        min_feret_u95_mm=2 * float(u[1]),
        colour_rgb=_colour(photo, line),
        outline_px=line,
        flags=(),
    )


def _colour(photo: Photo, line: FloatArray) -> tuple[int, int, int]:
    """Return the median colour inside an outline."""
    low = np.maximum(np.floor(line.min(axis=0)).astype(int), 0)
    high = np.ceil(line.max(axis=0)).astype(int) + 1
    cut = photo.rgb[low[1] : high[1], low[0] : high[0]]
    mask = np.zeros(cut.shape[:2], np.uint8)
    if not mask.size:
        return (0, 0, 0)
    cv2.fillPoly(mask, [np.round(line - low).astype(np.int32)], 1)
    inside = cut[mask > 0] if mask.any() else cut.reshape(-1, 3)
    red, green, blue = (int(v) for v in np.median(inside, axis=0))
    return red, green, blue


def _numbered(beads: list[LooseBead]) -> list[LooseBead]:
    """Number beads in reading order: rows from the top, each from the left."""
    from dataclasses import replace

    centres = np.array([b.centre_px for b in beads])
    sizes = np.array([np.ptp(b.outline_px[:, 1]) for b in beads])
    left = list(np.argsort(centres[:, 1]))
    order: list[int] = []
    while left:
        first = left[0]
        row = [k for k in left if centres[k, 1] < centres[first, 1] + 0.6 * np.median(sizes)]
        order += sorted(row, key=lambda k: centres[k, 0])
        left = [k for k in left if k not in row]
    return [replace(beads[k], number=n) for n, k in enumerate(order, start=1)]
