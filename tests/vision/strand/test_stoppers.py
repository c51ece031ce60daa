"""Stoppers and scraps at the ends of strands painted by hand."""

from dataclasses import replace

import numpy as np
import pytest
from skimage.color import rgb2lab

from tests.helpers.handmade import cylinder_widths, pieces_of, round_widths, straight_plane
from vision.strand.axis import STEP_MM
from vision.strand.stoppers import (
    Pieces,
    bead_chances,
    bead_likelihood,
    bead_range,
    beads_and_stoppers,
)
from vision.strand.strip import Segment, Strip

UNLIKELY = 0.3
BLUE, BLACK, RED, GREEN = (40, 60, 150), (30, 30, 32), (150, 50, 60), (40, 130, 70)


ROD_MM = 1.2
STEP_TOLERANCE_MM = 0.21
"""Two steps along the axis."""


def beads_of(
    width: np.ndarray, places: np.ndarray, colours: list, *, unlikely: tuple[int, ...] = ()
) -> tuple[int, int]:
    """Divide a painted strand; all of it shows beads, as the network sees it, but for `unlikely` pieces."""
    likely = np.ones(len(width))
    for k in unlikely:
        likely[round(places[k, 0] / STEP_MM) : round(places[k, 1] / STEP_MM)] = UNLIKELY
    beads = bead_range(pieces_of(width, places, likely, colours=colours))
    return beads.start, beads.stop


def with_stoppers(lengths: list[float], d: float, *, stoppers: tuple[float, ...]) -> tuple:
    """Lay rounds between two tubes: (width, places)."""
    sizes = [5.0, *lengths, 6.0] if stoppers else lengths
    width, places = round_widths(sizes)
    for (a, b), thick in zip(places[[0, -1]], stoppers, strict=True):
        s = np.arange(len(width)) * 0.1
        width[(s >= a) & (s < b)] = thick
    width[width > d] = d
    return width, places


def test_plain_strand_is_all_beads() -> None:
    width, places = round_widths([8.0] * 10)
    assert beads_of(width, places, [BLUE]) == (0, 10)


def test_black_tubes_at_both_ends_of_a_rod_are_stoppers() -> None:
    width, places = with_stoppers([8.0] * 8, 8.0, stoppers=(4.5, 4.5))
    assert beads_of(width, places, [BLACK, *[BLUE] * 8, BLACK]) == (1, 9)


def test_a_single_stopper_leaves_the_other_end_alone() -> None:
    width, places = round_widths([8.0] * 9)
    width[: round(places[0, 1] / 0.1)] = np.minimum(width[: round(places[0, 1] / 0.1)], 3.0)
    assert beads_of(width, places, [BLACK, *[BLUE] * 8]) == (1, 9)


def test_beads_of_a_mixed_strand_are_no_stoppers() -> None:
    width, places = round_widths([6.0, 8.0, 10.0, 8.0, 6.0, 8.0, 10.0, 8.0, 6.0])
    assert beads_of(width, places, [RED, BLUE, GREEN, BLUE]) == (0, 9)


def test_the_only_like_of_an_end_bead_may_be_near_the_other_end() -> None:
    sizes = [5.0, 4.0, 6.0, 6.5, 8.0, 6.0, 7.0, 8.0, 6.5, 7.0, 4.0, 8.0, 6.0]
    width, places = round_widths(sizes)
    for a, b in places[[0, -1]]:
        s = np.arange(len(width)) * 0.1
        width[(s >= a) & (s < b)] = 2.5
    assert beads_of(width, places, [BLACK, *[BLUE] * 11, BLACK]) == (1, 12)


@pytest.mark.parametrize("unlikely", [(0, 9), (0,), (9,)])
def test_what_the_network_takes_for_no_bead_is_none_at_an_end(
    unlikely: tuple[int, ...],
) -> None:
    width, places = round_widths([8.0] * 10)
    first, last = int(0 in unlikely), 10 - int(9 in unlikely)
    assert beads_of(width, places, [BLUE], unlikely=unlikely) == (first, last)


def test_what_lies_between_beads_is_one_however_unlikely() -> None:
    width, places = round_widths([8.0] * 10)
    assert beads_of(width, places, [BLUE], unlikely=(4, 5)) == (0, 10)


def test_where_nothing_looks_like_a_bead_the_middle_ones_are_left() -> None:
    width, places = round_widths([8.0] * 10)
    pieces = pieces_of(width, places, np.zeros(len(width)), colours=[BLUE])
    nothing = replace(pieces, strung=np.zeros(len(width)))
    assert (bead_chances(nothing, slice(2, 8)) < 0.5).all()
    assert bead_range(nothing) == slice(2, 8)


def test_graduated_strand_keeps_its_small_ends() -> None:
    sizes = [6.0, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 6.0]
    width, places = round_widths(sizes)
    assert beads_of(width, places, [BLUE]) == (0, 13)


@pytest.mark.parametrize(("end_mm", "first"), [(4.8, 0), (4.2, 0), (3.4, 1)])
def test_a_graduated_strand_may_end_in_a_step_twice_as_steep(end_mm: float, first: int) -> None:
    """From 7 to 6 mm by a factor of 0.857; its square again is 4.4 mm."""
    sizes = [(mm, mm) for mm in (end_mm, 6.0, 7.0, 8.2, 9.0, 9.4, 9.4, 9.4)]
    assert kept(flat_pieces(sizes)) == (first, 8)
    assert kept(flat_pieces(sizes[::-1])) == (0, 8 - first)
    assert kept(flat_pieces([sizes[0], *[(6.0, 6.0)] * 7])) == (1, 8)


def test_scrap_of_wire_at_an_end_is_no_bead() -> None:
    width, places = round_widths([1.2, *[8.0] * 8])
    assert beads_of(width, places, [(90, 90, 92), *[BLUE] * 8]) == (1, 9)


@pytest.mark.parametrize("count", [1, 2])
def test_of_one_or_two_nothing_is_taken(count: int) -> None:
    width, places = cylinder_widths([6.0] * count, 6.0)
    assert beads_of(width, places, [BLUE, BLACK]) == (0, count)


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


# From here on strips are painted without blur or noise, so that looks and distances are exactly known.


def flat_pieces(
    sizes: list[tuple[float, float]],
    *,
    colours: list[tuple[int, int, int]] | None = None,
    likely: dict[int, float] | None = None,
    gaps: dict[int, float] | None = None,
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
        segments=segments, strip=strip, width_mm=width, likely=shown, strung=np.full(len(width), 0.5)
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


def test_likelihoods_are_those_of_each_piece() -> None:
    pieces = flat_pieces([(6.0, 4.0), (8.0, 5.0)], likely={1: 0.4})
    assert [bead_likelihood(pieces.likely, s) for s in pieces.segments] == pytest.approx([1.0, 0.4])


def off(sd: float, of: float) -> float:
    """Return the ratio that lies so many standard deviations of a logarithm off."""
    return float(np.exp(sd * of))


ROUND = (6.0, 6.0)


@pytest.mark.parametrize(("sd", "first"), [(2.5, 0), (2.65, 1)])
@pytest.mark.parametrize("wider", [1, -1])
def test_on_a_rod_a_piece_of_another_width_is_no_bead(sd: float, first: int, wider: int) -> None:
    """Even odds by its kind: 0.9 * 64 * exp(-d^2 / 2 * 63 / 64) + 0.1 is 7 to 3 at d = 2.57."""
    end = (6.0, 6.0 * off(WIDTH_SD, sd * wider))
    assert kept(flat_pieces([end, *[ROUND] * 8])) == (first, 9)
    assert kept(flat_pieces([*[ROUND] * 8, end])) == (0, 9 - first)


@pytest.mark.parametrize(("beads", "odd", "first"), [(9, 3, 2), (21, 4, 4), (18, 5, 5), (3, 2, 1), (4, 2, 2)])
def test_two_pieces_at_an_end_or_a_fifth_of_all_may_be_no_beads(beads: int, odd: int, first: int) -> None:
    others = [(6.0, 4.0), (6.0, 3.2), (6.0, 8.0), (6.0, 3.6), (6.0, 4.4)][:odd]
    assert kept(flat_pieces([*others, *[ROUND] * beads])) == (first, odd + beads)


@pytest.mark.parametrize(("strung", "first"), [(0.3, 0), (0.28, 1)])
def test_two_beads_whose_joint_is_not_seen_are_no_stopper(strung: float, first: int) -> None:
    """One joint in ten: 0.9 * 64 * 0.1 + 0.1 = 5.86 times the odds of the kind, 7 to 3 at 0.285."""
    pieces = flat_pieces([(12.0, 6.0), *[ROUND] * 8])
    shares = pieces.strung.copy()
    shares[pieces.segments[0].steps()] = strung
    assert kept(replace(pieces, strung=shares)) == (first, 9)


def test_what_lies_behind_a_bead_is_one() -> None:
    stopper, bead = (6.0, 4.0), (6.0, 6.0)
    assert kept(flat_pieces([bead, stopper, *[ROUND] * 12])) == (0, 14)


def test_an_end_bead_may_be_like_the_one_at_the_other_end_alone() -> None:
    """The kind of one is sure; two stoppers that are like each other alone prove nothing."""
    sizes = [(3.0, 9.0), *[ROUND] * 8, (3.0, 9.0)]
    pieces = flat_pieces(sizes)
    shares = pieces.strung.copy()
    shares[pieces.segments[0].steps()] = 1.0
    assert kept(replace(pieces, strung=shares)) == (0, 10)
    assert kept(pieces) == (1, 9)


@pytest.mark.parametrize(
    ("width_mm", "strung", "first"), [(6.0, 0.1, 0), (6.0, 0.01, 1), (4.0, 0.97, 0), (4.0, 0.5, 1)]
)
def test_kind_and_looks_decide_together(width_mm: float, strung: float, first: int) -> None:
    """Bayes' rule: the odds of the kind, times 57.7 for looks of beads, times 0.1 for others.

    0.9 (8 / 1)^2 + 0.1 = 57.7.
    """
    pieces = flat_pieces([(6.0, width_mm), *[ROUND] * 8])
    shares = pieces.strung.copy()
    shares[pieces.segments[0].steps()] = strung
    assert kept(replace(pieces, strung=shares)) == (first, 9)


@pytest.mark.parametrize("apart_sd", [2, 6, 8, 10, 14])
def test_what_is_less_like_beads_is_never_the_likelier_one_however_they_differ(apart_sd: float) -> None:
    other = (6.0, 6.0 * off(WIDTH_SD, apart_sd))
    ends = [(6.0, 6.0 * off(WIDTH_SD, -sd)) for sd in (0.0, 5.0, 15.0, 30.0)]
    chances = [bead_chances(flat_pieces([e, *[ROUND] * 2, *[other] * 3]), slice(2, 4))[0] for e in ends]
    assert chances == sorted(chances, reverse=True)


@pytest.mark.parametrize(("sd", "first"), [(2.4, 0), (2.8, 1), (-2.4, 0), (-2.8, 1)])
def test_a_longer_or_shorter_piece_is_no_bead(sd: float, first: int) -> None:
    assert kept(flat_pieces([(6.0 * off(LENGTH_SD, sd), 6.0), *[ROUND] * 8])) == (first, 9)


@pytest.mark.parametrize(("likely", "last"), [(0.72, 9), (0.7, 8)])
def test_what_is_rather_no_bead_is_none(likely: float, last: int) -> None:
    """How likely a bead is seen, times 57.7 to 1 that it is strung."""
    assert kept(flat_pieces([ROUND] * 9, likely={8: likely})) == (0, last)


def test_a_look_needs_no_more_than_two_steps() -> None:
    [look, _] = flat_pieces([(0.2, 4.0), ROUND]).looks
    assert look[:3] == pytest.approx(
        [np.log(0.2) / LENGTH_SD, np.log(4) / WIDTH_SD, 1 / FLATNESS_SD], abs=1e-4
    )


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


@pytest.mark.parametrize("rod", [False, True])
@pytest.mark.parametrize("stoppers", [0, 1])
def test_the_second_stopper_of_a_rod_may_look_like_a_bead(rod: bool, stoppers: int) -> None:  # noqa: FBT001
    """Odds of 0.97 / 0.03, a tenth for its odd colour: 0.76; of a pair a quarter of that: 0.45."""
    colours = [*[BLACK] * stoppers, *[BLUE] * 8, RED]
    pieces = flat_pieces([(6.0, 4.0)] * len(colours), colours=colours, likely={0: 0.3} if stoppers else None)
    pieces = replace(pieces, strung=np.full(len(pieces.width_mm), 0.97), rod=rod)
    last = len(colours) - (rod and stoppers == 1)
    assert kept(pieces) == (stoppers, last)
    turned = flat_pieces(
        [(6.0, 4.0)] * len(colours),
        colours=colours[::-1],
        likely={len(colours) - 1: 0.3} if stoppers else None,
    )
    turned = replace(turned, strung=pieces.strung, rod=rod)
    assert kept(turned) == (len(colours) - last, len(colours) - stoppers)


def test_its_place_on_a_rod_speaks_for_a_bead_or_a_stopper() -> None:
    """Four times the odds within another piece; a quarter at the end where the second stopper lacks."""
    pieces = flat_pieces([(6.0, 4.0)] * 10, colours=[BLACK, RED, *[BLUE] * 7, RED], likely={0: 0.3})
    wire, rod = (bead_chances(replace(pieces, rod=rod), slice(2, 10)) for rod in (False, True))
    likely = np.array([bead_likelihood(pieces.likely, s) for s in pieces.segments])
    odds = [chance / (likely - chance) for chance in (wire, rod)]
    assert odds[1] / odds[0] == pytest.approx([1, 4, *[1] * 7, 1 / 4])
