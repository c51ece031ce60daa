"""The trade's rules of thumb for what the thickness of beads costs, to stand beside the exact geometry."""

from dataclasses import dataclass

from sizing.base.loop import Link
from sizing.base.target import Target, TargetKind

ADD_THREE = 3  # beads that the rule adds for thickness (exactly it is about pi): common practice, no source
THIN_MM = 6.0  # the rule ignores the thickness of beads up to this size: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How many beads the rules of thumb string for a girth.

    Attributes
    ----------
    by_length : int
        The number whose length, with the findings, is nearest to girth plus ease; ignores thickness.
    add_three : int
        Three more than that.
    """

    by_length: int
    add_three: int


def rules_of_thumb(target: Target, bead: Link, *, others_mm: float = 0.0, others: int = 0) -> Rules | None:
    """Return how many beads the rules string; None for a target that is not a girth.

    Parameters
    ----------
    others_mm, others : float, int, keyword-only
        Total length and number of beads of other sizes on the same string.
    """
    if target.kind is not TargetKind.GIRTH:
        return None
    by_length = others + round((target.goal_mm - target.findings_mm - others_mm) / bead.along_mm)
    return Rules(by_length=by_length, add_three=by_length + ADD_THREE)
