"""A piece as its maker describes it: beads, their order, findings, wire, work and target."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from sizing.base.errors import TargetError
from sizing.base.target import Target, TargetKind, make_target
from sizing.base.units import format_length, printed_as
from sizing.piece.anthropometry import PERCENTS, SEXES, girth_at
from sizing.piece.parts import BeadPart, Finding, Kind, Wire, Work, finding_links
from sizing.piece.stringing import Layout

TARGET_KEYS = ("strung", "finished", "wrist", "ankle", "neck")
# Of the smallest and the largest usual size: a baby's wrist is half as large as a small woman's, and few
# people's is half as large again as a large man's (common practice, no source).
_LEAST_SHARE, _MOST_SHARE = 0.4, 1.6
SPARE_USUAL = 0.05  # for broken and badly drilled beads: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece as its maker describes it.

    Attributes
    ----------
    beads : tuple of BeadPart
        One repeat in order of stringing, or the sizes of a graduated strand.
    name : str
    target_mm : mapping
        The target's length by its name (`TARGET_KEYS`); empty where none is given.
    ease_mm : float or None
        By how much the inside should exceed a wrist, an ankle or a neck; None for the usual.
    step_mm : float or None
        Of several strands: how much longer each is than the one inside it (`Target.step_mm`); None where they
        lie side by side.
    layout : Layout
    findings : tuple of Finding or None
        None where they are not known; then an inch is assumed.
    wire : Wire
    work : Work
    spare : float
        Beads to buy beyond those strung, as a share of them.
    sizes : str
        Further sizes to plan, as typed; empty for none.
    remarks : tuple of str
        What to know about measured beads, a sentence each.

    Examples
    --------
    >>> bead = BeadPart(along_mm=6, across_mm=6)
    >>> piece = Piece(beads=(bead,), target_mm={"finished": 406.4})
    >>> target_from_piece(piece).goal_mm  # an inch of it is taken for the findings
    381.0
    """

    beads: tuple[BeadPart, ...] = ()
    name: str = ""
    target_mm: Mapping[str, float] = field(default_factory=dict)
    ease_mm: float | None = None
    step_mm: float | None = None
    layout: Layout = field(default_factory=Layout)
    findings: tuple[Finding, ...] | None = None
    wire: Wire = field(default_factory=Wire)
    work: Work = field(default_factory=Work)
    spare: float = SPARE_USUAL
    sizes: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """The target as typed on the command line; the piece fills in what was not typed.

    Attributes
    ----------
    target_mm : mapping
        The target's length by its name; empty where none was typed.
    ease_mm, findings_mm, step_mm : float or None
        None where not typed.
    """

    target_mm: Mapping[str, float] = field(default_factory=dict)
    ease_mm: float | None = None
    findings_mm: float | None = None
    step_mm: float | None = None


def with_wish(piece: Piece, wish: Wish) -> Piece:
    """Return a piece in which what was typed replaces what the piece says."""
    target_mm = wish.target_mm or piece.target_mm
    # A piece's ease and sizes of people belong to a girth, so a length that is typed instead drops them.
    is_girth = not target_mm.keys() & {"strung", "finished"}
    ease_mm = piece.ease_mm if is_girth else None
    sizes = piece.sizes if is_girth or piece.sizes not in SEXES or not wish.target_mm else ""
    findings = piece.findings
    if wish.findings_mm is not None:
        findings = (Finding(kind=Kind.OTHER, name="findings", length_mm=wish.findings_mm),)
    return replace(
        piece,
        target_mm=target_mm,
        ease_mm=ease_mm if wish.ease_mm is None else wish.ease_mm,
        step_mm=piece.step_mm if wish.step_mm is None else wish.step_mm,
        findings=findings,
        sizes=sizes,
    )


def target_from_piece(piece: Piece) -> Target | None:
    """Return the target of a piece; None where it names none.

    Raises
    ------
    TargetError
        The target contradicts itself, or leaves no room for beads.
    """
    links = None if piece.findings is None else finding_links(piece.findings)
    with printed_as(next(iter(piece.target_mm.values()), None)):
        target = make_target(piece.target_mm, ease_mm=piece.ease_mm, findings=links)
        if target is None:
            return None
        check_target(target)
    return replace(target, step_mm=piece.step_mm)


def check_target(target: Target) -> None:
    """Refuse a wrist, an ankle or a neck that nobody has, or that the findings alone go around.

    Raises
    ------
    TargetError
    """
    if target.kind is not TargetKind.GIRTH:
        return
    body = f"{target.body} size {format_length(target.length_mm)}"
    sizes = [girth_at(target.body, sex, percent=percent) for sex in SEXES for percent in PERCENTS]
    least_mm, most_mm = _LEAST_SHARE * min(sizes), _MOST_SHARE * max(sizes)
    if not least_mm <= target.length_mm <= most_mm:
        raise TargetError(
            f"the {body} is not between {format_length(least_mm)} and {format_length(most_mm)}: check its "
            "unit, or give the length of the piece with --finished"
        )
    if target.findings_mm >= target.goal_mm:
        raise TargetError(
            f"the findings take {format_length(target.findings_mm)}, which leaves no room for beads at the "
            f"{body}: give shorter findings"
        )
