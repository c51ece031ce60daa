"""How a finished piece, closed to a loop, compares with its target."""

from dataclasses import dataclass

from sizing.base.target import Target, TargetKind
from sizing.strand.change import make_row
from sizing.strand.doubtful import count_sure
from vision.common.records import Loop, Strand


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopFit:
    """A closed loop compared with its target.

    Attributes
    ----------
    target : Target
    reached_mm, u95_mm : float
        What compares with the target, and its expanded uncertainty: the strung length; all round, for a
        finished length; the inside length, for a girth.
    miss_mm : float
        How much that is over (+) or under (-) the target.
    change_beads : int
        How many usual beads more (+) or fewer (-) come nearest to the target.
    margin_mm : float
        Error of the measured length at which another number of beads would come nearer.
    count_sure, scale_checked : bool
        Whether the number of beads is certain, and the scale of the sheet checked.
    too_tight : bool
        Whether the inside is shorter than the bare wrist, ankle or neck.
    """

    target: Target
    reached_mm: float
    u95_mm: float
    miss_mm: float
    change_beads: int
    margin_mm: float
    count_sure: bool
    scale_checked: bool
    too_tight: bool

    @property
    def certain(self) -> bool:
        """Whether no error within the measurement uncertainty would change the number of beads."""
        return self.count_sure and self.scale_checked and self.margin_mm > self.u95_mm


def compare_loop(strand: Strand, loop: Loop, target: Target) -> LoopFit:
    """Compare a closed strand with its target.

    A bead more makes the strung length, the length all round and the inside length each longer by its
    length: closed curves a fixed distance apart differ in length by a fixed amount (Steiner's formula).

    Examples
    --------
    22 rounds of 8 mm with a clasp of 14 mm, for a finished length of 175 mm:

    >>> from sizing.base.target import make_target
    >>> from tests.helpers.strands import make_loop
    >>> strand = make_loop([8.0] * 22, clasp_mm=14.0)
    >>> fit = compare_loop(strand, strand.loop, make_target({"finished": 175}))
    >>> fit.reached_mm, fit.miss_mm, fit.change_beads
    (190.0, 15.0, -2)
    """
    reached_mm, u95_mm, goal_mm = _compared(strand, loop, target)
    miss_mm = reached_mm - goal_mm
    bead_mm = make_row(strand).usual.along_mm
    change = max(-round(miss_mm / bead_mm), 1 - max(strand.count, 1))  # one bead stays
    return LoopFit(
        target=target,
        reached_mm=reached_mm,
        u95_mm=u95_mm,
        miss_mm=miss_mm,
        change_beads=change,
        margin_mm=abs(bead_mm / 2 - abs(miss_mm + change * bead_mm)),
        count_sure=count_sure(strand),
        scale_checked=strand.conditions.scale_checked,
        too_tight=target.too_tight(loop.inner_girth_mm),
    )


def _compared(strand: Strand, loop: Loop, target: Target) -> tuple[float, float, float]:
    """Return what compares with a target, its expanded uncertainty, and what it should be."""
    if target.kind is TargetKind.GIRTH:
        return loop.inner_girth_mm, loop.inner_girth_u95_mm, target.goal_mm
    if target.kind is TargetKind.FINISHED:
        return loop.around_mm, loop.around_u95_mm, target.length_mm
    return strand.length_mm, strand.length_u95_mm, target.goal_mm
