"""Ends filled where whole repeats come nowhere near the target."""

from dataclasses import replace
from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.piece.fillers import Ends, Filled, fill_ends
from sizing.piece.fit import fit_beads
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece, target_from_piece
from sizing.piece.stringing import Layout

INCH_MM = 25.4
SPACER_MM, ROUND_MM = 2.0, 8.0
POLYGON_SHARE = 0.05  # of a bead, by which one more lengthens the inside beyond its own length
ROUNDS = BeadPart(along_mm=ROUND_MM, across_mm=ROUND_MM, count=4)
SPACER = BeadPart(along_mm=SPACER_MM, across_mm=SPACER_MM)


def filled_of(piece: Piece) -> dict[Ends, Filled]:
    target = target_from_piece(piece)
    assert target is not None
    return {way.ends: way for way in fill_ends(piece, target, fit_beads(piece, target)[0])}


def bracelet(**target_mm: float) -> Piece:
    """Return a bracelet of repeats 34 mm long: four rounds of 8 mm and a spacer of 2 mm."""
    return Piece(beads=(ROUNDS, SPACER), target_mm=target_mm)


def test_two_wrists_half_an_inch_apart_do_not_get_the_same_bracelet() -> None:
    small, large = bracelet(wrist=6 * INCH_MM), bracelet(wrist=6.5 * INCH_MM)
    whole = [fit_beads(piece, target_from_piece(piece))[0] for piece in (small, large)]  # type: ignore[arg-type]
    assert [fit.count for fit in whole] == [25, 25]
    assert whole[0].miss_mm - whole[1].miss_mm == pytest.approx(INCH_MM / 2)
    # Spacers come in pairs, 4 mm long; beads cut off in pairs of 16 mm, or from spacer to spacer.
    ways = filled_of(small)
    assert abs(ways[Ends.SPACERS].fit.miss_mm) <= SPACER_MM * (1 + POLYGON_SHARE)
    assert abs(ways[Ends.CUT_SHORT].fit.miss_mm) <= ROUND_MM * (1 + POLYGON_SHARE)
    assert filled_of(large) == {}  # 1.4 mm over with whole repeats


def test_strung_lengths_add_up() -> None:
    ways = filled_of(bracelet(strung=144.0))
    # 3 x 34 + 4 x 8 = 134 and 2 x 2 at each end; 4 x 34 + 2 = 138 with a spacer at both ends.
    assert ways[Ends.SPACERS].fit.strung_mm in {142.0, 146.0}
    assert len(ways[Ends.SPACERS].spacers) in {2, 3}
    assert ways[Ends.CUT_SHORT].fit.strung_mm == 138.0


wrists = st.floats(120, 220)
units = st.lists(st.sampled_from([2.0, 4.0, 6.0, 8.0, 10.0]), min_size=2, max_size=5)


@given(units, wrists, st.booleans())
@settings(deadline=None, max_examples=40)
def test_filled_ends_are_nearer_and_alike(sizes: list[float], wrist: float, symmetric: bool) -> None:  # noqa: FBT001
    piece = Piece(
        beads=tuple(BeadPart(along_mm=size, across_mm=size) for size in sizes),
        layout=Layout(symmetric=symmetric),
        target_mm={"wrist": wrist},
    )
    target = target_from_piece(piece)
    assert target is not None
    whole, _ = fit_beads(piece, target)
    for way in fill_ends(piece, target, whole):
        assert abs(way.fit.miss_mm) < abs(whole.miss_mm)
        if symmetric:
            assert way.fit.sequence == way.fit.sequence[::-1]
        assert set(way.fit.sequence) <= set(piece.beads)
        if way.ends is Ends.SPACERS:
            [spacer] = set(way.spacers)
            runs = [(bead, len(list(run))) for bead, run in groupby(way.fit.sequence)]
            assert runs[0] == runs[-1] == (spacer, len(way.spacers))


@pytest.mark.parametrize("symmetric", [False, True])
def test_a_piece_is_offered_once(symmetric: bool) -> None:  # noqa: FBT001
    # 10 x 18 + 2 = 182 mm is nearer than 10 repeats of 16 + 2 mm, and begins and ends with a spacer.
    piece = Piece(
        beads=(replace(ROUNDS, count=2), SPACER),
        layout=Layout(symmetric=symmetric),
        target_mm={"strung": 182.0},
        findings=(),
    )
    [way] = filled_of(piece).values()
    assert (way.ends, way.fit.strung_mm, len(way.spacers)) == (Ends.SPACERS, 182.0, 1)


@pytest.mark.parametrize(
    "piece",
    [
        Piece(beads=(ROUNDS,), target_mm={"wrist": 152.4}),
        Piece(beads=(ROUNDS, SPACER), layout=Layout(graduated=True), target_mm={"wrist": 152.4}),
        Piece(beads=(ROUNDS, SPACER), layout=Layout(whole=False), target_mm={"wrist": 152.4}),
    ],
)
def test_what_is_no_repeat_needs_no_filling(piece: Piece) -> None:
    assert filled_of(piece) == {}
