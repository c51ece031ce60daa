"""What a sorted lot holds, in words."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sizing.lot.sorting import sort_lot
from sizing.report.sentences.lot import lot_headline, lot_notes
from tests.helpers.lots import lot_of
from vision.common.flags import IN_A_ROW, UNSURE_COUNT
from vision.common.records import Lot, Other


def notes(lot: Lot, **how: object) -> str:
    return " ".join(lot_notes(sort_lot(lot, **how)))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("sizes_mm", "sentence"),
    [
        ([6.0, 6.01, 6.5, 7.0, math.nan], "5 beads: 3 in 2 sizes, 1 between two sizes, 1 not measured."),
        ([6.0, 7.0, 8.0], "3 beads in 3 sizes."),
        ([6.0, 6.0], "2 beads of one size."),
        ([math.nan], "1 bead: 1 not measured."),
    ],
)
def test_one_sentence_sums_up(sizes_mm: list[float], sentence: str) -> None:
    assert lot_headline(sort_lot(lot_of(sizes_mm))) == sentence


def test_sizes_that_run_on_without_a_gap_are_not_called_one_size() -> None:
    graduated = sort_lot(lot_of(np.linspace(4, 10, 60)), method="natural")
    assert lot_headline(graduated) == "60 beads in one group of sizes."


def test_beads_that_no_usual_size_fits_are_noted() -> None:
    # Rounds are sold within half a millimetre; 9.48 mm may be 9.5 mm by its uncertainty of 0.04 mm.
    assert "The beads sorted as 10 mm measure 9.37 ± 0.04 mm: no usual size is" in notes(lot_of([9.37] * 9))
    for mm in (9.48, 10.0, 30.0):
        assert "usual size" not in notes(lot_of([mm] * 9))
    assert "usual size" not in notes(lot_of([9.37] * 9), method="pearl")


def test_how_rounds_string_is_noted() -> None:
    rounds, ovals = lot_of([5.9] * 14, [6.0] * 14), lot_of([4.0] * 14, [6.0] * 14)
    assert sort_lot(rounds).whole.strung_mm == pytest.approx(14 * 5.95)  # not 14 * 5.9
    assert "they string to the mean of their width and length" in notes(rounds)
    assert sort_lot(ovals).whole.strung_mm == pytest.approx(14 * 4.0)
    assert "they string" not in notes(ovals)


def test_steps_finer_than_the_uncertainty_are_noted() -> None:
    # An uncertainty of 0.1 mm on either side of two limits: steps of 0.4 mm.
    lot = lot_of([8.0, 8.1], u95_mm=0.1)
    assert "with steps of less than 0.40 mm" in notes(lot, method="step", step_mm=0.1)
    assert "with steps" not in notes(lot, method="step", step_mm=0.5)


def test_flat_pieces_are_noted() -> None:
    assert "flat pieces" in notes(replace(lot_of([20.0]), flat=True))
    assert "flat pieces" not in notes(lot_of([20.0]))


def test_an_uncertain_number_is_noted() -> None:
    assert "count them by eye" in notes(replace(lot_of([8.0, 8.0]), flags=(UNSURE_COUNT,)))
    assert "count them by eye" not in notes(lot_of([8.0, 8.0]))


def test_one_natural_group_is_noted() -> None:
    assert "All beads form one group" in notes(lot_of([8.0, 8.01, 8.02]), method="natural")


def test_beads_in_a_row_may_be_a_strand() -> None:
    row = replace(lot_of([8.0, 8.0]), flags=(IN_A_ROW, UNSURE_COUNT))
    assert notes(row).startswith("The beads lie one after the other, as on a string")
    assert "as on a string" not in notes(lot_of([8.0, 8.0]))


def test_what_is_not_counted_is_named() -> None:
    crimp = Other(centre_px=(5.0, 5.0), kind="finding", outline_px=np.zeros((0, 2)), photo="lot.jpg")
    coin = replace(crimp, kind="other")
    assert notes(replace(lot_of([8.0, 8.0]), others=(crimp, crimp))).endswith("Not counted: 2 findings.")
    said = "Not counted: 1 finding, 1 other thing."
    assert notes(replace(lot_of([8.0, 8.0]), others=(coin, crimp))).endswith(said)
    assert "Not counted" not in notes(lot_of([8.0, 8.0]))
