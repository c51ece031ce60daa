"""Finds the two neighbouring counts of repeats between which a piece reaches its target."""

from collections.abc import Callable


def bracket_target(
    miss_mm: Callable[[int], float], *, start: int, lowest: int, highest: int
) -> tuple[int, int]:
    """Return the largest count that does not pass the target, and the next one.

    If even the lowest count passes the target, that count and the next are returned; if even the
    highest falls short, the highest twice.

    Parameters
    ----------
    miss_mm : callable
        Length by which a count passes the target, negative where it falls short; rises with the count.
    start, lowest, highest : int, keyword-only
        A first guess, and the ends of the range.

    Examples
    --------
    Beads of 8 mm for 100 mm: 12 fall short, 13 pass it.

    >>> bracket_target(lambda count: 8 * count - 100, start=10, lowest=1, highest=50)
    (12, 13)
    """
    count = min(max(start, lowest), highest)
    while count > lowest and miss_mm(count) > 0:
        count -= 1
    while count < highest and miss_mm(count + 1) <= 0:
        count += 1
    return count, min(count + 1, highest)
