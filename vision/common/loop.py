"""A strand that is closed to a loop, measured all round."""

from dataclasses import dataclass

import numpy as np

from vision.common.records import FloatArray, Loop

_COVERAGE = 2.0
"""k of an expanded uncertainty (JCGM 100:2008, G.6.6)."""
_STEPS = 50
"""Of an iteration that comes nearer by more than half with each step where the chord is under a third of the
loop; longer clasps do not occur."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The parts of a closed strand, in order.

    Attributes
    ----------
    places_mm : ndarray, shape (B, 3)
        World points of their middles.
    along_mm, across_mm : ndarray, shape (B,)
        Their sizes.
    gaps_mm : ndarray, shape (B,)
        Free string after each; that after the last counts to the clasp.
    across_u95_mm : float
        Mean expanded uncertainty of the sizes across. They err together: as one edge seems to lie, so do all.
    """

    places_mm: FloatArray
    along_mm: FloatArray
    across_mm: FloatArray
    gaps_mm: FloatArray
    across_u95_mm: float = 0.0

    def without(self, first: int, last: int) -> "Parts":
        """Return the parts without so many at the beginning and at the end."""
        kept = slice(first, len(self.along_mm) - last)
        return Parts(
            places_mm=self.places_mm[kept],
            along_mm=self.along_mm[kept],
            across_mm=self.across_mm[kept],
            gaps_mm=self.gaps_mm[kept],
        )

    @property
    def strung_mm(self) -> float:
        """From the outer end of the first part to that of the last."""
        return float(self.along_mm.sum() + self.gaps_mm[:-1].sum())


def all_round(parts: Parts, *, strung_u95_mm: float, doubtful: tuple[int, int] = (0, 0)) -> Loop:
    """Return the length of the string all round, and the girth that the loop passes over.

    The string runs through clasp and rings from the last strung part to the first: at least along their
    chord, and about along an arc of a circle as long as the whole loop. The difference is uncertain.

    A limb touches the inside of the parts; the string runs half a part farther out. A closed curve at a
    distance d outside another is 2 pi d longer (Steiner's formula for parallel curves), whatever its shape.

    Parameters
    ----------
    parts : Parts
    strung_u95_mm : float
        Expanded uncertainty of the strung length.
    doubtful : tuple of int
        How many parts at the beginning and at the end may belong to the clasp. They need not lie on the
        string's course, so the round is uncertain by what it changes without them.
    """
    arc, chord = _closing(parts)
    around = parts.strung_mm + arc
    spread = 0.0
    if any(doubtful) and len(parts.along_mm) - sum(doubtful) > 2:
        fewer = parts.without(*doubtful)
        spread = abs(around - fewer.strung_mm - _closing(fewer)[0])
    u95 = spread + float(np.hypot(strung_u95_mm, _COVERAGE * (arc - chord)))
    half = float(np.average(parts.across_mm, weights=parts.along_mm)) / 2
    return Loop(
        around_mm=around,
        around_u95_mm=u95,
        inner_girth_mm=around - 2 * np.pi * half,
        inner_girth_u95_mm=float(np.hypot(u95, np.pi * parts.across_u95_mm)),
        clasp_mm=arc,
    )


def _closing(parts: Parts) -> tuple[float, float]:
    """Return the arc and the chord between the outer ends of the last part and the first."""
    chord = _chord(parts.places_mm, parts.along_mm)
    return _arc(chord, parts.strung_mm), chord


def _chord(places_mm: FloatArray, along_mm: FloatArray) -> float:
    """Return the distance from the outer end of the last part to that of the first."""
    ends = []
    for outer, inner in ((0, 1), (-1, -2)):
        way = places_mm[outer] - places_mm[inner]
        ends.append(places_mm[outer] + way / np.linalg.norm(way) * along_mm[outer] / 2)
    return float(np.linalg.norm(ends[0] - ends[1]))


def _arc(chord: float, rest: float) -> float:
    """Return the length of the arc over a chord of a circle, of which the rest is so long.

    Examples
    --------
    >>> round(_arc(2.0, np.pi), 6) == round(np.pi, 6)  # the chord of half a circle of radius 1
    True
    """
    arc = chord
    for _ in range(_STEPS):
        radius = (arc + rest) / (2 * np.pi)
        arc = 2 * radius * float(np.arcsin(min(chord / 2 / radius, 1.0)))
    return arc
