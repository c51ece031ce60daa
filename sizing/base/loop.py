"""The closed loop: what girth goes into a ring of beads, and how many beads a girth needs.

A closed piece is a chain of parts. The string bends at their centres, neighbouring centres stand
half the sum of their lengths apart, and every centre keeps at least half its part's thickness away
from the cylinder that the loop closes on (a wrist, say). Pulled tight, the thick parts lie on the
cylinder and the string runs straight over thin ones between them. The inner girth is that of the
largest cylinder that goes in, as ISO 8653:2016 defines the size of a ring. For equal rounds it is
exactly pi d (1 / sin(pi / N) - 1).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

_SETTLED_MM = 1e-9
_MOST_BEADS = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One part of the chain: a bead or a finding.

    Attributes
    ----------
    along_mm : float
        Its length along the string.
    across_mm : float
        Its thickness; 0 for what lies flat between the beads.
    """

    along_mm: float
    across_mm: float = 0.0


def girth_of_equal_rounds(count: int, diameter_mm: float) -> float:
    """Return the inner girth of `count` equal touching rounds, from the regular polygon."""
    return max(math.pi * diameter_mm * (1 / math.sin(math.pi / count) - 1), 0.0) if count > 1 else 0.0


def inner_girth(links: Sequence[Link]) -> float:
    """Return the girth of the largest cylinder inside a closed chain, in mm; 0 where none goes in.

    Parameters
    ----------
    links : sequence of Link
        In order around the loop; the last one meets the first.

    Notes
    -----
    Seen from the axis each pair of neighbours fills an angle; the radius sought is the one at which
    the angles make a full turn. They shrink as the radius grows, so bisection cannot miss it.
    """
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
    """Return the angle that the tight chain fills around a cylinder, rad."""
    radii = [radius_mm + link.across_mm / 2 for link in links]
    steps = [
        (link.along_mm + after.along_mm) / 2
        for link, after in zip(links, [*links[1:], links[0]], strict=True)
    ]
    radii, steps = _lift(radii, steps)
    return sum(
        _angle_between(radius, after, step)
        for radius, after, step in zip(radii, [*radii[1:], radii[0]], steps, strict=True)
    )


def _lift(radii: list[float], steps: list[float]) -> tuple[list[float], list[float]]:
    """Drop the centres that a tight string passes outside of; `steps[i]` leads from i to i + 1.

    A centre at which the string would bend inwards is not on the cylinder at all. Dropping it only
    moves the string outwards, so the order of dropping does not matter.
    """
    at, kept_since_drop = 0, 0
    while len(radii) > 2 and kept_since_drop < len(radii):
        at %= len(radii)
        after = (at + 1) % len(radii)
        inside = _angle_at(radii[at], radii[at - 1], steps[at - 1]) + _angle_at(
            radii[at], radii[after], steps[at]
        )
        if inside > math.pi + 1e-12:
            steps[at - 1] += steps[at]
            del radii[at], steps[at]
            # Both neighbours' angles have changed: look at them again.
            at, kept_since_drop = at - 1, max(kept_since_drop - 2, 0)
        else:
            at, kept_since_drop = at + 1, kept_since_drop + 1
    return radii, steps


def _angle_between(radius: float, other: float, step: float) -> float:
    """Angle at the axis between two centres `step` apart (law of cosines), rad."""
    if radius * other == 0:
        return math.pi
    return _acos((radius**2 + other**2 - step**2) / (2 * radius * other))


def _angle_at(radius: float, other: float, step: float) -> float:
    """Angle at a centre between the way to the axis and the way to its neighbour, rad."""
    if radius * step == 0:
        return math.pi / 2
    return _acos((radius**2 + step**2 - other**2) / (2 * radius * step))


def _acos(cosine: float) -> float:
    return math.acos(min(max(cosine, -1.0), 1.0))


def fewest_beads(girth_mm: float, bead: Link, findings: Sequence[Link] = ()) -> int:
    """Return the fewest equal beads whose closed loop, findings included, lets a girth in.

    Raises
    ------
    ValueError
        The girth would take more beads than anyone strings.
    """
    # The string is never shorter than the girth, and longer by about pi times the thickness.
    guess = (girth_mm - sum(link.along_mm for link in findings)) / bead.along_mm
    count = max(int(guess), 1)
    if count > _MOST_BEADS:
        raise ValueError(f"a girth of {girth_mm:.0f} mm takes more than {_MOST_BEADS} beads")
    while inner_girth([bead] * count + list(findings)) < girth_mm - 1e-6:
        count += 1
    return count
