"""A piece as its maker describes it: beads, order, findings, wire, work, and what it should come out at."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from sizing.base.target import Target, make_target
from sizing.piece.anthropometry import SEXES
from sizing.piece.parts import BeadPart, Finding, Kind, Wire, Work, finding_links
from sizing.piece.stringing import Layout

TARGET_KEYS = ("strung", "finished", "wrist", "ankle", "neck")
SPARE_USUAL = 0.05  # broken and ill-drilled beads: common practice, no source


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
    layout : Layout
    findings : tuple of Finding or None
        None: nobody said, an inch is assumed.
    wire : Wire
    work : Work
    spare : float
        Share of beads to buy beyond those strung.
    sizes : str
        The size run as typed; empty for none.
    """

    beads: tuple[BeadPart, ...] = ()
    name: str = ""
    target_mm: Mapping[str, float] = field(default_factory=dict)
    ease_mm: float | None = None
    layout: Layout = field(default_factory=Layout)
    findings: tuple[Finding, ...] | None = None
    wire: Wire = field(default_factory=Wire)
    work: Work = field(default_factory=Work)
    spare: float = SPARE_USUAL
    sizes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A target as far as it was typed; what was not comes from a piece or is usual.

    Attributes
    ----------
    target_mm : mapping
        The target's length by its name; empty where none was typed.
    ease_mm, findings_mm : float or None
    """

    target_mm: Mapping[str, float] = field(default_factory=dict)
    ease_mm: float | None = None
    findings_mm: float | None = None


def with_wish(piece: Piece, wish: Wish) -> Piece:
    """Return a piece with what was typed in place of what it says."""
    target_mm = wish.target_mm or piece.target_mm
    # A piece's ease and its sizes of people are for a girth; they have no say in a length typed instead.
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
        findings=findings,
        sizes=sizes,
    )


def target_from_piece(piece: Piece) -> Target | None:
    """Return the target of a piece; None where it names none.

    Raises
    ------
    TargetError
        What the piece says does not add up.
    """
    links = None if piece.findings is None else finding_links(piece.findings)
    return make_target(piece.target_mm, ease_mm=piece.ease_mm, findings=links)
