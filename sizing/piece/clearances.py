"""Does it go through: wire through beads, crimps and French wire, and tails through the end beads.

Two round passes lie side by side in a round bore, so they need twice their diameter. Only real
dimensions count: numbered crimp sizes are each maker's own.
"""

from dataclasses import dataclass

from sizing.base.units import format_mm
from sizing.piece.fit import Fit
from sizing.piece.parts import Kind
from sizing.piece.piece import Piece

_PASSES = {Kind.CRIMP: 2, Kind.FRENCH_WIRE: 1}
_GRIP_MM = 10.0  # to hold the tail while the crimp is closed: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """One thing that must go through another.

    Attributes
    ----------
    name : str
    needs_mm : float or None
    has_mm : float or None
    fits : bool or None
        None where a dimension is not known.
    sentence : str
    """

    name: str
    needs_mm: float | None
    has_mm: float | None
    fits: bool | None
    sentence: str


def clearances(piece: Piece, fit: Fit) -> tuple[Clearance, ...]:
    """Check everything that the wire must go through, and that its tails are long enough."""
    end_beads = piece.wire.back_through
    sequence = fit.sequence
    twice = {*sequence[:end_beads], *sequence[max(len(sequence) - end_beads, 0) :]}
    bores = [
        _bore(bead.title, bead.hole_mm, "hole", 2 if bead in twice else 1, piece) for bead, _ in fit.tally
    ]
    bores += [
        _bore(finding.title, finding.bore_mm, "bore", _PASSES[finding.kind], piece)
        for finding in piece.findings or ()
        if finding.kind in _PASSES
    ]
    return (*bores, _tail(piece, fit))


def _bore(name: str, has_mm: float | None, opening: str, passes: int, piece: Piece) -> Clearance:
    wire_mm = piece.wire.diameter_mm
    needs_mm = None if wire_mm is None else passes * wire_mm
    times = "once" if passes == 1 else "twice"
    if needs_mm is None or has_mm is None:
        missing = " and ".join(
            what
            for what, value in (("the wire's diameter", wire_mm), (f"its {opening}", has_mm))
            if value is None
        )
        return Clearance(
            name=name,
            needs_mm=needs_mm,
            has_mm=has_mm,
            fits=None,
            sentence=f"{name}: the wire goes through {times}; not checked, {missing} not given",
        )
    # Nominal sizes: a wire exactly as thick as half the bore is sold to go through twice.
    fits = needs_mm <= has_mm + 1e-9
    sizes = f"needs {format_mm(needs_mm, decimals=2)}, the {opening} is {format_mm(has_mm, decimals=2)}"
    verdict = "fits" if fits else "does not fit"
    return Clearance(
        name=name,
        needs_mm=needs_mm,
        has_mm=has_mm,
        fits=fits,
        sentence=f"{name}: the wire goes through {times}: {verdict} ({sizes})",
    )


def _tail(piece: Piece, fit: Fit) -> Clearance:
    """Check that a tail reaches back through the crimp and its beads and can still be held."""
    back = piece.wire.back_through
    crimps_mm = max(
        (f.length_mm for f in piece.findings or () if f.kind is Kind.CRIMP),
        default=0.0,
    )
    ends = (fit.sequence[:back], fit.sequence[max(fit.count - back, 0) :])
    needs_mm = max(sum(bead.along_mm for bead in end) for end in ends) + crimps_mm + _GRIP_MM
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
            f"tail: back through {beads} with {format_mm(_GRIP_MM)} to hold it takes {format_mm(needs_mm)}; "
            f"{format_mm(has_mm)} is {verdict}"
        ),
    )
