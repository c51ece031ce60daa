"""Checks that the wire fits through beads, crimps and French wire, and that its tails are long enough.

Two passes of a round wire lie side by side in a round hole, so they need twice its diameter. Only
dimensions in length units count: the numbers of crimp sizes mean something else with every maker.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from sizing.base.units import format_length, format_mm
from sizing.piece.fit import Fit
from sizing.piece.parts import Kind
from sizing.piece.piece import Piece

_PASSES = {Kind.CRIMP: 2, Kind.FRENCH_WIRE: 1}  # a crimp holds wire and tail: common practice, no source
_GRIP_MM = 10.0  # to hold the tail while the crimp is closed: common practice, no source
# Sizes are nominal: a wire exactly half as thick as a hole is sold to go through it twice.
_EQUAL_MM = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """Whether one thing fits through another, or a tail is long enough.

    Attributes
    ----------
    name : str
    needs_mm, has_mm : float or None
        The diameter (of a tail: the length) that is needed, and the one there is.
    fits : bool or None
        None where a dimension is not known.
    sentence : str
    """

    name: str
    needs_mm: float | None
    has_mm: float | None
    fits: bool | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opening:
    """What the wire goes through, and how often.

    Attributes
    ----------
    name : str
    what : str
        What to call its width.
    width_mm : float or None
    passes : int
        1 or 2.
    """

    name: str
    what: str
    width_mm: float | None
    passes: int


def clearances(piece: Piece, fit: Fit) -> tuple[Clearance, ...]:
    """Check everything that the wire must go through, and that its tails are long enough.

    Examples
    --------
    The wire goes back through the end beads, so a 0.5 mm wire needs 1 mm there:

    >>> from sizing.piece.parts import BeadPart, Wire
    >>> from sizing.piece.plan import make_plan
    >>> bead = BeadPart(along_mm=8, across_mm=8, hole_mm=0.9)
    >>> piece = Piece(beads=(bead,), target_mm={"strung": 200}, wire=Wire(diameter_mm=0.5))
    >>> hole, tail = make_plan(piece).clearances
    >>> hole.needs_mm, hole.fits, tail.fits
    (1.0, False, True)
    """
    through = [_through(opening, piece.wire.diameter_mm) for opening in _openings(piece, fit)]
    return (*through, _tail(piece, fit))


def _openings(piece: Piece, fit: Fit) -> Iterator[_Opening]:
    """Yield the holes of beads, of which the end ones take two passes, and those of findings."""
    back = piece.wire.back_through
    twice = {*fit.sequence[:back], *fit.sequence[max(fit.count - back, 0) :]}
    for bead, _ in fit.tally:
        yield _Opening(name=bead.title, what="hole", width_mm=bead.hole_mm, passes=2 if bead in twice else 1)
    for finding in piece.findings or ():
        if finding.kind in _PASSES:
            yield _Opening(
                name=finding.title,
                what="inside diameter",
                width_mm=finding.bore_mm,
                passes=_PASSES[finding.kind],
            )


def _through(opening: _Opening, wire_mm: float | None) -> Clearance:
    needs_mm = None if wire_mm is None else opening.passes * wire_mm
    fits, verdict = _verdict(opening, needs_mm)
    times = "once" if opening.passes == 1 else "twice"
    return Clearance(
        name=opening.name,
        needs_mm=needs_mm,
        has_mm=opening.width_mm,
        fits=fits,
        sentence=f"{opening.name}: the wire goes through {times}{verdict}",
    )


def _verdict(opening: _Opening, needs_mm: float | None) -> tuple[bool | None, str]:
    """Return whether the wire fits, None where that is not known, and the end of the sentence about it."""
    if needs_mm is None or opening.width_mm is None:
        wire = ["the wire's diameter"] if needs_mm is None else []
        width = [f"its {opening.what}"] if opening.width_mm is None else []
        return None, f"; not checked, {' and '.join([*wire, *width])} not given"
    fits = needs_mm <= opening.width_mm + _EQUAL_MM
    needed, there = (format_mm(width_mm, decimals=2) for width_mm in (needs_mm, opening.width_mm))
    verdict = "fits" if fits else "does not fit"
    return fits, f": {verdict} (needs {needed}, the {opening.what} is {there})"


def _tail(piece: Piece, fit: Fit) -> Clearance:
    """Check that a tail reaches back through the crimp and its beads and can still be held."""
    back = piece.wire.back_through
    crimp_mm = max((f.length_mm for f in piece.findings or () if f.kind is Kind.CRIMP), default=0.0)
    ends = (fit.sequence[:back], fit.sequence[max(fit.count - back, 0) :])
    needs_mm = max(sum(bead.along_mm for bead in end) for end in ends) + crimp_mm + _GRIP_MM
    has_mm = piece.wire.tail_mm
    fits = needs_mm <= has_mm
    verdict = "long enough" if fits else "too short"
    beads = f"{back} bead{'' if back == 1 else 's'}"
    return Clearance(
        name="tail",
        needs_mm=needs_mm,
        has_mm=has_mm,
        fits=fits,
        sentence=(
            f"tail: back through {beads} with {format_length(_GRIP_MM)} to hold it takes "
            f"{format_length(needs_mm)}; {format_length(has_mm)} is {verdict}"
        ),
    )
