"""The report on a lot."""

import math
from dataclasses import replace

from sizing.lot.picks import make_picks
from sizing.lot.sorting import sort_lot
from sizing.report.text.lot import lot_text
from tests.helpers.lots import conditions, lot_of
from tests.helpers.pages import handfuls
from vision.common.records import Lot


def text_of(lot: Lot, **asked: float) -> str:
    result = sort_lot(lot)
    return lot_text(result, make_picks(result.sizes, **asked))  # type: ignore[arg-type]


def test_the_table_has_strung_lengths_in_both_units() -> None:
    row = next(line for line in text_of(lot_of([8.0] * 50)).splitlines() if line.startswith("  8 mm  "))
    assert "50" in row
    assert "400.0 ± 2.1 mm (15 3/4 in)" in row
    assert row.endswith("98 %")  # 400 of 406.4 mm


def test_ovals_string_two_ways() -> None:
    text = text_of(lot_of([4.0] * 10, [6.0] * 10))
    assert "40.0 mm, lengthwise 60.0 mm" in text
    assert "length, mm" in text


def test_flags_are_explained() -> None:
    lot = lot_of([8.0, 8.0])
    lot = replace(lot, beads=(replace(lot.beads[0], flags=("cut-off",)), lot.beads[1]))
    cut_off = "bead 1: it runs over the edge of the photo, under a tag, or into glare (cut-off)"
    assert f"\nCheck these beads\n  {cut_off}\n" in text_of(lot)


def test_remarks_on_several_photos_stand_once() -> None:
    lot = handfuls()
    unread = tuple(replace(each, check_length_given=False) for each in lot.conditions)
    text = text_of(replace(lot, conditions=unread))
    assert "  B  two.jpg    2 beads\n" in text
    assert "  B: Measured on sheet mat-a4" in text
    assert text.count("--check-length") == 1
    assert "--check-length" not in text_of(replace(lot_of([8.0]), conditions=(conditions(),)))


def test_picks_name_beads_and_spread() -> None:
    text = text_of(lot_of([8.0, 7.5, 7.5, 7.0, 7.0, 6.5, 6.5]), pairs=1, uniform=2, graduated_mm=50.0)
    assert "2 and 3  width differs by 0.00 mm" in text
    assert "The 2 most uniform beads: mean 6.50" in text
    assert "Graduated run of 7 beads, 50.0 ± 0.3 mm" in text
    assert "0.00 mm away from an even taper" in text
    assert "left to right: 6 4 2 1 3 5 7" in text
    assert "tapers in steps" not in text


def test_a_run_that_lacks_sizes_tapers_in_steps() -> None:
    assert "tapers in steps" in text_of(lot_of([10.0] * 9 + [6.0] * 9), graduated_mm=100.0)


def test_picks_that_cannot_be_made_have_a_reason() -> None:
    text = text_of(lot_of([8.0, math.nan]), pairs=1, uniform=2, graduated_mm=50.0)
    assert "No matched pair: that takes two measured beads." in text
    assert "The 2 most uniform beads cannot be picked: only 1 bead was measured." in text
    assert "No graduated run of 50.0 mm" in text


def test_shapes_are_counted() -> None:
    # 2 % and 5 % out of round are the limits of round and semi-round (Tahitian pearl classification).
    text = text_of(lot_of([8.0, 8.0, 8.0], [8.0, 8.0, 9.0], u95_mm=0.01))
    assert "\nShape seen from above\n  2 round, 1 not round\n" in text
