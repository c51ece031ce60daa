"""Sizes of beads as the trade writes them."""

import pytest

from sizing.base.errors import SizingError
from sizing.piece.bead_size import read_bead, size_remarks

SUM_MM = 1e-9
INCH_MM = 25.4
ONE_BEAD = 1.0  # how far counts along an inch differ


@pytest.mark.parametrize(
    ("size", "along_mm", "across_mm"),
    [
        ("7mm", 7, 7),
        ("4x6mm", 4, 6),
        ("6x4mm", 6, 4),
        ("4 × 6 mm", 4, 6),  # noqa: RUF001 - the trade's own sign
        ("4mm x 6mm", 4, 6),
        ("6 by 4 mm", 6, 4),
        ("6*4 mm", 6, 4),
        ("7½ x 6-1/2mm", 7.5, 6.5),
        ('1/4x1/2"', 6.35, 12.7),
        ("6-1/2mm", 6.5, 6.5),
    ],
)
def test_of_two_sizes_the_first_lies_along_the_string(size: str, along_mm: float, across_mm: float) -> None:
    bead = read_bead(size)
    assert (bead.along_mm, bead.across_mm) == (along_mm, across_mm)
    assert bead.rel_u95 == 0


@pytest.mark.parametrize(
    ("size", "low_mm", "high_mm", "per_inch"),
    [
        # Two trade charts: 6/0 3.3 mm, 8/0 2.5 mm, 11/0 1.8 mm, or up to 0.6 mm more. Of the smaller ones, 10
        # and 13 come to an inch of string by the first chart, and of 11/0 a maker counted 19.
        ("6/0", 3.3, 3.9, 10),
        ("8/0", 2.5, 3.1, 13),
        ("8°", 2.5, 3.1, 13),
        ("11/0", 1.8, 2.4, 19),
    ],
)
def test_seed_beads_are_a_range(size: str, low_mm: float, high_mm: float, per_inch: int) -> None:
    bead = read_bead(size)
    assert bead.name == size
    ends = [bead.across_mm * (1 + sign * bead.rel_u95) for sign in (-1, 1)]
    assert ends == pytest.approx([low_mm, high_mm], abs=SUM_MM)
    assert INCH_MM / (bead.along_mm * (1 - bead.rel_u95)) == pytest.approx(per_inch, abs=ONE_BEAD)


@pytest.mark.parametrize("size", ["7.0-7.5mm", "7.0 to 7.5mm", "7 mm to 7.5 mm"])
def test_a_class_is_a_range(size: str) -> None:
    bead = read_bead(size)
    assert (bead.along_mm, bead.across_mm) == (7.25, 7.25)
    assert bead.along_mm * bead.rel_u95 == pytest.approx(0.25, abs=SUM_MM)


@pytest.mark.parametrize(
    ("size", "said"),
    [
        ("700mm", "a bead of 700.0 mm is not between 0.5 and 100 mm: check its unit"),
        ("0.07mm", "a bead of 0.07 mm is not between"),
        ("6x700mm", "a bead of 700.0 mm is not between"),
        ("9/0", "'9/0' is not one of 6/0, 8/0, 11/0, 15/0: give the size in mm instead"),
        ("7", "7 has no unit"),
        ("4x6x8mm", "it has 3 sizes: give length and thickness, as 4x6mm"),
        ("7-7mm", "has the same size twice"),
    ],
)
def test_what_is_no_size_of_a_bead_is_refused(size: str, said: str) -> None:
    with pytest.raises((ValueError, SizingError), match=said):
        read_bead(size)


def test_how_a_size_is_read_is_said() -> None:
    assert list(size_remarks([read_bead("7mm")])) == []
    pair = read_bead("6x4mm")
    assert list(size_remarks([pair, pair])) == [
        "6x4 mm is read as 6 mm along the string and 4 mm thick; for the other way write 4x6mm."
    ]
    [seed] = size_remarks([read_bead("8/0")])
    assert seed.startswith("8/0 beads are about 1.9 to 2.4 mm long and 2.5 to 3.1 mm thick")
    [pearl] = size_remarks([read_bead("7.0-7.5mm")])
    assert pearl.startswith("7.0-7.5mm beads are 7.0 to 7.5 mm:")
