"""What independent changes to a number come to together."""

from collections.abc import Iterable


def range_of(changes: Iterable[float]) -> tuple[float, float]:
    """Return what independent changes come to where all that lessen happen, and where all that add do.

    Examples
    --------
    >>> range_of([-8.0, -9.0, 5.0])
    (-17.0, 5.0)
    """
    all_of = list(changes)
    return sum(c for c in all_of if c < 0), sum(c for c in all_of if c > 0)


def largest_change(changes: Iterable[float]) -> float:
    """Return the most by which independent changes may add up, up or down; 0 where there is none."""
    return max(abs(most) for most in range_of(changes))
