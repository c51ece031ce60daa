"""The trade's rules of thumb for the girth that thick beads take, beside the loop's own geometry."""

from dataclasses import dataclass

from sizing.base.loop import Link
from sizing.base.target import Target, TargetKind

ADD_THREE = 3  # beads to add for thickness: common practice, no source
THIN_MM = 6.0  # thickness is said not to matter up to here: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What the rules of thumb would string for a girth.

    Attributes
    ----------
    by_length : int
        Beads whose length with the findings is nearest to girth and ease: thickness ignored.
    add_three : int
        Three more.
    """

    by_length: int
    add_three: int


def rules_of_thumb(target: Target, bead: Link, *, others_mm: float = 0.0, others: int = 0) -> Rules | None:
    """Return what the rules would string; None for a target that is no girth.

    Parameters
    ----------
    others_mm, others : float, int, keyword-only
        Length and number of beads that are strung besides.
    """
    if target.kind is not TargetKind.GIRTH:
        return None
    by_length = others + round((target.goal_mm - target.findings_mm - others_mm) / bead.along_mm)
    return Rules(by_length=by_length, add_three=by_length + ADD_THREE)
