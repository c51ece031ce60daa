"""Beads strung to a target."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.base.errors import TargetError
from sizing.base.loop import fewest_beads
from sizing.base.target import Target
from sizing.piece.fit import assemble, fit_beads
from sizing.piece.parts import BeadPart, Finding, Kind
from sizing.piece.piece import Piece, target_from_piece
from sizing.piece.stringing import Layout, strung

INCH_MM = 25.4
SUM_MM = 1e-6
POLYGON_MM = 1.0  # a piece that hangs on few beads is a polygon, not a circle
CLASP = Finding(kind=Kind.CLASP, length_mm=0.75 * INCH_MM)
CHAIN = Finding(kind=Kind.EXTENDER, length_mm=2 * INCH_MM, link_mm=4.0)


def a_round(size_mm: float, **more: object) -> BeadPart:
    return BeadPart(along_mm=size_mm, across_mm=size_mm, **more)  # type: ignore[arg-type]


def target_of(piece: Piece) -> Target:
    target = target_from_piece(piece)
    assert target is not None
    return target


def piece_of(*sizes_mm: float, findings: tuple[Finding, ...] = (), **target_mm: float) -> Piece:
    return Piece(beads=tuple(a_round(size) for size in sizes_mm), findings=findings, target_mm=target_mm)


def test_a_sixteen_inch_necklace() -> None:
    # The Spruce Crafts, "How to string beads with beading wire": 16 in less a 0.75 in clasp is 15.25 in of
    # beads. 15.25 in hold 64.6 beads of 6 mm: 65 is nearer than 64.
    piece = piece_of(6.0, findings=(CLASP,), finished=16 * INCH_MM)
    best, other = fit_beads(piece, target_of(piece))
    assert best.count == 65
    assert best.miss_mm == pytest.approx(65 * 6 - 15.25 * INCH_MM, abs=SUM_MM)
    assert other is not None
    assert other.count == 64
    assert best.finished_mm == best.finished_longest_mm == pytest.approx(65 * 6 + 19.05, abs=SUM_MM)


@pytest.mark.parametrize(("size_mm", "count"), [(2, 200), (4, 100), (5, 80), (8, 50), (10, 40), (12, 33)])
def test_beads_on_a_sixteen_inch_strand(size_mm: float, count: int) -> None:
    # International Gem Society, bead and necklace size charts; the charts run up to 4 % under 406.4 / d.
    piece = piece_of(float(size_mm), strung=16 * INCH_MM)
    best, _ = fit_beads(piece, target_of(piece))
    assert 0.96 * best.count <= count <= best.count + 1


@pytest.mark.parametrize("girth_mm", [150.0, 160.0, 170.0, 180.0])
@pytest.mark.parametrize("size_mm", [4.0, 6.0, 8.0, 10.0, 12.0])
def test_a_girth_lies_between_two_counts(girth_mm: float, size_mm: float) -> None:
    # Fewest beads for a girth inside: regular polygon, closed formula (tested in test_loop).
    piece = Piece(beads=(a_round(size_mm),), findings=(), target_mm={"wrist": girth_mm}, ease_mm=0.0)
    fits = [fit for fit in fit_beads(piece, target_of(piece)) if fit]
    assert max(fit.count for fit in fits) == fewest_beads(girth_mm, a_round(size_mm).link)


def test_an_extender_counts_at_its_first_link_and_reaches_its_last() -> None:
    piece = piece_of(8.0, findings=(CLASP, CHAIN), wrist=150.0)
    best, _ = fit_beads(piece, target_of(piece))
    assert best.finished_mm == pytest.approx(best.strung_mm + 19.05 + 4.0, abs=SUM_MM)
    assert best.finished_longest_mm - best.finished_mm == pytest.approx(46.8, abs=SUM_MM)
    # Beads 8 mm thick take pi 8 off a whole turn; the chain, which is flat, takes nothing off its part of it.
    gained = 46.8 + math.pi * 8 * 46.8 / best.inner_girth_longest_mm
    assert best.inner_girth_longest_mm - best.inner_girth_mm == pytest.approx(gained, abs=POLYGON_MM)


def test_uncertainty_of_measured_beads_adds_up_because_it_is_shared() -> None:
    piece = Piece(beads=(a_round(8.0, rel_u95=0.002),), target_mm={"strung": 200.0})
    best, _ = fit_beads(piece, target_of(piece))
    assert best.strung_u95_mm == pytest.approx(0.4, abs=SUM_MM)


def test_one_bead_is_the_least() -> None:
    piece = piece_of(8.0, strung=1.0)
    best, other = fit_beads(piece, target_of(piece))
    assert (best.count, other) == (1, None)


def test_refuses_what_nobody_strings() -> None:
    with pytest.raises(TargetError, match="no beads are given"):
        fit_beads(Piece(), target_of(piece_of(8.0, strung=100.0)))
    many = tuple(BeadPart(along_mm=3, across_mm=3, count=10_000) for _ in range(20))
    with pytest.raises(TargetError, match="one repeat has 200000 beads, more than the 2000 of any piece"):
        fit_beads(Piece(beads=many), target_of(piece_of(8.0, strung=100.0)))
    piece = piece_of(2.0, strung=300 * INCH_MM)
    with pytest.raises(TargetError, match="would take over 2000 of these beads"):
        fit_beads(piece, target_of(piece))


sizes = st.floats(2, 14)
POLYGON_SHARE = 0.01  # of a bead, by which one more lengthens the inside beyond its own length
targets = st.sampled_from(["strung", "finished", "wrist"])


@given(sizes, st.floats(100, 300), targets)
@settings(deadline=None, max_examples=60)
def test_a_plan_strung_meets_its_target_within_half_a_bead(
    size_mm: float, length_mm: float, name: str
) -> None:
    piece = piece_of(size_mm, findings=(CLASP,), **{name: length_mm})
    best, _ = fit_beads(piece, target_of(piece))
    assert abs(best.miss_mm) <= (0.5 + POLYGON_SHARE) * size_mm


layouts = st.builds(Layout, graduated=st.booleans(), symmetric=st.booleans())


@given(st.lists(sizes, min_size=1, max_size=4), layouts, st.floats(150, 300), targets)
@settings(deadline=None, max_examples=60)
def test_the_other_lies_across_the_target_and_is_no_nearer(
    sizes_mm: list[float],
    layout: Layout,
    length_mm: float,
    name: str,
) -> None:
    piece = Piece(
        beads=tuple(a_round(size) for size in sizes_mm),
        layout=layout,
        findings=(CLASP,),
        target_mm={name: length_mm},
    )
    best, other = fit_beads(piece, target_of(piece))
    if other is None:
        assert best.miss_mm > 0
    else:
        assert abs(best.miss_mm) <= abs(other.miss_mm)
        assert best.miss_mm * other.miss_mm <= 0
    if layout.graduated or layout.symmetric:
        assert best.sequence == best.sequence[::-1]


@given(sizes, st.integers(3, 60), targets)
@settings(deadline=None, max_examples=60)
def test_more_beads_never_make_a_shorter_piece(size_mm: float, step: int, name: str) -> None:
    piece = piece_of(size_mm, findings=(CLASP, CHAIN), **{name: 200.0})
    fewer, more = (
        assemble(piece, target_of(piece), sequence=strung(piece.beads, piece.layout, step=at))
        for at in (step, step + 1)
    )
    assert fewer.finished_mm < more.finished_mm
    assert fewer.finished_longest_mm < more.finished_longest_mm
    assert fewer.inner_girth_mm <= more.inner_girth_mm
    assert fewer.miss_mm <= more.miss_mm
