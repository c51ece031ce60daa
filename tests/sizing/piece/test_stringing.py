"""The order of stringing."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.piece.parts import BeadPart
from sizing.piece.stringing import Layout, strung

SIZES = {"A": 6.0, "B": 8.0, "C": 10.0, "s": 2.0}


def bead(letter: str) -> BeadPart:
    return BeadPart(name=letter, along_mm=SIZES[letter], across_mm=SIZES[letter])


def order(unit: str, layout: Layout, step: int) -> str:
    return "".join(part.name for part in strung([bead(letter) for letter in unit], layout, step=step))


@pytest.mark.parametrize(
    ("unit", "layout", "step", "expected"),
    [
        ("A", Layout(), 4, "AAAA"),
        ("AAs", Layout(), 2, "AAsAAs"),
        ("AAs", Layout(whole=False), 5, "AAsAA"),
        ("AAAs", Layout(symmetric=True), 2, "AAAsAAAsAAA"),
        ("As", Layout(symmetric=True), 3, "AsAsAsA"),
        ("ABA", Layout(symmetric=True), 2, "ABAABA"),
        ("ABC", Layout(symmetric=True), 2, "ABCABCBACBA"),
        ("AAs", Layout(symmetric=True, whole=False), 3, "sAAAs"),
        ("ABC", Layout(graduated=True), 1, "C"),
        ("CAB", Layout(graduated=True), 3, "ABCBA"),
        ("ABC", Layout(graduated=True), 6, "AABBCCCBBAA"),
    ],
)
def test_order(unit: str, layout: Layout, step: int, expected: str) -> None:
    assert order(unit, layout, step) == expected


units = st.text("ABCs", min_size=1, max_size=5)
layouts = st.builds(Layout, graduated=st.booleans(), symmetric=st.booleans(), whole=st.booleans())


@given(units, layouts, st.integers(1, 20))
@settings(deadline=None)
def test_every_step_is_longer_than_the_one_before(unit: str, layout: Layout, step: int) -> None:
    lengths = [
        sum(part.along_mm for part in strung([bead(letter) for letter in unit], layout, step=at))
        for at in (step, step + 1)
    ]
    assert lengths[0] < lengths[1]


@given(units, layouts, st.integers(1, 20))
@settings(deadline=None)
def test_symmetric_and_graduated_read_the_same_from_both_ends(unit: str, layout: Layout, step: int) -> None:
    text = order(unit, layout, step)
    assert text == text[::-1] or not (layout.symmetric or layout.graduated)


@given(units, st.integers(1, 20))
@settings(deadline=None)
def test_a_graduated_strand_never_rises_from_its_middle(unit: str, step: int) -> None:
    sizes = [SIZES[letter] for letter in order(unit, Layout(graduated=True), step)]
    half = sizes[len(sizes) // 2 :]
    assert half == sorted(half, reverse=True)
    assert half[0] == max(SIZES[letter] for letter in unit)
