"""Text reports on lots: what they must say, in words a maker uses."""

import math
from dataclasses import replace

import pytest

from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.lot.picks import make_picks
from sizing.lot.sorting import sort_lot
from sizing.report.text_check import check_lines
from sizing.report.text_lot import lot_lines
from tests.helpers.lots import conditions, lot_of
from vision.common.flags import UNSURE_COUNT
from vision.common.records import Lot


def sorted_text(lot: Lot, **how: object) -> str:
    result = sort_lot(lot, **how)  # type: ignore[arg-type]
    return "\n".join(lot_lines(result, make_picks(result.sizes)))


def checked(lot: Lot, label_text: str) -> str:
    label = parse_label(label_text)
    return " ".join(" ".join(check_lines(lot, label, check_label(lot, label))).split())


def test_the_first_line_sums_up() -> None:
    text = sorted_text(lot_of([6.0, 6.01, 6.5, 7.0, math.nan]))
    assert text.splitlines()[0] == "5 beads: 3 in 2 classes, 1 between classes, 1 not measured."


def test_the_tally_tells_strung_lengths_in_both_units() -> None:
    row = next(line for line in sorted_text(lot_of([8.0] * 50)).splitlines() if line.startswith("  8 mm  "))
    assert "50" in row
    assert "400.0 ± 2.1 mm (15 3/4 in)" in row
    assert row.endswith("98 %")


def test_ovals_string_two_ways() -> None:
    text = sorted_text(lot_of([4.0] * 10, [6.0] * 10))
    assert "40.0 mm, lengthwise 60.0 mm" in text
    assert "length, mm" in text


def test_steps_finer_than_the_doubt_are_said_so() -> None:
    assert "in classes of less than 0.40 mm many stay undecided" in sorted_text(
        lot_of([8.0, 8.1], u95_mm=0.1), method="step", step_mm=0.1
    )


def test_flags_are_explained() -> None:
    lot = lot_of([8.0, 8.0])
    lot = replace(lot, beads=(replace(lot.beads[0], flags=("cut-off",)), lot.beads[1]))
    assert "  1: the bead runs over the edge of the photo (cut-off)" in sorted_text(lot)


def test_a_count_that_is_not_certain_is_said_so() -> None:
    text = sorted_text(replace(lot_of([8.0, 8.0]), flags=(UNSURE_COUNT,)))
    assert "Their number is not certain" in text
    assert "  the lot as a whole: " in text
    assert "not certain" not in sorted_text(lot_of([8.0, 8.0]))


def test_an_assumed_check_length_is_said_so() -> None:
    lot = lot_of([8.0])
    text = sorted_text(replace(lot, conditions=(replace(conditions(), check_length_given=False),)))
    assert "--check-length" in text


def test_flat_pieces_are_said_so() -> None:
    assert "flat pieces" in sorted_text(replace(lot_of([20.0]), flat=True))
    assert "flat pieces" not in sorted_text(lot_of([20.0]))


def test_picks_name_beads_and_spread() -> None:
    result = sort_lot(lot_of([8.0, 7.5, 7.5, 7.0, 7.0, 6.5, 6.5]))
    text = "\n".join(lot_lines(result, make_picks(result.sizes, pairs=1, uniform=2, graduated_mm=50.0)))
    assert "2 and 3  width differs by 0.00 mm" in text
    assert "Most uniform 2: 6.50" in text
    assert "Graduated run of 7 beads, 50.0 ± 0.3 mm" in text
    assert "left to right: 6 4 2 1 3 5 7" in text
    assert "falls in steps" not in text


def test_a_run_that_falls_in_steps_is_said_so() -> None:
    result = sort_lot(lot_of([10.0] * 9 + [6.0] * 9))
    text = "\n".join(lot_lines(result, make_picks(result.sizes, graduated_mm=100.0)))
    assert "falls in steps" in text


def test_picks_that_cannot_be_made_say_why() -> None:
    result = sort_lot(lot_of([8.0]))
    text = "\n".join(lot_lines(result, make_picks(result.sizes, pairs=1, uniform=2, graduated_mm=50.0)))
    assert "No pair: it takes two measured beads." in text
    assert "No 2 most uniform: only 1 bead measured." in text
    assert "No graduated run of 50.0 mm" in text


@pytest.mark.parametrize(
    ("sizes_mm", "verdict"),
    [
        ([8.0] * 20, "8mm: as labelled; all 20 beads are within"),
        ([7.0] * 20, "8mm: not as labelled; 20 of 20 beads are outside, the lot is really 7.0 mm"),
        ([8.0] * 19 + [7.0], "8mm: as labelled but for 1 bead; 19 of 20 beads are within"),
        ([8.0] * 19 + [7.5], "8mm: not certain; 19 of 20 beads are within, the rest too near a limit"),
        ([8.0, math.nan], "8mm: as labelled; its one bead is within what it allows, 1 not measured."),
        ([math.nan], "8mm: nothing can be said, 1 not measured."),
    ],
)
def test_verdicts(sizes_mm: list[float], verdict: str) -> None:
    assert checked(lot_of(sizes_mm), "8mm").startswith(verdict)


def test_10_mm_that_measures_94_gives_6_percent_less() -> None:
    text = checked(lot_of([9.4] * 40), "10mm")
    # 406.4 / 10 = 40 beads by the label, 40 x 9.4 = 376 mm, 406.4 / 9.4 = 43 beads.
    assert "gives 6.0 % less length than labelled" in text
    assert "the 40 beads of a 16 in strand come to 376.0 mm (14 13/16 in), and 43 fill it" in text


def test_a_difference_within_the_doubt_has_no_effect() -> None:
    assert "than labelled:" not in checked(lot_of([8.01] * 40), "8mm")


def test_the_nearest_size_that_is_sold() -> None:
    assert "the nearest usual size is 7 mm" in checked(lot_of([7.1] * 9), "8mm")
    assert "their class is 7.5-8.0 mm" in checked(lot_of([7.8] * 9), "7.0-7.5mm")


def test_how_a_label_was_read() -> None:
    assert "read as: 6 mm long and 4 mm wide" in checked(lot_of([4.0] * 9, [6.0] * 9), "4x6mm")


def test_weak_comparisons_are_said_so() -> None:
    assert "longer than wide (6.0 x 4.0 mm)" in checked(lot_of([4.0] * 9, [6.0] * 9), "4mm")
    assert "no bead can be proven to conform" in checked(lot_of([8.0] * 9, u95_mm=0.7), "8mm")
