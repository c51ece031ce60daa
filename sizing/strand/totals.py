"""Lengths of one photo added up, with their uncertainty."""

import math
from collections.abc import Sequence

from vision.common.numerics import COVERAGE_FACTOR, without_scale
from vision.common.records import Strand


def added_up(lengths: Sequence[tuple[float, float]], *, scale_rel_u: float) -> tuple[float, float]:
    """Return the sum of lengths of one photo and its expanded uncertainty, from each with its own.

    All share the scale of their photo, so its part adds up; the rest is independent and adds as squares
    (JCGM 100:2008, 5.2.2).

    Examples
    --------
    >>> mm, u95_mm = added_up([(100.0, 0.5), (100.0, 0.5)], scale_rel_u=0.002)
    >>> mm, round(u95_mm, 2)
    (200.0, 0.91)
    """
    scale_rel_u95 = COVERAGE_FACTOR * scale_rel_u
    own = (without_scale(u95_mm, length_mm, scale_rel_u=scale_rel_u95) for length_mm, u95_mm in lengths)
    total_mm = sum(length_mm for length_mm, _ in lengths)
    return total_mm, math.hypot(scale_rel_u95 * total_mm, *own)


def total_length(strands: Sequence[Strand]) -> tuple[float, float]:
    """Return the strung length of all strands of a photo together, and its expanded uncertainty.

    Examples
    --------
    >>> from tests.helpers.strands import make_strand
    >>> mm, u95_mm = total_length([make_strand([8.0] * 20), make_strand([6.0] * 20)])
    >>> mm, round(u95_mm, 2)
    (280.0, 0.69)
    """
    lengths = [(strand.length_mm, strand.length_u95_mm) for strand in strands]
    return added_up(lengths, scale_rel_u=strands[0].conditions.scale_rel_u)
