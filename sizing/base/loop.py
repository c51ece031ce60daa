"""The closed loop: the girth that a ring of beads leaves inside, and how many beads a girth takes.

A closed piece is a chain of parts around a cylinder, a wrist for example. The string bends at the
centres of the parts. Neighbouring centres are half the sum of their lengths apart, and each centre
keeps at least half the thickness of its part away from the cylinder. When the string is tight the thick
parts touch the cylinder, and the string runs straight over thin parts between them.

The inner girth is the girth of the largest cylinder that fits inside, as ISO 8653:2016 defines the
size of a ring. N equal touching rounds of diameter d stand on a regular polygon, which gives the closed
form pi d (1 / sin(pi / N) - 1).
"""

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

_SETTLED_MM = 1e-9  # of the radius, well below `_EQUAL_MM`; half or double is one step of bisection
_EQUAL_MM = 1e-6  # two girths this close are the same: far below any measurement, far above rounding errors
_STRAIGHT_RAD = 1e-12  # a bend this small is none: above the rounding error of two angles (4e-16 each)
_KEPT = 64  # of the last girths: a fit asks for the same up to four times among a dozen others
MOST_BEADS = 10_000  # stops a mistyped length: 40 m of 4 mm beads take a search of 10 s, double twice that


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One part of the chain: a bead or a finding.

    Attributes
    ----------
    along_mm : float
        Its length along the string.
    across_mm : float
        Its thickness; 0 for a part that lies flat between the beads.
    """

    along_mm: float
    across_mm: float = 0.0


def inner_girth(links: Sequence[Link]) -> float:
    """Return the girth of the largest cylinder inside a closed chain, in mm; 0 where none fits.

    Parameters
    ----------
    links : sequence of Link
        In order around the loop; the last one meets the first.

    Notes
    -----
    Seen from the axis of the cylinder, two neighbouring centres enclose an angle. At the radius sought
    these angles add up to a full turn. They shrink as the radius grows, so bisection finds it.

    Examples
    --------
    22 rounds of 8 mm string to 176 mm but leave only 151.5 mm inside, as the closed form says:

    >>> round(inner_girth([Link(along_mm=8, across_mm=8)] * 22), 3)
    151.467
    >>> round(math.pi * 8 * (1 / math.sin(math.pi / 22) - 1), 3)
    151.467
    """
    return _inner_girth(tuple(links))


@functools.lru_cache(maxsize=_KEPT)
def _inner_girth(links: tuple[Link, ...]) -> float:
    if len(links) < 3:
        return 0.0
    low, high = 0.0, sum(link.along_mm for link in links) / 2
    if _turn(links, low) < 2 * math.pi:
        return 0.0
    while high - low > _SETTLED_MM:
        middle = (low + high) / 2
        low, high = (middle, high) if _turn(links, middle) >= 2 * math.pi else (low, middle)
    return 2 * math.pi * low


def _turn(links: Sequence[Link], radius_mm: float) -> float:
    """Return the angle that the tight chain takes up around a cylinder, rad."""
    radii = [radius_mm + link.across_mm / 2 for link in links]
    steps = [
        (link.along_mm + after.along_mm) / 2
        for link, after in zip(links, [*links[1:], links[0]], strict=True)
    ]
    radii, steps = _without_lifted(radii, steps)
    return sum(
        _angle_between(radius, after, step)
        for radius, after, step in zip(radii, [*radii[1:], radii[0]], steps, strict=True)
    )


def _without_lifted(radii: list[float], steps: list[float]) -> tuple[list[float], list[float]]:
    """Drop the centres that a tight string lifts off the cylinder; `steps[i]` is the way from i to i + 1.

    At such a centre the string would bend inwards, so the part hangs on straight string instead.
    Dropping one only moves the string outwards, so the order of dropping does not matter.
    """
    at, kept_since_drop = 0, 0
    while len(radii) > 2 and kept_since_drop < len(radii):
        at %= len(radii)
        after = (at + 1) % len(radii)
        before_rad = _angle_at(radii[at], radii[at - 1], steps[at - 1])
        after_rad = _angle_at(radii[at], radii[after], steps[at])
        if before_rad + after_rad > math.pi + _STRAIGHT_RAD:
            steps[at - 1] += steps[at]
            del radii[at], steps[at]
            # The angles at both neighbours have changed, so they are tested again.
            at, kept_since_drop = at - 1, max(kept_since_drop - 2, 0)
        else:
            at, kept_since_drop = at + 1, kept_since_drop + 1
    return radii, steps


def _angle_between(radius: float, other: float, step: float) -> float:
    """Return the angle at the axis between two centres `step` apart (law of cosines), rad."""
    if radius * other == 0:
        return math.pi
    return _acos((radius**2 + other**2 - step**2) / (2 * radius * other))


def _angle_at(radius: float, other: float, step: float) -> float:
    """Return the angle at a centre between the directions to the axis and to its neighbour, rad."""
    if radius * step == 0:
        return math.pi / 2
    return _acos((radius**2 + step**2 - other**2) / (2 * radius * step))


def _acos(cosine: float) -> float:
    return math.acos(min(max(cosine, -1.0), 1.0))


def fewest_beads(girth_mm: float, bead: Link, *, findings: Sequence[Link] = ()) -> int:
    """Return the fewest equal beads whose closed loop, findings included, leaves at least a girth inside.

    Raises
    ------
    ValueError
        The girth takes over 10 000 beads.

    Examples
    --------
    >>> fewest_beads(160, Link(along_mm=8, across_mm=8))
    24
    """
    # The string is longer than the girth, by about pi times the thickness: a start below the answer.
    guess = (girth_mm - sum(link.along_mm for link in findings)) / bead.along_mm
    count = max(int(guess), 1)
    if count > MOST_BEADS:
        raise ValueError(f"a girth of {girth_mm:.0f} mm takes more than {MOST_BEADS} beads")
    while inner_girth([bead] * count + list(findings)) < girth_mm - _EQUAL_MM:
        count += 1
    return count
