"""What a maker puts right on a page, read into corrections."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import get_args

from sizing.base.errors import CorrectionError
from sizing.base.units import read_length
from sizing.corrections.caliper import caliper_u95_mm
from sizing.corrections.plan import check_places, each_bead
from sizing.lot.bead_names import letters_for
from sizing.report.sentences.corrections import correction_said
from vision.common.corrections import Action, Correction

_MOST = 500
"""Corrections of one measurement: more than that correct nothing (common practice, no source)."""


def correction_of(values: Mapping[str, object], sizes_px: Mapping[str, tuple[int, int]]) -> Correction:
    """Return what a page sent as a correction.

    Parameters
    ----------
    values : mapping
        `action`; `numbers` on the uncorrected photo; `photo`; `px`, a place on it; `size`, as typed.
    sizes_px : mapping
        (width, height) of each photo by its name.

    Raises
    ------
    CorrectionError
    """
    action = next((each for each in get_args(Action) if each == values.get("action")), None)
    photo = values.get("photo")
    if action is None or not isinstance(photo, str) or photo not in sizes_px:
        raise CorrectionError("tap a bead on the photo first")
    size_mm, size_u95_mm = _size(values.get("size")) if action == "size" else (math.nan, math.nan)
    correction = Correction(
        action=action,
        numbers=_numbers(values.get("numbers")),
        photo=photo if len(sizes_px) > 1 else "",
        px=_place(values.get("px")) if action == "bead here" else None,
        size_mm=size_mm,
        size_u95_mm=size_u95_mm,
    )
    if action != "bead here" and not correction.numbers:
        raise CorrectionError("this bead was put there by hand: take that back instead")
    check_places([correction], {correction.photo: sizes_px[photo]})
    return correction


def with_correction(corrections: Sequence[Correction], new: Correction) -> list[Correction]:
    """Return corrections with one more, which takes the place of what was said of its beads before.

    Raises
    ------
    CorrectionError
        There are too many.

    Examples
    --------
    >>> first = Correction(action="spacer", numbers=(3,))
    >>> [each.action for each in with_correction([first], Correction(action="no bead", numbers=(3,)))]
    ['no bead']
    """
    named = {(new.photo, number) for number in new.numbers}
    kept = [each for each in corrections if named.isdisjoint((each.photo, n) for n in each.numbers)]
    if len(kept) >= _MOST:
        raise CorrectionError("so many corrections cannot be kept: take the photo again")
    return [*kept, new]


def word_for(correction: Correction) -> str:
    """Return what names a correction, whatever was put right or taken back elsewhere since it was shown.

    Examples
    --------
    >>> word_for(Correction(action="one bead", numbers=(3, 4), photo="photo 2"))
    'one bead 3,4  photo 2'
    """
    place = "" if correction.px is None else ",".join(map(str, correction.px))
    return f"{correction.action} {','.join(map(str, correction.numbers))} {place} {correction.photo}"


def corrections_listed(
    corrections: Sequence[Correction], done: Sequence[Correction], photos: Sequence[str]
) -> list[str]:
    """Say each correction as a sentence, and where the photo contradicts it.

    Parameters
    ----------
    corrections : sequence of Correction
        As the maker made them.
    done : sequence of Correction
        The same bead by bead, with what the photo shows of each.
    photos : sequence of str
        The names of all photos.
    """
    letters, each_done = letters_for(photos), iter(done)
    listed = []
    for each in corrections:
        first, *_ = [next(each_done) for _ in each_bead([each])]
        shown = replace(each, shown_mm=first.shown_mm, shown_u95_mm=first.shown_u95_mm)
        listed.append(correction_said(shown, letters.get(each.photo, "")))
    return listed


def _numbers(values: object) -> tuple[int, ...]:
    listed = values if isinstance(values, list) else []
    return tuple(dict.fromkeys(value for value in listed if type(value) is int))


def _place(values: object) -> tuple[float, float]:
    listed = values if isinstance(values, list) else []
    numbers = [float(value) for value in listed if type(value) in {int, float}]
    if len(numbers) != 2 or not all(map(math.isfinite, numbers)):
        raise CorrectionError("tap the place on the photo where a bead is missing")
    return round(numbers[0], 1), round(numbers[1], 1)


def _size(text: object) -> tuple[float, float]:
    try:
        typed = read_length(text if isinstance(text, str) else "")
    except ValueError as error:
        raise CorrectionError(f"What the caliper reads: {error}") from error
    return typed.value_mm, caliper_u95_mm(typed.resolution_mm)
