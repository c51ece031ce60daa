"""What a piece should come out at: a strung length, a finished length, or a girth it closes on."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from sizing.base.errors import TargetError
from sizing.base.loop import Link, inner_girth
from sizing.base.units import format_length

FINDINGS_USUAL_MM = 25.4  # an inch of a bracelet is clasp, French wire and covers: common practice, no source
# How much wider than the bare girth the inside of the closed piece is asked to be: common practice, no
# source. Measured inside the loop, not along the string: with 4 mm beads, whose thickness takes half an inch
# of the length, these are the half inch to one inch over the wrist that the trade adds to a finished length.
EASE_MM = {"wrist": (0.0, 6.35, 12.7), "ankle": (0.0, 6.35, 12.7), "neck": (0.0, 12.7, math.inf)}
"""Snug, usual and loose ease inside the closed piece, by part of the body; a necklace may hang."""

_CLOSES_MM = 0.1  # no tape is read finer


class TargetKind(StrEnum):
    """What is given."""

    STRUNG = "strung length"
    FINISHED = "finished length"
    GIRTH = "girth"


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What a piece should come out at.

    Attributes
    ----------
    kind : TargetKind
    length_mm : float
        The strung length, the finished length, or the bare girth.
    findings : tuple of Link
        What lies between the last bead and the first in the closed piece, at its shortest.
    findings_assumed, ease_assumed : bool
        Nobody said; the usual value was taken.
    ease_mm : float
        For a girth: how much wider the inside of the closed piece should be.
    body : str
        For a girth: `wrist`, `ankle` or `neck`.
    """

    kind: TargetKind
    length_mm: float
    findings: tuple[Link, ...] = (Link(along_mm=FINDINGS_USUAL_MM),)
    findings_assumed: bool = True
    ease_mm: float = 0.0
    ease_assumed: bool = False
    body: str = ""

    def __post_init__(self) -> None:
        if self.kind is TargetKind.FINISHED and self.length_mm <= self.findings_mm:
            raise TargetError(
                f"a finished length of {format_length(self.length_mm)} leaves no room for beads: "
                f"the findings take {format_length(self.findings_mm)}; give a longer one, or --findings"
            )

    @property
    def findings_mm(self) -> float:
        """Length of all findings along the piece."""
        return sum(link.along_mm for link in self.findings)

    @property
    def goal_mm(self) -> float:
        """What `reached_mm` should come to: a strung length, or for a girth an inner girth."""
        if self.kind is TargetKind.FINISHED:
            return self.length_mm - self.findings_mm
        return self.length_mm + self.ease_mm

    def reached_mm(self, beads: Sequence[Link]) -> float:
        """Return what beads come to, measured as the target is, in mm."""
        if self.kind is TargetKind.GIRTH:
            return inner_girth([*beads, *self.findings])
        return sum(bead.along_mm for bead in beads)

    def too_tight(self, inner_girth_mm: float) -> bool:
        """Tell whether a closed piece is tighter inside than the bare girth; never, where none is given."""
        return self.kind is TargetKind.GIRTH and inner_girth_mm < self.length_mm - _CLOSES_MM

    def describe(self) -> str:
        """Return the target in words, as `finished length 250.0 mm (9 13/16 in)`."""
        if self.kind is TargetKind.GIRTH:
            ease = f" with {format_length(self.ease_mm)} of ease" if self.ease_mm else ""
            return f"{self.body} {format_length(self.length_mm)}{ease}"
        return f"{self.kind} {format_length(self.length_mm)}"


def make_target(
    given_mm: Mapping[str, float],
    *,
    ease_mm: float | None = None,
    findings: Sequence[Link] | None = None,
) -> Target | None:
    """Make the one target that somebody gave; None where nobody gave one.

    Parameters
    ----------
    given_mm : mapping
        Lengths by name: `strung`, `finished`, `wrist`, `ankle` or `neck`.
    ease_mm : float, optional, keyword-only
        For a girth; the usual one of `EASE_MM` where None.
    findings : sequence of Link, optional, keyword-only
        An inch (`FINDINGS_USUAL_MM`) where None; those without length are left out.

    Raises
    ------
    TargetError
        Two targets at once, ease without a girth, or no room for beads.
    """
    if len(given_mm) > 1:
        raise TargetError(f"{' and '.join(given_mm)} are different targets: give one of them")
    body = next((name for name in given_mm if name in EASE_MM), "")
    if ease_mm is not None and not body:
        raise TargetError("ease belongs to a girth: give a wrist, an ankle or a neck with it")
    if not given_mm:
        return None
    [(name, length_mm)] = given_mm.items()
    usual_ease_mm = EASE_MM[body][1] if body else 0.0
    usual_findings = (Link(along_mm=FINDINGS_USUAL_MM),)
    return Target(
        kind=TargetKind.GIRTH if body else TargetKind(f"{name} length"),
        length_mm=length_mm,
        findings=usual_findings if findings is None else tuple(link for link in findings if link.along_mm),
        findings_assumed=findings is None,
        ease_mm=usual_ease_mm if ease_mm is None else ease_mm,
        ease_assumed=bool(body) and ease_mm is None,
        body=body,
    )
