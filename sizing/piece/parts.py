"""What a piece is made of: beads, findings, wire; and the work and money that go into it."""

import math
from dataclasses import dataclass
from enum import StrEnum

from sizing.base.loop import Link

DENSITIES = {
    # g/cm3: Britannica, table of gemstones; International Gem Society, tables of specific gravity.
    "quartz": 2.65,
    "amethyst": 2.65,
    "citrine": 2.65,
    "agate": 2.60,
    "hematite": 5.2,
    "jadeite": 3.3,
    "nephrite": 3.0,
    "lapis": 2.8,
    "turquoise": 2.7,
    "amber": 1.08,
    "pearl": 2.7,
    "soda-lime glass": 2.49,
    "lead glass": 3.0,
}
TAIL_USUAL_MM = 50.8  # 2 in of wire beyond the beads at each end: common practice, no source
LOOP_USUAL_MM = 6.35  # 1/4 in at each end goes around the clasp's ring: common practice, no source
FRENCH_WIRE_USUAL_MM = 9.525  # 3/8 in at each end of a bracelet: common practice, no source


class Kind(StrEnum):
    """Kinds of findings."""

    CLASP = "clasp"
    JUMP_RING = "jump ring"
    CRIMP = "crimp"
    COVER = "cover"
    FRENCH_WIRE = "french wire"
    EXTENDER = "extender"
    HEADPIN = "headpin"
    OTHER = "other"


# One at each end of the piece.
COUNTS = {Kind.CRIMP: 2, Kind.COVER: 2, Kind.FRENCH_WIRE: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadPart:
    """One kind of bead, in the order of stringing.

    Attributes
    ----------
    along_mm, across_mm : float
        Size along the string and across it.
    name : str
    count : int
        How many follow each other.
    hole_mm : float or None
        Diameter of the drilled hole.
    material : str
    density : float or None
        g/cm3; None where unknown.
    cost : float or None
        Of one bead.
    rel_u95 : float
        Relative expanded uncertainty of `along_mm`, shared by all such beads; 0 for typed sizes.
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

    @property
    def link(self) -> Link:
        """The bead as a part of the closed chain."""
        return Link(along_mm=self.along_mm, across_mm=self.across_mm)

    @property
    def title(self) -> str:
        """What to call it in a list, its size included."""
        long, thick = (f"{round(size, 2):g}" for size in (self.along_mm, self.across_mm))
        size = f"{long} mm" if long == thick else f"{long} mm long, {thick} mm thick"
        return f"{self.name}, {size}" if self.name else f"bead {size}"

    @property
    def mass_g(self) -> float | None:
        """Mass of one solid round or ellipsoid less its hole; None where the density is unknown."""
        density = self.density if self.density is not None else DENSITIES.get(self.material)
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
        What one adds to the length of the piece; of an extender, the whole chain.
    count : int
    thickness_mm : float
        How thick it lies on the body.
    bore_mm : float or None
        Inside diameter, of a crimp or of French wire.
    cut_mm : float or None
        Length of one to cut: French wire, headpin, chain.
    link_mm : float or None
        Of an extender: from one link to the next.
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
        """What to call it in a list."""
        return self.name or self.kind.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """The wire or thread.

    Attributes
    ----------
    diameter_mm : float or None
    tail_mm : float
        Beyond the beads at each end.
    loop_mm : float
        At each end, around the clasp's ring.
    back_through : int
        Beads that each tail goes back through.
    cost_per_metre : float or None
    """

    diameter_mm: float | None = None
    tail_mm: float = TAIL_USUAL_MM
    loop_mm: float = LOOP_USUAL_MM
    back_through: int = 2
    cost_per_metre: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Labour and price.

    Attributes
    ----------
    minutes, rate_per_hour : float
    margin : float
        Share of the price that is left after materials and labour, 0 to under 1.
    currency : str
    """

    minutes: float = 0.0
    rate_per_hour: float = 0.0
    margin: float = 0.0
    currency: str = ""


def awg_mm(gauge: int) -> float:
    """Return the diameter of a round wire of an American gauge number, in mm (ASTM B258)."""
    return 0.127 * 92.0 ** ((36 - gauge) / 39)


def lying_mm(findings: tuple[Finding, ...], finding: Finding) -> float:
    """Return what one finding adds to the shortest closed piece, in mm.

    A crimp inside a cover adds nothing of its own, and of an extender only the first link is used.
    """
    covers = sum(other.count for other in findings if other.kind is Kind.COVER)
    if finding.kind is Kind.CRIMP and covers >= finding.count:
        return 0.0
    if finding.kind is Kind.EXTENDER:
        return min(finding.link_mm or 0.0, finding.length_mm)
    return finding.length_mm


def finding_links(findings: tuple[Finding, ...]) -> tuple[Link, ...]:
    """Return the findings of the shortest closed piece as parts of its chain."""
    return tuple(
        Link(along_mm=length, across_mm=finding.thickness_mm)
        for finding in findings
        if (length := lying_mm(findings, finding)) > 0
        for _ in range(finding.count)
    )


def extender_mm(findings: tuple[Finding, ...]) -> float:
    """Return how much longer the piece gets on the last link than on the first, in mm."""
    return sum(f.count * (f.length_mm - lying_mm(findings, f)) for f in findings if f.kind is Kind.EXTENDER)
