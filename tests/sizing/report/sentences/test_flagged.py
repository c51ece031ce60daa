"""Who carries a flag."""

from dataclasses import replace

from sizing.report.sentences.flagged import lot_flagged, strand_flagged
from tests.helpers.lots import lot_of
from tests.helpers.pages import handfuls
from tests.helpers.strands import make_strand, numbered_on
from vision.common.flags import CUT_OFF, HEIGHT_ASSUMED, ODD_SIZE, UNSURE_COUNT, WEAK_EDGE


def test_each_flag_has_its_beads_in_the_order_of_the_register() -> None:
    strand = make_strand([6.0] * 9, flags={3: (ODD_SIZE,), 7: (ODD_SIZE, WEAK_EDGE)})
    assert list(strand_flagged([strand]).items()) == [(WEAK_EDGE, "bead 7"), (ODD_SIZE, "beads 3, 7")]


def test_a_flag_of_all_beads_does_not_list_them() -> None:
    strand = make_strand([6.0] * 9, flags=dict.fromkeys(range(1, 10), (HEIGHT_ASSUMED,)))
    assert strand_flagged([strand]) == {HEIGHT_ASSUMED: "all beads"}


def test_a_flag_of_the_whole_is_named() -> None:
    assert strand_flagged([replace(make_strand([6.0] * 9), flags=(WEAK_EDGE,))]) == {
        WEAK_EDGE: "the strand as a whole"
    }
    assert lot_flagged(replace(lot_of([8.0]), flags=(UNSURE_COUNT,))) == {UNSURE_COUNT: "the lot as a whole"}


def test_without_flags_there_is_nobody() -> None:
    assert strand_flagged([make_strand([6.0] * 9)]) == {}


def test_beads_of_several_photos_have_letters() -> None:
    lot = handfuls()
    beads = (*lot.beads[:3], replace(lot.beads[3], flags=(CUT_OFF,)), *lot.beads[4:])
    assert lot_flagged(replace(lot, beads=beads)) == {CUT_OFF: "bead B2"}


def test_of_several_strands_the_flagged_one_is_named() -> None:
    strands = numbered_on(*[make_strand([6.0] * 3, flags={2: (ODD_SIZE,)})] * 2)
    strands[1] = replace(strands[1], flags=(WEAK_EDGE,))
    assert strand_flagged(strands) == {WEAK_EDGE: "strand 2 as a whole", ODD_SIZE: "beads 2, 5"}
