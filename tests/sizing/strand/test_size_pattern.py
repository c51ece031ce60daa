"""The order in a strand's sizes."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sizing.strand.size_pattern import Pattern, find_pattern
from tests.helpers.strands import make_strand

UNIFORM = Pattern(uniform=True)


@pytest.mark.parametrize(
    ("along_mm", "pattern"),
    [
        ([6.3] * 40, UNIFORM),
        ([8.0], UNIFORM),
        ([8.0] * 20 + [5.0], Pattern(uniform=True, odd=(21,))),
        ([8.0] * 9 + [5.0], Pattern(uniform=False)),  # one in ten is no exception any more
        ([8.0] * 19 + [5.0], Pattern(uniform=True, odd=(20,))),
        ([6.0, 6, 6, 6, 6, 9] * 3, Pattern(uniform=False, repeat=6)),
        ([4.0, 4, 8] * 8, Pattern(uniform=False, repeat=3)),
        ([8.0, 8, 9] * 6, Pattern(uniform=False, repeat=3)),
        ([6.0, 10] * 9 + [6.0], Pattern(uniform=False, repeat=2, symmetric=True)),
        ([6.0] * 12 + [12.0] + [6.0] * 12, Pattern(uniform=False, symmetric=True)),
        ([6.0, 7, 8, 9, 10, 9, 8, 7, 6], Pattern(uniform=False, symmetric=True)),
        ([9.8, 5.9, 9.8, 7.9, 5.9, 9.8, 7.9, 9.8, 7.8], Pattern(uniform=False)),
        (list(np.linspace(4, 8, 30)), Pattern(uniform=False)),
    ],
)
def test_finds_the_order(along_mm: list[float], pattern: Pattern) -> None:
    assert find_pattern(make_strand(along_mm).beads) == pattern


def test_scatter_of_a_graded_strand_is_uniform() -> None:
    # Strands sold as 8 mm span 7.5 to 8.4 mm: common practice, no source.
    assert find_pattern(make_strand(list(np.linspace(7.55, 8.4, 48))).beads) == UNIFORM


def test_beads_alike_in_length_differ_by_thickness() -> None:
    strand = make_strand([4.0, 4.0] * 10, across_mm=[4.0, 8.0] * 10)
    assert find_pattern(strand.beads).uniform  # lengths alone decide how many beads
    mixed = make_strand([4.0, 4.0, 6.0] * 6, across_mm=[4.0, 8.0, 6.0] * 6)
    assert find_pattern(mixed.beads).repeat == 3


def test_unmeasured_beads_match_any() -> None:
    along = [4.0, 4, 8] * 8
    along[7] = math.nan
    assert find_pattern(make_strand(along).beads) == Pattern(uniform=False, repeat=3)
    assert find_pattern(make_strand([math.nan] * 5).beads) == UNIFORM


def test_a_spacer_is_no_bead_of_the_same_size() -> None:
    """Balls of metal, as large as the beads that they lie between."""
    turns = make_strand([8.0] * 21, kinds=("bead", "spacer")).beads
    assert find_pattern(turns) == Pattern(uniform=False, repeat=2, symmetric=True)
    assert find_pattern(make_strand([8.0] * 21, kinds=("bead",) * 20 + ("spacer",)).beads).uniform
    assert find_pattern(make_strand([8.0] * 9, kinds=("spacer",)).beads) == UNIFORM


def test_an_uncertain_boundary_makes_no_odd_bead() -> None:
    strand = make_strand([6.0] * 20 + [3.0], flags={21: ("unsure-split",)})
    assert find_pattern(strand.beads) == UNIFORM


@pytest.mark.parametrize("along_mm", [[8.0, 8, 9] * 6, [6.0, 6.8] * 9, [8.0] * 20 + [7.2]])
def test_an_unchecked_scale_hides_no_difference(along_mm: list[float]) -> None:
    """All beads are off by the same share: 7.5 % more uncertainty each changes nothing between them."""
    scale_rel_u = 0.0375
    beads = make_strand(along_mm).beads
    unsure = [
        replace(
            bead,
            along_u95_mm=math.hypot(bead.along_u95_mm, 2 * scale_rel_u * bead.along_mm),
            across_u95_mm=math.hypot(bead.across_u95_mm, 2 * scale_rel_u * bead.across_mm),
        )
        for bead in beads
    ]
    assert find_pattern(unsure, scale_rel_u=scale_rel_u) == find_pattern(beads)
    assert find_pattern(beads) != UNIFORM
