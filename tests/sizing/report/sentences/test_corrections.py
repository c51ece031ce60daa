"""What was put right stands in text, JSON, CSV and page."""

import csv
import io
import json

import pytest

from sizing.corrections.lots import correct_lot
from sizing.corrections.strands import correct_strands
from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.lot.picks import Picks
from sizing.lot.sorting import sort_lot
from sizing.report.records.output import to_csv, to_json
from sizing.report.records.strand import strand_record, strand_rows
from sizing.report.sentences.check import CheckedLot
from sizing.report.sentences.corrections import CORRECTED_BY_HAND, correction_said, corrections_said
from sizing.report.text.check import check_text
from sizing.report.text.lot import lot_text
from sizing.report.text.strand import strand_text
from sizing.strand.sized import size_strands
from tests.helpers.lots import lot_of
from tests.helpers.pages import check_html, lot_html, read, strand_html
from tests.helpers.strands import make_strand
from vision.common.corrections import Correction

SAID = [
    Correction(action="stopper", numbers=(1,)),
    Correction(action="one bead", numbers=(4, 5)),
    Correction(action="size", numbers=(7,), size_mm=7.95, size_u95_mm=0.06),
]
LINES = ["Bead 1 is a stopper.", "Beads 4, 5 are one.", "Bead 7 is 7.95 ± 0.06 mm by a caliper."]


@pytest.mark.parametrize(
    ("correction", "sentence"),
    [
        (Correction(action="no bead", numbers=(29,)), "Bead 29 is no bead."),
        (Correction(action="no bead", numbers=(29, 1)), "Beads 1, 29 are no beads."),
        (Correction(action="spacer", numbers=(2, 4)), "Beads 2, 4 are spacers."),
        (Correction(action="bead", numbers=(2,)), "Bead 2 is a bead."),
        (Correction(action="two beads", numbers=(6,)), "Bead 6 is two."),
        (Correction(action="bead here", px=(812.4, 440.0)), "A bead was missed at 812, 440."),
    ],
)
def test_a_correction_is_a_sentence(correction: Correction, sentence: str) -> None:
    assert correction_said(correction) == sentence


def test_beads_of_several_photos_have_the_letter_of_theirs() -> None:
    said = [
        Correction(action="no bead", numbers=(3,), photo="b.jpg"),
        Correction(action="bead here", px=(8.0, 9.0), photo="a.jpg"),
    ]
    lines = corrections_said(said, {"a.jpg": "A", "b.jpg": "B"})
    assert lines[:2] == ["Bead B3 is no bead.", "A bead was missed on photo A at 8, 9."]


def test_nothing_put_right_is_nothing_said() -> None:
    assert corrections_said([]) == []
    assert CORRECTED_BY_HAND not in strand_text(size_strands([make_strand([8.0] * 9)]))


def test_text_json_and_table_of_a_strand_say_it() -> None:
    sized = size_strands(correct_strands([make_strand([8.0] * 9)], SAID))
    text = strand_text(sized)
    assert text.startswith("strand.jpg: 7 beads")
    assert all(f"  {line}\n" in text for line in LINES)
    data = json.loads(to_json(strand_record(sized)))
    assert [each["sentence"] for each in data["corrections"]] == LINES
    assert [each["numbers"] for each in data["corrections"]] == [[1], [4, 5], [7]]
    assert [bead["was"] for bead in data["beads"]] == [[2], [3], [4, 5], [6], [7], [8], [9]]
    assert [bead["flags"] for bead in data["beads"]].count(["corrected"]) == 1
    rows = list(csv.DictReader(io.StringIO(to_csv(strand_rows(sized)), newline="")))
    assert [row["was"] for row in rows] == ["2", "3", "4 5", "6", "7", "8", "9"]


def test_text_of_a_lot_and_of_a_label_say_it() -> None:
    lot, label = correct_lot(lot_of([8.0] * 9), [SAID[2]]), parse_label("8mm")
    checked = CheckedLot(lot=lot, label=label, conformity=check_label(lot, label))
    for text in (lot_text(sort_lot(lot), Picks()), check_text(checked)):
        assert f"{CORRECTED_BY_HAND}\n  {LINES[2]}\n" in text


def test_pages_say_it() -> None:
    [strand] = correct_strands([make_strand([8.0] * 9)], SAID)
    lot = correct_lot(lot_of([8.0] * 9), [SAID[2]])
    for page in (strand_html(strand), lot_html(lot), check_html(lot)):
        read(page)
        assert CORRECTED_BY_HAND in page
        assert "by a caliper." in page
