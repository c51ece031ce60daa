"""A loaded strand, from its division to sizes: across, along, gaps, lengths, each with its uncertainty."""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from scipy import ndimage

from vision.camera.scene import Scene
from vision.chains.apart import Apart
from vision.checks.count import doubt_flags, doubts_about
from vision.checks.cut_off import Ahead, cut_by
from vision.checks.glare import glare_mm
from vision.checks.layout import looks_loose, loose_beads
from vision.checks.resolution import check_resolution
from vision.common import flags
from vision.common.changes import largest_change
from vision.common.errors import LooseBeadsError, PhotoError
from vision.common.loop import Parts, all_round
from vision.common.numbering import numbered
from vision.common.numerics import COVERAGE_FACTOR, quarter_turn, without_scale
from vision.common.pooling import pooled_sizes
from vision.common.records import FloatArray, Loop, Other, Pendant, Strand, StrandBead
from vision.strand.axis import STEP_MM
from vision.strand.length import with_unseen_gaps
from vision.strand.reconciled import Lengths
from vision.strand.row import BeadRow, resting, size_across
from vision.strand.search import DividedStrand, divide
from vision.strand.strip import Segment, Strip
from vision.strand.uncertainty import (
    SHAPE_U_ALONG,
    ExpandedU,
    bead_flags,
    count_evidence,
    lies_over,
    unlike_in_width,
    which_edge_u,
)
from vision.strand.width import Sizes, as_rounds

_OUTLINE_POINTS, _OUTLINE_SMOOTH_MM = 24, 0.15
"""Points of either side of an outline, which is for the eye only, and its smoothing."""
_PATCH_ENDS, _PATCH_SIDES = 0.2, 0.3
"""Of a bead's length, left out at either end, and of its width to either side of the string: what lies within
has the bead's own colour, not that of its limb or its neighbours."""


def strands_of(scene: Scene) -> tuple[Strand, ...]:
    """Measure the strands of a scene, in reading order; each knows why others cannot be measured.

    Raises
    ------
    NoBeadsError
    CoarsePhotoError, LooseBeadsError
        As `_strand_of`, where there is no other strand.
    """
    measured, refused = [], []
    divided = divide(scene)
    for found in divided:
        try:
            measured.append(_strand_of(scene, found))
        except PhotoError as error:
            refused.append(error)
    if not measured:
        raise refused[0]
    others = tuple(_other(scene, thing) for thing in divided[0].apart)
    reasons = tuple(str(error) for error in refused if not isinstance(error, LooseBeadsError))
    return tuple(replace(strand, others=others, refused=reasons) for strand in numbered(measured))


def _other(scene: Scene, thing: Apart) -> Other:
    """Return a thing that lies on the bed as the photo shows it."""
    outline = scene.bed_to_px(thing.outline_mm)
    x, y = outline.mean(axis=0)
    return Other(centre_px=(float(x), float(y)), kind=thing.kind, outline_px=outline)


def _strand_of(scene: Scene, found: DividedStrand) -> Strand:
    """Measure a strand of a scene.

    Raises
    ------
    NoBeadsError
    CoarsePhotoError
    LooseBeadsError
        The beads do not follow each other as on a string.
    """
    row = size_across(scene, found)
    lengths_mm = [segment.length_mm for segment in row.segments]
    check_resolution(scene, bead_mm=min(float(np.median(lengths_mm)), float(np.median(row.across_mm))))
    budget = row.budget()
    across = row.with_network(budget)
    wider = np.array([segment.wider_mm for segment in row.segments])
    if found.rod:  # which hangs as high as its thickest bead is wide
        thickest_u = np.hypot(across.u_mm, which_edge_u(wider))[np.argmax(across.mm)] / 2
        centre, budget = row.centre_mm, row.budget(float(thickest_u))
    else:  # the sizes across, better known now, say how high the beads lie
        centre = resting(across.mm / 2, row.segments) + scene.bed_height_mm
    lengths = row.lengths(across.mm, centre)
    _check_row(row, lengths)
    across = _pooled(as_rounds(across, lengths.along_mm), lengths)
    if not found.rod:
        lengths = with_unseen_gaps(lengths, resolved_mm=found.network.cell_mm)
    u95 = budget.u95(across, lengths, wider_mm=wider)
    strand = _assembled(row, across=across, lengths=lengths, u95=u95)
    if not found.closed:
        return strand
    return replace(  # what is seen beyond the divided parts may be strung too, such as a cover, or a ring
        strand,
        loop=_loop(row, lengths, strand),
        length_u95_mm=strand.length_u95_mm + found.beyond_mm,
        closed_up_u95_mm=strand.closed_up_u95_mm + found.beyond_mm,
    )


def _pooled(across: Sizes, lengths: Lengths) -> Sizes:
    """Return sizes across that beads of about the same length inform each other of."""
    along_u = np.hypot(lengths.along_u_mm, SHAPE_U_ALONG * lengths.along_mm)
    sizes, u = pooled_sizes(
        np.column_stack([across.mm, lengths.along_mm]), np.column_stack([across.u_mm, along_u])
    )
    return Sizes(mm=sizes[:, 0], u_mm=u[:, 0])


def _assembled(row: BeadRow, *, across: Sizes, lengths: Lengths, u95: ExpandedU) -> Strand:
    """Return the record of a measured strand."""
    found, beads = row.found, _beads(row, across=across, lengths=lengths, u95=u95)
    closed = sum(bead.along_mm for bead in beads)
    bead_mm = float(np.median(lengths.along_mm))
    in_glare = glare_mm(row.scene, row.places_mm, bead_mm=bead_mm) == 0.0
    over = lies_over(lengths, across_mm=across.mm)
    doubts = doubts_about(count_evidence(found, lengths, hidden=in_glare | over))
    cut = () if found.closed else _cut_by(row.scene, found)
    unseen = np.inf if cut else 0.0
    return Strand(
        conditions=row.scene.conditions,
        beads=beads,
        length_mm=closed + sum(bead.gap_after_mm for bead in beads),
        length_u95_mm=unseen + u95.total_mm + largest_change(d.length_mm for d in doubts),
        closed_up_mm=closed,
        closed_up_u95_mm=unseen
        + float(np.hypot(u95.total_mm, 2 * lengths.gapes_u_mm))
        + largest_change(d.closed_up_mm for d in doubts),
        string_px=_string(found),
        flags=(*([flags.CUT_OFF] if cut else []), *doubt_flags(doubts)),
        doubts=doubts,
        cut_by=cut,
    )


def _beads(row: BeadRow, *, across: Sizes, lengths: Lengths, u95: ExpandedU) -> tuple[StrandBead, ...]:
    """Return the records of the beads of a strand, numbered from 1."""
    centres, outlines = row.scene.camera.project(row.places_mm), _outlines(row.found, row.segments)
    scale_rel_u95 = COVERAGE_FACTOR * row.scene.scale_rel_u
    own_u95 = without_scale(u95.across_mm, across.mm, scale_rel_u=scale_rel_u95)
    odd = lengths.odd | unlike_in_width(across.mm, own_u95, along_mm=lengths.along_mm)
    return tuple(
        StrandBead(
            number=k + 1,
            centre_px=(float(centres[k, 0]), float(centres[k, 1])),
            across_mm=float(across.mm[k]),
            across_u95_mm=float(u95.across_mm[k]),
            along_mm=float(lengths.along_mm[k]),
            along_u95_mm=float(u95.along_mm[k]),
            gap_after_mm=float(lengths.apart_mm[k]),
            colour_rgb=_colour(row.found.strip, segment, across.mm[k]),
            outline_px=outlines[k],
            flags=bead_flags(segment, edge_clarity=float(row.rims.clarity[k].min()), odd=bool(odd[k])),
            kind=segment.kind,
        )
        for k, segment in enumerate(row.segments)
    )


def _loop(row: BeadRow, lengths: Lengths, strand: Strand) -> Loop:
    """Return what a closed strand measures all round."""
    none = {d.number for d in strand.doubts if d.beads < 0 and d.place in {"left end", "right end", "bead"}}
    parts = Parts(
        places_mm=row.places_mm[:, :2],
        along_mm=lengths.along_mm,
        across_mm=np.array([bead.across_mm for bead in strand.beads]),
        gaps_mm=lengths.apart_mm,
        across_u95_mm=float(np.nanmean([bead.across_u95_mm for bead in strand.beads])),
    )
    loop = all_round(
        parts,
        strung_u95_mm=strand.measuring_u95_mm[0],
        doubtful=np.array([bead.number in none for bead in strand.beads]),
    )
    return _with_pendant(loop, row, strand)


def _with_pendant(loop: Loop, row: BeadRow, strand: Strand) -> Loop:
    """Return a loop with the bead that hangs from its clasp, if one does.

    Its outline from above errs as those of the loop's own parts do, which are measured: the halo of a shadow
    is as wide about each. The pin through it is thin: its length is that of an ellipse of its area and width.
    """
    course = row.found.course
    if course.clasp is None or course.clasp.hanging is None:
        return loop
    hanging = course.clasp.hanging
    outline = hanging.piece.outline_mm
    halo = course.usual_mm - float(np.median([np.sqrt(b.across_mm * b.along_mm) for b in strand.beads]))
    x, y = row.scene.bed_to_px(outline).mean(axis=0)
    across = float(np.ptp(outline @ quarter_turn(hanging.way)))
    along = 4 / np.pi * cv2.contourArea(outline.astype(np.float32)) / across
    return replace(
        loop,
        pendant=Pendant(
            centre_px=(float(x), float(y)),
            across_mm=across - halo,
            along_mm=along - halo,
            outline_px=row.scene.bed_to_px(outline),
        ),
        extender_mm=hanging.chain_mm,
    )


def _check_row(row: BeadRow, lengths: Lengths) -> None:
    """Refuse beads that do not follow each other as on a string."""
    seen_on = sum(not fragment.unsure for fragment in row.found.from_above)
    seen_beside = row.found.surely_seen - seen_on
    if looks_loose(lengths.along_mm, lengths.gaps_mm[:-1], seen_beside=seen_beside):
        raise loose_beads(row.found.surely_seen)


def _cut_by(scene: Scene, found: DividedStrand) -> tuple[str, ...]:
    """Return what the strand runs out of, or into, at either end."""
    beads = found.bead_segments
    bead_mm = float(np.median([s.length_mm for s in beads]))
    covers = [thing.outline_mm for thing in found.wide]
    ends = _ahead(found, beads[0].start_mm, -bead_mm), _ahead(found, beads[-1].end_mm, bead_mm)
    return tuple(dict.fromkeys(cut for end in ends for cut in cut_by(scene, end, covers_mm=covers)))


def _ahead(found: DividedStrand, end_mm: float, reach_mm: float) -> Ahead:
    """Return what lies within a distance of an end of the strand; before it if negative."""
    places = found.plane.ahead(end_mm, reach_mm)
    along = np.linspace(end_mm, end_mm + reach_mm, len(places)) / STEP_MM
    steps = np.arange(len(found.likely))
    return Ahead(places=places, shows=np.interp(along, steps, found.likely, left=0.0, right=0.0))


def _string(found: DividedStrand) -> FloatArray:
    """Return the course of the string in the photo from the first bead to the last, a point a millimetre."""
    first, last = found.bead_segments[0].steps().start, found.bead_segments[-1].steps().stop
    return found.plane.camera.project(found.plane.grid(np.zeros(1))[0, first : last + 1 : round(1 / STEP_MM)])


def _colour(strip: Strip, segment: Segment, across: float) -> tuple[int, int, int]:
    """Return the median colour of the middle of a bead."""
    rows = np.abs(strip.aside_mm) < max(_PATCH_SIDES * across, STEP_MM)
    patch = strip.rgb[rows][:, segment.steps(trim=_PATCH_ENDS)]
    red, green, blue = (int(v) for v in np.median(patch.reshape(-1, 3), axis=0))
    return red, green, blue


def _outlines(found: DividedStrand, segments: Sequence[Segment]) -> FloatArray:
    """Return the outlines of beads in the photo: their two sides from end to end, shape (B, N, 2)."""
    along = np.array([np.linspace(s.start_mm, s.end_mm, _OUTLINE_POINTS) for s in segments])
    steps = np.arange(len(found.sides.width_mm)) * STEP_MM
    left, right = (
        np.interp(along, steps, ndimage.gaussian_filter1d(side, _OUTLINE_SMOOTH_MM / STEP_MM))
        for side in (found.sides.left_mm, found.sides.right_mm)
    )
    round_it = (np.concatenate([a, b[:, ::-1]], axis=1) for a, b in ((along, along), (left, right)))
    return found.plane.camera.project(found.plane.at(*round_it))
