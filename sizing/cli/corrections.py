"""Options by which a maker puts right what a photo was read to show, for `strand`, `lot` and `check`."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

import click

from sizing.base.errors import CorrectionError
from sizing.base.printable import printable
from sizing.base.units import TypedLength, read_length
from sizing.cli.options import Decorator, gather
from sizing.corrections.caliper import caliper_u95_mm
from vision.common.corrections import Action, Correction
from vision.common.records import Lot, Photo, Strand

if TYPE_CHECKING:
    from sizing.lot.handfuls import Handful

_SHOWN = 40  # characters of what was typed, in a message
_NUMBERS = re.compile(r"(?P<letter>[A-Z]*)(?P<first>[0-9]{1,4})(?:-(?P=letter)?(?P<last>[0-9]{1,4}))?")
_PLACE = re.compile(r"(?:(?P<letter>[A-Z]+):)?(?P<x>[0-9]{1,6}(?:\.[0-9]*)?),(?P<y>[0-9]{1,6}(?:\.[0-9]*)?)")

Bead = tuple[str, int]
"""The letter of a bead's photo, empty where there is only one, and its number."""

NUMBERS_BEFORE = """
\b
Corrections:
  All bead numbers that you type refer to the photo as it is marked without corrections, however
  many you give. The beads are then numbered anew; JSON and CSV keep the old numbers as "was".
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """A correction as typed: its photo is known by a letter."""

    letter: str
    correction: Correction


class NumbersType(click.ParamType[tuple[Bead, ...]]):
    """Bead numbers: `1,29`, `4-6`; of several photos with their letters, `A3,B7`."""

    name = "numbers"

    def convert(
        self, value: str | tuple[Bead, ...], param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[Bead, ...]:
        """Read what was typed; a usage error says what to write instead."""
        if isinstance(value, tuple):
            return value
        found: list[Bead] = []
        for word in value.replace(" ", "").upper().split(","):
            match = _NUMBERS.fullmatch(word)
            if match is None:
                self.fail(
                    f"{_shown(value)} is no list of bead numbers: write it like 1,29 or 4-6", param, ctx
                )
            first = int(match["first"])
            last = int(match["last"] or first)
            found += [(match["letter"], number) for number in range(first, last + 1)]
        if not found:
            self.fail(f"{_shown(value)} names no bead: write the smaller number first", param, ctx)
        return tuple(found)


class SizeOfType(click.ParamType[tuple[Bead, TypedLength]]):
    """A bead number and what a caliper reads on it: `3=7.9mm`."""

    name = "size of"

    def convert(
        self, value: str | tuple[Bead, TypedLength], param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[Bead, TypedLength]:
        """Read what was typed; a usage error says what to write instead."""
        if isinstance(value, tuple):
            return value
        number, equals, length = value.partition("=")
        match = _NUMBERS.fullmatch(number.strip().upper())
        if match is None or match["last"] or not equals:
            self.fail(f"{_shown(value)} is no size of a bead: write it like 3=7.9mm", param, ctx)
        try:
            return (match["letter"], int(match["first"])), read_length(length)
        except ValueError as error:
            self.fail(str(error), param, ctx)


class PlaceType(click.ParamType[tuple[str, float, float]]):
    """A place on the upright photo in pixels: `812,440`; of several photos with its letter, `B:812,440`."""

    name = "place"

    def convert(
        self, value: str | tuple[str, float, float], param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, float, float]:
        """Read what was typed; a usage error says what to write instead."""
        if isinstance(value, tuple):
            return value
        match = _PLACE.fullmatch(value.replace(" ", "").upper())
        if match is None:
            problem = f"{_shown(value)} is no place on a photo: write its pixels like 812,440"
            self.fail(problem, param, ctx)
        return match["letter"] or "", float(match["x"]), float(match["y"])


Numbers = tuple[tuple[Bead, ...], ...]
"""The numbers of each time that an option was given."""


def _numbers_option(name: str, meaning: str) -> Decorator:
    return click.option(name, type=NumbersType(), multiple=True, metavar="NUMBERS", help=meaning)


def _said(action: Action, beads: Sequence[Bead]) -> list[Typed]:
    """Return what is said of beads, photo by photo."""
    return [
        Typed(letter=letter, correction=Correction(action=action, numbers=tuple(n for _, n in named)))
        for letter, named in groupby(sorted(beads), key=lambda bead: bead[0])
    ]


def _listed(actions: dict[Action, Numbers]) -> list[Typed]:
    return [typed for action, given in actions.items() for beads in given for typed in _said(action, beads)]


def _one_bead(beads: Sequence[Bead]) -> list[Typed]:
    if len({letter for letter, _ in beads}) > 1:
        raise click.BadParameter("beads of several photos are not one", param_hint="--one-bead")
    return _said("one bead", beads)


def _sized(bead: Bead, length: TypedLength) -> Typed:
    letter, number = bead
    correction = Correction(
        action="size",
        numbers=(number,),
        size_mm=float(length.value_mm),
        size_u95_mm=caliper_u95_mm(length.resolution_mm),
    )
    return Typed(letter=letter, correction=correction)


def _missed(letter: str, x: float, y: float) -> Typed:
    return Typed(letter=letter, correction=Correction(action="bead here", px=(x, y)))


def _counted(
    *, not_a_bead: Numbers, is_a_bead: Numbers, spacer: Numbers, two_beads: Numbers
) -> dict[Action, Numbers]:
    return {"no bead": not_a_bead, "bead": is_a_bead, "spacer": spacer, "two beads": two_beads}


_counted_options = gather(
    "counted",
    _counted,
    _numbers_option("--not-a-bead", "Correction: these numbers of the marked photo are no beads."),
    _numbers_option("--is-a-bead", "Correction: each of these is one bead, beyond doubt."),
    _numbers_option("--spacer", "Correction: these are spacers, which do not count as beads."),
    _numbers_option("--two-beads", "Correction: each of these is two beads."),
)


def _corrections(
    *,
    counted: dict[Action, Numbers],
    one_bead: Numbers,
    size_of: Sequence[tuple[Bead, TypedLength]],
    bead_at: Sequence[tuple[str, float, float]],
) -> tuple[Typed, ...]:
    return (
        *_listed(counted),
        *(typed for beads in one_bead for typed in _one_bead(beads)),
        *(_sized(*each) for each in size_of),
        *(_missed(*each) for each in bead_at),
    )


correction_options = gather(
    "corrections",
    _corrections,
    _counted_options,
    _numbers_option("--one-bead", "Correction: these numbers together are one bead; give it once for each."),
    click.option(
        "--size-of",
        type=SizeOfType(),
        multiple=True,
        metavar="NUMBER=LENGTH",
        help="Correction: a caliper reads this on the bead, as 3=7.9mm; on a strand, across the string.",
    ),
    click.option(
        "--bead-at",
        type=PlaceType(),
        multiple=True,
        metavar="X,Y",
        help="Correction: a bead was missed here, in pixels from the top left corner of the upright photo; "
        "its size is taken from its neighbours.",
    ),
)
"""Corrections of loose or strung beads; the command receives them as `corrections`, a tuple of Typed."""


def _strung(*, corrections: tuple[Typed, ...], cover: Numbers, stopper: Numbers) -> tuple[Typed, ...]:
    return (*corrections, *_listed({"cover": cover, "stopper": stopper}))


strand_correction_options = gather(
    "corrections",
    _strung,
    correction_options,
    _numbers_option("--cover", "Correction: these are crimps or their covers, which do not count as beads."),
    _numbers_option(
        "--stopper", "Correction: these are stoppers or clamps: the strand ends at the bead before."
    ),
)
"""The same for a strand, which has covers and stoppers besides."""


def corrected_strands(strands: Sequence[Strand], typed: Sequence[Typed], photo: Photo) -> tuple[Strand, ...]:
    """Return measured strands with what was typed put right.

    Raises
    ------
    CorrectionError
        It cannot be meant.
    """
    if not typed:
        return tuple(strands)
    from sizing.corrections.plan import check_places
    from sizing.corrections.strands import correct_strands

    said = _with_photos(typed, {})
    height, width = photo.rgb.shape[:2]
    check_places(said, {"": (width, height)})
    return correct_strands(strands, said)


def corrected_lot(lot: Lot, typed: Sequence[Typed], handfuls: "Sequence[Handful]") -> Lot:
    """Return a measured lot with what was typed put right.

    Raises
    ------
    CorrectionError
        It cannot be meant.
    """
    if not typed:
        return lot
    from sizing.corrections.lots import correct_lot
    from sizing.corrections.plan import check_places
    from sizing.lot.bead_names import photo_letters

    said = _with_photos(typed, {letter: name for name, letter in photo_letters(lot).items()})
    _refuse_left_out(said, lot)
    if any(correction.action == "bead here" for correction in said):
        check_places(said, _sizes_px(handfuls, single=len(lot.photos) == 1))
    return correct_lot(lot, said)


def _refuse_left_out(said: Sequence[Correction], lot: Lot) -> None:
    """Refuse corrections of photos on which nothing was measured.

    Raises
    ------
    CorrectionError
    """
    missing = {each.photo for each in lot.left_out}
    for correction in said:
        if correction.photo in missing:
            raise CorrectionError(
                f"{correction.photo} could not be measured, so nothing on it can be put right: "
                "leave this correction out, or take the photo again"
            )


def _sizes_px(handfuls: "Sequence[Handful]", *, single: bool) -> dict[str, tuple[int, int]]:
    from vision.image.photo import load_photo

    shapes = {"" if single else each.name: load_photo(each.path).rgb.shape for each in handfuls}
    return {name: (width, height) for name, (height, width, _) in shapes.items()}


def _with_photos(typed: Sequence[Typed], photos: dict[str, str]) -> list[Correction]:
    """Return corrections with the names of their photos, given these by letter; none where there is one."""
    out = []
    for each in typed:
        if each.letter not in photos and (photos or each.letter):
            raise click.UsageError(_which(each, photos))
        out.append(replace(each.correction, photo=photos.get(each.letter, "")))
    return out


def _which(typed: Typed, photos: dict[str, str]) -> str:
    """Say that a letter is missing, wrong, or one too many."""
    numbers = typed.correction.numbers
    named = f"{typed.letter}{numbers[0]}" if numbers else f"{typed.letter}:X,Y" if typed.letter else "X,Y"
    if not photos:
        return f"{named} names photo {typed.letter}, but there is only one photo: leave the letter out"
    letters = ", ".join(f"{letter} is {name}" for letter, name in photos.items())
    example = f"A{numbers[0]}" if numbers else "A:X,Y"
    return f"{named} does not say which photo: write {example} or another letter; {letters}"


def _shown(value: str) -> str:
    line = printable(value)
    return line if len(line) <= _SHOWN else f"{line[: _SHOWN - 3]}..."
