"""Loose beads on the bed: from photo and camera to caliper sizes with their doubt."""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from vision.camera.scene import Scene
from vision.camera.uncertainty import COVERAGE_FACTOR, camera_rel_u
from vision.common import flags
from vision.common.errors import NoBeadsError
from vision.common.pooling import pooled_sizes
from vision.common.records import FloatArray, LooseBead, Lot, Photo
from vision.lot.body_shape import Build, judge_build
from vision.lot.close_up import Found, close_up, closer
from vision.lot.contour import Outline, trace
from vision.lot.feret import DIRECTIONS, Section, smallest
from vision.lot.fourier_ellipse import agreement, fit_curve, rim_points
from vision.lot.merge import made_whole
from vision.lot.uncertainty import (
    Sighting,
    cut_off,
    flags_of,
    hopeless,
    lean,
    roughness,
    standard_uncertainty,
    unmeasurable,
)
from vision.topview.bead_map import map_from_above
from vision.topview.instances import POSSIBLE, beads_of, probable_beads

_ELLIPTIC = 0.65
"""Share of rim points within the noise of an ellipse above which a lot's beads are ellipses."""
_CORNERED = 10
"""Harmonics that most outlines prove where beads have facets: a polygon of n sides has those of n and 2 n."""
_NOISE_PX, _NOISE_REL = 0.35, 0.006
_ROUGHEST = 0.012
_ASLANT = 0.7
"""An ellipsoid of axes a and c, turned by t in the plane of sight, shows to first order w (1 + s Q) for its
size w: s the slope of the view, Q = (a^2 - c^2) sin 2t / (2 w^2). Of beads of no common shape (a - c) / w is
about what their lengths over widths scatter by; the root mean square of sin 2t is 0.7."""
_UNTRACED_REL = 0.03
"""Standard uncertainty up to which a size is given though the bead's outline was hardly seen. Of such sizes
on drawn photos 95 % lay within twice what was stated."""
_LONGEST_MM, _SLENDER = 25.0, 3.5
"""What is longer and more slender is a strip of the table, a pen, another sheet's edge; coins are large, but
round (common practice, no source)."""


Traced = tuple[Outline, bool]
"""An outline, and whether its parting from others is unsure."""


def lot_of(scene: Scene, *, flat: bool | None = None) -> Lot:
    """Measure all loose beads of a scene, in reading order.

    Parameters
    ----------
    scene : Scene
    flat : bool, optional
        Whether the objects are flat discs; None: judged from how they look towards the edge of the view.

    Raises
    ------
    NoBeadsError
        Nothing on the bed looks like a bead.
    """
    traced, sure = trace_all(scene)
    sights = sight_all(traced, scene)
    build = judge_build([s.section for s in sights], flat=flat)
    edges = [sized(sight, scene, (build, k)) for k, sight in enumerate(sights)]
    found = _closer(scene, edges)
    beads = [
        _bead(sight, bead, scene, (build, k))
        for k, (sight, bead) in enumerate(zip(sights, found, strict=True))
    ]
    return Lot(
        conditions=(scene.conditions,),
        beads=tuple(_numbered(beads)),
        flat=build.flat,
        flags=() if sure else (flags.UNSURE_COUNT,),
    )


def trace_all(scene: Scene) -> tuple[list[Traced], bool]:
    """Find and trace all beads, each with whether its parting from others is unsure.

    And return whether their number is certain: nothing is hardly parted or hardly likely, nor was left out
    though it may be a bead.
    """
    top, maps = map_from_above(scene)
    possible = beads_of(maps, per_mm=top.cells_per_mm, least_probability=POSSIBLE)
    fragments = made_whole(probable_beads(possible))
    outlines = trace(scene.photo, scene.camera, top, fragments, maps.inside) if fragments else []
    sure = not any(f.unsure for f in [*possible, *fragments])
    return list(zip(outlines, (f.unsure for f in fragments), strict=True)), sure


def sight_all(traced: Sequence[Traced], scene: Scene) -> list[Sighting]:
    """Fit curves to the outlines of a lot; where most are ellipses to within the noise, all as ellipses."""
    ellipses, free = (
        [s for one in traced if (s := _sight(one, scene, ellipse=kind))] for kind in (True, False)
    )
    if not ellipses:
        raise NoBeadsError(
            "the sheet is seen but no beads on it: lay them on the clear bed, away from its edges, "
            "in even light"
        )
    return ellipses if _elliptic(ellipses, free) else free


def _elliptic(ellipses: list[Sighting], free: list[Sighting]) -> bool:
    """Return whether the beads of a lot are ellipses, as far as can be seen.

    Noise makes an outline wander, corners make it turn: these take many harmonics, alike on most beads.
    """
    agree = float(np.median([s.agreement for s in ellipses])) > _ELLIPTIC
    return agree and (not free or float(np.median([s.curve.order for s in free])) < _CORNERED)


def _sight(traced: Traced, scene: Scene, *, ellipse: bool) -> Sighting | None:
    """Fit a curve to one outline on the plane of the bed; None where it is none, or a strip's."""
    outline, unsure = traced
    camera = scene.camera
    ground = camera.to_plane(outline.points_px, scene.bed_height_mm)
    middle = ground.mean(axis=0)
    per_mm = camera.px_per_mm(np.array([*middle, scene.bed_height_mm]))
    within = _NOISE_PX / per_mm + _NOISE_REL * float(np.median(np.linalg.norm(ground - middle, axis=1)))
    try:
        rim = rim_points(ground, outline.seen, within=2 * within)
        # where a neighbour touches, the parting that the network drew is better than nothing
        curve = fit_curve(ground, rim if ellipse else rim | outline.contact, ellipse=ellipse)
    except (ValueError, np.linalg.LinAlgError):
        return None
    width, length = sorted(2 * np.linalg.norm(curve.axes, axis=0))
    if length > max(_LONGEST_MM, _SLENDER * width):
        return None
    return Sighting(
        outline=outline,
        curve=curve,
        section=Section.of(curve.polygon(), camera.centre_mm, scene.bed_height_mm),
        rim=float(np.mean(rim)),
        agreement=agreement(ground[rim], curve, within=within),
        unsure_split=unsure,
    )


def sized(sight: Sighting, scene: Scene, built: tuple[Build, int]) -> Found:
    """Return what the outline of the bead of that number, of all that were built so, tells of its sizes."""
    build, k = built
    widths, half = build.widths[k], float(build.half_height[k])
    middle = sight.section.middle(half)
    foot = scene.camera.centre_mm[:2]
    at = np.array([*(foot + middle[[0, DIRECTIONS // 2]]), scene.bed_height_mm + half])
    u = standard_uncertainty(
        sight, scene, widths=widths, u_height=build.widths_u[k], centre_mm=at, regular=build.prismatic
    )
    largest, least = int(np.argmax(widths)), int(np.argmin(widths))
    traced = not unmeasurable(sight, widths, u)
    return Found(
        outline_mm=sight.curve.polygon(72),
        centre_mm=at,
        sizes_mm=np.array([widths[largest], smallest(widths)]),
        u_mm=u[[largest, least]],
        build_rel_u=float(np.hypot(_ASLANT * build.unlike * lean(sight.section), build.domed_rel_u[k])),
        height_mm=2 * half,
        traced=traced,
        measured=traced or not cut_off(sight, scene),
    )


def pooled(beads: Sequence[Found]) -> list[Found]:
    """Return the beads with sizes and uncertainties estimated from all measured beads together."""
    known = [k for k, bead in enumerate(beads) if bead.measured]
    settled = list(beads)
    if known:
        found = (np.array([getattr(beads[k], name) for k in known]) for name in ("sizes_mm", "u_mm"))
        for k, size, u in zip(known, *pooled_sizes(*found), strict=True):
            settled[k] = replace(beads[k], sizes_mm=size, u_mm=u)
    return settled


def _closer(scene: Scene, beads: list[Found]) -> list[Found]:
    """Return what a second look, at each bead and at all of them, makes of sizes and doubts.

    What its outline does not tell of a bead, these do, if surely enough.
    """
    pictures = [close_up(scene.photo.rgb, scene.camera, b, bed_height_mm=scene.bed_height_mm) for b in beads]
    settled = pooled(
        [
            replace(b, measured=b.measured and not hopeless(b.u_mm, b.sizes_mm))
            for b in closer("loose", beads, pictures)
        ]
    )
    settled = [
        replace(b, measured=b.measured and bool(b.traced or np.all(b.u_mm < _UNTRACED_REL * b.sizes_mm)))
        for b in settled
    ]
    scale = [np.hypot(scene.scale_rel_u, camera_rel_u(scene.camera, b.centre_mm)) for b in settled]
    return [
        replace(b, u_mm=np.hypot(b.u_mm, rel * b.sizes_mm)) for b, rel in zip(settled, scale, strict=True)
    ]


def _bead(sight: Sighting, found: Found, scene: Scene, built: tuple[Build, int]) -> LooseBead:
    """Return one bead's record, not yet numbered."""
    build, k = built
    widths = build.widths[k]
    centre = scene.camera.project(found.centre_mm)
    known = 1.0 if found.measured else float("nan")
    line = scene.camera.project(
        np.column_stack([found.outline_mm, np.full(len(found.outline_mm), scene.bed_height_mm)])
    )
    return LooseBead(
        photo=scene.photo.name,
        number=0,
        centre_px=(float(centre[0]), float(centre[1])),
        max_feret_mm=known * float(found.sizes_mm[0]),
        max_feret_u95_mm=known * COVERAGE_FACTOR * float(found.u_mm[0]),
        min_feret_mm=known * float(found.sizes_mm[1]),
        min_feret_u95_mm=known * COVERAGE_FACTOR * float(found.u_mm[1]),
        colour_rgb=_colour(scene.photo, line),
        outline_px=line,
        flags=flags_of(
            sight,
            scene,
            regular=build.prismatic or roughness(widths) < _ROUGHEST,
            height_rel_u=float(build.widths_u[k][int(np.argmax(widths))] / widths.max()),
            traced=found.traced,
            measured=found.measured,
        ),
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
    """Give numbers in reading order: rows from the top, each from the left."""
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
