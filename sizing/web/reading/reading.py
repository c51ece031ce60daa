"""The record of all that a page says and shows of one measurement."""

from collections.abc import Sequence
from dataclasses import dataclass

from sizing.report.front.front import Front
from sizing.web.reading.marks import MarkedPhoto
from sizing.web.reading.words import aloud


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What there is to say of one bead.

    Attributes
    ----------
    key : str
        As of its mark.
    title : str
    rows : sequence of (str, str)
        Names and values.
    doubts : sequence of str
        Why it is doubtful, a sentence each.
    photo : str
        Name of its photo.
    numbers : tuple of int
        Its numbers on the uncorrected photo; none for a bead that was missed.
    px : tuple of float
        (x, y) of its middle.
    is_bead : bool
        False for a stopper and the like, which is not counted.
    """

    key: str
    title: str
    rows: Sequence[tuple[str, str]]
    doubts: Sequence[str]
    photo: str
    numbers: tuple[int, ...]
    px: tuple[float, float]
    is_bead: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """A line of the table of sizes: a name with its colour, and figures."""

    name: str
    colour: str
    figures: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedRow:
    """A line of the comparison of a finished piece with its plan, in words."""

    name: str
    planned: str
    found: str
    verdict: str
    as_planned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """All that a page says and shows of one measurement.

    Attributes
    ----------
    front : Front
    outcomes : sequence of str
        What the advice comes to, and the next best ways.
    doubts : sequence of str
        Why the number of beads is not certain.
    photos : sequence of MarkedPhoto
    cards : sequence of Card
    legend : sequence of (str, str)
        What the colours mean.
    head : sequence of str
        Of the table of sizes.
    sizes : sequence of SizeRow
    compared : sequence of ComparedRow
        A finished piece and its plan.
    flagged : sequence of (str, str)
        Who carries a flag, and what it means.
    """

    front: Front
    outcomes: Sequence[str]
    doubts: Sequence[str]
    photos: Sequence[MarkedPhoto]
    cards: Sequence[Card]
    legend: Sequence[tuple[str, str]]
    head: Sequence[str] = ()
    sizes: Sequence[SizeRow] = ()
    compared: Sequence[ComparedRow] = ()
    flagged: Sequence[tuple[str, str]] = ()

    @property
    def spoken(self) -> str:
        """The advice as it is read aloud: what to check, what to do, what it comes to."""
        first = [line for line in self.front.warnings if line.startswith("Not certain")][:1]
        return aloud(" ".join([*(line.partition(":")[0] + "." for line in first), self.front.headline]))
