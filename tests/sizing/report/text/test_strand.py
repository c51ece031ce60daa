"""The report on a strand."""

import math
from dataclasses import replace

import numpy as np

from sizing.base.loop import Link
from sizing.base.target import make_target
from sizing.piece.fit import planned_loop
from sizing.piece.parts import BeadPart, Finding, Kind
from sizing.piece.piece import Piece, target_from_piece
from sizing.report.front.strand import strand_facts, strand_front
from sizing.report.text.strand import strand_text
from sizing.strand.sized import size_strands
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.flags import DESCRIPTIONS, ODD_SIZE
from vision.common.records import Other, OtherKind, Pendant

# An anklet of known geometry: 40 beads, 234.555 mm strung.
ANKLET = make_strand([234.555 / 40] * 40, across_mm=[6.47] * 40)


def test_an_anklet_reads_as_its_maker_speaks() -> None:
    target = make_target({"finished": 250.0}, findings=(Link(along_mm=22.0),))
    assert target is not None
    text = strand_text(size_strands([ANKLET], target))
    assert text.startswith("strand.jpg: 40 beads, 6.5 mm across, 5.9 mm along the string\n")
    assert "234.6 ± 0.4 mm (9 1/4 in)" in text
    assert "256.6 mm (10 1/8 in) with 22.0 mm of clasp and findings" in text
    assert "\nRemove 1 bead to finish at 250.0 mm (9 13/16 in).\n  Result: " in text
    assert "\nHow it was measured\n  Measured on sheet mat-a4" in text


def test_round_beads_have_one_size() -> None:
    assert "30 beads, 6.0 mm\n" in strand_text(size_strands([make_strand([6.0] * 30)]))


def test_spacers_and_covers_are_counted_by_themselves() -> None:
    kinds = ["cover", *["bead", "spacer"] * 12, "cover"]
    text = strand_text(size_strands([make_strand([3.0, *[8.0, 2.0] * 12, 3.0], kinds=kinds)]))
    assert text.startswith("strand.jpg: 12 beads, 12 spacers, 2 covers, 8.0 mm\n")


def test_what_lies_beside_a_strand_is_named_in_a_line_where_a_bead_could_be_missed() -> None:
    kinds: list[OtherKind] = ["stray", "other", "stopper", "stray"]
    others = tuple(Other(centre_px=(0.0, 0.0), kind=kind, outline_px=np.zeros((0, 2))) for kind in kinds)
    assert "\n\nNot counted: 2 stray beads, 1 stopper.\n\n" in strand_text(
        size_strands([replace(ANKLET, others=others)])
    )
    assert "Not counted" not in strand_text(size_strands([replace(ANKLET, others=others[1:2])]))


def test_a_loop_names_its_extender_and_the_bead_on_it() -> None:
    strand = make_loop([8.0] * 20)
    pendant = Pendant(centre_px=(0, 0), across_mm=5.8, along_mm=6.3, outline_px=np.zeros((0, 2)))
    assert strand.loop is not None
    loop = replace(strand.loop, pendant=pendant, extender_mm=35.0)
    text = strand_text(size_strands([replace(strand, loop=loop)]))
    assert "\nExtender           35.0 mm of chain, a bead of about 6 mm at its end\n" in text
    assert "Extender" not in strand_text(size_strands([strand]))


def test_what_is_assumed_of_all_strands_is_said_once() -> None:
    strands = numbered_on(make_strand([8.0] * 20), make_strand([8.0] * 22), make_strand([8.0] * 24))
    sized = size_strands(strands, make_target({"wrist": 160.0}))
    text = " ".join(strand_text(sized).split())
    for assumed in ("Clasp and findings are assumed", "The inside is meant to be"):
        assert text.count(assumed) == 1
        assert sum(assumed in note for note in strand_front(sized).notes) == 1


def test_each_strand_around_another_says_how_long_it_should_be() -> None:
    strands = numbered_on(make_strand([8.0] * 20), make_strand([8.0] * 22), make_strand([8.0] * 24))
    target = make_target({"wrist": 160.0})
    assert target is not None
    sized = size_strands(strands, replace(target, step_mm=0.0))
    text = " ".join(strand_text(sized).split())
    assert text.count("Should be strung") == 3
    assert "to fit a wrist of 160.0 mm (6 5/16 in), worn 6.4 mm (1/4 in) loose, around strand 1" in text
    assert text.count("One clasp closes all of them") == 1
    front = strand_front(sized)
    assert sum("should be strung" in note for note in front.notes) == 3
    assert strand_facts(sized[1])[3].label == "Should be strung"
    assert "Should be strung" not in strand_text(size_strands(strands, target))


def test_a_finished_piece_is_compared_with_its_plan_line_by_line() -> None:
    """23 rounds of 8 mm were planned with findings of 12 mm, 22 and a clasp of 14 mm are found."""
    bead = BeadPart(along_mm=8.0, across_mm=8.0)
    piece = Piece(
        beads=(bead,), target_mm={"strung": 184.0}, findings=(Finding(kind=Kind.CLASP, length_mm=12.0),)
    )
    target = target_from_piece(piece)
    assert target is not None
    sized = size_strands([make_loop([8.0] * 22, clasp_mm=14.0)], target, planned=planned_loop(piece, target))
    text = strand_text(sized)
    rows = [line.split("  ") for line in text.partition("Compared with the plan\n")[2].splitlines()[:5]]
    found = {row[1]: [cell.strip() for cell in row[2:] if cell] for row in rows}
    assert found["Bead 8 mm"] == ["23 planned", "22 found", "1 too few"]
    assert found["Strung length"][2] == "8.0 mm shorter than planned"
    assert found["Clasp and findings"][2] == "2.0 mm longer than planned"
    assert found["All round"][1] == "190.0 ± 0.6 mm (7 1/2 in) found"
    assert "Compared with the plan" not in strand_text(size_strands([make_loop([8.0] * 22)], target))


def test_mixed_beads_have_a_range() -> None:
    assert "12 beads, 4.0 to 8.0 mm\n" in strand_text(size_strands([make_strand([4.0, 8.0] * 6)]))


def test_one_long_bead_among_rounds_shows_in_the_range_along_the_string() -> None:
    across_mm = [6.0, 8.0, 10.0] * 7
    along_mm = [*across_mm[:-1], 13.75]
    text = strand_text(size_strands([make_strand(along_mm, across_mm=across_mm)]))
    assert text.startswith("strand.jpg: 21 beads, 6.0 to 10.0 mm across, 6.0 to 13.8 mm along the string\n")


def test_a_range_of_one_size_is_that_size() -> None:
    text = strand_text(size_strands([make_strand([4.0, 16.0] * 6, across_mm=[8.0] * 12)]))
    assert text.startswith("strand.jpg: 12 beads, 8.0 mm across, 4.0 to 16.0 mm along the string\n")


def test_the_spread_of_sizes() -> None:
    # Six of 4 mm, six of 8 mm: mean 6, standard deviation 2 sqrt(12 / 11) = 2.09.
    text = strand_text(size_strands([make_strand([4.0, 8.0] * 6)]))
    assert "from 4.00 to 8.00 mm, standard deviation 2.09 mm" in text


def test_one_bead_is_one_bead() -> None:
    assert ": 1 bead, 6.0 mm\n" in strand_text(size_strands([make_strand([6.0])]))


def test_nothing_measured_is_no_number() -> None:
    text = strand_text(size_strands([make_strand([math.nan, math.nan])]))
    assert ": 2 beads, not measured\n" in text
    assert "nan" not in text


def test_gaps_stand_beside_the_length_without_them() -> None:
    text = strand_text(size_strands([make_strand([6.0] * 20, gap_mm=3.0)]))
    assert "123.0 ± 0.4 mm" in text
    assert "120.0 ± 0.4 mm (4 3/4 in); the gaps add up to 3.0 mm" in text


def test_flags_are_explained_with_their_beads() -> None:
    text = strand_text(size_strands([make_strand([6.0] * 9, flags={3: (ODD_SIZE,), 7: (ODD_SIZE,)})]))
    flagged = " ".join(text.partition("\nCheck these beads\n")[2].split())  # a long line is wrapped
    assert flagged.startswith(f"beads 3, 7: {DESCRIPTIONS[ODD_SIZE]} (odd-size)")
    assert "Check these beads" not in strand_text(size_strands([make_strand([6.0] * 9)]))


def test_several_strands_have_their_own_lines_and_totals() -> None:
    strands = numbered_on(make_strand([6.0] * 20), make_strand([8.0] * 10))
    text = strand_text(size_strands(strands, make_target({"strung": 120.0})))
    # Scales add up (0.24 + 0.16 mm), the rest adds as squares (0.32 and 0.37 mm): 0.6 mm.
    assert text.startswith("strand.jpg: 2 strands, 30 beads, strung 200.0 ± 0.6 mm (7 7/8 in) in all\n")
    assert "\nStrand 1 of 2, beads 1 to 20: 20 beads, 6.0 mm\nStrung length      120.0 ± 0.4 mm" in text
    assert "\nStrand 2 of 2, beads 21 to 30: 10 beads, 8.0 mm\nStrung length      80.0 ± 0.4 mm" in text
    assert "\nLeave the strand as it is" in text
    assert "\nAdd 5 beads" in text
    assert text.count("How it was measured") == 1


def test_a_strand_that_is_not_measured_is_named_with_its_reason() -> None:
    strand = replace(make_strand([6.0] * 20), refused=("the picture is blurred",))
    sized = size_strands([strand])
    text = strand_text(sized)
    assert strand_front(sized).notes[0] == "A further strand cannot be measured: the picture is blurred."
    assert "\nNot measured\n  A further strand cannot be measured: the picture is blurred.\n" in text


def test_a_closed_loop_says_what_it_measures_all_round_and_inside() -> None:
    text = strand_text(size_strands([make_loop([8.0] * 22)]))
    assert text.startswith("strand.jpg: closed loop, 22 beads, 8.0 mm\n")
    assert "Strung length      176.0 ± 0.4 mm (6 15/16 in)" in text
    assert "All round          188.0 ± 0.6 mm (7 3/8 in); clasp and rings take 12.0 mm of it" in text
    assert "Inside             162.9 ± 0.6 mm (6 7/16 in)" in text


def test_a_closed_loop_is_compared_as_a_finished_piece() -> None:
    text = strand_text(size_strands([make_loop([8.0] * 22)], make_target({"finished": 173.0})))
    assert (
        "The finished piece is 15.0 mm (9/16 in) too long for a finished length of 173.0 mm (6 13/16 in): "
        "that is about 2 beads." in text
    )
    assert "Restring it with 2 beads fewer to come nearest." in text
    assert "Remove" not in text
    assert "--findings" not in text
