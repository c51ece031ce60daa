"""A lot against its label, in words."""

import math

import pytest

from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.report.front.check import check_front
from sizing.report.sentences.check import CheckedLot, check_headline, check_notes
from tests.helpers.lots import lot_of
from vision.common.records import Lot


def checked(lot: Lot, text: str) -> CheckedLot:
    label = parse_label(text)
    return CheckedLot(lot=lot, label=label, conformity=check_label(lot, label))


def notes(lot: Lot, text: str) -> str:
    return " ".join(check_notes(checked(lot, text)))


@pytest.mark.parametrize(("label", "mm"), [("10mm", 9.37), ("10mm", 9.05), ("8mm", 8.9), ("20mm", 24.0)])
def test_a_size_that_was_just_refused_is_not_named_as_the_nearest(label: str, mm: float) -> None:
    text = notes(lot_of([mm] * 9), label)
    assert "the nearest usual size is" not in text
    assert "no usual size is nearer than what the label says" in text


@pytest.mark.parametrize(
    ("sizes_mm", "verdict"),
    [
        ([8.0] * 20, "8mm: as labelled; all 20 beads are within the limits."),
        (
            [7.0] * 20,
            "8mm: not as labelled; 20 of 20 beads are outside the limits, the beads measure 7.0 mm.",
        ),
        ([8.0] * 19 + [7.0], "8mm: as labelled except for 1 bead; 19 of 20 beads are within the limits."),
        ([8.0] * 19 + [7.5], "8mm: not certain; 19 of 20 beads are within the limits, 1 too close"),
        (
            [7.5] * 12 + [7.0] * 8,
            "8mm: not all as labelled; 8 of 20 beads are outside the limits, 12 too close",
        ),
        ([8.0, math.nan], "8mm: as labelled; its one bead is within the limits, 1 not measured."),
        ([math.nan], "8mm: not certain; no bead could be measured."),
    ],
)
def test_verdicts(sizes_mm: list[float], verdict: str) -> None:
    assert check_headline(checked(lot_of(sizes_mm), "8mm")).startswith(verdict)


def test_10_mm_that_measures_94_gives_6_percent_less() -> None:
    # 406.4 / 10 = 40 beads by the label, 40 x 9.4 = 376 mm, 406.4 / 9.4 = 43 beads.
    text = notes(lot_of([9.4] * 40), "10mm")
    assert "a bead gives 6.0 % less length than the label says" in text
    assert "the 40 beads of a 16 in strand come to 376.0 mm (14 13/16 in), and 43 fill it" in text


@pytest.mark.parametrize(("label", "mm"), [("4x6mm", 5.4), ("8/0", 3.4)])
def test_nothing_is_said_of_a_length_that_the_photo_does_not_show(label: str, mm: float) -> None:
    """A rondelle lies on its flat side, and a seed bead is shorter along its hole than it is wide."""
    text = notes(lot_of([mm] * 40), label)
    assert "outside" in text
    assert "16 in strand" not in text
    assert "16 in strand" in notes(lot_of([4.5] * 40, [6.0] * 40), "6x4mm")


def test_a_mixed_bag_is_told_by_its_sizes_and_not_by_their_mean() -> None:
    lot = lot_of([6.0] * 14 + [8.0] * 19 + [10.0] * 19)
    said = check_headline(checked(lot, "8mm"))
    assert said == "8mm: not as labelled; 33 of 52 beads are outside the limits, the beads are of 3 sizes."
    text = notes(lot, "8mm")
    assert "The beads have 3 sizes by their width: 14 of 6.00 ± 0.04 mm, 19 of 8.00 ± 0.04 mm, 19 of" in text
    for of_one in ("mean width", "usual size", "a bead gives"):
        assert of_one not in text
    [width] = [fact for fact in check_front(checked(lot, "8mm")).facts if "idth" in fact.label]
    assert (width.label, width.value) == ("Width of 3 sizes", "6.0\N{EN DASH}10.0 mm")
    mostly = check_headline(checked(lot_of([6.0] * 20 + [8.0] * 5), "10mm"))
    assert mostly.endswith("the beads are of 2 sizes, most of 6.0 mm.")


def test_a_difference_within_the_uncertainty_has_no_effect() -> None:
    assert "than the label says" not in notes(lot_of([8.01] * 40), "8mm")


def test_the_nearest_size_that_is_sold() -> None:
    assert "the nearest usual size is 7 mm" in notes(lot_of([7.1] * 9), "8mm")
    assert "usual size" not in notes(lot_of([9.37] * 9), "9mm")  # fits, though 10 mm is the nearest usual one
    assert "usual size" not in notes(lot_of([9.5] * 9), "9mm")
    assert "their class is 7.5-8.0 mm" in notes(lot_of([7.8] * 9), "7.0-7.5mm")


def test_the_share_of_the_stock() -> None:
    # Clopper and Pearson (1934), 0 of 20 at 95 %: 0 to 1 - 0.025 ** (1 / 20) = 16.8 %.
    assert "0 to 17 % of it is outside" in notes(lot_of([8.0] * 20), "8mm")


def test_weak_comparisons_are_noted() -> None:
    assert "longer than wide (6.0 x 4.0 mm)" in notes(lot_of([4.0] * 9, [6.0] * 9), "4mm")
    assert "no bead can be shown to be within them" in notes(lot_of([8.0] * 9, u95_mm=0.7), "8mm")
