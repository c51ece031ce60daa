"""What a piece is made of: beads, findings and wire, and the work and money that go into it."""

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from sizing.base.loop import Link
from sizing.base.typed_mm import TypedMm
from sizing.piece.materials import density_of

TAIL_USUAL_MM = 50.8  # 2 in of wire beyond the beads at each end: common practice, no source
LOOP_USUAL_MM = 6.35  # 1/4 in at each end around the clasp's ring: common practice, no source
FRENCH_WIRE_USUAL_MM = 9.525  # 3/8 in at each end of a bracelet: common practice, no source


class Kind(StrEnum):
    """What a finding is; the value is the word in a piece file."""

    CLASP = "clasp"
    JUMP_RING = "jump ring"
    CRIMP = "crimp"
    COVER = "cover"
    FRENCH_WIRE = "french wire"
    EXTENDER = "extender"
    HEADPIN = "headpin"
    OTHER = "other"


# One at each end of the piece; of any other finding there is one.
COUNTS = {Kind.CRIMP: 2, Kind.COVER: 2, Kind.FRENCH_WIRE: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadPart:
    """One kind of bead.

    Attributes
    ----------
    along_mm, across_mm : float
        Size along the string and across it.
    name : str
    count : int
        How many of it are strung in a row.
    hole_mm : float or None
        Diameter of the drilled hole.
    material : str
        One of the materials whose density is known, or any other.
    density : float or None
        g/cm3; None to take that of the material.
    cost : float or None
        Of one bead.
    rel_u95 : float
        Relative expanded uncertainty (k = 2) of the size, which all these beads share; 0 for typed sizes.
    have : int or None
        How many of them are there, of measured beads; else None.

    Examples
    --------
    >>> bead = BeadPart(name="rock crystal", along_mm=8, across_mm=8, material="quartz")
    >>> bead.title, round(bead.mass_g, 4)
    ('rock crystal, 8 mm', 0.7104)
    """

    along_mm: float
    across_mm: float
    name: str = ""
    count: int = 1
    hole_mm: float | None = None
    material: str = ""
    density: float | None = None
    cost: float | None = None
    rel_u95: float = 0.0
    have: int | None = None

    @property
    def link(self) -> Link:
        """The bead as a part of the closed loop."""
        return Link(along_mm=self.along_mm, across_mm=self.across_mm)

    def scaled(self, factor: float) -> "BeadPart":
        """Return the bead larger or smaller by a factor."""
        return replace(self, along_mm=factor * self.along_mm, across_mm=factor * self.across_mm)

    @property
    def title(self) -> str:
        """Its name in a list, with its size."""
        long, thick = _size(self.along_mm), _size(self.across_mm)
        size = long if long == thick else f"{long} long, {thick} thick"
        if self.have is not None:
            return f"{self.name or 'bead'} (measured {size})"
        return f"{self.name}, {size}" if self.name else f"bead {size}"

    @property
    def mass_g(self) -> float | None:
        """Mass of one: a ball, or an ellipsoid, less its hole; None where the density is unknown."""
        density = self.density if self.density is not None else density_of(self.material)
        if density is None:
            return None
        solid = math.pi / 6 * self.along_mm * self.across_mm**2
        drilled = math.pi / 4 * (self.hole_mm or 0.0) ** 2 * self.along_mm
        return max(solid - drilled, 0.0) * density / 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One kind of finding.

    Attributes
    ----------
    kind : Kind
    name : str
    length_mm : float
        The length that one adds to the piece; of an extender, that of the whole chain.
    count : int
    thickness_mm : float
        How thick it is where it lies on the body.
    bore_mm : float or None
        Inside diameter of a crimp or of French wire.
    cut_mm : float or None
        Length to cut of one piece of French wire, headpin or chain; None to cut `length_mm`.
    link_mm : float or None
        Distance from one link of an extender to the next.
    cost, mass_g : float or None
        Of one.
    """

    kind: Kind
    length_mm: float
    name: str = ""
    count: int = 1
    thickness_mm: float = 0.0
    bore_mm: float | None = None
    cut_mm: float | None = None
    link_mm: float | None = None
    cost: float | None = None
    mass_g: float | None = None

    @property
    def title(self) -> str:
        """Its name in a list."""
        return self.name or self.kind.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """The wire or thread that the beads are strung on.

    Attributes
    ----------
    diameter_mm : float or None
    tail_mm : float
        Length beyond the beads at each end.
    loop_mm : float
        Length at each end around the clasp's ring.
    back_through : int
        Number of beads that each tail goes back through: common practice, no source.
    gauge : int
        American wire gauge that the diameter was given as; 0 where it was not.
    cost_per_metre : float or None
    """

    diameter_mm: float | None = None
    tail_mm: float = TAIL_USUAL_MM
    loop_mm: float = LOOP_USUAL_MM
    back_through: int = 2
    gauge: int = 0
    cost_per_metre: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """The work on one piece, and what its price leaves.

    Attributes
    ----------
    minutes : float
    rate_per_hour : float
        In the currency.
    margin : float
        Share of the price that is left after materials and labour are paid; at least 0, under 1.
    currency : str
    """

    minutes: float = 0.0
    rate_per_hour: float = 0.0
    margin: float = 0.0
    currency: str = ""


def short_titles(beads: Iterable[BeadPart]) -> dict[BeadPart, str]:
    """Return what to call each of some beads: its name, or its length along the string where it has none.

    Where beads of several sizes would be called the same, length and thickness are added as far as they tell
    them apart; a name that all have is then left out.

    Examples
    --------
    >>> blue, red = (BeadPart(name=name, along_mm=6, across_mm=6) for name in ("blue", "red"))
    >>> small, disc = (BeadPart(name="blue", along_mm=4, across_mm=across) for across in (4, 6))
    >>> list(short_titles([blue, red]).values()), list(short_titles([blue, small]).values())
    (['blue', 'red'], ['6 mm', '4 mm'])
    >>> list(short_titles([blue, red, small, disc]).values())
    ['blue 6 mm', 'red', 'blue 4 mm by 4 mm', 'blue 4 mm by 6 mm']
    """
    kinds = list(dict.fromkeys(beads))
    one_name = len({bead.name for bead in kinds}) == 1

    def ways(bead: BeadPart) -> tuple[str, str, str]:
        name, long, thick = "" if one_name else bead.name, _size(bead.along_mm), _size(bead.across_mm)
        return bead.name or long, f"{name} {long}".strip(), f"{name} {long} by {thick}".strip()

    sizes: defaultdict[str, set[Link]] = defaultdict(set)
    for bead in kinds:
        for called in ways(bead):
            sizes[called].add(bead.link)
    return {
        bead: next((called for called in ways(bead) if len(sizes[called]) == 1), ways(bead)[-1])
        for bead in kinds
    }


def _size(size_mm: float) -> str:
    """Write a size in mm; one that was typed in inches as it was typed, too."""
    size = f"{round(size_mm, 2):g} mm"
    return f"{size_mm.typed} ({size})" if isinstance(size_mm, TypedMm) and size_mm.in_inches else size


def awg_mm(gauge: int) -> float:
    """Return the diameter of a round wire by its American wire gauge number, in mm (ASTM B258).

    Examples
    --------
    >>> round(awg_mm(26), 4)
    0.4049
    """
    return 0.127 * 92.0 ** ((36 - gauge) / 39)


def added_mm(findings: tuple[Finding, ...], finding: Finding) -> float:
    """Return the length that one finding adds to the piece at its shortest, in mm.

    A crimp inside a cover adds nothing of its own, and of an extender only the first link counts.
    """
    covers = sum(other.count for other in findings if other.kind is Kind.COVER)
    if finding.kind is Kind.CRIMP and covers >= finding.count:
        return 0.0
    if finding.kind is Kind.EXTENDER:
        return min(finding.link_mm or 0.0, finding.length_mm)
    return finding.length_mm


def finding_links(findings: tuple[Finding, ...]) -> tuple[Link, ...]:
    """Return the findings as parts of the closed loop at its shortest."""
    return tuple(
        Link(along_mm=length, across_mm=finding.thickness_mm)
        for finding in findings
        if (length := added_mm(findings, finding)) > 0
        for _ in range(finding.count)
    )


def extender_mm(findings: tuple[Finding, ...]) -> float:
    """Return how much longer the piece is on an extender's last link than on its first, in mm."""
    return sum(f.count * (f.length_mm - added_mm(findings, f)) for f in findings if f.kind is Kind.EXTENDER)
