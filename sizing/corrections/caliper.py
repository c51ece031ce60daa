"""How well a size is known that a caliper was read on."""

import math

from sizing.base.errors import CorrectionError
from sizing.base.units import format_mm
from vision.common.corrections import Correction
from vision.common.numerics import COVERAGE_FACTOR

_LIMIT_MM = 0.03
"""By which a caliper, and the hand that closes it on a bead, err at most (common practice, no source)."""
_FAR = 2.0
"""Times what the photo shows. No bead that is seen whole is measured so wrongly, and a slip of the decimal
point or of the unit makes tenfold or more (common practice, no source)."""


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


def check_reading(said: Correction, *, bead: str) -> None:
    """Refuse a reading that cannot be that of its bead, which a message calls `bead`.

    Raises
    ------
    CorrectionError
    """
    times = said.size_mm / said.shown_mm
    if times > _FAR or times < 1 / _FAR:
        read, shown = format_mm(said.size_mm), format_mm(said.shown_mm, said.shown_u95_mm)
        raise CorrectionError(
            f"bead {bead} cannot be {read} by a caliper, as the photo shows {shown}: read it again, and give "
            "the number of the bead that it is read on"
        )
