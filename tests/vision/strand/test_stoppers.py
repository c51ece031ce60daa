"""Stoppers and scraps at the ends of strands painted by hand."""

from dataclasses import replace

import numpy as np
import pytest
from skimage.color import rgb2lab

from tests.helpers.handmade import cylinder_widths, painted, round_widths, straight_plane
from vision.strand.axis import STEP_MM
from vision.strand.stoppers import Pieces, bead_range, beads_and_stoppers, uncertain_stoppers
from vision.strand.strip import Segment, Strip

UNLIKELY = 0.3
BLUE, BLACK, RED, GREEN = (40, 60, 150), (30, 30, 32), (150, 50, 60), (40, 130, 70)


ROD_MM = 1.2
STEP_TOLERANCE_MM = 0.21
"""Two steps along the axis."""


def beads_of(
    width: np.ndarray, places: np.ndarray, colours: list, *, rod: bool, unlikely: tuple[int, ...] = ()
) -> tuple[int, int]:
    """Divide a painted strand; all of it shows beads, as the network sees it, but for `unlikely` pieces."""
    likely = np.ones(len(width))
    for k in unlikely:
        likely[round(places[k, 0] / STEP_MM) : round(places[k, 1] / STEP_MM)] = UNLIKELY
    beads = bead_range(pieces_of(width, places, likely, colours=colours, rod=rod))
    return beads.start, beads.stop


def pieces_of(
    width: np.ndarray, places: np.ndarray, likely: np.ndarray, *, colours: list, rod: bool = True
) -> Pieces:
    """Paint a strand with these pieces."""
    return Pieces(
        segments=[Segment(start_mm=float(a), end_mm=float(b)) for a, b in places],
        strip=painted(width, places, colours=colours),
        width_mm=width,
        likely=likely,
        strung=np.ones(len(width)),
        rod=rod,
    )


def with_stoppers(lengths: list[float], d: float, *, stoppers: tuple[float, ...]) -> tuple:
    """Lay rounds between two tubes: (width, places)."""
    sizes = [5.0, *lengths, 6.0] if stoppers else lengths
    width, places = round_widths(sizes)
    for (a, b), thick in zip(places[[0, -1]], stoppers, strict=True):
        s = np.arange(len(width)) * 0.1
        width[(s >= a) & (s < b)] = thick
    width[width > d] = d
    return width, places


@pytest.mark.parametrize("rod", [True, False])
def test_plain_strand_is_all_beads(rod: bool) -> None:  # noqa: FBT001
    width, places = round_widths([8.0] * 10)
    assert beads_of(width, places, [BLUE], rod=rod) == (0, 10)


def test_black_tubes_at_both_ends_of_a_rod_are_stoppers() -> None:
    width, places = with_stoppers([8.0] * 8, 8.0, stoppers=(4.5, 4.5))
    assert beads_of(width, places, [BLACK, *[BLUE] * 8, BLACK], rod=True) == (1, 9)


def test_a_single_stopper_leaves_the_other_end_alone() -> None:
    width, places = round_widths([8.0] * 9)
    width[: round(places[0, 1] / 0.1)] = np.minimum(width[: round(places[0, 1] / 0.1)], 3.0)
    assert beads_of(width, places, [BLACK, *[BLUE] * 8], rod=True) == (1, 9)


@pytest.mark.parametrize("rod", [True, False])
def test_beads_of_a_mixed_strand_are_no_stoppers(rod: bool) -> None:  # noqa: FBT001
    width, places = round_widths([6.0, 8.0, 10.0, 8.0, 6.0, 8.0, 10.0, 8.0, 6.0])
    assert beads_of(width, places, [RED, BLUE, GREEN, BLUE], rod=rod) == (0, 9)


def test_the_only_like_of_an_end_bead_may_be_near_the_other_end() -> None:
    sizes = [5.0, 4.0, 6.0, 6.5, 8.0, 6.0, 7.0, 8.0, 6.5, 7.0, 4.0, 8.0, 6.0]
    width, places = round_widths(sizes)
    for a, b in places[[0, -1]]:
        s = np.arange(len(width)) * 0.1
        width[(s >= a) & (s < b)] = 2.5
    assert beads_of(width, places, [BLACK, *[BLUE] * 11, BLACK], rod=True) == (1, 12)


def test_an_end_bead_of_its_own_colour_is_a_bead_by_its_shape() -> None:
    width, places = cylinder_widths([4.0, *[12.0] * 8, 4.0], 8.0)
    for a, b in places[[0, -1]]:
        s = np.arange(len(width)) * 0.1
        width[(s >= a) & (s < b)] = 4.0
    colours = [BLACK, (230, 210, 90), *[BLUE] * 7, BLACK]
    assert beads_of(width, places, colours, rod=True) == (1, 9)


@pytest.mark.parametrize(("rod", "unlikely"), [(True, (0, 9)), (False, (0,)), (False, (9,))])
def test_what_the_network_takes_for_no_bead_is_none_at_an_end(
    rod: bool,  # noqa: FBT001
    unlikely: tuple[int, ...],
) -> None:
    width, places = round_widths([8.0] * 10)
    first, last = int(0 in unlikely), 10 - int(9 in unlikely)
    assert beads_of(width, places, [BLUE], rod=rod, unlikely=unlikely) == (first, last)


def test_what_lies_between_beads_is_one_however_unlikely() -> None:
    width, places = round_widths([8.0] * 10)
    assert beads_of(width, places, [BLUE], rod=False, unlikely=(4, 5)) == (0, 10)


def test_graduated_strand_keeps_its_small_ends() -> None:
    sizes = [6.0, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 6.0]
    width, places = round_widths(sizes)
    assert beads_of(width, places, [BLUE], rod=False) == (0, 13)


def test_scrap_of_wire_at_an_end_is_no_bead() -> None:
    width, places = round_widths([1.2, *[8.0] * 8])
    assert beads_of(width, places, [(90, 90, 92), *[BLUE] * 8], rod=False) == (1, 9)


@pytest.mark.parametrize(("size", "kept"), [(8.0, (0, 9)), (3.0, (1, 9))])
def test_a_far_piece_is_a_bead_only_if_it_is_of_their_size(size: float, kept: tuple[int, int]) -> None:
    width, places = round_widths([size, *[8.0] * 8], gaps=[14.0])
    assert beads_of(width, places, [BLUE], rod=False) == kept


@pytest.mark.parametrize("count", [1, 2])
def test_of_one_or_two_nothing_is_taken(count: int) -> None:
    width, places = cylinder_widths([6.0] * count, 6.0)
    assert beads_of(width, places, [BLUE, BLACK], rod=True) == (0, count)


@pytest.mark.parametrize("wide", [3.0, 6.0])
def test_stoppers_stand_right_beside_the_beads(wide: float) -> None:
    width = np.full(600, ROD_MM)
    width[100:150], width[150:400], width[400:470] = wide, 8.0, wide
    beads = [Segment(start_mm=15.0 + 5 * k, end_mm=20.0 + 5 * k) for k in range(5)]
    before, *between, after = beads_and_stoppers(beads, width)
    assert between == beads
    assert (before.start_mm, before.end_mm) == pytest.approx((10.0, 15.0), abs=STEP_TOLERANCE_MM)
    assert (after.start_mm, after.end_mm) == pytest.approx((40.0, 47.0), abs=STEP_TOLERANCE_MM)


def test_the_bare_rod_and_what_lies_farther_off_are_no_stoppers() -> None:
    width = np.full(800, ROD_MM)
    width[150:400], width[500:600] = 8.0, 6.0
    beads = [Segment(start_mm=15.0 + 5 * k, end_mm=20.0 + 5 * k) for k in range(5)]
    assert beads_and_stoppers(beads, width) == beads


def test_what_is_surely_a_bead_ends_no_wire() -> None:
    """A red bead, half as wide, on a wire of blue ones: unlike all, but a wire has no stoppers."""
    width, places = round_widths([8.0] * 8 + [5.0])
    colours = [BLUE] * 8 + [RED]
    assert beads_of(width, places, colours, rod=False) == (0, 9)
    assert beads_of(width, places, colours, rod=False, unlikely=(8,)) == (0, 8)


@pytest.mark.parametrize(
    ("kept", "possible"), [((1, 9), []), ((0, 9), [9]), ((1, 10), [0]), ((0, 10), []), ((2, 9), [1])]
)
def test_a_rod_with_one_stopper_may_have_none(kept: tuple[int, int], possible: list[int]) -> None:
    """Nine beads of 8 mm between pieces of 5 mm that look like beads."""
    width, places = round_widths([5.0, *[8.0] * 8, 5.0])
    likely = np.ones(len(width))
    pieces, unlikely = (pieces_of(width, places, share * likely, colours=[BLUE]) for share in (1.0, UNLIKELY))
    assert uncertain_stoppers(pieces, slice(*kept)) == possible
    assert uncertain_stoppers(unlikely, slice(*kept)) == []


def test_a_lone_stopper_may_be_a_bead_from_less_likeness_on() -> None:
    """Stoppers come in pairs: with one at either end, pieces that are as likely beads are not questioned."""
    width, places = round_widths([5.0, *[8.0] * 8, 5.0])
    halfway = pieces_of(width, places, np.full(len(width), 0.5), colours=[BLUE])
    assert uncertain_stoppers(halfway, slice(0, 9)) == [9]
    assert uncertain_stoppers(halfway, slice(1, 9)) == []


def test_a_stopper_as_large_as_a_bead_may_be_one() -> None:
    width, places = round_widths([8.0] * 10)
    pieces = pieces_of(width, places, np.ones(len(width)), colours=[BLUE])
    assert uncertain_stoppers(pieces, slice(1, 9)) == [0, 9]


def test_behind_a_stopper_what_is_surely_a_bead_is_one() -> None:
    """A steel tube, then two red beads on a rod of larger blue ones: one piece at each end is a stopper."""
    width, places = round_widths([5.0, *[8.0] * 8, 6.0, 5.0])
    colours = [BLACK, *[BLUE] * 8, RED, BLACK]
    assert beads_of(width, places, colours, rod=True) == (1, 10)
    assert beads_of(width, places, colours, rod=True, unlikely=(9,)) == (1, 9)


# From here on strips are painted without blur or noise, so that looks and distances are exactly known.


def flat_pieces(
    sizes: list[tuple[float, float]],
    *,
    colours: list[tuple[int, int, int]] | None = None,
    likely: dict[int, float] | None = None,
    gaps: dict[int, float] | None = None,
    rod: bool = True,
) -> Pieces:
    """Lay tubes (length, width) one after another, each of one colour, with gaps after some."""
    starts, at = [], 5.0
    for k, (length, _) in enumerate(sizes):
        starts.append(at)
        at += length + (gaps or {}).get(k, 0.0)
    segments = [Segment(start_mm=a, end_mm=a + s[0]) for a, s in zip(starts, sizes, strict=True)]
    width = np.full(round(at / STEP_MM) + 50, 0.3)
    rgb = np.full((201, len(width), 3), 230, np.uint8)
    shown = np.ones(len(width))
    for k, segment in enumerate(segments):
        steps = segment.steps()
        width[steps] = sizes[k][1]
        shown[steps] = (likely or {}).get(k, 1.0)
        rgb[:, steps] = (colours or [BLUE])[k % len(colours or [BLUE])]
    plane = straight_plane(len(width) * STEP_MM)
    strip = Strip(rgb=rgb, aside_mm=np.arange(-100, 101) * STEP_MM, plane=plane)
    return Pieces(
        segments=segments, strip=strip, width_mm=width, likely=shown, strung=np.ones(len(width)), rod=rod
    )


def kept(pieces: Pieces) -> tuple[int, int]:
    beads = bead_range(pieces)
    return beads.start, beads.stop


LENGTH_SD, WIDTH_SD, FLATNESS_SD, COLOUR_SD = 0.12, 0.06, 0.08, 9.0


@pytest.mark.parametrize("colour", [BLUE, RED, (230, 210, 90)])
def test_a_look_is_size_flatness_and_colour_in_standard_deviations(colour: tuple[int, int, int]) -> None:
    """Colours as CIE L*a*b* (ISO/CIE 11664-4, by scikit-image), in the codes of OpenCV's 8 bits."""
    lightness, a, b = rgb2lab(np.array([[colour]], np.uint8))[0, 0]
    [look] = flat_pieces([(6.0, 4.0)], colours=[colour]).looks
    assert look[:3] == pytest.approx([np.log(6) / LENGTH_SD, np.log(4) / WIDTH_SD, 1 / FLATNESS_SD], abs=1e-4)
    codes = np.array([0.5 * lightness * 255 / 100, a + 128, b + 128]) / COLOUR_SD
    assert look[3:] == pytest.approx(codes, abs=1.0 / COLOUR_SD)


def test_a_look_is_that_of_the_inside_of_a_piece() -> None:
    """An eighth at either end and the limbs show neighbours; the width is nearly the largest."""
    pieces = flat_pieces([(10.0, 4.0)])
    steps = pieces.segments[0].steps()
    width, rgb = pieces.width_mm, pieces.strip.rgb
    width[steps] = np.linspace(2.0, 4.0, 100)
    rgb[:, steps.start : steps.start + 12] = rgb[:, steps.stop - 12 : steps.stop] = GREEN
    rgb[np.abs(pieces.strip.aside_mm) > 0.36 * 3.6] = GREEN
    inner = np.linspace(2.0, 4.0, 100)[12:88]
    wide = np.percentile(inner, 90)
    [look] = pieces.looks
    assert look[1:3] == pytest.approx([np.log(wide) / WIDTH_SD, inner.mean() / wide / FLATNESS_SD], abs=1e-4)
    [plain] = flat_pieces([(10.0, 4.0)]).looks
    assert look[3:] == pytest.approx(plain[3:])


def test_likelihoods_and_sizes_are_those_of_each_piece() -> None:
    pieces = flat_pieces([(6.0, 4.0), (8.0, 5.0)], likely={1: 0.4})
    assert pieces.bead_likelihoods == pytest.approx([1.0, 0.4])
    assert pieces.log_sizes == pytest.approx(np.log([[6.1, 4.1], [8.1, 5.1]]))


def off(sd: float, of: float) -> float:
    """Return the ratio that lies so many standard deviations of a logarithm off."""
    return float(np.exp(sd * of))


ROUND = (6.0, 6.0)


@pytest.mark.parametrize(("sd", "first"), [(2.5, 0), (2.7, 1)])
@pytest.mark.parametrize("wider", [1, -1])
def test_a_piece_of_another_width_is_no_bead(sd: float, first: int, wider: int) -> None:
    end = (6.0, 6.0 * off(WIDTH_SD, sd * wider))
    pieces = flat_pieces([end, *[ROUND] * 8], likely={0: 0.75})
    assert kept(pieces) == (first, 9)
    mirrored = flat_pieces([*[ROUND] * 8, end], likely={8: 0.75})
    assert kept(mirrored) == (0, 9 - first)


@pytest.mark.parametrize("rod", [True, False])
@pytest.mark.parametrize(
    ("width_mm", "strung", "first"), [(6.0, 0.1, 0), (6.0, 0.01, 1), (4.0, 0.95, 0), (4.0, 0.5, 1)]
)
def test_kind_and_looks_decide_together(width_mm: float, strung: float, first: int, rod: bool) -> None:  # noqa: FBT001
    """Bayes' rule: the odds of the kind, times 57.7 for looks of beads, times 0.1 for others.

    0.9 (8 / 1)^2 + 0.1 = 57.7. An unlike piece on a rod is a stopper in any case.
    """
    pieces = flat_pieces([(6.0, width_mm), *[ROUND] * 8], rod=rod)
    shares = pieces.strung.copy()
    shares[pieces.segments[0].steps()] = strung
    first = max(first, int(rod and width_mm < 6.0))
    assert kept(replace(pieces, strung=shares)) == (first, 9)


@pytest.mark.parametrize(("sd", "first"), [(2.4, 0), (2.8, 1), (-2.4, 0), (-2.8, 1)])
def test_a_longer_or_shorter_piece_is_no_bead(sd: float, first: int) -> None:
    assert kept(flat_pieces([(6.0 * off(LENGTH_SD, sd), 6.0), *[ROUND] * 8])) == (first, 9)


@pytest.mark.parametrize(("likely", "first"), [(0.56, 0), (0.54, 1)])
def test_on_a_wire_what_is_rather_a_bead_stays_however_unlike(likely: float, first: int) -> None:
    assert kept(flat_pieces([(6.0, 4.0), *[ROUND] * 8], likely={0: likely}, rod=False)) == (first, 9)


@pytest.mark.parametrize(
    ("rod", "likely", "last"), [(True, 0.71, 9), (True, 0.69, 8), (False, 0.51, 9), (False, 0.49, 8)]
)
def test_what_is_rather_no_bead_is_none(rod: bool, likely: float, last: int) -> None:  # noqa: FBT001
    assert kept(flat_pieces([ROUND] * 9, likely={8: likely}, rod=rod)) == (0, last)


@pytest.mark.parametrize(("count", "last"), [(3, 3), (4, 4), (5, 4), (6, 5)])
def test_three_beads_and_what_few_look_like_stay(count: int, last: int) -> None:
    """Of four, the outer two left out, two would say what a bead looks like, of three one."""
    sizes = [*[ROUND] * (count - 1), (6.0, 4.5)]
    assert kept(flat_pieces(sizes)) == (0, last if count != 4 else 3)


@pytest.mark.parametrize(("beads", "odd", "first"), [(9, 3, 2), (21, 4, 4), (18, 5, 5), (3, 2, 1), (4, 2, 2)])
def test_two_pieces_at_an_end_or_a_fifth_of_all_may_be_no_beads(beads: int, odd: int, first: int) -> None:
    others = [(6.0, 4.0), (6.0, 3.2), (6.0, 4.8), (6.0, 3.6), (6.0, 4.4)][:odd]
    unlikely = dict.fromkeys(range(odd), 0.5)
    assert kept(flat_pieces([*others, *[ROUND] * beads], likely=unlikely)) == (first, odd + beads)


@pytest.mark.parametrize(("likely", "first"), [(0.87, 2), (0.89, 1)])
def test_behind_another_piece_only_what_is_unsure_is_none(likely: float, first: int) -> None:
    odd = [(6.0, 4.0), (6.0, 3.2)]
    assert kept(flat_pieces([*odd, *[ROUND] * 20], likely={0: 0.3, 1: likely})) == (first, 22)


@pytest.mark.parametrize(("apart", "first"), [(4.4, 0), (4.7, 1)])
def test_an_end_may_be_as_unlike_as_beads_are_and_a_third_more(apart: float, first: int) -> None:
    """Sizes on a grid of 3.5 standard deviations, each once: 1.3 times that is 4.55."""
    lengths = [4.0 * off(LENGTH_SD, 3.5 * k) for k in range(3)]
    widths = [5.0 * off(WIDTH_SD, 3.5 * k) for k in range(3)]
    grid = [(length, width) for width in widths for length in lengths]
    end = (lengths[0], widths[0] * off(WIDTH_SD, -apart))
    assert kept(flat_pieces([end, *grid])) == (first, 10)


@pytest.mark.parametrize(("sd", "first"), [(0.45, 0), (0.55, 1)])
def test_what_has_the_shape_of_even_beads_is_one_of_any_colour(sd: float, first: int) -> None:
    end = (6.0, 6.0 * off(WIDTH_SD, sd))
    assert kept(flat_pieces([end, *[ROUND] * 8], colours=[BLACK, *[BLUE] * 8])) == (first, 9)


def test_on_uneven_strands_shape_alone_makes_no_bead() -> None:
    sizes = [(6.0, 6.0 * off(WIDTH_SD, 1.2 * s)) for s in (0, 1, -1, 1, -1, 1, -1, 1, -1)]
    assert kept(flat_pieces(sizes, colours=[BLACK, *[BLUE] * 8])) == (1, 9)


@pytest.mark.parametrize(
    ("gap_mm", "factor", "first"),
    [(10.2, 1.55, 1), (9.8, 1.55, 0), (10.2, 1.45, 0), (10.2, 1 / 1.55, 1), (10.2, 1 / 1.45, 0)],
)
def test_what_lies_ten_millimetres_off_is_a_bead_of_their_size_only(
    gap_mm: float, factor: float, first: int
) -> None:
    """On a wire, where likely pieces stay however they look."""
    size = 6.1 * factor - STEP_MM
    end = (6.0, size)
    assert kept(flat_pieces([end, *[ROUND] * 8], gaps={0: gap_mm}, rod=False)) == (first, 9)
    assert kept(flat_pieces([*[ROUND] * 8, end], gaps={7: gap_mm}, rod=False)) == (0, 9 - first)
    long = (size, 6.0)
    assert kept(flat_pieces([long, *[ROUND] * 8], gaps={0: gap_mm}, rod=False)) == (first, 9)


def test_two_far_pieces_at_an_end_go_three_are_a_group() -> None:
    small = (3.0, 3.0)
    for count, first in ((1, 1), (2, 2), (3, 0)):
        pieces = flat_pieces([*[small] * count, *[ROUND] * 8], gaps={count - 1: 12.0}, rod=False)
        assert kept(pieces) == (first, 8 + count)
        pieces = flat_pieces([*[ROUND] * 8, *[small] * count], gaps={7: 12.0}, rod=False)
        assert kept(pieces) == (0, 8 + count - first)


@pytest.mark.parametrize(
    ("end", "first"),
    [((6.0, 2.65), 1), ((6.0, 2.75), 0), ((1.3, 6.0), 1), ((1.4, 6.0), 0)],
)
def test_scraps_much_narrower_or_shorter_are_no_beads(end: tuple[float, float], first: int) -> None:
    """0.45 of a width, half of that of a length; on a wire, however likely."""
    assert kept(flat_pieces([end, *[ROUND] * 8], rod=False)) == (first, 9)
    assert kept(flat_pieces([*[ROUND] * 8, end], rod=False)) == (0, 9 - first)


@pytest.mark.parametrize(("likely", "found"), [(0.71, [0, 9]), (0.69, [])])
@pytest.mark.parametrize(
    ("factor", "same"), [(1.11, True), (1.13, False), (1 / 1.11, True), (1 / 1.13, False)]
)
def test_a_likely_stopper_is_possible_if_it_is_as_large_as_a_bead(
    likely: float,
    found: list[int],
    factor: float,
    same: bool,  # noqa: FBT001
) -> None:
    size = 6.1 * factor - STEP_MM
    for end in ((size, 6.0), (6.0, size)):
        pieces = flat_pieces([end, *[ROUND] * 8, end], likely={0: likely, 9: likely})
        assert uncertain_stoppers(pieces, slice(1, 9)) == (found if same else [])


def test_a_piece_between_beads_and_another_piece_may_be_a_bead() -> None:
    ends = [(2.5, 2.5), (4.0, 4.0), (3.2, 3.2), (2.0, 2.0)]
    pieces = flat_pieces([*ends[:2], *[ROUND] * 8, *ends[2:]])
    assert uncertain_stoppers(pieces, slice(2, 10)) == [1, 10]
    assert uncertain_stoppers(pieces, slice(1, 11)) == []
    assert uncertain_stoppers(pieces, slice(0, 11)) == [11]  # nothing lies beyond the other end
    assert uncertain_stoppers(pieces, slice(1, 12)) == [0]
    assert uncertain_stoppers(pieces, slice(0, 12)) == []


def test_a_look_needs_no_more_than_two_steps() -> None:
    [look, _] = flat_pieces([(0.2, 4.0), ROUND]).looks
    assert look[:3] == pytest.approx(
        [np.log(0.2) / LENGTH_SD, np.log(4) / WIDTH_SD, 1 / FLATNESS_SD], abs=1e-4
    )


def test_three_beads_stay_between_scraps() -> None:
    scrap = (0.6, 1.0)
    assert kept(flat_pieces([scrap, *[ROUND] * 3, scrap], rod=False)) == (1, 4)
    assert kept(flat_pieces([scrap, ROUND, ROUND, scrap], rod=False)) == (1, 4)
    assert kept(flat_pieces([ROUND, ROUND, ROUND, scrap], rod=False)) == (0, 3)
    assert kept(flat_pieces([scrap, scrap, *[ROUND] * 5, scrap, scrap], rod=False)) == (2, 7)


@pytest.mark.parametrize("beads", [1, 2])
def test_a_far_group_as_large_as_the_other_stays(beads: int) -> None:
    small = (4.0, 4.0)
    sizes = [small, small, *[ROUND] * beads]
    assert kept(flat_pieces(sizes, gaps={1: 12.0}, rod=False)) == (0, 2 + beads)
    assert kept(flat_pieces(sizes[::-1], gaps={beads - 1: 12.0}, rod=False)) == (0, 2 + beads)


def on_rod(*pieces: tuple[float, float, float], rod_mm: float = ROD_MM) -> np.ndarray:
    """Return the width at each step of 80 mm of rod with pieces (from, to, width)."""
    width = np.full(800, rod_mm)
    for first, last, wide in pieces:
        width[round(first / STEP_MM) : round(last / STEP_MM)] = wide
    return width


FIVE = [Segment(start_mm=15.0 + 5 * k, end_mm=20.0 + 5 * k) for k in range(5)]
"""8 mm wide, from 15 to 40 mm."""


@pytest.mark.parametrize(
    ("piece", "found"),
    [
        ((40.0, 46.0, 3.0), True),
        ((40.0, 46.0, 2.8), False),  # 0.36 of 8 mm is 2.88
        ((40.0, 41.4, 5.0), True),
        ((40.0, 41.1, 5.0), False),
        ((41.0, 46.0, 5.0), False),
    ],
)
def test_a_stopper_is_thick_long_and_near(piece: tuple[float, float, float], *, found: bool) -> None:
    pieces = beads_and_stoppers(FIVE, on_rod((15.0, 40.0, 8.0), piece))
    assert len(pieces) == 5 + found
    if found:
        assert pieces[-1].start_mm == pytest.approx(piece[0])
        assert pieces[-1].end_mm == pytest.approx(piece[1] - STEP_MM)
    first, last, wide = piece
    before = beads_and_stoppers(FIVE, on_rod((15.0, 40.0, 8.0), (55.0 - last, 55.0 - first, wide)))
    assert len(before) == 5 + found
    if found:
        assert before[0].start_mm == pytest.approx(55.0 - last)
        assert before[0].end_mm == pytest.approx(55.0 - first - STEP_MM)


def test_a_stopper_may_stand_a_little_off() -> None:
    assert len(beads_and_stoppers(FIVE, on_rod((15.0, 40.0, 8.0), (40.7, 46.0, 5.0)))) == 6
    assert len(beads_and_stoppers(FIVE, on_rod((15.0, 40.0, 8.0), (40.9, 46.0, 5.0)))) == 5
