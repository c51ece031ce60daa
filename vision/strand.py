"""A loaded strand, from photo to sizes: order, count, size across and along, lengths.

The steps, each in a module of its own: where something thick lies (`locate`), its course (`axis`),
pulled straight (`strip`), its two sides (`flanks`, `rims`), its division (`partition`), what is no bead
(`ends`), sizes (`across`, `along`), doubt (`uncertainty`).
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from vision import flags
from vision.across import bare_rod, on_one_rod, radii, settle_widths, tangent_angles
from vision.along import Lengths, lengths_along
from vision.axis import STEP_MM, Axis, rough_axes, smooth_axis
from vision.ends import beads_only
from vision.errors import NoBeadsError
from vision.flanks import Flanks, find_flanks, guided
from vision.fold import folded_sides
from vision.locate import survey
from vision.orthophoto import orthophoto
from vision.partition import Partition, partition
from vision.records import Conditions, FloatArray, Strand, StrandBead
from vision.rims import Rim, bead_rims
from vision.scene import Scene
from vision.solid import ellipsoid_outline
from vision.strip import Strip, straighten
from vision.uncertainty import EDGE_BIAS_PX, camera_rel_u, expanded

_WEAK = 0.5
"""Share of the variation across an edge that a step must explain."""
_BOUNDARY_HEIGHT_U = 0.15
"""Standard uncertainty of the height at which two beads are seen to part, as a share of their radius."""
_COURSE_WAVE_MM = 30.0
_FINE_WAVE_MM = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Divided:
    """A strand divided into segments, with the pictures that were made on the way."""

    axis: Axis
    height_mm: float
    strip: Strip
    flanks: Flanks
    parts: Partition
    first: int
    last: int


def divide(scene: Scene) -> Divided:
    """Find the strand and divide it.

    Raises
    ------
    NoBeadsError
        Nothing on the sheet looks like a strand.
    """
    top = orthophoto(
        scene.photo, scene.camera, scene.sheet, scale=scene.scale, height_mm=scene.bed_height_mm
    )
    around = survey(top, scene.sheet, scale=scene.scale)
    for course, half in rough_axes(around):
        found = _divide_along(scene, course, half)
        if found is not None:
            return found
    raise NoBeadsError(
        "something lies on the sheet but no row of beads is made out: lay the strand on a plain bed in even light"
    )


def _divide_along(scene: Scene, course: FloatArray, half: float) -> Divided | None:
    axis = smooth_axis(course, wavelength_mm=_COURSE_WAVE_MM, straight_within_mm=0.5 * half, extend_mm=6.0)
    height = scene.bed_height_mm + 0.95 * half
    strip = straighten(scene.photo, scene.camera, axis, half_mm=1.6 * half + 3, height_mm=height)
    flanks = find_flanks(strip, half_mm=half, widest=1.5)
    width = flanks.width_mm
    thick = width > 0.6 * np.percentile(width, 90)
    half = float(np.percentile(width[thick], 97)) / 2
    middle = axis.at(np.arange(len(width)) * STEP_MM, (flanks.left_mm + flanks.right_mm) / 2)[thick]
    axis = smooth_axis(
        middle[::3], wavelength_mm=_FINE_WAVE_MM, straight_within_mm=0.3 * half, extend_mm=9.0
    )
    height = scene.bed_height_mm + 0.95 * half
    strip = straighten(scene.photo, scene.camera, axis, half_mm=1.6 * half + 3, height_mm=height)
    flanks = find_flanks(strip, half_mm=half, widest=1.15)
    radius = ndimage.gaussian_filter1d(flanks.width_mm / 2, 2.0)
    surface = straighten(
        scene.photo, scene.camera, axis, half_mm=1.2 * half, height_mm=height, radius_mm=radius
    )
    parts = partition((surface, strip), flanks.width_mm, free_ends=axis.straight)
    if parts is None or len(parts.segments) < 1:
        return None
    first, last = beads_only(strip, flanks.width_mm, parts.segments, rod=axis.straight)
    guide = folded_sides(strip, flanks, list(parts.segments[first:last]))
    if guide is not None:
        flanks = guided(flanks, strip, guide)
    return Divided(
        axis=axis, height_mm=height, strip=strip, flanks=flanks, parts=parts, first=first, last=last
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """Radii and heights of all segments, stoppers included."""

    rims: list[tuple[Rim, Rim]]
    middle_mm: FloatArray
    angles: FloatArray
    radius_mm: FloatArray
    centre_above_mm: FloatArray


def size_across(scene: Scene, strand: Divided) -> Sized:
    """Measure every segment across the string."""
    segments = list(strand.parts.segments)
    rims = bead_rims(
        scene.photo, scene.camera, strand.strip, strand.flanks, segments, height_mm=strand.height_mm
    )
    middle = _aside(rims)
    if strand.axis.straight and len(rims) > 2:  # noqa: PLR2004
        thickest = max(right.aside_mm - left.aside_mm for left, right in rims)
        rims = on_one_rod(rims, bare_rod(strand.flanks, segments, thickest_mm=thickest))
    angles = tangent_angles(scene.camera, strand.axis, segments, rims, height_mm=strand.height_mm)
    resting = radii(angles, camera_above_mm=scene.camera_above_mm, centre_above_mm=None)
    if not strand.axis.straight:
        return Sized(rims=rims, middle_mm=middle, angles=angles, radius_mm=resting, centre_above_mm=resting)
    rod = float(resting.max())
    held = radii(angles, camera_above_mm=scene.camera_above_mm, centre_above_mm=rod)
    return Sized(rims=rims, middle_mm=middle, angles=angles, radius_mm=held, centre_above_mm=np.full(len(held), rod))


def strand_of(scene: Scene, conditions: Conditions) -> Strand:
    """Measure the strand of a scene.

    Raises
    ------
    NoBeadsError
    """
    found = divide(scene)
    sized = size_across(scene, found)
    keep = slice(found.first, found.last)
    segments = list(found.parts.segments[keep])
    radius, centre = sized.radius_mm[keep], sized.centre_above_mm[keep] + scene.bed_height_mm
    lengths = lengths_along(
        found.axis,
        segments,
        centre_mm=centre,
        width_mm=2 * radius,
        aside_mm=_middles(sized.rims[keep]),
        camera_mm=scene.camera.centre_mm,
        plane_mm=found.height_mm,
    )
    middle = found.axis.at(np.array([s.middle_mm for s in segments]), _middles(sized.rims[keep]))
    places = _lifted(np.column_stack([middle, np.full(len(segments), found.height_mm)]), centre, scene)
    per_mm = scene.camera.px_per_mm(places[len(places) // 2])
    camera_rel = np.array([camera_rel_u(scene.camera, place) for place in places])
    rim_u = np.array([np.hypot(left.u_mm, right.u_mm) for left, right in sized.rims[keep]])
    across, across_u = settle_widths(2 * radius, sized.middle_mm[keep], uniform=lengths.uniform)
    scale_u = np.hypot(conditions.scale_rel_u, camera_rel)
    # at which height within the bead a boundary shows is not seen; aslant it shifts outwards by that
    along_scale_u = np.hypot(scale_u, _BOUNDARY_HEIGHT_U * radius / scene.camera_above_mm)
    bias = 2 * EDGE_BIAS_PX / per_mm
    across_u95 = expanded(rim_u, bias, across_u, across * scale_u, 0.003 * across)
    along_u95 = expanded(lengths.along_u_mm, 0.008 * lengths.along_mm, 0.1 / per_mm, lengths.along_mm * along_scale_u)
    closed = float(lengths.along_mm.sum())
    total = closed + float(lengths.gaps_mm.sum())
    total_u = float(expanded(lengths.total_u_mm, total * float(np.median(along_scale_u)), 0.5 / per_mm))
    beads = tuple(
        StrandBead(
            number=k + 1,
            centre_px=tuple(float(v) for v in scene.camera.project(places[k])),  # type: ignore[arg-type]
            across_mm=float(across[k]),
            across_u95_mm=float(across_u95[k]),
            along_mm=float(lengths.along_mm[k]),
            along_u95_mm=float(along_u95[k]),
            gap_after_mm=float(lengths.gaps_mm[k]),
            colour_rgb=_colour(found.strip, segments[k], across[k]),
            outline_px=_outline(scene, found, places[k], segments[k], radius[k], lengths.along_mm[k]),
            flags=_flags(lengths, sized.rims[keep][k], k),
        )
        for k in range(len(segments))
    )
    string = found.axis.points_mm[round(segments[0].start_mm / STEP_MM) : round(segments[-1].end_mm / STEP_MM) + 1 : 10]
    string_px = scene.camera.project(np.column_stack([string, np.full(len(string), found.height_mm)]))
    return Strand(
        conditions=conditions,
        beads=beads,
        length_mm=total,
        length_u95_mm=total_u,
        closed_up_mm=closed,
        closed_up_u95_mm=total_u,
        string_px=string_px,
    )


def _aside(rims: list[tuple[Rim, Rim]]) -> FloatArray:
    """Return how far aside of the axis the middle between each bead's rims lies, mm."""
    return np.array([(left.aside_mm + right.aside_mm) / 2 for left, right in rims])


def _middles(rims: list[tuple[Rim, Rim]]) -> FloatArray:
    """Return the same smoothed: the string bends less than single rims jump, and a zigzag is too long."""
    steady = ndimage.median_filter(_aside(rims), size=min(5, len(rims)), mode="nearest")
    return ndimage.gaussian_filter1d(steady, 1.0, mode="nearest")


def _lifted(points: FloatArray, height: FloatArray, scene: Scene) -> FloatArray:
    """Move world points along their rays to new heights, shape (N, 3)."""
    centre = scene.camera.centre_mm
    share = ((centre[2] - height) / (centre[2] - points[:, 2]))[:, None]
    return np.column_stack([centre[:2] + (points[:, :2] - centre[:2]) * share, height])


def _colour(strip: Strip, segment, across: float) -> tuple[int, int, int]:
    first, last = round(segment.start_mm / STEP_MM), round(segment.end_mm / STEP_MM)
    trim = (last - first) // 5
    rows = np.abs(strip.aside_mm) < 0.3 * across
    patch = strip.rgb[rows][:, first + trim : max(last - trim, first + trim + 1)].reshape(-1, 3)
    red, green, blue = np.median(patch, axis=0)
    return int(red), int(green), int(blue)


def _outline(scene: Scene, found: Divided, place: FloatArray, segment, radius: float, along: float) -> FloatArray:
    direction = found.axis.direction_at(segment.middle_mm)
    axes = np.array(
        [
            [*(direction * along / 2), 0.0],
            [-direction[1] * radius, direction[0] * radius, 0.0],
            [0.0, 0.0, radius],
        ]
    )
    return scene.camera.project(ellipsoid_outline(place, axes, scene.camera.centre_mm))


def _flags(lengths: Lengths, rims: tuple[Rim, Rim], index: int) -> tuple[str, ...]:
    found = []
    if min(r.clarity for r in rims) < _WEAK:
        found.append(flags.WEAK_EDGE)
    if lengths.odd[index]:
        found.append(flags.ODD_SIZE)
    return tuple(found)
