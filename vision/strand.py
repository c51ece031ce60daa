"""A loaded strand, from its division to sizes: across, along, gaps, lengths, each with its doubt."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from vision import flags
from vision.across import agreed, bare_rod, on_one_rod, radii, rim_noise, tangent_angles
from vision.along import Lengths, lengths_along
from vision.axis import STEP_MM
from vision.divide import Divided, divide
from vision.ends import shown
from vision.pooled import settled_sizes
from vision.records import Conditions, FloatArray, Strand, StrandBead
from vision.rims import Rim, bead_rims
from vision.rounds import settle_rounds
from vision.scene import Scene
from vision.segment import Segment, middle_width
from vision.strip import Strip
from vision.uncertainty import EDGE_BIAS_PX, camera_rel_u, expanded

_WEAK = 0.5
"""Share of the variation across an edge that a step must explain."""
_BOUNDARY_HEIGHT_U = 0.2
"""Standard uncertainty of the height at which two beads are seen to part, as a share of their radius."""
_SHAPE_U_ACROSS, _SHAPE_U_ALONG = 0.003, 0.008
"""Relative: no bead is quite the solid it is taken for."""
_BOUNDARY_U_PX, _ENDS_U_PX = 0.1, 0.5
_UNCLEAR = 0.6
"""The count is not certain where it is less sure than this that a bead is one, and not two or none."""
_FAINT = 0.85
"""What the networks find less likely to be a bead than this may be a stopper."""
_PERHAPS = 0.3
"""What is likelier than this to be a bead, and was left out on a wire, may be one."""
_EVEN = 0.12
_HIDING = 0.7
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


def strand_of(scene: Scene, conditions: Conditions) -> Strand:
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
    budget = _Budget.of(scene, conditions, places=places, radius=sides / 2)
    noise = rim_noise(sides, sized.middle_mm[found.beads], alike=row.lengths(sides, centre).uniform)
    across, across_u = agreed(sides, np.hypot(noise, budget.sides_u(row.rims)), *row.widths(centre))
    if not found.axis.straight:  # how thick they are tells how high they lie, and is known better now
        centre = across / 2 + scene.bed_height_mm
    lengths = row.lengths(across, centre)
    across = settle_rounds(across, lengths.along_mm, across_u)
    across, across_u = _pooled(across, across_u, lengths)
    across_u95, along_u95 = budget.across_u95(across, across_u), budget.along_u95(lengths)
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
            flags=_bead_flags(segment, row.rims[k], odd=bool(lengths.odd[k])),
        )
        for k, segment in enumerate(row.segments)
    )
    return _assembled(scene, conditions, found, beads, budget.total_u95(lengths))


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


def _assembled(
    scene: Scene, conditions: Conditions, found: Divided, beads: tuple[StrandBead, ...], total_u95: float
) -> Strand:
    closed = sum(bead.along_mm for bead in beads)
    total = closed + sum(bead.gap_after_mm for bead in beads)
    segments = found.segments[found.beads]
    first, last = round(segments[0].start_mm / STEP_MM), round(segments[-1].end_mm / STEP_MM)
    string = found.axis.points_mm[first : last + 1 : 10]
    return Strand(
        conditions=conditions,
        beads=beads,
        length_mm=total,
        length_u95_mm=total_u95,
        closed_up_mm=closed,
        closed_up_u95_mm=total_u95,
        string_px=scene.camera.project(np.column_stack([string, np.full(len(string), found.height_mm)])),
        flags=_strand_flags(found, beads),
    )


def _pooled(across: FloatArray, across_u: FloatArray, lengths: Lengths) -> tuple[FloatArray, FloatArray]:
    """Return sizes across and their doubts as beads of about the same length tell of each other."""
    along_u = np.hypot(lengths.along_u_mm, _SHAPE_U_ALONG * lengths.along_mm)
    sizes, u = settled_sizes(
        np.column_stack([across, lengths.along_mm]), np.column_stack([across_u, along_u])
    )
    return sizes[:, 0], u[:, 0]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Budget:
    """What the sizes of one strand owe to scale, camera, heights and pixels (see `vision.uncertainty`).

    Attributes
    ----------
    px_mm : float
        Size of a pixel at the strand.
    scale_u : ndarray, shape (B,)
        Relative, of the sheet's scale and the camera together.
    height_u : ndarray, shape (B,)
        Relative, of lengths along: at which height within a bead a boundary shows is not seen, and
        aslant it shifts outwards by that.
    """

    px_mm: float
    scale_u: FloatArray
    height_u: FloatArray

    @classmethod
    def of(cls, scene: Scene, conditions: Conditions, *, places: FloatArray, radius: FloatArray) -> "_Budget":
        camera = np.array([camera_rel_u(scene.camera, place) for place in places])
        return cls(
            px_mm=1 / scene.camera.px_per_mm(places[len(places) // 2]),
            scale_u=np.hypot(conditions.scale_rel_u, camera),
            height_u=_BOUNDARY_HEIGHT_U * radius / scene.camera_above_mm,
        )

    def sides_u(self, rims: list[tuple[Rim, Rim]]) -> FloatArray:
        """Return the standard uncertainty of sizes across that rims and the edge model leave, mm."""
        edges = np.array([np.hypot(left.u_mm, right.u_mm) for left, right in rims])
        return np.hypot(edges, 2 * EDGE_BIAS_PX * self.px_mm)

    def across_u95(self, across: FloatArray, seen_u: FloatArray) -> FloatArray:
        """Return the expanded uncertainty of sizes across, mm."""
        return expanded(seen_u, across * self.scale_u, _SHAPE_U_ACROSS * across)

    def along_u95(self, lengths: Lengths) -> FloatArray:
        """Return the expanded uncertainty of sizes along, mm."""
        along = lengths.along_mm
        relative = np.hypot(self.scale_u, self.height_u)
        return expanded(
            lengths.along_u_mm, _SHAPE_U_ALONG * along, _BOUNDARY_U_PX * self.px_mm, along * relative
        )

    def total_u95(self, lengths: Lengths) -> float:
        """Return the expanded uncertainty of the whole length, mm."""
        total = float(lengths.along_mm.sum() + lengths.gaps_mm.sum())
        relative = float(np.median(np.hypot(self.scale_u, self.height_u)))
        return float(expanded(lengths.total_u_mm, total * relative, _ENDS_U_PX * self.px_mm))


def _aside(rims: list[tuple[Rim, Rim]]) -> FloatArray:
    """Return how far aside of the axis the middle between each bead's rims lies, mm."""
    return np.array([(left.aside_mm + right.aside_mm) / 2 for left, right in rims])


def _smoothed(aside: FloatArray) -> FloatArray:
    """Return the middles smoothed: the string bends less than single rims jump, and a zigzag is too long."""
    steady = ndimage.median_filter(aside, size=min(5, len(aside)), mode="nearest")
    return np.asarray(ndimage.gaussian_filter1d(steady, 1.0, mode="nearest"))


def _evened(height: FloatArray) -> FloatArray:
    """Return the heights of beads of about one size smoothed: where single ones differ is doubt."""
    middle = float(np.median(height))
    even = 1.4826 * float(np.median(np.abs(height - middle))) < _EVEN * middle
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


def _bead_flags(segment: Segment, rims: tuple[Rim, Rim], *, odd: bool) -> tuple[str, ...]:
    raised = {
        flags.WEAK_EDGE: min(rim.clarity for rim in rims) < _WEAK,
        flags.UNSURE_SPLIT: segment.clarity < _UNCLEAR,
        flags.ODD_SIZE: odd,
    }
    return tuple(flag for flag, on in raised.items() if on)


def _strand_flags(found: Divided, beads: tuple[StrandBead, ...]) -> tuple[str, ...]:
    """Doubt the count where a boundary is unclear, or a bead may hide.

    A gap as long as a bead may hold one that looks like the bed, and on a wire, which has no stoppers, what
    was left out may be one.
    """
    segments = found.segments[found.beads]
    unclear = min(s.clarity for s in segments) < _UNCLEAR
    hiding = max(b.gap_after_mm for b in beads) > _HIDING * float(np.median([b.along_mm for b in beads]))
    faint = min(shown(found.likely, s) for s in segments) < _FAINT
    left_out = [] if found.axis.straight else [*found.segments[: found.first], *found.segments[found.last :]]
    perhaps = any(shown(found.likely, s) > _PERHAPS for s in left_out)
    return (flags.UNSURE_SPLIT,) if unclear or hiding or faint or perhaps or _disputed(found) else ()


def _disputed(found: Divided) -> bool:
    """Tell whether the network that looks from above, at each bead for itself, is sure and counts otherwise.

    It may take stoppers for beads: on a rod up to two more are no contradiction.
    """
    more = len(found.shown) - (found.last - found.first)
    return not any(f.unsure for f in found.shown) and not 0 <= more <= (2 if found.axis.straight else 0)
