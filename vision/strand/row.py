"""The beads of a strand in a row, as their rims and the network of strands show their sizes across."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from vision.camera.scene import Scene
from vision.common.numerics import mixed, robust_sd
from vision.common.records import FloatArray
from vision.strand.axis import STEP_MM
from vision.strand.edges import Rims, bead_rims
from vision.strand.length import BeadBodies, lengths_along
from vision.strand.reconciled import Lengths
from vision.strand.search import DividedStrand
from vision.strand.strip import Segment, middle_width
from vision.strand.uncertainty import Budget
from vision.strand.width import Sizes, on_one_rod, radii, rim_noise, rod_height, tangent_angles

_EVEN = 0.12
"""Beads whose heights scatter less, relative, lie at heights that change slowly. Never or always so, closed
loops are measured otherwise."""
_STEADY, _SMOOTH = 3, 0.5
"""Beads in the median, and standard deviation of the Gaussian, that smooth the course through middles: a bend
may be two beads long. With five and 1.0 a wire that turned twice by 70 degrees, each time within two beads,
was measured 1.2 mm short of 320."""
_FEWEST_ON_ROD = 3
"""Two middles always lie on a line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadRow:
    """The beads of a strand, in order, as their rims show them; stoppers are left out.

    Attributes
    ----------
    scene, found
    rims : Rims
        On a rod, corrected by all beads threading one straight line.
    middle_mm : ndarray, shape (B,)
        How far aside of the axis the middle between the rims lies, before they were corrected.
    across_mm, centre_mm : ndarray, shape (B,)
        Size across the string, and height of the centre above the sheet.
    height_u_mm : float
        Standard uncertainty of all heights together.
    """

    scene: Scene
    found: DividedStrand
    rims: Rims
    middle_mm: FloatArray
    across_mm: FloatArray
    centre_mm: FloatArray
    height_u_mm: float

    @property
    def segments(self) -> list[Segment]:
        """Where each bead begins and ends."""
        return self.found.bead_segments

    @property
    def aside_mm(self) -> FloatArray:
        """How far aside of the axis each bead's middle lies, smoothed, shape (B,)."""
        return smoothed(self.rims.middle_mm)

    @property
    def places_mm(self) -> FloatArray:
        """The world points (B, 3) of the beads' middles."""
        along = np.array([s.middle_mm for s in self.segments])
        return self.found.plane.lifted(along, self.aside_mm, height_mm=self.centre_mm)

    @property
    def gape_mm(self) -> FloatArray:
        """The most that touching beads can gape along the string, shape (B - 1,): none on a straight rod."""
        middles = [round(s.middle_mm / STEP_MM) for s in self.segments]
        width = self.found.network.widths_mm(len(self.found.sides.width_mm))
        joints = [width[here : there + 1].min() for here, there in itertools.pairwise(middles)]
        most = gape(self.found.plane.axis.directions[middles], np.array(joints))
        return np.zeros_like(most) if self.found.rod else most

    def budget(self, thickest_u_mm: float = 0.0) -> Budget:
        """Return what adds to the uncertainty of sizes, given that of the radius of a rod's thickest bead."""
        height_u_mm = float(np.hypot(self.height_u_mm, thickest_u_mm))
        return Budget.of(
            self.scene, places=self.places_mm, radius=self.across_mm / 2, height_u_mm=height_u_mm
        )

    def lengths(self, width_mm: FloatArray, centre_mm: FloatArray) -> Lengths:
        """Measure along the string, the beads as wide and their middles as high as that."""
        bodies = BeadBodies(
            width_mm=width_mm,
            centre_mm=_evened(centre_mm),
            aside_mm=self.aside_mm,
            gape_mm=self.gape_mm,
        )
        return lengths_along(self.found.plane, self.segments, bodies=bodies)

    def with_network(self, budget: Budget) -> Sizes:
        """Return the sizes across by the rims, combined with those that the network of strands estimates."""
        lengths = self.lengths(self.across_mm, self.centre_mm)
        noise = rim_noise(self.across_mm, self.middle_mm, alike=lengths.uniform)
        network, u = (
            self.found.plane.size_at(size, self.centre_mm)
            for size in self.found.network.across_mm(self.segments)
        )
        rims = Sizes(mm=self.across_mm, u_mm=np.hypot(noise, budget.sides_u(self.rims)))
        return combined(rims, Sizes(mm=network, u_mm=u))


def combined(rims: Sizes, network: Sizes) -> Sizes:
    """Return the sizes by the rims and by the network of strands together.

    Two rims that cross are not those of a bead: the network alone says its size.

    Examples
    --------
    >>> rims = Sizes(mm=np.array([8.0, -0.3]), u_mm=np.array([0.1, 0.1]))
    >>> both = combined(rims, Sizes(mm=np.array([8.2, 7.9]), u_mm=np.array([0.1, 0.5])))
    >>> both.mm.tolist(), both.u_mm.round(2).tolist()
    ([8.1, 7.9], [0.14, 0.5])
    """
    mm, u = mixed(rims.mm, rims.u_mm, network.mm, network.u_mm)
    apart = rims.mm > 0
    return Sizes(mm=np.where(apart, mm, network.mm), u_mm=np.where(apart, u, network.u_mm))


def size_across(scene: Scene, found: DividedStrand) -> BeadRow:
    """Measure every bead across the string by its rims."""
    seen = bead_rims(
        scene.photo, found.strip, sides=found.sides, segments=found.segments, blur_px=scene.blur_px
    )
    rims = seen
    if found.rod and len(found.segments) >= _FEWEST_ON_ROD:
        rims = on_one_rod(seen)
    middles = np.array([s.middle_mm for s in found.segments])
    angles = tangent_angles(found.plane, rims, middles_mm=middles)
    radius = radii(angles, camera_above_mm=scene.camera_above_mm)
    centre, u = resting(radius, found.segments), 0.0
    if found.rod:
        rod, u = rod_height(float(radius[found.beads].max()), _stopper_radii(found, radius))
        radius = radii(angles, camera_above_mm=scene.camera_above_mm, centre_above_mm=rod)
        centre = np.full(len(radius), rod)
    return BeadRow(
        scene=scene,
        found=found,
        rims=rims.of(found.beads),
        middle_mm=seen.middle_mm[found.beads],
        across_mm=2 * radius[found.beads],
        centre_mm=centre[found.beads] + scene.bed_height_mm,
        height_u_mm=u,
    )


def gape(directions: FloatArray, joints_mm: FloatArray) -> FloatArray:
    """Return the most that touching beads can gape along a bent string, mm, shape (B - 1,).

    They touch at the inner side of the bend: by half the width of the joint times the angle by which the
    string turns there. A joint is no wider than the strand shows at its narrowest place; how much of that is
    flat stays open.

    Parameters
    ----------
    directions : ndarray, shape (B, 2)
        Unit tangents of the string at the beads.
    joints_mm : ndarray, shape (B - 1,)
        Width of the strand where it is narrowest between two beads.
    """
    turned = np.abs(np.diff(np.unwrap(np.arctan2(directions[:, 1], directions[:, 0]))))
    return np.asarray(turned * joints_mm / 2)


def resting(radius: FloatArray, segments: Sequence[Segment]) -> FloatArray:
    """Return how high the middles of parts with these radii (B,) lie above the bed on a wire, shape (B,).

    Beads lie on the bed. The string holds spacers and covers up between them.
    """
    beads = [k for k, segment in enumerate(segments) if segment.kind == "bead"]
    if not beads:
        return radius
    along = np.array([segment.middle_mm for segment in segments])
    return np.maximum(radius, np.interp(along, along[beads], radius[beads]))


def _stopper_radii(found: DividedStrand, radius: FloatArray) -> list[float]:
    """Return the radii of the stoppers: as wide as most of each is, as its end may lie in a bead's shadow."""
    stoppers = [k for k in range(len(radius)) if not found.beads.start <= k < found.beads.stop]
    widths = (middle_width(found.sides.width_mm, found.segments[k]) for k in stoppers)
    return [min(float(radius[k]), width / 2) for k, width in zip(stoppers, widths, strict=True)]


def smoothed(each: FloatArray) -> FloatArray:
    """Return values of beads in order, (B,), smoothed: a string bends less than single rims jump."""
    steady = ndimage.median_filter(each, size=min(_STEADY, len(each)), mode="nearest")
    return np.asarray(ndimage.gaussian_filter1d(steady, _SMOOTH, mode="nearest"))


def _evened(height: FloatArray) -> FloatArray:
    """Return the heights of beads of about one size smoothed: where single ones differ it is by chance."""
    even = robust_sd(height) < _EVEN * np.median(height)
    return smoothed(height) if even else height
