"""A strand that loses or gains beads at its ends."""

import math

import pytest

from sizing.base.loop import Link
from sizing.base.target import Target, TargetKind
from sizing.strand.change import EndChange, make_row
from tests.helpers.strands import make_strand

SUM_MM = 1e-9
STRUNG = Target(kind=TargetKind.STRUNG, length_mm=100.0, findings=(Link(along_mm=20.0),))


def test_lengths_of_the_row_add_up_to_the_closed_up_length() -> None:
    along = [6.0, math.nan, 6.2, 5.8, 6.0]
    row = make_row(make_strand(along))
    assert sum(link.along_mm for link in row.links) == pytest.approx(24.0, abs=SUM_MM)
    assert all(link.along_mm == pytest.approx(24.0 / 5, abs=SUM_MM) for link in row.links)


def test_without_any_size_across_a_bead_is_as_thick_as_long() -> None:
    row = make_row(make_strand([6.0] * 4, across_mm=[math.nan] * 4))
    assert row.usual == Link(along_mm=6.0, across_mm=6.0)


def test_beads_come_off_a_uniform_strand_but_not_its_odd_ones() -> None:
    row = make_row(make_strand([6.0] * 20 + [3.0]))
    option = row.option(EndChange(right=-2), STRUNG)
    assert option.strung_mm == pytest.approx(18 * 6 + 3, abs=SUM_MM)
    assert (option.remove, option.count, option.change_beads) == ((), 19, -2)
    assert option.finished_mm == pytest.approx(option.strung_mm + 20, abs=SUM_MM)
    assert option.miss_mm == pytest.approx(11.0, abs=SUM_MM)


@pytest.mark.parametrize("misread_mm", [[16.0], [4.0, 4.0]])
def test_a_usual_bead_is_none_that_was_read_as_several_or_in_parts(misread_mm: list[float]) -> None:
    """Among rounds of 8 mm, two of them read as one, or one as two: a bead more is one of 8 mm."""
    at = range(10, 10 + len(misread_mm))
    strand = make_strand([8.0] * 9 + misread_mm + [8.0] * 9, flags=dict.fromkeys(at, ("unsure-split",)))
    row = make_row(strand)
    assert row.usual.along_mm == pytest.approx(8.0, abs=SUM_MM)
    option = row.option(EndChange(right=12), STRUNG)
    assert option.strung_mm == pytest.approx(18 * 8 + sum(misread_mm) + 12 * 8, abs=SUM_MM)
    assert option.change_beads == 12


def test_spacers_go_with_their_beads_and_covers_stay() -> None:
    """Covers of 3 mm about 6 repeats of two beads of 8 mm and a spacer of 2 mm."""
    kinds = ["cover", *["bead", "bead", "spacer"] * 6, "cover"]
    row = make_row(make_strand([3.0, *[8.0, 8.0, 2.0] * 6, 3.0], kinds=kinds))
    assert row.pattern.repeat == 3
    assert row.usual.along_mm == pytest.approx(8.0, abs=SUM_MM)
    for repeats, numbers in ((-1, (17, 18, 19)), (2, ())):
        option = row.option(row.steps(repeats), STRUNG)
        assert (option.change_beads, option.change_spacers) == (2 * repeats, repeats)
        assert (option.count, option.remove) == (12 + 2 * repeats, numbers)
        assert (option.spacers, option.remove_spacers) == (6 + repeats, numbers[-1:])
        assert option.remove_beads == numbers[:-1]
        assert option.strung_mm == pytest.approx(6 + 18 * (6 + repeats), abs=SUM_MM)


def test_a_few_spacers_are_none_of_the_odd_beads_of_a_uniform_strand() -> None:
    row = make_row(
        make_strand([6.0] * 10 + [2.0] + [6.0] * 30, kinds=[*["bead"] * 10, "spacer", *["bead"] * 30])
    )
    option = row.option(EndChange(right=-3), STRUNG)
    assert (row.pattern.uniform, row.pattern.odd) == (True, ())
    assert (option.count, option.change_beads, option.change_spacers) == (37, -3, 0)
    assert option.strung_mm == pytest.approx(37 * 6 + 2, abs=SUM_MM)


def test_a_mixed_strand_names_the_beads() -> None:
    row = make_row(make_strand([9.8, 5.9, 9.8, 7.9, 5.9]))
    option = row.option(EndChange(left=-1, right=-2), STRUNG)
    assert option.remove == (1, 4, 5)
    assert option.strung_mm == pytest.approx(5.9 + 9.8, abs=SUM_MM)


def test_a_repeat_runs_on() -> None:
    row = make_row(make_strand([4.0, 5.0, 8.0] * 5 + [4.0]))
    assert row.steps(1) == EndChange(right=3)
    added = row.option(row.steps(1), STRUNG).add_right
    assert [link.along_mm for link in added] == pytest.approx([5.0, 8.0, 4.0], abs=SUM_MM)


def test_a_symmetric_strand_grows_at_both_ends() -> None:
    row = make_row(make_strand([6.0, 8, 10, 8, 6]))
    assert row.steps(-2) == EndChange(left=-2, right=-2)
    option = row.option(row.steps(1), STRUNG)
    assert option.change_beads == 2
    assert option.add_left == option.add_right == (Link(along_mm=6.0, across_mm=6.0),)


def test_a_strand_without_order_grows_by_its_middle_size() -> None:
    row = make_row(make_strand([9.8, 5.9, 9.8, 7.9, 5.9]))
    assert [link.along_mm for link in row.option(EndChange(right=2), STRUNG).add_right] == [7.9, 7.9]
