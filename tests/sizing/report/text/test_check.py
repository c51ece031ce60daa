"""The report on a label."""

from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.report.sentences.check import CheckedLot
from sizing.report.text.check import check_text
from tests.helpers.lots import lot_of
from vision.common.records import Lot


def text_of(lot: Lot, text: str) -> str:
    label = parse_label(text)
    return check_text(CheckedLot(lot=lot, label=label, conformity=check_label(lot, label)))


def test_beads_stand_by_decision_the_worst_first() -> None:
    text = text_of(lot_of([8.0, 7.0, 7.5, 8.0]), "8mm")
    assert (
        "\nBead by bead\n"
        "  outside the limits, 1 bead: 2\n"
        "  too close to a limit to decide, 1 bead: 3\n"
        "  within the limits, 2 beads: 1, 4\n"
    ) in text


def test_how_the_label_was_read() -> None:
    text = text_of(lot_of([4.0] * 9, [6.0] * 9), "4x6mm")
    assert "limits: 5.5 to 6.5 mm and 3.5 to 4.5 mm" in text
    assert "read as: 6 mm long and 4 mm wide" in text


def test_standards_stand_in_one_place_at_the_end() -> None:
    sentences, _, trust = text_of(lot_of([8.0] * 3), "8mm").partition("\nHow far to trust it\n")
    assert "(ISO 14253-1)" in " ".join(trust.split())
    for word in ("ISO", "guard band", "expanded", "binomial", "JCGM"):
        assert word not in sentences
