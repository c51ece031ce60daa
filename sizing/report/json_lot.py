"""A sorted lot, and a lot checked against its label, as fields for JSON and columns for a table."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from sizing.lot.classes import SizeClass
from sizing.lot.conformity import CONFIDENCE, CONFORMING, NOT_CONFORMING, UNDECIDED, Axis, Conformity
from sizing.lot.label import Label
from sizing.lot.picks import GraduatedRun, MatchedPair, Picks, UniformPick
from sizing.lot.roundness import roundness
from sizing.lot.sizes import Mean, Sizes
from sizing.lot.sorting import SortedLot
from sizing.lot.tally import Tally
from sizing.report.json_strand import Fields, lot_fields
from sizing.report.text_check import check_headline, check_notes
from sizing.report.text_lot import lot_headline, lot_notes
from vision.common.records import LooseBead, Lot

Columns = list[dict[str, object]]


def sorted_fields(result: SortedLot, picks: Picks) -> Fields:
    """Return a sorted lot as fields for JSON: those of `lot_fields`, with the sorting added."""
    heaps = zip(result.heaps, result.tallies, strict=True)
    more: Fields = {
        "sorted_by": result.dimension,
        "method": result.method,
        "target": {"kind": result.target.kind.value, "length_mm": result.target.length_mm},
        "classes": [
            {"name": heap.name, **_limits(heap.classes), "between": heap.is_between, **_tally(tallied)}
            for heap, tallied in heaps
        ],
        "whole": _tally(result.whole),
        "unmeasured": _refs(result.unmeasured),
        "picks": _picks(result.sizes, picks),
        "sentence": lot_headline(result),
        "notes": lot_notes(result),
    }
    return _extended(result.lot, sorted_columns(result), more)


def sorted_columns(result: SortedLot) -> Columns:
    """Return what sorting adds to each bead of the lot, in the lot's order."""
    class_of = {_key(bead): heap.name for heap, tallied in _heaps(result) for bead in tallied.beads}
    roundness_of = _roundness_columns(result.lot)
    return [
        {"class": class_of.get(_key(bead)), **rounded}
        for bead, rounded in zip(result.lot.beads, roundness_of, strict=True)
    ]


def checked_fields(lot: Lot, label: Label, conformity: Conformity) -> Fields:
    """Return a lot checked against its label as fields for JSON: those of `lot_fields`, and `label`."""
    low, high = conformity.share_outside
    fields = _extended(lot, checked_columns(lot, conformity), {})
    fields["label"] = {
        "text": label.text,
        "kind": label.kind,
        "stated": [asdict(stated) for stated in label.stated],
        "basis": label.basis,
        "reading": conformity.reading,
        "decision": conformity.decision,
        "conforming": conformity.count(CONFORMING),
        "not_conforming": conformity.count(NOT_CONFORMING),
        "undecided": conformity.count(UNDECIDED),
        "share_outside": {"low": low, "high": high, "confidence": CONFIDENCE},
        "axes": [_axis(axis) for axis in conformity.axes],
        "sentence": check_headline(lot, label, conformity),
        "notes": check_notes(lot, label, conformity),
    }
    return fields


def checked_columns(lot: Lot, conformity: Conformity) -> Columns:
    """Return what checking adds to each bead of the lot, in the lot's order."""
    decided = zip(conformity.beads, conformity.decisions, strict=True)
    decision_of = {_key(bead): decision for bead, decision in decided}
    return [
        {"decision": decision_of.get(_key(bead)), **rounded}
        for bead, rounded in zip(lot.beads, _roundness_columns(lot), strict=True)
    ]


def _extended(lot: Lot, columns: Columns, more: Fields) -> Fields:
    """Return a lot's fields with more for each bead and for the lot."""
    fields: dict[str, Any] = lot_fields(lot)
    fields["beads"] = [{**bead, **extra} for bead, extra in zip(fields["beads"], columns, strict=True)]
    fields["lot"] = {**fields["lot"], **more}
    return fields


def _heaps(result: SortedLot) -> Iterable[tuple[Any, Tally]]:
    return zip(result.heaps, result.tallies, strict=True)


def _roundness_columns(lot: Lot) -> Columns:
    scale_of = {each.photo: each.scale_rel_u for each in lot.conditions}
    found = [roundness(bead, scale_rel_u=scale_of.get(bead.photo, 0.0)) for bead in lot.beads]
    return [{"roundness": each.name, "out_of_round": each.difference} for each in found]


def _key(bead: LooseBead) -> tuple[str, int]:
    return bead.photo, bead.number


def _ref(bead: LooseBead) -> Fields:
    return {"photo": bead.photo, "number": bead.number}


def _refs(beads: Iterable[LooseBead]) -> list[Fields]:
    return [_ref(bead) for bead in beads]


def _limits(classes: Sequence[SizeClass]) -> Fields:
    """Return the limits of one class, or of all that a bead between them may belong to; null where open."""
    low_mm, high_mm = classes[0].low_mm, classes[-1].high_mm
    return {"low_mm": low_mm or None, "high_mm": high_mm if math.isfinite(high_mm) else None}


def _tally(tallied: Tally) -> Fields:
    return {
        "count": len(tallied.beads),
        **_mean("width", tallied.width),
        **_mean("length", tallied.length),
        "strung_mm": tallied.strung_mm,
        "strung_u95_mm": tallied.strung_u95_mm,
        "strung_long_mm": tallied.strung_long_mm,
        "share": tallied.share,
        "beads": _refs(tallied.beads),
    }


def _mean(name: str, mean: Mean) -> Fields:
    return {f"{name}_mean_mm": mean.mm, f"{name}_mean_u95_mm": mean.u95_mm, f"{name}_sd_mm": mean.sd_mm}


def _axis(axis: Axis) -> Fields:
    return {
        "dimension": axis.dimension,
        "nominal_mm": axis.stated.nominal_mm,
        "mean_mm": axis.mean.mm,
        "mean_u95_mm": axis.mean.u95_mm,
        "sd_mm": axis.mean.sd_mm,
        "relative_difference": axis.relative_difference,
    }


def _picks(sizes: Sizes, picks: Picks) -> Fields:
    """Return the picks that were asked for; null where none could be made."""
    fields: Fields = {}
    if picks.pairs is not None:
        fields["pairs"] = [_picked(sizes, pair) for pair in picks.pairs]
    if picks.uniform_asked:
        fields["uniform"] = _picked(sizes, picks.uniform) if picks.uniform else None
    if picks.strung_asked_mm:
        fields["graduated"] = _picked(sizes, picks.graduated) if picks.graduated else None
    return fields


def _picked(sizes: Sizes, pick: MatchedPair | UniformPick | GraduatedRun) -> Fields:
    """Return one pick with its beads, in its order, in place of their positions."""
    fields: Fields = asdict(pick)
    del fields["index"]
    return {"beads": _refs(sizes.beads[i] for i in pick.index), **fields}
