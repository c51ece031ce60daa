"""Enclosing a target between two rungs."""

from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.base.search import enclosing_rungs


@given(st.floats(-50, 250), st.integers(-10, 40), st.floats(0.5, 12))
@settings(deadline=None)
def test_the_target_lies_between_the_two_rungs(goal: float, start: int, step: float) -> None:
    below, above = enclosing_rungs(lambda rung: rung * step - goal, start=start, lowest=1, highest=30)
    assert above == min(below + 1, 30)
    assert below * step <= goal or below == 1
    assert above * step > goal or above == 30
