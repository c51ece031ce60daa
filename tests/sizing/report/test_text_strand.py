"""The report on the terminal says what was measured, what to do, what to doubt."""

import math
from dataclasses import replace

from sizing.base.loop import Link
from sizing.base.target import make_target
from sizing.report.text_strand import condition_lines, doubt_lines, strand_report
from sizing.strand.advice import advise
from tests.helpers.strands import CONDITIONS, make_strand
from vision.common.flags import DESCRIPTIONS, HEIGHT_ASSUMED, ODD_SIZE, WEAK_EDGE

# An anklet of known geometry: 40 beads, 234.555 mm strung.
ANKLET = make_strand([234.555 / 40] * 40, across_mm=[6.47] * 40)


def test_anklet_reads_as_its_maker_speaks() -> None:
    target = make_target({"finished": 250.0}, findings=(Link(along_mm=22.0),))
    assert target is not None
    text = strand_report(ANKLET, advise(ANKLET, target))
    assert text.startswith("strand.jpg: 40 beads, 6.5 mm across, 5.9 mm along the string\n")
    assert "234.6 ± 0.4 mm (9 1/4 in)" in text
    assert "256.6 mm (10 1/8 in) with 22.0 mm of clasp and findings" in text
    assert "Remove 1 bead" in text


def test_round_beads_have_one_size() -> None:
    assert "30 beads, 6.0 mm\n" in strand_report(make_strand([6.0] * 30))


def test_mixed_beads_have_a_range() -> None:
    assert "12 beads, 4.0 to 8.0 mm\n" in strand_report(make_strand([4.0, 8.0] * 6))


def test_one_bead_is_one_bead() -> None:
    assert ": 1 bead, 6.0 mm\n" in strand_report(make_strand([6.0]))


def test_nothing_measured_is_said() -> None:
    text = strand_report(make_strand([math.nan, math.nan]))
    assert ": 2 beads, not measured\n" in text
    assert "nan" not in text


def test_gaps_are_told_with_the_length_pushed_together() -> None:
    text = strand_report(make_strand([6.0] * 20, gap_mm=3.0))
    assert "123.0 ± 0.4 mm" in text
    assert "120.0 ± 0.4 mm (4 3/4 in): the gaps are 3.0 mm in all" in text


def test_flags_are_explained_once_with_their_beads() -> None:
    strand = make_strand([6.0] * 9, flags={3: (ODD_SIZE,), 7: (ODD_SIZE, WEAK_EDGE)})
    lines = doubt_lines(strand)
    assert f"  beads 3, 7: {DESCRIPTIONS[ODD_SIZE]} (odd-size)" in lines
    assert f"  bead 7: {DESCRIPTIONS[WEAK_EDGE]} (weak-edge)" in lines


def test_flag_of_all_beads_does_not_list_them() -> None:
    strand = make_strand([6.0] * 9, flags=dict.fromkeys(range(1, 10), (HEIGHT_ASSUMED,)))
    assert doubt_lines(strand)[1].startswith("  all beads: ")


def test_flag_of_the_strand_is_told() -> None:
    strand = replace(make_strand([6.0] * 9), flags=(WEAK_EDGE,))
    assert doubt_lines(strand)[1].startswith("  the strand as a whole: ")


def test_sure_strand_has_nothing_to_look_at() -> None:
    assert doubt_lines(make_strand([6.0] * 9)) == []


def test_conditions_name_sheet_tags_and_camera() -> None:
    [line] = condition_lines(replace(CONDITIONS, tags_found=24, bed_height_mm=1.2))
    assert line.startswith("Measured on mat-a4 (24 of 26 tags, check length 273.0 mm) from 250 mm above")
    assert line.endswith("5 degrees off level, the bed 1.2 mm above it.")


def test_assumed_check_length_and_focal_length_are_cautions() -> None:
    lines = condition_lines(replace(CONDITIONS, check_length_given=False, focal_source="estimated"))
    assert "give what it reads as --check-length" in lines[1]
    assert "estimated" in lines[2]
