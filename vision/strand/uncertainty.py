"""The uncertainty budget of a strand's sizes, the flags of its beads, and the evidence for its count."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from vision.camera.scene import Scene
from vision.checks.count import UNCLEAR, CountEvidence, PieceBeyond
from vision.common import flags
from vision.common.numerics import expanded, robust_sd
from vision.common.records import FloatArray, Mask
from vision.strand.axis import STEP_MM
from vision.strand.edges import Rims
from vision.strand.reconciled import DIFFERENT, FEWEST, Lengths
from vision.strand.search import DividedStrand
from vision.strand.stoppers import bead_likelihood
from vision.strand.strip import Segment
from vision.strand.width import Sizes
from vision.topview.bead_map import CELLS_PER_MM
from vision.topview.region import SEVERAL

_EDGE_BIAS_PX = 0.35
"""How far the light of a real edge may mislead the edge model in a sharp photo, on one side; a standard
deviation. At half and at double the last digits change on drawn photos, whose edges are as the model has
them."""
_WEAK = 0.5
"""Share of the variation across an edge that a step must explain: half. At double nearly all beads are
flagged."""
_BOUNDARY_HEIGHT_U = 0.2
"""Standard uncertainty of the height at which two beads seem to touch, as a share of their radius."""
_SHAPE_U_ACROSS, SHAPE_U_ALONG = 0.003, 0.005
"""Relative: no bead is quite the solid of the model. At half of the second 96.0 % of sizes are covered, not
97.4."""
_SIMILAR, _SIMILAR_APART = 3, 0.02
"""On strands of one kind or a few most beads have so many others no farther from them in size and shape, as
on 24 regular strands; nuggets have not (0.05 to 0.2)."""
_LUMPY_ACROSS, _LUMPY_ALONG = 0.25, 0.35
"""What the sizes of nuggets are off by, over how far they are from similar ones: where they touch is not
where they seem to, and how they lie is not known (on 16 drawn strands a fifth to a third)."""
_BOUNDARY_U_PX, _ENDS_U_PX = 0.1, 0.5
"""Standard uncertainty of a length, and of the whole, by where a real boundary seems to be. At half of the
first 96.8 % of sizes are covered."""
_LONE = 2
"""As many beads of one width, among others as long, are no kind of their own. Of 49 so few, on 34 of 240
strands, 45 really differ, and 17 are off by more than is stated, where of all beads 7 in 100 are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What scale, camera, heights and pixels add to the uncertainty of sizes (`expanded`).

    Attributes
    ----------
    px_mm : float
        Size of a pixel at the strand; of a blurred photo as many times more as its edges are wider.
    scale_u : ndarray, shape (B,)
        Relative, of the sheet's scale, the camera and the height of a rod together.
    height_u : ndarray, shape (B,)
        Relative, of lengths along: at which height within a bead a boundary shows is unknown, and
        seen aslant it shifts outwards by that.

    Examples
    --------
    One 8 mm bead, its scale known to 0.1 %, by pixels of 0.1 mm:

    >>> budget = Budget(px_mm=0.1, scale_u=np.array([0.001]), height_u=np.array([0.0]))
    >>> exact = np.zeros((1, 2))  # rims without noise still err by a third of a pixel each
    >>> rims = Rims(aside_mm=exact, along_mm=exact, u_mm=exact, clarity=exact)
    >>> budget.sides_u(rims).round(3).tolist()
    [0.07]
    """

    px_mm: float
    scale_u: FloatArray
    height_u: FloatArray

    @classmethod
    def of(
        cls, scene: Scene, *, places: FloatArray, radius: FloatArray, height_u_mm: float = 0.0
    ) -> "Budget":
        """Draw up the budget of beads at world points (B, 3), with radii (B,), mm.

        `height_u_mm` is the standard uncertainty of their height: all are seen larger by its share of the
        camera's.
        """
        return cls(
            px_mm=scene.blur_times / scene.camera.px_per_mm(places[len(places) // 2]),
            scale_u=np.hypot(
                np.hypot(scene.scale_rel_u, scene.camera.rel_u(places)),
                height_u_mm / scene.camera_above_mm,
            ),
            height_u=_BOUNDARY_HEIGHT_U * radius / scene.camera_above_mm,
        )

    def sides_u(self, rims: Rims) -> FloatArray:
        """Return the standard uncertainty of sizes across that rims and the edge model leave, mm."""
        return np.hypot(np.hypot(*rims.u_mm.T), 2 * _EDGE_BIAS_PX * self.px_mm)

    def u95(self, across: Sizes, lengths: Lengths, *, wider_mm: FloatArray | float = 0.0) -> "ExpandedU":
        """Return the expanded uncertainties of sizes across, of lengths, and of the whole length.

        `wider_mm`, shape (B,): see `which_edge_u`.
        """
        lumpy = lumpiness(across.mm, lengths.along_mm)
        along, relative = lengths.along_mm, np.hypot(self.scale_u, self.height_u)
        total = float(along.sum() + lengths.apart_mm.sum())
        return ExpandedU(
            across_mm=expanded(
                across.u_mm,
                which_edge_u(wider_mm),
                across.mm * self.scale_u,
                np.hypot(_SHAPE_U_ACROSS, _LUMPY_ACROSS * lumpy) * across.mm,
            ),
            along_mm=expanded(
                lengths.along_u_mm,
                np.hypot(SHAPE_U_ALONG, _LUMPY_ALONG * lumpy) * along,
                _BOUNDARY_U_PX * self.px_mm,
                along * relative,
            ),
            total_mm=float(
                expanded(lengths.total_u_mm, total * float(np.median(relative)), _ENDS_U_PX * self.px_mm)
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpandedU:
    """Expanded uncertainties at 95 %, mm: of sizes across and along, each (B,), and of the whole length."""

    across_mm: FloatArray
    along_mm: FloatArray
    total_mm: float


def which_edge_u(wider_mm: FloatArray | float) -> FloatArray:
    """Return the standard uncertainty of sizes across by which edge is a bead's, and which its shadow's, mm.

    `wider_mm`, shape (B,), is by how much the rims are farther apart than the map of beads has it. Half of
    that counts, less a cell of the map, alike for all beads of a photo.
    """
    return np.asarray(np.sqrt(np.maximum(np.square(wider_mm) - CELLS_PER_MM**-2, 0.0)) / 2)


def lumpiness(across: FloatArray, along: FloatArray) -> float:
    """Return how far most beads are from similar ones in sizes across and along (B,), as logarithms.

    Beads of one kind, or of several in a pattern, have similar ones; graduated ones have at least one length
    over width; nuggets have neither.
    """
    if len(across) <= _SIMILAR:
        return 0.0
    sizes = np.log(np.column_stack([across, along]))
    apart = np.sort(np.linalg.norm(sizes[:, None] - sizes[None], axis=2), axis=1)
    unlike = min(float(np.median(apart[:, _SIMILAR])), robust_sd(sizes[:, 1] - sizes[:, 0]))
    return float(np.sqrt(max(unlike**2 - _SIMILAR_APART**2, 0.0)))


def unlike_in_width(across_mm: FloatArray, u95_mm: FloatArray, *, along_mm: FloatArray) -> Mask:
    """Return which beads differ in width from those as long by more than the uncertainty, shape (B,).

    `u95_mm` are the expanded uncertainties of the widths without that of the scale. Beads of which several
    differ alike are of a kind of their own.
    """
    as_long = np.abs(along_mm / along_mm[:, None] - 1) < DIFFERENT
    usual, usual_u95 = (np.array([np.median(one[own]) for own in as_long]) for one in (across_mm, u95_mm))
    to_it, to_usual = (np.abs(across_mm - width[:, None]) for width in (across_mm, usual))
    lone = (as_long.sum(axis=1) > FEWEST) & ((as_long & (to_it < to_usual)).sum(axis=1) <= _LONE)
    return np.asarray(lone & (np.diag(to_usual) > np.hypot(u95_mm, usual_u95)))


def bead_flags(segment: Segment, *, edge_clarity: float, odd: bool) -> tuple[str, ...]:
    """Return the flags of one bead.

    `edge_clarity` is that of its fainter rim; `odd`: it differs in size from the rest by more than chance.
    """
    raised = {
        flags.WEAK_EDGE: edge_clarity < _WEAK,
        flags.UNSURE_SPLIT: segment.clarity < UNCLEAR,
        flags.ODD_SIZE: odd,
    }
    return tuple(flag for flag, on in raised.items() if on)


def lies_over(lengths: Lengths, *, across_mm: FloatArray) -> Mask:
    """Return which pieces may be something that lies over several beads, such as a finger, shape (B,).

    They cover as much as several of the beads that are usual here, and no others are like them.
    """
    area = lengths.along_mm * across_mm
    return np.asarray(lengths.odd & (area >= SEVERAL * np.median(area)))


def count_evidence(found: DividedStrand, lengths: Lengths, *, hidden: Mask) -> CountEvidence:
    """Return what speaks for and against each bead of a strand, and what was left out beyond its ends.

    Of a bead that is hidden, shape (B,), by glare or what lies over it, nothing is seen.
    """
    segments, beads = found.bead_segments, found.beads
    between = _between_beads(segments)
    unsure = sum(fragment.unsure for fragment in found.from_above)
    return CountEvidence(
        clarity=np.where(hidden, 0.0, [s.clarity for s in segments]),
        likely=np.where(between, 1.0, [bead_likelihood(found.likely, s) for s in segments]),
        ends=(segments[0].likely, segments[-1].likely),
        along_mm=lengths.along_mm,
        gaps_mm=lengths.gaps_mm,
        unseen_mm=lengths.gaps_mm * _unseen(found.bare, segments),
        before=tuple(_beyond(found.segments[: beads.start][::-1], segments[0])),
        after=tuple(_beyond(found.segments[beads.stop :], segments[-1])),
        rod=found.rod,
        from_above=(len(found.from_above) - unsure, len(found.from_above)),
    )


def _between_beads(segments: list[Segment]) -> Mask:
    """Return which segments are spacers or covers among beads: these need not look like beads."""
    beads = np.array([segment.kind == "bead" for segment in segments])
    before, behind = np.logical_or.accumulate(beads), np.logical_or.accumulate(beads[::-1])[::-1]
    return np.asarray(~beads & before & behind)


def _unseen(bare: Mask, segments: list[Segment]) -> FloatArray:
    """Return the share of the string after each segment that is not seen bare, (S,) to (B,)."""
    steps = [round(s.end_mm / STEP_MM) for s in segments], [round(s.start_mm / STEP_MM) for s in segments[1:]]
    seen = [float(bare[end:start].mean()) if start > end else 0.0 for end, start in zip(*steps, strict=False)]
    return 1 - np.array([*seen, 0.0])


def _beyond(pieces: list[Segment], end: Segment) -> Iterator[PieceBeyond]:
    """Yield the pieces beyond an end bead, the nearest first."""
    for piece, before in zip(pieces, [end, *pieces], strict=False):
        gap = max(piece.start_mm - before.end_mm, before.start_mm - piece.end_mm, 0.0)
        yield PieceBeyond(likely=piece.likely, length_mm=piece.length_mm, reach_mm=gap + piece.length_mm)
