"""Every key that is printed is declared, every declared key is printed, and the README lists them all."""

import json
import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sizing.base.loop import Link
from sizing.base.target import make_target
from sizing.corrections.lots import correct_lot
from sizing.corrections.strands import correct_strands
from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.lot.picks import Picks, make_picks
from sizing.lot.sorting import sort_lot
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece, target_from_piece
from sizing.piece.plan import make_plan
from sizing.piece.toml.read import PIECE_HELP, read_piece
from sizing.report.records.check import check_record
from sizing.report.records.field import Fields, Record
from sizing.report.records.lot import lot_record
from sizing.report.records.output import to_json
from sizing.report.records.photo import left_out_record
from sizing.report.records.plan import plan_record
from sizing.report.records.readme import DOCUMENTS, field_table
from sizing.report.records.stash import ShownEntry, entry_record, stash_record, ways_record
from sizing.report.records.strand import strand_record
from sizing.report.sentences.check import CheckedLot
from sizing.stash.book import reading
from sizing.stash.entries import changes
from sizing.stash.matching import matches
from sizing.stash.measurement import read_measurement
from sizing.stash.ways import ways_to_make
from sizing.strand.planned import Planned, PlannedBeads
from sizing.strand.sized import size_strands
from tests.helpers.lots import lot_of
from tests.helpers.paths import ROOT
from tests.helpers.stash import kept, strand_fields
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.corrections import Correction
from vision.common.records import Doubt, LeftOut, Other, Pendant, Strand

LEFT_OUT = LeftOut(photo="dark.jpg", reason="no scale sheet is seen")
CORRECTION = Correction(action="size", numbers=(2,), size_mm=7.0, size_u95_mm=0.05)


def json_names(fields: Fields[Any]) -> set[str]:
    return {field.name for field in fields if field.json}


def declarations(fields: Fields[Any]) -> dict[int, Fields[Any]]:
    """Return the fields of a result and of every record in it, each declaration once."""
    found = {id(fields): fields}
    for field in fields:
        found |= declarations(field.fields) if field.fields else {}
    return found


def collect(fields: Fields[Any], value: object, seen: defaultdict[int, set[str]]) -> None:
    """Walk what was printed and note which keys each declaration has there; each must be declared."""
    for printed in value if isinstance(value, list) else [value]:
        if printed is None:
            continue
        assert set(printed) <= json_names(fields)
        seen[id(fields)] |= set(printed)
        for field in fields:
            if field.fields and field.name in printed:
                collect(field.fields, printed[field.name], seen)


PLANNED = Planned(
    beads=(PlannedBeads(name="bead 8 mm", link=Link(along_mm=8.0, across_mm=8.0), count=20),),
    strung_mm=160.0,
    strung_u95_mm=0.0,
    findings_mm=12.0,
    inner_girth_mm=146.9,
    inner_girth_u95_mm=0.0,
)


def with_pendant(strand: Strand) -> Strand:
    """Return a loop from whose clasp a bead hangs."""
    pendant = Pendant(centre_px=(9.0, 9.0), across_mm=6.0, along_mm=6.0, outline_px=np.zeros((0, 2)))
    assert strand.loop is not None
    return replace(strand, loop=replace(strand.loop, pendant=pendant, extender_mm=30.0))


def strands() -> Iterator[Record]:
    """Yield strands that reach every part of the advice."""
    for along_mm, given, colours in (
        ([8.0] * 20, {"wrist": 180.0}, [(200, 30, 30), (30, 30, 200)]),
        ([6.0, 7.0, 8.0, 9.0, 8.0, 7.0, 6.0], {"strung": 63.0}, [(40, 60, 120)]),
        ([4.0, 5.0, 8.0] * 8, {"strung": 127.0}, [(40, 60, 120)]),
    ):
        doubts = (Doubt(place="joint", number=1, beads=-1),)
        others = (Other(centre_px=(5.0, 5.0), kind="stray", outline_px=np.zeros((0, 2))),)
        strand = replace(make_strand(along_mm, colours=colours), doubts=doubts, others=others)
        target = make_target(given)
        assert target is not None
        right = correct_strands(
            [strand, with_pendant(make_loop(along_mm))], [replace(CORRECTION, numbers=(4,))]
        )
        yield strand_record(size_strands(right, target, planned=PLANNED))
        pair = numbered_on(*[make_strand(along_mm)] * 2)
        yield strand_record(size_strands(pair, replace(target, step_mm=12.7)))
    yield left_out_record("strand", LEFT_OUT)


def lots() -> Iterator[Record]:
    others = (Other(centre_px=(5.0, 5.0), kind="finding", outline_px=np.zeros((0, 2)), photo="a.jpg"),)
    measured = replace(
        lot_of([8.0, 7.5, 7.5, 7.0, 7.0, 6.5, 6.5, math.nan]), left_out=(LEFT_OUT,), others=others
    )
    lot = correct_lot(measured, [CORRECTION])
    result = sort_lot(lot)
    yield lot_record(result, make_picks(result.sizes, pairs=1, uniform=2, graduated_mm=50.0))
    yield lot_record(result, Picks())


def checks() -> Iterator[Record]:
    for text in ("8mm", "7.0-7.5mm", "6x4mm", "11/0"):
        measured = replace(lot_of([8.0, 7.0]), left_out=(LEFT_OUT,))
        lot, label = correct_lot(measured, [CORRECTION]), parse_label(text)
        yield check_record(CheckedLot(lot=lot, label=label, conformity=check_label(lot, label)))


def plans() -> Iterator[Record]:
    yield plan_record(make_plan(read_piece(PIECE_HELP)))
    beads = tuple(BeadPart(along_mm=size, across_mm=size) for size in (8.0, 8.0, 8.0, 2.0))
    yield plan_record(make_plan(Piece(beads=beads, target_mm={"strung": 142.0}, sizes="142 mm")))


def stashes() -> Iterator[Record]:
    yield stash_record([kept("one", [8.0] * 30)])


def shown_entries() -> Iterator[Record]:
    stash = [kept(f"lot {mm:g}", [mm] * 30) for mm in (8.0, 8.1)]
    alike = matches(stash, stash[0], stash[0].sizes[0])
    beads = read_measurement(strand_fields([8.0] * 30)).beads
    with reading() as book:
        made = changes(book, stash[0])
    yield entry_record(ShownEntry(entry=stash[0], changes=made, beads=beads, matches=alike))


def ways() -> Iterator[Record]:
    piece = Piece(target_mm={"wrist": 165.1})
    target = target_from_piece(piece)
    assert target is not None
    yield ways_record(ways_to_make([kept("one", [8.0] * 30)], piece), target)


PRINTED = {
    "strand": strands,
    "lot": lots,
    "check": checks,
    "plan": plans,
    "stash list": stashes,
    "stash show": shown_entries,
    "stash make": ways,
}


@pytest.mark.parametrize("command", DOCUMENTS)
def test_keys_printed_are_the_keys_declared(command: str) -> None:
    document = DOCUMENTS[command]
    seen: defaultdict[int, set[str]] = defaultdict(set)
    for record in PRINTED[command]():
        collect(document, json.loads(to_json(record)), seen)
    for key, fields in declarations(document).items():
        assert seen[key] == json_names(fields)


@pytest.mark.parametrize("command", DOCUMENTS)
def test_every_field_has_a_meaning_or_shares_the_one_before(command: str) -> None:
    def check(fields: Fields[Any]) -> None:
        assert fields[0].meaning
        for field in fields:
            assert field.meaning or not field.fields, field.name
            if field.fields:
                check(field.fields)

    check(DOCUMENTS[command])


def test_the_readme_lists_the_fields_as_declared() -> None:
    assert f"\n{field_table()}\n" in (ROOT / "README.md").read_text(encoding="utf-8")
