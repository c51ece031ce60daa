"""Training samples of strands: a drawn strand, straightened, and where its beads begin and end.

python -m tests.training.strand_samples OUT_DIR --count 2000 --seed 1 --processes 16
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from tests.synthetic.camera import Array
from tests.synthetic.looks import Body
from tests.training.samples import Taken, any_scene, lay, silhouette, take, visible
from tests.training.writing import write_samples
from vision.strand.axis import STEP_MM, Axis, smooth_axis

ACROSS_CELLS = 56
"""Cells across the widest beads; training scales them up and down."""
MOST_CELLS_PER_MM = 10.0
REACH = 2.3
"""Half the width of the strip, over the width of the widest beads."""
_EXTEND_MM = 30.0
_WAVE_MM = 25.0
_POINT_MM = 0.3
_STRAIGHT = 0.15
_THICKEST = 97


@dataclass(frozen=True, kw_only=True)
class StrandSample:
    """A strand, straightened in the plane of its string, and its truth. Row = aside, column = along.

    Attributes
    ----------
    rgb : ndarray, shape (T, S, 3), uint8
    inside : ndarray, shape (T, S), uint8
        Share of a cell that shows any bead, 0 to 255.
    slant : ndarray, shape (2, S), float32
        Tangent of the angle between line of sight and vertical at each place on the string: along, aside.
    beads, stoppers : ndarray, shape (B, 2), float32
        Columns where each begins and ends.
    across : ndarray, shape (B,), float32
        Sizes of the beads across, as they appear in the plane of the string, in cells.
    width_cells : float
        Width of the widest beads.
    """

    rgb: NDArray[np.uint8]
    inside: NDArray[np.uint8]
    slant: NDArray[np.float32]
    beads: NDArray[np.float32]
    stoppers: NDArray[np.float32]
    across: NDArray[np.float32]
    width_cells: float


def draw_strand(seed: int) -> StrandSample | None:
    """Draw one strand; None where a person could not see the beads."""
    scene = any_scene(seed, ("rod", "wire"))
    taken = take(scene, about=REACH)
    number = len(taken.layout.truth)
    if number < 3:
        return None
    beads = taken.layout.bodies[:number]
    stoppers = taken.layout.bodies[number + 1 : number + 3] if scene.mode == "rod" else []
    lens = np.array(taken.camera.origin)
    height = float(np.median([bead.centre[2] for bead in beads]))
    wide = float(np.percentile([row["across_mm"] for row in taken.layout.truth], _THICKEST))
    ends = np.array([_ends(bead) for bead in beads])
    axis = _course(_seen_at(ends.reshape(-1, 3), lens, height), wide)
    per_mm = min(MOST_CELLS_PER_MM, ACROSS_CELLS / wide)
    strip = _Strip(axis=axis, per_mm=per_mm, reach=round(REACH * wide * per_mm), height=height)
    owner, inside = strip.blank(np.uint8), strip.blank(np.float32)
    for k in sorted(range(number), key=lambda k: -float(np.linalg.norm(beads[k].centre - lens))):
        outline = silhouette(beads[k], lens, height, bed_z=taken.bed_z) * (1, -1)
        lay(strip.cells(outline), min(k + 1, 255), owner, inside)
    if not visible(owner, strip.straightened(taken.contrast, taken)[..., 0], 3.0 + scene.sensor.noise):
        return None
    spans = strip.spans(beads, lens)
    along = np.argsort(spans[:, 0])
    across = np.array([row["across_mm"] for row in taken.layout.truth]) * per_mm
    nearer = (lens[2] - height) / (lens[2] - np.array([bead.centre[2] for bead in beads]))
    return StrandSample(
        rgb=strip.straightened(taken.rgb, taken),
        inside=np.rint(inside * 255).astype(np.uint8),
        slant=strip.slant(lens),
        beads=spans[along],
        stoppers=strip.spans(stoppers, lens),
        across=(across * nearer)[along].astype(np.float32),
        width_cells=wide * per_mm,
    )


def _ends(body: Body) -> Array:
    """Return where a string enters and leaves a body, world, shape (2, 3)."""
    return body.centre + np.array([[-0.5], [0.5]]) * body.solid.length * body.turn[:, 0]


def _seen_at(points: Array, lens: Array, height: float) -> Array:
    """Return where rays to world points (N, 3) meet the plane at a height, sheet (x, y), shape (N, 2)."""
    share = (lens[2] - height) / (lens[2] - points[:, 2:])
    return (lens[:2] + (points[:, :2] - lens[:2]) * share) * (1, -1)


def _course(nodes: Array, wide: float) -> Axis:
    """Return the axis that the program would lay through places on the string, shape (N, 2)."""
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(nodes, axis=0).T))]
    at = np.arange(0, along[-1], _POINT_MM)
    points = np.stack([np.interp(at, along, column) for column in nodes.T], axis=1)
    straight = _STRAIGHT * wide
    return smooth_axis(points, wavelength_mm=_WAVE_MM, straight_within_mm=straight, extend_mm=_EXTEND_MM)


@dataclass(frozen=True, kw_only=True)
class _Strip:
    """The plane of a string, straightened: `reach` cells to either side."""

    axis: Axis
    per_mm: float
    reach: int
    height: float

    @property
    def _columns_mm(self) -> Array:
        return np.arange(0, (len(self.axis.points_mm) - 1) * STEP_MM, 1 / self.per_mm)

    def blank(self, kind: type) -> NDArray:
        """Return a layer of zeros of a type."""
        return np.zeros((2 * self.reach + 1, len(self._columns_mm)), kind)

    def straightened(self, rgb: NDArray[np.uint8], taken: Taken) -> NDArray[np.uint8]:
        """Return a photo resampled along the strip."""
        fine = max(
            1, round(MOST_CELLS_PER_MM / self.per_mm)
        )  # averaged, as cells larger than pixels would alias
        rows, columns = self.blank(np.uint8).shape
        aside = (np.arange(rows * fine) - (rows * fine - 1) / 2) / self.per_mm / fine
        along = (np.arange(columns * fine) - (fine - 1) / 2) / self.per_mm / fine
        plane = self.axis.at(*np.meshgrid(along, aside))
        world = np.dstack([plane * (1, -1), np.full(plane.shape[:2], self.height)])
        at = taken.camera.project(world.reshape(-1, 3)).reshape(plane.shape).astype(np.float32)
        seen = cv2.remap(rgb, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return cv2.resize(seen, (columns, rows), interpolation=cv2.INTER_AREA)

    def slant(self, lens: Array) -> NDArray[np.float32]:
        """Return the tangents of the lines of sight to the string, along and aside, shape (2, S)."""
        at = self.axis.at(self._columns_mm, np.zeros(len(self._columns_mm)))
        nearest = np.minimum(np.rint(self._columns_mm / STEP_MM).astype(int), len(self.axis.points_mm) - 1)
        off = (lens[:2] * (1, -1) - at) / (lens[2] - self.height)
        along = (off * self.axis.directions[nearest]).sum(axis=1)
        aside = (off * self.axis.normals[nearest]).sum(axis=1)
        return np.stack([along, aside]).astype(np.float32)

    def cells(self, points: Array) -> Array:
        """Return the cells (column, row) of sheet points near the axis, shape (N, 2)."""
        nearest = cKDTree(self.axis.points_mm).query(points)[1]
        off = points - self.axis.points_mm[nearest]
        along = nearest * STEP_MM + (off * self.axis.directions[nearest]).sum(axis=1)
        aside = (off * self.axis.normals[nearest]).sum(axis=1)
        return np.stack([along * self.per_mm, aside * self.per_mm + self.reach], axis=1)

    def spans(self, bodies: list[Body], lens: Array) -> NDArray[np.float32]:
        """Return the columns where bodies begin and end, shape (B, 2)."""
        ends = np.array([_ends(body) for body in bodies]).reshape(-1, 3)
        spans = np.sort(self.cells(_seen_at(ends, lens, self.height))[:, 0].reshape(-1, 2), axis=1)
        return spans.astype(np.float32)


if __name__ == "__main__":
    write_samples(draw_strand, __doc__)
