"""The picture is a part of what the camera took: crops, digital zooms, a strand cut off."""

from dataclasses import replace

import numpy as np

from tests.perturbed.case import Case, Way, resized
from vision.common.records import FloatArray

_CLEAR_BEADS = 1.5
"""Sizes of a bead left clear around the centres of the beads."""
_LEAST_CUT = 0.08
"""A smaller part of the picture is no crop worth trying."""
_CUT_AT = 0.15
"""Where a strand is cut off: this share of its beads is out of the picture."""


def cropped(case: Case, box: tuple[int, int, int, int]) -> Case:
    """Return the case with the part (left, top, right, bottom) of its picture."""
    left, top, right, bottom = box
    matrix = np.array([[1.0, 0, -left], [0, 1.0, -top], [0, 0, 1.0]])
    return case.moved(case.rgb[top:bottom, left:right], matrix)


def _room(case: Case) -> FloatArray:
    """Return the shares of the picture without beads at its left, top, right and bottom."""
    clear = _CLEAR_BEADS * case.bead_px
    low, high = case.px.min(axis=0) - clear, case.px.max(axis=0) + clear
    return np.concatenate([low / case.size_px, 1 - high / case.size_px])


def _without(case: Case, shares: FloatArray) -> Case:
    width, height = case.size_px
    left, top, right, bottom = np.round(shares * np.array([width, height, width, height])).astype(int)
    return cropped(case, (int(left), int(top), int(width - right), int(height - bottom)))


def _sides(count: int, most: float) -> Way:
    """Cut off the sides with most room, each at most a share of the picture."""

    def way(case: Case) -> Case | None:
        room = np.clip(_room(case), 0, most)
        chosen = np.argsort(room)[-count:]
        if room[chosen].min() < _LEAST_CUT:
            return None
        shares = np.zeros(4)
        shares[chosen] = room[chosen]
        return _without(case, shares)

    return way


def with_old_size(way: Way) -> Way:
    """State the pixel counts of before in EXIF."""

    def sized(case: Case) -> Case | None:
        spoilt = way(case)
        return None if spoilt is None else replace(spoilt, stated_px=case.size_px)

    return sized


def zoomed(times: float) -> Way:
    """Crop as near to the middle as the beads allow, and enlarge to the size of before."""

    def way(case: Case) -> Case | None:
        room, spare = _room(case), 1 - 1 / times
        if (room[:2] + room[2:]).min() < spare:
            return None
        first = np.clip(np.full(2, spare / 2), spare - room[2:], room[:2])
        part = _without(case, np.concatenate([first, spare - first]))
        return resized(part, case.size_px)

    return way


def strand_cut_off(case: Case) -> Case | None:
    """Crop so that an end of the strand is out of the picture."""
    if case.command != "strand" or len(case.px) < 6:
        return None
    course = case.px[-1] - case.px[0]
    axis = int(np.argmax(np.abs(course)))
    cut = case.px[round((1 - _CUT_AT) * (len(case.px) - 1)), axis]
    size = case.size_px[axis]
    shares = np.zeros(4)
    if course[axis] > 0:
        shares[axis + 2] = 1 - cut / size
    else:
        shares[axis] = cut / size
    return replace(_without(case, shares), answerable=False)


CROPPED: dict[str, Way] = {
    "one side cut off": _sides(1, 0.25),
    "two sides cut off": _sides(2, 0.18),
    "two sides cut off, old pixel counts": with_old_size(_sides(2, 0.18)),
    "digital zoom 1.2": zoomed(1.2),
    "digital zoom 1.4": zoomed(1.4),
}
CUT_OFF: dict[str, Way] = {"strand cut off": strand_cut_off}
