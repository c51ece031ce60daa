"""Finds the two neighbouring rungs of a ladder of ever longer pieces that enclose a target."""

from collections.abc import Callable


def enclosing_rungs(
    miss_mm: Callable[[int], float], *, start: int, lowest: int, highest: int
) -> tuple[int, int]:
    """Return the last rung that does not pass the target, and the next one.

    Where even the lowest rung passes the target it is returned with the one above it; where even the
    highest falls short, it is returned with itself.

    Parameters
    ----------
    miss_mm : callable
        How far a rung passes the target; rises with the rung.
    start, lowest, highest : int, keyword-only
        Where to begin, and the ends of the ladder.
    """
    rung = min(max(start, lowest), highest)
    while rung > lowest and miss_mm(rung) > 0:
        rung -= 1
    while rung < highest and miss_mm(rung + 1) <= 0:
        rung += 1
    return rung, min(rung + 1, highest)
