"""A lot checked against its label as JSON and CSV."""

from dataclasses import dataclass

from sizing.lot.conformity import (
    CONFIDENCE,
    CONFORMING,
    NOT_CONFORMING,
    UNDECIDED,
    Axis,
    Conformity,
    Decision,
)
from sizing.lot.label import StatedSize
from sizing.report.records.corrections import corrections
from sizing.report.records.field import Field, Fields, Record, record, row, within
from sizing.report.records.head import head
from sizing.report.records.loose_bead import LOOSE_BEAD, ROUNDNESS, SizedBead, key, sized_beads
from sizing.report.records.lot import LOT
from sizing.report.records.photo import left_out, photos, warnings
from sizing.report.sentences.check import CheckedLot, check_headline, check_notes
from vision.common.records import Lot


@dataclass(frozen=True, slots=True, kw_only=True)
class _CheckedBead:
    sized: SizedBead
    decision: Decision | None


BEAD: Fields[_CheckedBead] = (
    *within(lambda bead: bead.sized, LOOSE_BEAD),
    Field(
        name="decision",
        meaning="whether the bead is what the label says: `conforming`, `not conforming` or `undecided`",
        csv="column",
    ),
    *within(lambda bead: bead.sized, ROUNDNESS),
)

STATED: Fields[StatedSize] = (
    Field(name="nominal_mm", meaning="the size on the label; the middle of a range"),
    Field(name="low_mm", meaning="smallest and largest size that the label allows"),
    Field(name="high_mm"),
)

SHARE: Fields[tuple[float, float]] = (
    Field(
        name="low",
        meaning="limits of that share (exact binomial interval)",
        unit="1 is all",
        take=lambda share: share[0],
    ),
    Field(name="high", unit="1 is all", take=lambda share: share[1]),
    Field(name="confidence", meaning="how certain it lies between them: 0.95", take=lambda _: CONFIDENCE),
)

AXIS: Fields[Axis] = (
    Field(name="dimension", meaning="which size of the beads: `width` or `length`"),
    Field(name="nominal_mm", meaning="what the label says", take=lambda axis: axis.stated.nominal_mm),
    Field(name="mean_mm", meaning="mean of the beads", take=lambda axis: axis.mean.mm),
    Field(name="mean_u95_mm", take=lambda axis: axis.mean.u95_mm),
    Field(name="sd_mm", meaning="standard deviation of the beads", take=lambda axis: axis.mean.sd_mm),
    Field(
        name="relative_difference",
        meaning="by what part of the label's size the mean is larger (+) or smaller (-)",
        unit="0.02 is 2 %",
    ),
)

LABEL: Fields[CheckedLot] = (
    Field(name="text", meaning="the label as typed", take=lambda checked: checked.label.text),
    Field(
        name="kind",
        meaning="`size` (8mm), `class` (7.0-7.5mm), `pair` (6x4mm) or `numbered` (11/0)",
        take=lambda checked: checked.label.kind,
    ),
    Field(
        name="stated",
        meaning="the sizes that the label states, the larger one of a pair first",
        take=lambda checked: checked.label.stated,
        fields=STATED,
        many=True,
    ),
    Field(name="basis", meaning="where the limits come from", take=lambda checked: checked.label.basis),
    Field(
        name="reading",
        meaning="which sizes of the beads it was compared with",
        take=lambda checked: checked.conformity.reading,
    ),
    Field(
        name="decision",
        meaning="`conforming` where every bead is, `not conforming` where any bead is not, else `undecided`",
        take=lambda checked: checked.conformity.decision,
    ),
    Field(
        name="conforming",
        meaning="number of beads decided so",
        take=lambda checked: checked.conformity.count(CONFORMING),
    ),
    Field(name="not_conforming", take=lambda checked: checked.conformity.count(NOT_CONFORMING)),
    Field(name="undecided", take=lambda checked: checked.conformity.count(UNDECIDED)),
    Field(
        name="share_outside",
        meaning="what share of the stock is not conforming, if these beads are a random handful of it",
        take=lambda checked: checked.conformity.share_outside,
        fields=SHARE,
    ),
    Field(
        name="axes",
        meaning="each size of the label beside the beads",
        take=lambda checked: checked.conformity.axes,
        fields=AXIS,
        many=True,
    ),
    Field(name="sentence", meaning="the verdict in one sentence", take=check_headline),
    Field(name="notes", meaning="what to know about it, a sentence each", take=check_notes),
)

DOCUMENT: Fields[CheckedLot] = (
    *head("lot"),
    warnings(lambda checked: checked.lot.conditions),
    corrections(lambda checked: checked.lot.corrections),
    Field(
        name="beads",
        meaning="the beads, photo by photo",
        take=lambda checked: _beads(checked.lot, checked.conformity),
        fields=BEAD,
        many=True,
    ),
    Field(name="lot", meaning="the lot as a whole", fields=LOT),
    *photos(lambda checked: checked.lot.conditions),
    left_out(lambda checked: checked.lot.left_out),
    Field(
        name="label",
        meaning="how the label was read, and whether the beads are what it says",
        take=lambda checked: checked,
        fields=LABEL,
    ),
)


def check_record(checked: CheckedLot) -> Record:
    """Return a lot checked against its label as a JSON object."""
    return record(DOCUMENT, checked)


def check_rows(checked: CheckedLot) -> list[Record]:
    """Return a checked lot's beads, photo by photo, as rows of a CSV table."""
    return [row(BEAD, bead) for bead in _beads(checked.lot, checked.conformity)]


def _beads(lot: Lot, conformity: Conformity) -> list[_CheckedBead]:
    decision_of = dict(zip(map(key, conformity.beads), conformity.decisions, strict=True))
    return [
        _CheckedBead(sized=sized, decision=decision_of.get(key(sized.bead))) for sized in sized_beads(lot)
    ]
