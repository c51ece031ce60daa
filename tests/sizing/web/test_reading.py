"""What a page says of measured beads is what the reports say, and each mark names its bead."""

import re
from dataclasses import replace

import numpy as np
import pytest

from sizing.base.errors import SizingError
from sizing.lot.label import parse_label
from sizing.report.records.photo import css_colour
from sizing.report.sentences.strand import strand_headline, strand_notes, strand_outcomes
from sizing.strand.sized import size_strands
from sizing.web.reading.lots import read_lot
from sizing.web.reading.marks import outline_points, window_of
from sizing.web.reading.strands import read_strands
from sizing.web.reading.wishes import FIELDS, Asked, Picking, asked_for, tidy
from sizing.web.reading.words import aloud, for_page
from tests.helpers.lots import lot_of
from tests.helpers.pages import handfuls
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.records import Other
from vision.marks.colours import UNCOUNTED

SIZE_PX = (4000, 3000)
STRAND = make_strand([6.0] * 30, flags={4: ("weak-edge",)})
FINISHED = {"goal": "finished", "length": "200 mm", "findings": "22 mm"}


def test_advice_is_that_of_the_report() -> None:
    asked = asked_for(FINISHED, label=False)
    [sized] = size_strands([STRAND], asked.target)
    assert sized.advice
    reading = read_strands([STRAND], asked, size_px=SIZE_PX)
    assert reading.front.headline == strand_headline(sized.advice)
    assert list(reading.front.notes) == strand_notes(sized.advice)
    assert list(reading.outcomes) == strand_outcomes(sized.advice)


def test_another_target_gives_other_advice_and_other_marks() -> None:
    longer = read_strands([STRAND], asked_for(FINISHED | {"length": "25 cm"}, label=False), size_px=SIZE_PX)
    shorter = read_strands([STRAND], asked_for(FINISHED | {"length": "19 cm"}, label=False), size_px=SIZE_PX)
    assert longer.front.headline.startswith("Add 8 beads")
    assert shorter.front.headline.startswith("Remove 2 beads")
    off = [mark.key for mark in shorter.photos[0].marks if "off" in mark.states]
    assert off == ["29", "30"]
    assert not any("off" in mark.states for mark in longer.photos[0].marks)


def test_a_card_says_size_and_doubt_of_its_bead() -> None:
    reading = read_strands([STRAND], Asked(), size_px=SIZE_PX)
    assert [card.key for card in reading.cards] == [mark.key for mark in reading.photos[0].marks]
    assert reading.cards[3].title == "Bead 4"
    assert list(reading.cards[3].doubts) == ["Too little of its outline stands out clearly from the bed."]
    assert re.fullmatch(r"6\.00 ± 0\.\d+ mm \(1/4 in\)", reading.cards[3].rows[0][1])
    assert "doubtful" in reading.photos[0].marks[3].states


def test_several_strands_and_a_loop_have_their_lines() -> None:
    strands = numbered_on(STRAND, make_loop([8.0] * 22))
    reading = read_strands(strands, asked_for(FINISHED, label=False), size_px=SIZE_PX)
    assert len(reading.cards) == 52
    assert reading.outcomes[0].startswith("Strand 1: Result: ")


def test_strands_one_around_the_other_have_targets_of_their_own() -> None:
    """Rounds of 6 mm in two strands, the inner one of 200 mm finished: 2 pi 6 mm more, 237.7 mm."""
    strands = numbered_on(STRAND, make_strand([6.0] * 36))
    wish = FINISHED | {"step": "touching"}
    reading = read_strands(strands, asked_for(tidy(wish), label=False), size_px=SIZE_PX)
    inner, outer, *rest = reading.front.notes
    assert inner.startswith("Strand 1: Leave the strand as it is")
    assert "to a finished length of 237.7 mm" in outer or "to finish at 237.7 mm" in outer
    assert any("strand 1, then 2, each touching the one inside it" in note for note in rest)
    apart = read_strands(strands, asked_for(FINISHED, label=False), size_px=SIZE_PX)
    assert not any("one inside it" in note for note in apart.front.notes)


def test_a_lot_is_sorted_picked_and_held_against_a_label() -> None:
    lot = lot_of([6.0, 6.02, 6.5, 7.95, 8.0, 8.05, 6.01])
    sizes_px = {each.photo: SIZE_PX for each in lot.conditions}
    picked = read_lot(lot, Asked(picking=Picking(uniform=3, pairs=1)), sizes_px=sizes_px)
    assert picked.front.headline == "7 beads: 6 in 2 sizes, 1 between two sizes."
    assert {mark.key for mark in picked.photos[0].marks if "picked" in mark.states} >= {"1", "2", "7"}
    checked = read_lot(lot, Asked(label=parse_label("8mm")), sizes_px=sizes_px)
    assert checked.front.headline.startswith("8mm: not as labelled; 4 of 7")
    assert (checked.sizes[0].name, checked.sizes[0].figures[0]) == ("Outside the limits", "4")


def test_what_is_not_counted_is_marked_on_its_own_photo_of_a_lot() -> None:
    lot = handfuls()
    names = [each.photo for each in lot.conditions]
    thing = Other(centre_px=(70.0, 80.0), kind="other", outline_px=np.eye(3, 2), photo=names[1])
    sizes_px = dict.fromkeys(names, SIZE_PX)
    reading = read_lot(replace(lot, others=(thing,)), Asked(), sizes_px=sizes_px)
    assert [[m.key for m in each.marks if m.states == "other"] for each in reading.photos] == [
        [],
        ["other-1"],
        *([] for _ in names[2:]),
    ]
    card = reading.cards[-1]
    assert (card.key, card.is_bead, card.photo, card.px) == ("other-1", False, names[1], (70.0, 80.0))
    assert dict(reading.legend)["not counted"] == css_colour(UNCOUNTED)  # as on the marked photo
    assert "not counted" not in [name for name, _ in read_lot(lot, Asked(), sizes_px=sizes_px).legend]


def test_beads_of_several_photos_have_names_of_their_own() -> None:
    lot = handfuls()
    reading = read_lot(lot, Asked(), sizes_px={each.photo: SIZE_PX for each in lot.conditions})
    assert [card.key for card in reading.cards] == ["A1", "A2", "B1", "B2", "C1", "C2"]
    assert [mark.key for photo in reading.photos for mark in photo.marks] == [c.key for c in reading.cards]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"goal": "wrist", "length": "7"}, "Length: 7 has no unit: write 7mm, 7cm or 7in"),
        ({"goal": "wrist"}, "Wrist has no length"),
        ({"goal": "wrist", "length": "70 cm"}, "check its unit"),
        ({"goal": "finished", "length": "1 cm", "findings": "2 cm"}, "leaves no room for beads"),
        (
            {"goal": "wrist", "length": "7 in", "step": "2"},
            "Strands one around the other: 2 has no unit: write 2mm, 2cm or 2in, or touching",
        ),
        ({"pick": "uniform", "amount": "many"}, "many is no number of beads"),
    ],
)
def test_what_cannot_be_meant_is_refused(typed: dict[str, str], said: str) -> None:
    with pytest.raises(SizingError, match=re.escape(said)):
        asked_for(typed, label=False)


def test_a_label_must_be_there() -> None:
    with pytest.raises(SizingError, match="type what the label says"):
        asked_for({}, label=True)


def test_only_known_fields_are_taken_and_no_long_ones() -> None:
    assert tidy({"goal": "neck", "path": "/etc/passwd", "label": "8" * 1000, "ease": ["1"]}) == {
        "goal": "neck",
        "label": "8" * 60,
    }
    assert set(tidy(dict.fromkeys(FIELDS, "x"))) == set(FIELDS)


def test_no_option_of_the_command_line_is_left_in_a_sentence() -> None:
    notes = read_strands(
        [STRAND], asked_for({"goal": "wrist", "length": "7 in"}, label=False), size_px=SIZE_PX
    ).front.notes
    assert any("--" in note for note in notes)
    assert not any("--" in for_page(note) for note in notes)
    assert for_page("give --ease for a looser fit") == "set “How loose” for a looser fit"
    assert for_page("put the count right with strandgauge stash recount") == "put the count right"
    assert for_page("blue has no size 3: see strandgauge stash show 1") == "blue has no size 3"
    told = for_page("say which with --size, by its number in strandgauge stash show 12")
    assert (
        told == "say which \N{LEFT DOUBLE QUOTATION MARK}size\N{RIGHT DOUBLE QUOTATION MARK}, by its number"
    )
    assert (
        for_page("the length of the piece with --finished") == "the length of the piece as “Finished length”"
    )


def test_numbers_are_read_aloud_in_words() -> None:
    assert aloud("Add 2 beads (2 of 6.0 mm at the left end) for 6 x 4 mm, 7.00 ± 0.05 mm (1/4 in).") == (
        "Add 2 beads (2 of 6.0 millimetres at the left end) for 6 by 4 millimetres, "
        "7.00 give or take 0.05 millimetres, 1/4 inches."
    )


def test_outlines_are_short_and_the_window_holds_them() -> None:
    angle = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    circle = np.stack((500 + 40 * np.cos(angle), 300 + 40 * np.sin(angle)), axis=1)
    points = [tuple(map(float, each.split(","))) for each in outline_points(circle).split()]
    assert 30 <= len(points) <= 60
    assert np.allclose(np.hypot(*(np.array(points) - (500, 300)).T), 40, atol=0.1)  # rounded to a tenth
    left, top, width, height = window_of(circle, (560, 400))
    assert left <= 460
    assert top <= 260
    assert left + width == pytest.approx(545, abs=1)
    assert top + height >= 340
