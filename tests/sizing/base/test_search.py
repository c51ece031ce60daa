"""Enclosing a target between two neighbouring counts."""

from hypothesis import given
from hypothesis import strategies as st

from sizing.base.search import bracket_target

LOWEST, HIGHEST = 1, 30


@given(st.integers(-50, 400), st.integers(-10, 40), st.integers(1, 12))
def test_the_target_lies_between_the_two_counts(goal_mm: int, start: int, step_mm: int) -> None:
    below, above = bracket_target(
        lambda count: count * step_mm - goal_mm, start=start, lowest=LOWEST, highest=HIGHEST
    )
    # The same by whole-number division, kept in the range.
    assert below == min(max(goal_mm // step_mm, LOWEST), HIGHEST)
    assert above == min(below + 1, HIGHEST)
