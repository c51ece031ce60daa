"""A loaded strand, from its division to sizes: across, along, gaps, lengths, each with its doubt."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from vision.camera.scene import Scene
from vision.common.numerics import robust_sd
from vision.common.pooling import pooled_sizes
from vision.common.records import FloatArray, Strand, StrandBead
from vision.strand.axis import STEP_MM
from vision.strand.edges import Rim, bead_rims
from vision.strand.length import Lengths, lengths_along
from vision.strand.round_prior import settle_rounds
from vision.strand.search import Divided, divide
from vision.strand.segment import Segment, middle_width
from vision.strand.strip import Strip
from vision.strand.uncertainty import SHAPE_U_ALONG, Budget, bead_flags, lumpiness, strand_flags
from vision.strand.width import agreed, bare_rod, on_one_rod, radii, rim_noise, tangent_angles

_EVEN = 0.12
_STOPPER = 1.3
"""What is this much wider than the widest bead is no stopper but a shadow or something beside the rod."""
_FEWEST_ON_ROD = 3
_OUTLINE_POINTS, _OUTLINE_SMOOTH = 24, 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """Rims, radii and heights of all segments, stoppers included.

    Attributes
    ----------
    rims : list of pairs of Rim
    middle_mm : ndarray, shape (N,)
        How far aside of the axis the middle between the rims as seen lies.
    radius_mm, centre_above_mm : ndarray, shape (N,)
        Radius across the string, and height of the centre above the bed.
    """

    rims: list[tuple[Rim, Rim]]
    middle_mm: FloatArray
    radius_mm: FloatArray
    centre_above_mm: FloatArray


def size_across(scene: Scene, strand: Divided) -> Sized:
    """Measure every segment across the string."""
    segments = strand.segments
    rims = bead_rims(
        scene.photo,
        scene.camera,
        strand.strip,
        strand.flanks,
        segments,
        height_mm=strand.height_mm,
        blur_px=scene.blur_px,
    )
    middle = _aside(rims)
    if strand.axis.straight and len(rims) >= _FEWEST_ON_ROD:
        thickest = max(right.aside_mm - left.aside_mm for left, right in rims)
        rims = on_one_rod(rims, bare_rod(strand.flanks, segments, thickest_mm=thickest))
    angles = tangent_angles(scene.camera, strand.axis, segments, rims, height_mm=strand.height_mm)
    radius = radii(angles, camera_above_mm=scene.camera_above_mm, centre_above_mm=None)
    centre = radius
    if strand.axis.straight:  # the thickest bead or stopper lies on the bed and holds up the rest
        rod = max([float(radius[strand.beads].max()), *_stopper_radii(strand, radius)])
        radius = radii(angles, camera_above_mm=scene.camera_above_mm, centre_above_mm=rod)
        centre = np.full(len(radius), rod)
    return Sized(rims=rims, middle_mm=middle, radius_mm=radius, centre_above_mm=centre)


def _stopper_radii(strand: Divided, radius: FloatArray) -> list[float]:
    """Return the radii of the stoppers: as wide as most of each is, as its end may lie in a bead's shadow."""
    found = []
    for k, segment in enumerate(strand.segments):
        if strand.first <= k < strand.last:
            continue
        most = middle_width(strand.flanks.width_mm, segment) / 2
        if most < _STOPPER * float(radius[strand.beads].max()):
            found.append(min(float(radius[k]), most))
    return found


def strand_of(scene: Scene) -> Strand:
    """Measure the strand of a scene.

    Raises
    ------
    NoBeadsError
    """
    found = divide(scene)
    sized = size_across(scene, found)
    row = _Row(scene=scene, found=found, segments=found.segments[found.beads], rims=sized.rims[found.beads])
    centre = sized.centre_above_mm[found.beads] + scene.bed_height_mm
    sides = 2 * sized.radius_mm[found.beads]
    places = row.places(centre)
    budget = Budget.of(scene, places=places, radius=sides / 2)
    noise = rim_noise(sides, sized.middle_mm[found.beads], alike=row.lengths(sides, centre).uniform)
    across, across_u = agreed(sides, np.hypot(noise, budget.sides_u(row.rims)), *row.widths(centre))
    if not found.axis.straight:  # how thick they are tells how high they lie, and is known better now
        centre = across / 2 + scene.bed_height_mm
    lengths = row.lengths(across, centre)
    across = settle_rounds(across, lengths.along_mm, across_u)
    across, across_u = _pooled(across, across_u, lengths)
    lumpy = lumpiness(across, lengths.along_mm)
    across_u95 = budget.across_u95(across, across_u, lumpy=lumpy)
    along_u95 = budget.along_u95(lengths, lumpy=lumpy)
    beads = tuple(
        StrandBead(
            number=k + 1,
            centre_px=_pair(scene.camera.project(places[k])),
            across_mm=float(across[k]),
            across_u95_mm=float(across_u95[k]),
            along_mm=float(lengths.along_mm[k]),
            along_u95_mm=float(along_u95[k]),
            gap_after_mm=float(lengths.gaps_mm[k]),
            colour_rgb=_colour(found.strip, segment, across[k]),
            outline_px=_outline(scene, found, segment),
            flags=bead_flags(segment, row.rims[k], odd=bool(lengths.odd[k])),
        )
        for k, segment in enumerate(row.segments)
    )
    return _assembled(scene, found, beads, budget.total_u95(lengths))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """The beads of a strand where they were found: segments and rims of each, in order."""

    scene: Scene
    found: Divided
    segments: list[Segment]
    rims: list[tuple[Rim, Rim]]

    @property
    def aside_mm(self) -> FloatArray:
        """How far aside of the axis each bead's middle lies, smoothed, shape (B,)."""
        return _smoothed(_aside(self.rims))

    def places(self, height_mm: FloatArray) -> FloatArray:
        """Return the world points (B, 3) of the beads' middles at given heights above the sheet."""
        at = np.array([s.middle_mm for s in self.segments])
        plane = np.full(len(at), self.found.height_mm)
        return _lifted(np.column_stack([self.found.axis.at(at, self.aside_mm), plane]), height_mm, self.scene)

    def lengths(self, width_mm: FloatArray, height_mm: FloatArray) -> Lengths:
        """Measure along the string, the beads as wide and their middles as high as that."""
        return lengths_along(
            self.found.axis,
            self.segments,
            centre_mm=_evened(height_mm),
            width_mm=width_mm,
            aside_mm=self.aside_mm,
            camera_mm=self.scene.camera.centre_mm,
            plane_mm=self.found.height_mm,
        )

    def widths(self, height_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the sizes across, at these heights, that the network of strands tells, and their u."""
        eye = self.scene.camera.centre_mm[2]
        nearer = (eye - height_mm) / (eye - self.found.height_mm)
        sizes, u = self.found.seen.across_mm(self.segments)
        return sizes * nearer, u * nearer


def _assembled(scene: Scene, found: Divided, beads: tuple[StrandBead, ...], total_u95: float) -> Strand:
    closed = sum(bead.along_mm for bead in beads)
    total = closed + sum(bead.gap_after_mm for bead in beads)
    segments = found.segments[found.beads]
    first, last = round(segments[0].start_mm / STEP_MM), round(segments[-1].end_mm / STEP_MM)
    string = found.axis.points_mm[first : last + 1 : 10]
    return Strand(
        conditions=scene.conditions,
        beads=beads,
        length_mm=total,
        length_u95_mm=total_u95,
        closed_up_mm=closed,
        closed_up_u95_mm=total_u95,
        string_px=scene.camera.project(np.column_stack([string, np.full(len(string), found.height_mm)])),
        flags=strand_flags(found, beads),
    )


def _pooled(across: FloatArray, across_u: FloatArray, lengths: Lengths) -> tuple[FloatArray, FloatArray]:
    """Return sizes across and their doubts as beads of about the same length tell of each other."""
    along_u = np.hypot(lengths.along_u_mm, SHAPE_U_ALONG * lengths.along_mm)
    sizes, u = pooled_sizes(np.column_stack([across, lengths.along_mm]), np.column_stack([across_u, along_u]))
    return sizes[:, 0], u[:, 0]


def _aside(rims: list[tuple[Rim, Rim]]) -> FloatArray:
    """Return how far aside of the axis the middle between each bead's rims lies, mm."""
    return np.array([(left.aside_mm + right.aside_mm) / 2 for left, right in rims])


def _smoothed(aside: FloatArray) -> FloatArray:
    """Return the middles smoothed: the string bends less than single rims jump, and a zigzag is too long."""
    steady = ndimage.median_filter(aside, size=min(5, len(aside)), mode="nearest")
    return np.asarray(ndimage.gaussian_filter1d(steady, 1.0, mode="nearest"))


def _evened(height: FloatArray) -> FloatArray:
    """Return the heights of beads of about one size smoothed: where single ones differ is doubt."""
    even = robust_sd(height) < _EVEN * np.median(height)
    return _smoothed(height) if even else height


def _lifted(points: FloatArray, height: FloatArray, scene: Scene) -> FloatArray:
    """Move world points along their rays to new heights, shape (N, 3)."""
    centre = scene.camera.centre_mm
    share = ((centre[2] - height) / (centre[2] - points[:, 2]))[:, None]
    return np.column_stack([centre[:2] + (points[:, :2] - centre[:2]) * share, height])


def _pair(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _colour(strip: Strip, segment: Segment, across: float) -> tuple[int, int, int]:
    """Return the median colour of the middle of a bead."""
    trim = 0.2 * segment.length_mm
    first, last = round((segment.start_mm + trim) / STEP_MM), round((segment.end_mm - trim) / STEP_MM)
    rows = np.abs(strip.aside_mm) < max(0.3 * across, STEP_MM)
    patch = strip.rgb[rows][:, min(first, strip.rgb.shape[1] - 1) : max(last, first + 1)]
    red, green, blue = (int(v) for v in np.median(patch.reshape(-1, 3), axis=0))
    return red, green, blue


def _outline(scene: Scene, found: Divided, segment: Segment) -> FloatArray:
    """Return the outline of a bead in the photo: its two sides from end to end, shape (N, 2)."""
    along = np.linspace(segment.start_mm, segment.end_mm, _OUTLINE_POINTS)
    steps = np.arange(len(found.flanks.width_mm)) * STEP_MM
    left, right = (
        np.interp(along, steps, ndimage.gaussian_filter1d(side, _OUTLINE_SMOOTH))
        for side in (found.flanks.left_mm, found.flanks.right_mm)
    )
    line = found.axis.at(np.concatenate([along, along[::-1]]), np.concatenate([left, right[::-1]]))
    return scene.camera.project(np.column_stack([line, np.full(len(line), found.height_mm)]))
