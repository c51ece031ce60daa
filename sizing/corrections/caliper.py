"""How well a size is known that a caliper was read on."""

import math

from vision.common.numerics import COVERAGE_FACTOR

_LIMIT_MM = 0.03
"""By which a caliper, and the hand that closes it on a bead, err at most (common practice, no source)."""


def caliper_u95_mm(resolution_mm: float) -> float:
    """Return the expanded uncertainty of a caliper's reading, from how finely it was typed.

    The size lies anywhere within half of the last digit, and the caliper anywhere within its limits of error:
    two rectangular distributions (JCGM 100:2008, 4.3.7).

    Examples
    --------
    >>> round(caliper_u95_mm(0.1), 3), round(caliper_u95_mm(0.01), 3)
    (0.067, 0.035)
    """
    return COVERAGE_FACTOR * math.hypot(resolution_mm / 2, _LIMIT_MM) / math.sqrt(3)
