"""Pattern of the sizes on a strand: all of one size, a repeat, symmetric about the centre, or none."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision.common import flags
from vision.common.numerics import COVERAGE_FACTOR, without_scale
from vision.common.records import FloatArray, StrandBead

ALIKE_SHARE = 0.06
"""Beads of one kind differ by less, as a share of their size: strands sold as 8 mm span 7.5 to 8.4 mm
(common practice, no source). At half, such a strand counts as mixed; at double, 8 and 9 mm count as one kind.
"""
_ODD_SHARE = 0.1
"""Fewer beads than this share may be of another size on a uniform strand (an end bead, for example). At half,
one on a strand of 20 makes it mixed; at double, a repeat of five beads and one other counts as uniform.
"""
# Flags of a bead whose measured size may not be that of its kind.
_UNRELIABLE = {flags.CUT_OFF, flags.COVERED, flags.UNSURE_SPLIT, flags.UNMEASURED}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """The pattern of the sizes on a strand.

    Attributes
    ----------
    uniform : bool
        All beads are of one size, except for a few odd ones.
    odd : tuple of int
        Numbers of the odd beads of a uniform strand.
    repeat : int
        Beads in the shortest repeat of a mixed strand, found at least twice; 0 if there is none.
    symmetric : bool
        Whether a mixed strand reads the same from both ends.
    """

    uniform: bool
    odd: tuple[int, ...] = ()
    repeat: int = 0
    symmetric: bool = False

    @property
    def has_order(self) -> bool:
        """Whether there is a pattern to keep."""
        return self.uniform or self.repeat > 0 or self.symmetric


def find_pattern(beads: Sequence[StrandBead], *, scale_rel_u: float = 0.0) -> Pattern:
    """Find the pattern in the sizes of a strand's beads; a size that was not measured matches any other.

    Parameters
    ----------
    beads : sequence of StrandBead
    scale_rel_u : float, keyword-only
        Relative standard uncertainty of scale: it changes all beads alike, so it hides no difference.

    Examples
    --------
    >>> from tests.helpers.strands import make_strand
    >>> find_pattern(make_strand([4, 4, 8] * 6).beads)
    Pattern(uniform=False, odd=(), repeat=3, symmetric=False)
    """
    beads = [_own(bead, scale_rel_u) for bead in beads]
    odd = _odd_ones(beads)
    if not beads or (len(odd) < _ODD_SHARE * len(beads) and not _around_centre(odd, beads)):
        return Pattern(uniform=True, odd=odd)
    alike = _alike(beads)
    n = len(beads)
    index = np.arange(n)
    steps_apart = np.abs(index[:, None] - index)
    # All beads at one place of the repeat are compared with each other, not only neighbours: on a graduated
    # strand each bead is much like the next, but the first is not like the last.
    repeats = (p for p in range(2, n // 2 + 1) if alike[steps_apart % p == 0].all())
    return Pattern(uniform=False, repeat=next(repeats, 0), symmetric=bool(alike[index, index[::-1]].all()))


def _own(bead: StrandBead, scale_rel_u: float) -> StrandBead:
    """Return a bead with the part of its uncertainties that it does not share with the others."""
    sizes = np.array([bead.along_mm, bead.across_mm])
    u95 = np.array([bead.along_u95_mm, bead.across_u95_mm])
    along, across = without_scale(u95, sizes, scale_rel_u=COVERAGE_FACTOR * scale_rel_u)
    return replace(bead, along_u95_mm=float(along), across_u95_mm=float(across))


def _odd_ones(beads: Sequence[StrandBead]) -> tuple[int, ...]:
    """Return the numbers of beads whose length differs from the median by more than their uncertainty.

    Among beads a spacer is odd whatever its length.
    """
    among_beads = any(bead.kind == "bead" for bead in beads)
    reliable = [bead for bead in beads if is_reliable(bead)]
    if not reliable:
        return ()
    usual = float(np.median([bead.along_mm for bead in reliable]))
    return tuple(
        bead.number
        for bead in reliable
        if (among_beads and bead.kind != "bead")
        or abs(bead.along_mm - usual) > max(ALIKE_SHARE * usual, bead.along_u95_mm)
    )


def _around_centre(odd: Sequence[int], beads: Sequence[StrandBead]) -> bool:
    """Return whether odd beads lie symmetrically about the centre and one is the centre, a focal bead."""
    ends = beads[0].number + beads[-1].number
    return ends / 2 in odd and {ends - number for number in odd} == set(odd)


def is_reliable(bead: StrandBead) -> bool:
    """Return whether a bead's measured length is that of its kind."""
    return bool(np.isfinite(bead.along_mm)) and _UNRELIABLE.isdisjoint(bead.flags)


def _alike(beads: Sequence[StrandBead]) -> NDArray[np.bool_]:
    """Return which pairs of beads are of one kind, and of one size along and across, shape (N, N)."""
    kind = np.array([bead.kind for bead in beads])
    along = np.array([(bead.along_mm, bead.along_u95_mm) for bead in beads])
    across = np.array([(bead.across_mm, bead.across_u95_mm) for bead in beads])
    return _agree(*along.T) & _agree(*across.T) & (kind[:, None] == kind)


def _agree(sizes_mm: FloatArray, u95_mm: FloatArray) -> NDArray[np.bool_]:
    """Return which pairs of sizes may be equal; NaN, an unmeasured size, agrees with all."""
    larger = np.maximum(sizes_mm[:, None], sizes_mm)
    limit = np.maximum(ALIKE_SHARE * larger, np.hypot(u95_mm[:, None], u95_mm))
    differ: NDArray[np.bool_] = np.abs(sizes_mm[:, None] - sizes_mm) > limit
    return ~differ
