"""What the sizes of a strand owe to all that is not known exactly, and which flags it and its beads earn."""

from dataclasses import dataclass

import numpy as np

from vision.camera.scene import Scene
from vision.camera.uncertainty import EDGE_BIAS_PX, camera_rel_u, expanded
from vision.common import flags
from vision.common.numerics import robust_sd
from vision.common.records import FloatArray, StrandBead
from vision.strand.edges import Rim
from vision.strand.length import Lengths
from vision.strand.search import Divided
from vision.strand.segment import Segment
from vision.strand.stoppers import shown

_WEAK = 0.5
"""Share of the variation across an edge that a step must explain."""
_BOUNDARY_HEIGHT_U = 0.2
"""Standard uncertainty of the height at which two beads are seen to part, as a share of their radius."""
_SHAPE_U_ACROSS, SHAPE_U_ALONG = 0.003, 0.005
"""Relative: no bead is quite the solid it is taken for."""
_KIN, _KIN_APART = 3, 0.02
"""On strands of one kind or a few most beads have so many others no farther from them in size and shape, say
24 regular ones and a mixed one; lumps have not (0.05 to 0.2)."""
_LUMPY_ACROSS, _LUMPY_ALONG = 0.25, 0.35
"""Of how far lumps are from their like, what their sizes are off by: where they touch is not where they are
seen to part, and how they lie is not known (on 16 drawn strands a fifth to a third)."""
_BOUNDARY_U_PX, _ENDS_U_PX = 0.1, 0.5
_UNCLEAR = 0.6
"""The count is not certain where it is less sure than this that a bead is one, and not two or none."""
_FAINT = 0.85
"""What the networks find less likely to be a bead than this may be a stopper."""
_PERHAPS = 0.3
"""What is likelier than this to be a bead, and was left out on a wire, may be one."""
_HIDING = 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What the sizes of one strand owe to scale, camera, heights and pixels (`vision.camera.uncertainty`).

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
    def of(cls, scene: Scene, *, places: FloatArray, radius: FloatArray) -> "Budget":
        """Draw up the budget of beads at world points (B, 3), with radii (B,), mm."""
        camera = np.array([camera_rel_u(scene.camera, place) for place in places])
        return cls(
            px_mm=1 / scene.camera.px_per_mm(places[len(places) // 2]),
            scale_u=np.hypot(scene.scale_rel_u, camera),
            height_u=_BOUNDARY_HEIGHT_U * radius / scene.camera_above_mm,
        )

    def sides_u(self, rims: list[tuple[Rim, Rim]]) -> FloatArray:
        """Return the standard uncertainty of sizes across that rims and the edge model leave, mm."""
        edges = np.array([np.hypot(left.u_mm, right.u_mm) for left, right in rims])
        return np.hypot(edges, 2 * EDGE_BIAS_PX * self.px_mm)

    def across_u95(self, across: FloatArray, seen_u: FloatArray, *, lumpy: float) -> FloatArray:
        """Return the expanded uncertainty of sizes across, mm; `lumpy`: see `lumpiness`."""
        shape = np.hypot(_SHAPE_U_ACROSS, _LUMPY_ACROSS * lumpy)
        return expanded(seen_u, across * self.scale_u, shape * across)

    def along_u95(self, lengths: Lengths, *, lumpy: float) -> FloatArray:
        """Return the expanded uncertainty of sizes along, mm; `lumpy`: see `lumpiness`."""
        along = lengths.along_mm
        relative = np.hypot(self.scale_u, self.height_u)
        shape = np.hypot(SHAPE_U_ALONG, _LUMPY_ALONG * lumpy)
        return expanded(lengths.along_u_mm, shape * along, _BOUNDARY_U_PX * self.px_mm, along * relative)

    def total_u95(self, lengths: Lengths) -> float:
        """Return the expanded uncertainty of the whole length, mm."""
        total = float(lengths.along_mm.sum() + lengths.gaps_mm.sum())
        relative = float(np.median(np.hypot(self.scale_u, self.height_u)))
        return float(expanded(lengths.total_u_mm, total * relative, _ENDS_U_PX * self.px_mm))


def lumpiness(across: FloatArray, along: FloatArray) -> float:
    """Return how far most beads are from others like them in sizes across and along (B,), as logarithms.

    Beads of one kind, or of several in a pattern, have such others; graduated ones have at least one length
    over width; nuggets have neither.
    """
    if len(across) <= _KIN:
        return 0.0
    sizes = np.log(np.column_stack([across, along]))
    apart = np.sort(np.linalg.norm(sizes[:, None] - sizes[None], axis=2), axis=1)
    unlike = min(float(np.median(apart[:, _KIN])), robust_sd(sizes[:, 1] - sizes[:, 0]))
    return float(np.sqrt(max(unlike**2 - _KIN_APART**2, 0.0)))


def bead_flags(segment: Segment, rims: tuple[Rim, Rim], *, odd: bool) -> tuple[str, ...]:
    """Return the flags of one bead; `odd`: it differs in length from the rest by more than chance."""
    raised = {
        flags.WEAK_EDGE: min(rim.clarity for rim in rims) < _WEAK,
        flags.UNSURE_SPLIT: segment.clarity < _UNCLEAR,
        flags.ODD_SIZE: odd,
    }
    return tuple(flag for flag, on in raised.items() if on)


def strand_flags(found: Divided, beads: tuple[StrandBead, ...]) -> tuple[str, ...]:
    """Return the flags of a strand: its count is doubted where a boundary is unclear, or a bead may hide.

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
