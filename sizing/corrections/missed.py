"""A bead that was missed: where on the string it lies, and what size it has by its neighbours."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sizing.base.errors import CorrectionError
from sizing.corrections.likeness import Size, like
from sizing.corrections.row import Part, across_of, along_of, near, way_at
from sizing.corrections.shape import Point, extent, round_outline
from vision.common import flags
from vision.common.numerics import COVERAGE_FACTOR
from vision.common.records import FloatArray, StrandBead

_OFF = 1.0
"""So many beads off the string, across it, nothing hangs on it."""
_FARTHEST = 3.0
"""In beads: a missed one beyond an end lies no farther from it, or those between were missed as well."""
_ROOM = 0.5
"""Of its size: a bead that has less room between its neighbours does not hang there."""
_TAPPED = 0.25
"""Of its size: how far beside the middle of a bead a finger points at most (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place on or beside a string.

    Attributes
    ----------
    after : int
        Position of the bead that it follows; -1 before the first.
    from_mm : float
        From the middle of that bead, or of the first, along the string.
    off_mm : float
        Off the string, square to it.
    near_px : float
        To the nearest place of the string.
    per_mm : float
        Pixels of the photo.
    """

    after: int
    from_mm: float
    off_mm: float
    near_px: float
    per_mm: float


def place_on(row: Sequence[Part], px: Point) -> Place:
    """Return where a point (x, y) of the photo lies on a string of one bead or more."""
    centres = np.array([part.bead.centre_px for part in row], dtype=float)
    if len(row) == 1:
        away, per_mm = np.subtract(px, centres[0]), _own_scale(row[0])
        t = float(away @ way_at([row[0].bead], 0)) / per_mm
        off = math.sqrt(max(float(away @ away) / per_mm**2 - t**2, 0.0))
        after = 0 if t > 0 else -1
        return Place(after=after, from_mm=abs(t), off_mm=off, near_px=float(np.hypot(*away)), per_mm=per_mm)
    steps = np.diff(centres, axis=0)
    lengths = np.maximum(np.hypot(*steps.T), 1e-9)
    t = ((np.array(px) - centres[:-1]) * steps).sum(axis=1) / lengths**2
    near_px = np.hypot(*(np.array(px) - centres[:-1] - np.clip(t, 0, 1)[:, None] * steps).T)
    k = int(np.argmin(near_px))
    beside = np.hypot(*(np.array(px) - centres[k] - t[k] * steps[k]))
    pitch_mm = row[k].along_mm / 2 + row[k].gap_mm + row[k + 1].along_mm / 2
    per_mm = float(lengths[k]) / pitch_mm
    after, from_mm = k, float(t[k]) * pitch_mm
    if k == 0 and t[0] < 0:
        after, from_mm = -1, -from_mm
    elif k == len(row) - 2 and t[k] > 1:
        after, from_mm = k + 1, from_mm - pitch_mm
    return Place(
        after=after,
        from_mm=from_mm,
        off_mm=float(beside) / per_mm,
        near_px=float(near_px[k]),
        per_mm=per_mm,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Longer:
    """A string with a bead that was missed.

    Attributes
    ----------
    row : list of Part
    end : str
        `left end` or `right end`, where the bead lies beyond it; empty where it lies between two.
    u95_mm : float
        What it adds to the expanded uncertainty of the strung length.
    """

    row: list[Part]
    end: Literal["", "left end", "right end"] = ""
    u95_mm: float = 0.0


def with_missed(row: Sequence[Part], px: Point) -> Longer:
    """Return a string with a bead that was missed at (x, y), put in where it lies.

    Raises
    ------
    CorrectionError
        The place is off the string, or taken.
    """
    place = place_on(row, px)
    k = place.after
    before, behind = ([p.bead for p in part if p.bead.was] for part in (row[: k + 1], row[k + 1 :]))
    about = [*before, row[0].bead, *behind]  # in place of the missed one any other
    along, across = (like(near(about, len(before), size)) for size in (along_of, across_of))
    said = f"the place {px[0]:.0f},{px[1]:.0f}"
    if not place.off_mm <= _OFF * (across.mm if across.known else along.mm):
        raise CorrectionError(
            f"{said} lies {place.off_mm:.0f} mm beside the string: give the middle of a bead that hangs on it"
        )
    if 0 <= k < len(row) - 1:
        return Longer(row=_between(row, place, along=along, across=across, px=px))
    return _beyond(row, place, along=along, across=across, px=px)


def _between(row: Sequence[Part], place: Place, *, along: Size, across: Size, px: Point) -> list[Part]:
    """Put a bead into the gap between two, whose places stay."""
    k, left = place.after, row[place.after]
    if left.gap_mm < _ROOM * along.mm:
        pair = f"{left.bead.number} and {row[k + 1].bead.number}"
        raise CorrectionError(
            f"there is no room for a bead between beads {pair} at {px[0]:.0f},{px[1]:.0f}: if one of them is "
            "two, say so"
        )
    length = min(along.mm, left.gap_mm)
    before = place.from_mm - left.along_mm / 2 - length / 2
    before = min(max(before, 0.0), left.gap_mm - length)
    cut = Size(mm=length, u95_mm=math.hypot(along.u95_mm, along.mm - length))
    bead = _bead([row[k], row[k + 1]], along=cut, across=across, px=px, per_mm=place.per_mm)
    new = Part(bead=bead, along_mm=length, gap_mm=left.gap_mm - length - before)
    return [*row[:k], replace(left, gap_mm=before), new, *row[k + 1 :]]


def _beyond(row: Sequence[Part], place: Place, *, along: Size, across: Size, px: Point) -> Longer:
    """Put a bead before the first or after the last, and say how uncertain the new end is."""
    end = row[0] if place.after < 0 else row[-1]
    if place.from_mm < end.along_mm / 2:
        raise CorrectionError(f"bead {end.bead.number} lies at {px[0]:.0f},{px[1]:.0f} already")
    gap = max(place.from_mm - end.along_mm / 2 - along.mm / 2, 0.0)
    if gap > _FARTHEST * along.mm:
        raise CorrectionError(
            f"the place {px[0]:.0f},{px[1]:.0f} lies {gap:.0f} mm beyond the end of the string: give the "
            "beads between as well, or measure again with the whole strand in the picture"
        )
    bead = _bead([end], along=along, across=across, px=px, per_mm=place.per_mm)
    # anywhere within the circle that a finger hits: rectangular (JCGM 100:2008, 4.3.7)
    tapped = COVERAGE_FACTOR * _TAPPED * along.mm / math.sqrt(3)
    u95_mm = math.hypot(tapped, along.u95_mm)
    if place.after < 0:
        new = Part(bead=bead, along_mm=along.mm, gap_mm=gap)
        return Longer(row=[new, *row], end="left end", u95_mm=u95_mm)
    new = Part(bead=bead, along_mm=along.mm, gap_mm=0.0)
    return Longer(row=[*row[:-1], replace(end, gap_mm=gap), new], end="right end", u95_mm=u95_mm)


def _bead(beside: Sequence[Part], *, along: Size, across: Size, px: Point, per_mm: float) -> StrandBead:
    """Return a bead that was missed, in the colour of those beside it, not yet numbered."""
    width_mm = across.mm if across.known else along.mm
    red, green, blue = np.median([part.bead.colour_rgb for part in beside], axis=0)
    return StrandBead(
        number=beside[0].bead.number,
        centre_px=px,
        across_mm=across.mm,
        across_u95_mm=across.u95_mm,
        along_mm=along.mm,
        along_u95_mm=along.u95_mm,
        gap_after_mm=0.0,
        colour_rgb=(int(red), int(green), int(blue)),
        outline_px=round_outline(px, width_mm * per_mm / 2),
        flags=(flags.CORRECTED,) if across.known else (flags.UNMEASURED, flags.CORRECTED),
        was=(),
    )


def _own_scale(part: Part) -> float:
    """Return how many pixels a millimetre has, by the outline of the only bead."""
    outline: FloatArray = part.bead.outline_px
    return extent(outline, part.bead.centre_px, way_at([part.bead], 0)) / part.along_mm or 1.0
