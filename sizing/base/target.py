"""What a piece should come out at: a strung length, a finished length, or a girth that it closes around."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from sizing.base.errors import TargetError
from sizing.base.loop import Link, inner_girth
from sizing.base.units import format_length, parse_length

FINDINGS_USUAL_MM = 25.4  # an inch of a bracelet is clasp, French wire and covers: common practice, no source
# Ease is how much the inside of the closed piece exceeds the body's bare girth. The trade adds half an inch
# (snug) to an inch (comfortable) to the wrist for the finished length (several trade pages; common practice).
# The thickness of 4 mm beads takes half an inch (pi d) of that, which leaves these values inside the loop.
EASE_MM = {"wrist": (0.0, 6.35, 12.7), "ankle": (0.0, 6.35, 12.7), "neck": (0.0, 12.7, math.inf)}
"""Snug, usual and loose ease by part of the body; a necklace may hang as low as it likes."""

TOUCHING = "touching"
"""A step typed so leaves no room between the strands: their beads' widths decide."""

_TAPE_MM = 0.1  # no tape is read finer, so a piece within this of the bare girth is not called too tight


class TargetKind(StrEnum):
    """Which length is given."""

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
        The strung length, the finished length, or the bare girth of the body.
    findings : tuple of Link
        What lies between the last bead and the first in the closed piece, at its shortest.
    findings_assumed, ease_assumed : bool
        Whether the usual value was taken because none was given.
    ease_mm : float
        For a girth: by how much the inside of the closed piece should exceed it.
    body : str
        For a girth: `wrist`, `ankle` or `neck`.
    step_mm : float or None
        Of several strands: by how much each is longer than the one that it lies around, as `parse_step` reads
        it. None where they lie side by side, all of one length.
    around : int
        Number of the strand that this one lies around; 0 for none.
    longer_mm, longer_u95_mm : float
        What lies inside makes the strand, or for a girth its inside, longer by so much.

    Raises
    ------
    TargetError
        The findings leave no room for beads.

    Examples
    --------
    A 16 in necklace with a clasp of 3/4 in takes 15 1/4 in of beads:

    >>> clasp = Link(along_mm=0.75 * 25.4)
    >>> target = Target(kind=TargetKind.FINISHED, length_mm=16 * 25.4, findings=(clasp,))
    >>> round(target.goal_mm / 25.4, 2)
    15.25
    """

    kind: TargetKind
    length_mm: float
    findings: tuple[Link, ...] = (Link(along_mm=FINDINGS_USUAL_MM),)
    findings_assumed: bool = True
    ease_mm: float = 0.0
    ease_assumed: bool = False
    body: str = ""
    step_mm: float | None = None
    around: int = 0
    longer_mm: float = 0.0
    longer_u95_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.kind is TargetKind.FINISHED and self.length_mm <= self.findings_mm:
            raise TargetError(
                f"a finished length of {format_length(self.length_mm)} leaves no room for beads: "
                f"the findings take {format_length(self.findings_mm)}, give a longer one or shorter findings"
            )

    @property
    def findings_mm(self) -> float:
        """Total length of the findings along the piece."""
        return sum(link.along_mm for link in self.findings)

    @property
    def goal_mm(self) -> float:
        """The value that `reached_mm` should have: a strung length, or for a girth an inner girth."""
        if self.kind is TargetKind.FINISHED:
            return self.aim_mm - self.findings_mm
        return self.aim_mm

    @property
    def aim_mm(self) -> float:
        """What should come out: a strung length, a finished length, or for a girth an inner girth."""
        return self.length_mm + self.ease_mm + self.longer_mm

    def reached_mm(self, beads: Sequence[Link]) -> float:
        """Return the strung length of beads, or for a girth the inner girth of the closed piece, in mm."""
        if self.kind is TargetKind.GIRTH:
            return inner_girth([*beads, *self.findings])
        return sum(bead.along_mm for bead in beads)

    def too_tight(self, inner_girth_mm: float) -> bool:
        """Return whether a closed piece is tighter inside than the bare girth; False if none is given."""
        bare = self.kind is TargetKind.GIRTH and not self.around
        return bare and inner_girth_mm < self.length_mm - _TAPE_MM

    def describe(self) -> str:
        """Return the target in words.

        Examples
        --------
        >>> Target(kind=TargetKind.FINISHED, length_mm=250).describe()
        'finished length 250.0 mm (9 13/16 in)'
        """
        if self.kind is TargetKind.GIRTH:
            loose = f", worn {format_length(self.ease_mm)} loose" if self.ease_mm else ""
            return f"{self.body} {format_length(self.length_mm)}{loose}"
        return f"{self.kind} {format_length(self.length_mm)}"


def parse_step(text: str) -> float:
    """Read by how much each strand is to be longer than the one that it lies around, in mm; 0 for `touching`.

    Raises
    ------
    ValueError
        It is neither a length nor that word.

    Examples
    --------
    >>> parse_step("1/2 in"), parse_step("touching")
    (12.7, 0.0)
    """
    if text.strip().lower() == TOUCHING:
        return 0.0
    try:
        return parse_length(text)
    except ValueError as error:
        raise ValueError(f"{error}, or {TOUCHING}") from error


def make_target(
    given_mm: Mapping[str, float],
    *,
    ease_mm: float | None = None,
    findings: Sequence[Link] | None = None,
) -> Target | None:
    """Make a target from what was given; None if no target was.

    Parameters
    ----------
    given_mm : mapping
        At most one length by its name: `strung`, `finished`, `wrist`, `ankle` or `neck`.
    ease_mm : float, optional, keyword-only
        For a girth; None for the usual one of `EASE_MM`.
    findings : sequence of Link, optional, keyword-only
        None for an inch (`FINDINGS_USUAL_MM`); those without length are left out.

    Raises
    ------
    TargetError
        Two targets are given, ease is given without a girth, or there is no room for beads.

    Examples
    --------
    >>> target = make_target({"wrist": 165.1})
    >>> target.describe()
    'wrist 165.1 mm (6 1/2 in), worn 6.4 mm (1/4 in) loose'
    """
    if len(given_mm) > 1:
        raise TargetError(f"{' and '.join(given_mm)} are different targets: give only one of them")
    name, length_mm = next(iter(given_mm.items()), ("", 0.0))
    is_girth = name in EASE_MM
    if ease_mm is not None and not is_girth:
        raise TargetError("ease was given without a body size: add a wrist, ankle or neck size")
    if not name:
        return None
    usual_ease_mm = EASE_MM[name][1] if is_girth else 0.0
    usual_findings = (Link(along_mm=FINDINGS_USUAL_MM),)
    return Target(
        kind=TargetKind.GIRTH if is_girth else TargetKind(f"{name} length"),
        length_mm=length_mm,
        findings=usual_findings if findings is None else tuple(link for link in findings if link.along_mm),
        findings_assumed=findings is None,
        ease_mm=usual_ease_mm if ease_mm is None else ease_mm,
        ease_assumed=is_girth and ease_mm is None,
        body=name if is_girth else "",
    )
