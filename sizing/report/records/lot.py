"""A sorted lot as JSON and CSV."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from sizing.base.target import Target
from sizing.lot.classes import Heap
from sizing.lot.picks import GraduatedRun, MatchedPair, Picks, UniformPick
from sizing.lot.sizes import Mean
from sizing.lot.sorting import SortedLot
from sizing.lot.tally import Tally
from sizing.report.records.corrections import corrections
from sizing.report.records.field import Field, Fields, Record, record, row, within
from sizing.report.records.head import head
from sizing.report.records.loose_bead import LOOSE_BEAD, ROUNDNESS, SizedBead, key, sized_beads
from sizing.report.records.photo import left_out, photos, warnings
from sizing.report.records.strand import OTHER
from sizing.report.sentences.lot import lot_headline, lot_notes
from vision.common.records import LooseBead, Lot, Other


@dataclass(frozen=True, slots=True, kw_only=True)
class _Result:
    sorted: SortedLot
    picks: Picks


@dataclass(frozen=True, slots=True, kw_only=True)
class _SortedBead:
    sized: SizedBead
    name: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Class:
    heap: Heap
    tally: Tally


@dataclass(frozen=True, slots=True, kw_only=True)
class _Picked:
    """A pick with its beads in place of their positions."""

    beads: tuple[LooseBead, ...]
    pick: MatchedPair | UniformPick | GraduatedRun


BEAD: Fields[_SortedBead] = (
    *within(lambda bead: bead.sized, LOOSE_BEAD),
    Field(
        name="class",
        meaning="the size that the bead was sorted into, as in `lot.classes[].name`",
        take=lambda bead: bead.name,
        csv="column",
    ),
    *within(lambda bead: bead.sized, ROUNDNESS),
)

REFERENCE: Fields[LooseBead] = (
    Field(name="photo", meaning="the bead's photo and number"),
    Field(name="number"),
)

LOT: Fields[Lot] = (
    Field(name="count", meaning="number of beads", take=lambda lot: len(lot.beads)),
    Field(name="flat", meaning="true where the beads were measured as flat pieces, not as rounds"),
    Field(
        name="flags",
        meaning="flags of the lot as a whole; with `unsure-count` its number of beads is not certain",
    ),
)

OTHER_THING: Fields[Other] = (Field(name="photo", meaning="the photo that it is on"), *OTHER)

TARGET: Fields[Target] = (
    Field(
        name="kind",
        meaning="`strung length`, `finished length`, or `girth` for a wrist, an ankle or a neck",
    ),
    Field(name="length_mm", meaning="the length that was asked for, or the bare wrist, ankle or neck"),
)


def mean_fields(name: str) -> Fields[Mean]:
    """Return the fields of a mean, named after what it is the mean of."""
    return (
        Field(name=f"{name}_mean_mm", meaning=f"mean {name}", take=lambda mean: mean.mm),
        Field(name=f"{name}_mean_u95_mm", take=lambda mean: mean.u95_mm),
        Field(
            name=f"{name}_sd_mm", meaning=f"standard deviation of the {name}s", take=lambda mean: mean.sd_mm
        ),
    )


TALLY: Fields[Tally] = (
    Field(name="count", meaning="number of beads", take=lambda tally: len(tally.beads)),
    *within(lambda tally: tally.width, mean_fields("width")),
    *within(lambda tally: tally.length, mean_fields("length")),
    Field(
        name="strung_mm",
        meaning="strung length: of rounds by the mean of width and length, of longer beads side by side",
    ),
    Field(name="strung_u95_mm"),
    Field(name="strung_long_mm", meaning="strung length with longer ones end to end"),
    Field(
        name="share",
        meaning="what part of the target (without one: of a 16 in strand) these beads fill",
        unit="1 is all",
    ),
    Field(name="beads", meaning="which beads these are", fields=REFERENCE, many=True),
)

CLASS: Fields[_Class] = (
    Field(name="name", meaning="name of the size", take=lambda each: each.heap.name),
    Field(
        name="low_mm",
        meaning="limits of the size, the upper one not included; null where there is none",
        take=lambda each: each.heap.classes[0].low_mm or None,
    ),
    Field(name="high_mm", take=lambda each: _finite(each.heap.classes[-1].high_mm)),
    Field(
        name="between",
        meaning="true for beads that may belong to either of two sizes",
        take=lambda each: each.heap.is_between,
    ),
    *within(lambda each: each.tally, TALLY),
)

_BEADS: Field[_Picked] = Field(name="beads", meaning="the beads picked", fields=REFERENCE, many=True)

PAIR: Fields[MatchedPair] = (
    Field(name="width_difference_mm", meaning="by how much width and length of the two differ"),
    Field(name="length_difference_mm"),
    Field(
        name="colour_difference",
        meaning="by how much their colours differ; below 2.3 it is barely visible",
        unit="CIELAB",
    ),
)

MEAN: Fields[Mean] = (
    Field(name="mm", meaning="mean size", unit="mm"),
    Field(name="u95_mm"),
    Field(name="sd_mm", meaning="standard deviation of the sizes"),
)

UNIFORM: Fields[UniformPick] = (
    Field(name="mean", meaning="their mean size", fields=MEAN),
    Field(name="range_mm", meaning="difference between the largest and the smallest"),
)

RUN: Fields[GraduatedRun] = (
    Field(name="strung_mm", meaning="strung length of the run"),
    Field(name="strung_u95_mm"),
    Field(name="off_even_mm", meaning="how far the sizes are away from an even taper (root mean square)"),
    Field(
        name="worst_pair_mm", meaning="largest difference between two beads at the same place left and right"
    ),
)

PICKS: Fields[_Result] = (
    Field(
        name="pairs",
        meaning="matched pairs, the best first; with --pairs",
        take=lambda result: [_picked(result, pair) for pair in result.picks.pairs or ()],
        fields=(_BEADS, *within(lambda picked: picked.pick, PAIR)),
        many=True,
        given=lambda result: result.picks.pairs is not None,
    ),
    Field(
        name="uniform",
        meaning="the most uniform beads, from the smallest up; with --uniform, null where there are too few",
        take=lambda result: _picked(result, result.picks.uniform),
        fields=(_BEADS, *within(lambda picked: picked.pick, UNIFORM)),
        given=lambda result: bool(result.picks.uniform_asked),
    ),
    Field(
        name="graduated",
        meaning="a graduated run, from left to right; with --graduated, null where none can be made",
        take=lambda result: _picked(result, result.picks.graduated),
        fields=(_BEADS, *within(lambda picked: picked.pick, RUN)),
        given=lambda result: bool(result.picks.strung_asked_mm),
    ),
)

SORTED: Fields[_Result] = (
    *within(lambda result: result.sorted.lot, LOT),
    Field(
        name="sorted_by",
        meaning="which size the beads were sorted by: `width` or `length`",
        take=lambda result: result.sorted.dimension,
    ),
    Field(
        name="method",
        meaning="sizes sorted into: `usual`, multiples of a `step`, `pearl` classes or `natural` groups",
        take=lambda result: result.sorted.method,
    ),
    Field(
        name="target",
        meaning="the piece that shares are taken of",
        take=lambda result: result.sorted.target,
        fields=TARGET,
    ),
    Field(
        name="classes",
        meaning="how many beads there are of each size, from the smallest up",
        take=lambda result: _classes(result.sorted),
        fields=CLASS,
        many=True,
    ),
    Field(
        name="whole",
        meaning="all measured beads together",
        take=lambda result: result.sorted.whole,
        fields=TALLY,
    ),
    Field(
        name="unmeasured",
        meaning="beads without a size",
        take=lambda result: result.sorted.unmeasured,
        fields=REFERENCE,
        many=True,
    ),
    Field(
        name="picks", meaning="beads picked, as far as asked for", take=lambda result: result, fields=PICKS
    ),
    Field(
        name="sentence",
        meaning="what the lot holds, in one sentence",
        take=lambda result: lot_headline(result.sorted),
    ),
    Field(
        name="notes",
        meaning="what to know about it, a sentence each",
        take=lambda result: lot_notes(result.sorted),
    ),
)

DOCUMENT: Fields[_Result] = (
    *head("lot"),
    warnings(lambda result: result.sorted.lot.conditions),
    corrections(lambda result: result.sorted.lot.corrections),
    Field(
        name="beads",
        meaning="the beads, photo by photo",
        take=lambda result: _beads(result.sorted),
        fields=BEAD,
        many=True,
    ),
    Field(name="lot", meaning="the lot as a whole", take=lambda result: result, fields=SORTED),
    Field(
        name="others",
        meaning="what lies beside the beads and looks like no bead",
        take=lambda result: result.sorted.lot.others,
        fields=OTHER_THING,
        many=True,
    ),
    *photos(lambda result: result.sorted.lot.conditions),
    left_out(lambda result: result.sorted.lot.left_out),
)


def lot_record(result: SortedLot, picks: Picks) -> Record:
    """Return a sorted lot, and what was picked from it, as a JSON object."""
    return record(DOCUMENT, _Result(sorted=result, picks=picks))


def lot_rows(result: SortedLot) -> list[Record]:
    """Return a sorted lot's beads, photo by photo, as rows of a CSV table."""
    return [row(BEAD, bead) for bead in _beads(result)]


def _beads(result: SortedLot) -> list[_SortedBead]:
    names = {key(bead): each.heap.name for each in _classes(result) for bead in each.tally.beads}
    return [_SortedBead(sized=sized, name=names.get(key(sized.bead))) for sized in sized_beads(result.lot)]


def _classes(result: SortedLot) -> Iterable[_Class]:
    return [_Class(heap=heap, tally=tally) for heap, tally in zip(result.heaps, result.tallies, strict=True)]


def _picked(result: _Result, pick: MatchedPair | UniformPick | GraduatedRun | None) -> _Picked | None:
    if pick is None:
        return None
    return _Picked(beads=tuple(result.sorted.sizes.beads[i] for i in pick.index), pick=pick)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
