"""A finished piece, closed to a loop, compared line by line with what was planned."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sizing.base.loop import Link
from vision.common.records import Loop, Strand, StrandBead


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedBeads:
    """One size of beads of a plan: its name, its size, how many."""

    name: str
    link: Link
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What a plan says of a finished piece.

    Attributes
    ----------
    beads : tuple of PlannedBeads
        Sizes that differ; spacers may be among them.
    strung_mm, strung_u95_mm : float
        Length of the beads, and its expanded uncertainty (k = 2).
    findings_mm : float
        Length that clasp, crimps and covers add.
    inner_girth_mm, inner_girth_u95_mm : float
        Inside length.
    """

    beads: tuple[PlannedBeads, ...]
    strung_mm: float
    strung_u95_mm: float
    findings_mm: float
    inner_girth_mm: float
    inner_girth_u95_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One line of the comparison.

    Attributes
    ----------
    name : str
    planned, found : float
        Numbers of beads, or lengths in mm.
    least, most : float
        What the photo leaves open: the found value lies between these.
    counts : bool
        Whether these are numbers of beads.
    """

    name: str
    planned: float
    found: float
    least: float
    most: float
    counts: bool = False

    @property
    def as_planned(self) -> bool:
        """Whether the photo tells no difference."""
        return self.least <= self.planned <= self.most


def compare_with_plan(strand: Strand, loop: Loop, planned: Planned) -> tuple[Compared, ...]:
    """Compare a closed strand with its plan.

    A plan counts covers among its findings, so here they count with the clasp. A found bead is of the planned
    size that is nearest to it.

    Examples
    --------
    22 rounds of 8 mm with a clasp of 14 mm, where 23 and 12 mm were planned:

    >>> from tests.helpers.strands import make_loop
    >>> strand = make_loop([8.0] * 22, clasp_mm=14.0)
    >>> planned = Planned(
    ...     beads=(PlannedBeads(name="bead 8 mm", link=Link(along_mm=8, across_mm=8), count=23),),
    ...     strung_mm=184, strung_u95_mm=0, findings_mm=12, inner_girth_mm=171, inner_girth_u95_mm=0,
    ... )
    >>> lines = compare_with_plan(strand, strand.loop, planned)
    >>> [(line.name, line.planned, line.found, line.as_planned) for line in lines][:2]
    [('bead 8 mm', 23, 22, False), ('strung length', 184, 176.0, False)]
    """
    covers_mm = sum(part.along_mm for part in strand.of_kind("cover") if math.isfinite(part.along_mm))
    clasp_u95_mm = math.hypot(loop.around_u95_mm, strand.length_u95_mm)
    around_mm = planned.strung_mm + planned.findings_mm
    lengths = (
        ("strung length", planned.strung_mm, strand.length_mm - covers_mm, strand.length_u95_mm),
        ("clasp and findings", planned.findings_mm, loop.clasp_mm + covers_mm, clasp_u95_mm),
        ("all round", around_mm, loop.around_mm, loop.around_u95_mm),
        ("inside", planned.inner_girth_mm, loop.inner_girth_mm, loop.inner_girth_u95_mm),
    )
    own_u95_mm = dict.fromkeys(("strung length", "all round"), planned.strung_u95_mm)
    own_u95_mm["inside"] = planned.inner_girth_u95_mm
    return (
        *_counts(strand, planned.beads),
        *(
            Compared(name=name, planned=plan, found=found, least=found - off, most=found + off)
            for name, plan, found, u95 in lengths
            for off in [math.hypot(u95, own_u95_mm.get(name, 0.0))]
        ),
    )


def _counts(strand: Strand, planned: Sequence[PlannedBeads]) -> list[Compared]:
    """Compare how many beads there are of each planned size; what is doubted may be of any."""
    sizes = [_nearest(part, planned) for part in strand.beads if part.kind != "cover"]
    least, most = strand.counts
    return [
        Compared(
            name=size.name,
            planned=size.count,
            found=found,
            least=found + least - strand.count,
            most=found + most - strand.count,
            counts=True,
        )
        for size in planned
        for found in [sizes.count(size)]
    ]


def _nearest(part: StrandBead, planned: Sequence[PlannedBeads]) -> PlannedBeads:
    """Return the planned size from which a bead differs by the smallest factors."""

    def apart(size: PlannedBeads) -> float:
        pairs = ((part.along_mm, size.link.along_mm), (part.across_mm, size.link.across_mm))
        known = [math.log(a / b) for a, b in pairs if math.isfinite(a) and min(a, b) > 0]
        return math.hypot(*known)

    return min(planned, key=apart)
