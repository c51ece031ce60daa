"""What order a strand's sizes have: all alike, a repeat, a mirror about the centre, or none."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common import flags
from vision.common.records import FloatArray, StrandBead

# Sizes of one kind of bead scatter by one to three per cent, kinds on one strand differ by ten and more.
_ALIKE_SHARE = 0.06
# One bead in ten may be odd (a centre bead, two end beads) before a strand is no longer uniform.
_UNIFORM_SHARE = 0.9
# A bead that carries one of these says little about its kind.
_DOUBTFUL = {flags.CUT_OFF, flags.COVERED, flags.UNSURE_SPLIT, flags.UNMEASURED}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """The order of a strand's sizes.

    Attributes
    ----------
    uniform : bool
        All beads are of one size, but for a few odd ones.
    odd : tuple of int
        Numbers of the odd ones of a uniform strand.
    repeat : int
        Beads in the shortest repeat of a mixed strand that is seen at least twice; 0 for none.
    symmetric : bool
        A mixed strand reads the same from both ends.
    """

    uniform: bool
    odd: tuple[int, ...] = ()
    repeat: int = 0
    symmetric: bool = False


def find_pattern(beads: Sequence[StrandBead]) -> Pattern:
    """Find the order in the sizes of a strand's beads; sizes not measured match any."""
    odd = _odd_ones(beads)
    if len(odd) <= (1 - _UNIFORM_SHARE) * len(beads) and not _around_centre(odd, beads):
        return Pattern(uniform=True, odd=odd)
    alike = _alike(beads)
    n = len(beads)
    index = np.arange(n)
    steps_apart = np.abs(index[:, None] - index)
    # All beads at one place of the repeat are compared, not neighbours only: in a graduated strand each bead
    # is like the next, but the first is not like the last.
    repeats = (p for p in range(2, n // 2 + 1) if alike[steps_apart % p == 0].all())
    return Pattern(uniform=False, repeat=next(repeats, 0), symmetric=bool(alike[index, index[::-1]].all()))


def _odd_ones(beads: Sequence[StrandBead]) -> tuple[int, ...]:
    """Numbers of beads that differ from the median length by more than their doubt."""
    sure = [bead.along_mm for bead in beads if not _doubtful(bead)]
    if not sure:
        return ()
    usual = float(np.median(sure))
    return tuple(
        bead.number
        for bead in beads
        if not _doubtful(bead) and abs(bead.along_mm - usual) > max(_ALIKE_SHARE * usual, bead.along_u95_mm)
    )


def _around_centre(odd: Sequence[int], beads: Sequence[StrandBead]) -> bool:
    """Tell whether one odd bead, or an evenly placed few, mark the middle: a piece made about its centre."""
    ends = beads[0].number + beads[-1].number
    return ends / 2 in odd and {ends - number for number in odd} == set(odd)


def _doubtful(bead: StrandBead) -> bool:
    return not np.isfinite(bead.along_mm) or not _DOUBTFUL.isdisjoint(bead.flags)


def _alike(beads: Sequence[StrandBead]) -> NDArray[np.bool_]:
    """Tell which pairs of beads are of one kind, along the string and across it, shape (N, N)."""

    def agree(sizes: FloatArray, u95: FloatArray) -> NDArray[np.bool_]:
        larger = np.maximum(sizes[:, None], sizes)
        # Written so that a NaN, an unmeasured size, agrees with all.
        differ = np.abs(sizes[:, None] - sizes) > np.maximum(
            _ALIKE_SHARE * larger, np.hypot(u95[:, None], u95)
        )
        result: NDArray[np.bool_] = ~differ
        return result

    along, along_u95, across, across_u95 = (
        np.array([getattr(bead, name) for bead in beads])
        for name in ("along_mm", "along_u95_mm", "across_mm", "across_u95_mm")
    )
    return agree(along, along_u95) & agree(across, across_u95)
