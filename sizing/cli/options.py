"""Options that several commands share, each declared once."""

import functools
import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from sizing.base.errors import TargetError
from sizing.base.target import TOUCHING, Target, parse_step
from sizing.base.units import TypedLength, printed_as, read_length
from sizing.cli.files import PAGE, TABLE, InputFile, OutputFile
from sizing.piece.piece import Piece, Wish, target_from_piece, with_wish

_WHOLE = re.compile(r"-?[0-9]{1,9}")

Command = Callable[..., Any]
Decorator = Callable[[Command], Command]


def gather(name: str, make: Callable[..., object], *options: Decorator) -> Decorator:
    """Return a decorator that adds options to a command and passes their values on as one record.

    Parameters
    ----------
    name : str
        Keyword by which the command receives the record.
    make : callable
        Makes the record from the options' values, which it takes as keywords of the same names.
    *options : decorator
        In the order of the help; decorators that gather records themselves may be among them.
    """
    taken = inspect.signature(make).parameters

    def decorate(command: Command) -> Command:
        @functools.wraps(command)
        def gathered(**values: Any) -> Any:  # noqa: ANN401 - passed through
            record = make(**{key: values.pop(key) for key in taken})
            return command(**values, **{name: record})

        made: Command = gathered
        # The decorator applied last is first in the help.
        for option in reversed(options):
            made = option(made)
        return made

    return decorate


class WholeNumberType(click.ParamType[int]):
    """A whole number of what it is called, between limits."""

    name = "number"

    def __init__(self, called: str, *, least: int, most: int | None = None) -> None:
        self._called, self._least, self._most = called, least, most

    def convert(self, value: str | int, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Read what was typed; a usage error says what to write instead."""
        text = str(value)
        number = int(text) if _WHOLE.fullmatch(text) else None
        if number is None or number < self._least or (self._most is not None and number > self._most):
            limits = f"{self._least} or more" if self._most is None else f"{self._least} to {self._most}"
            self.fail(f"{text or 'nothing'} is no {self._called}: write {limits}", param, ctx)
        return number


class TypedLengthType(click.ParamType[TypedLength]):
    """A length with its unit, and the resolution it was typed with."""

    name = "length"

    def __init__(self, *, allow_zero: bool = False) -> None:
        self.allow_zero = allow_zero

    def convert(
        self, value: str | TypedLength, param: click.Parameter | None, ctx: click.Context | None
    ) -> TypedLength:
        """Read what was typed; a usage error says what to write instead."""
        if isinstance(value, TypedLength):
            return value
        try:
            return read_length(value, allow_zero=self.allow_zero)
        except ValueError as error:
            self.fail(str(error), param, ctx)


class LengthType(click.ParamType[float]):
    """A length with its unit, in mm."""

    name = "length"

    def __init__(self, *, allow_zero: bool = False) -> None:
        self._typed = TypedLengthType(allow_zero=allow_zero)

    def convert(self, value: str | float, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read what was typed; a usage error says what to write instead."""
        if isinstance(value, float):
            return value
        return self._typed.convert(value, param, ctx).value_mm


class StepType(click.ParamType[float]):
    """How much longer each strand is than the one inside it, in mm; 0 where they touch."""

    name = "step"

    def convert(self, value: str | float, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read what was typed; a usage error says what to write instead."""
        if isinstance(value, float):
            return value
        try:
            return parse_step(value)
        except ValueError as error:
            self.fail(str(error), param, ctx)


LENGTH = LengthType()
LENGTH_OR_ZERO = LengthType(allow_zero=True)
TYPED_LENGTH = TypedLengthType()

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON instead of text; all lengths in mm."
)
csv_option = click.option(
    "--csv", "csv_file", type=OutputFile(TABLE), metavar="FILE", help="Write a table for a spreadsheet (CSV)."
)
report_option = click.option(
    "--report",
    "report_file",
    type=OutputFile(PAGE),
    metavar="FILE",
    help="Write a page to read or print (HTML).",
)


def _target_lengths(
    *,
    strung: float | None,
    finished: float | None,
    wrist: float | None,
    ankle: float | None,
    neck: float | None,
) -> dict[str, float]:
    given = {"strung": strung, "finished": finished, "wrist": wrist, "ankle": ankle, "neck": neck}
    return {name: length for name, length in given.items() if length is not None}


def _wish(*, target_mm: dict[str, float], ease: float | None, findings: float | None) -> Wish:
    return Wish(target_mm=target_mm, ease_mm=ease, findings_mm=findings)


def _length_option(name: str, meaning: str) -> Decorator:
    return click.option(name, type=LENGTH, metavar="LENGTH", help=meaning)


wish_options = gather(
    "wish",
    _wish,
    gather(
        "target_mm",
        _target_lengths,
        _length_option("--strung", "Target: length of the beads alone."),
        _length_option("--finished", "Target: length of the piece, clasp and other findings included."),
        _length_option("--wrist", "Target: wrist size, measured around the bare wrist."),
        _length_option("--ankle", "Target: ankle size, measured around the bare ankle."),
        _length_option("--neck", "Target: neck size, measured around the bare neck."),
    ),
    click.option(
        "--ease",
        type=LENGTH_OR_ZERO,
        metavar="LENGTH",
        help="How loose: extra length inside the closed piece over the body size; "
        "1/4 in (neck: 1/2 in) if not given.",
    ),
    click.option(
        "--findings",
        type=LENGTH_OR_ZERO,
        metavar="LENGTH",
        help="Length that clasp, crimps and covers add to the beads; 1 in if not given, 0 mm for none.",
    ),
)
"""Options that describe a target; the command receives what was typed of them as one `wish`, a Wish."""


def read_piece(path: Path | None) -> Piece:
    """Return the piece of a file, or an empty one where there is none.

    Raises
    ------
    PieceError
        The file cannot be used.
    """
    if path is None:
        return Piece()
    from sizing.piece.toml.read import load_piece

    return load_piece(path)


def answer_in_unit_of(piece: Piece) -> None:
    """Print lengths, as long as the command runs, in the unit first that the target was typed in."""
    typed_mm = next(iter(piece.target_mm.values()), None)
    click.get_current_context().with_resource(printed_as(typed_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a strand should become: the piece as it was described, and its target, a Target or None."""

    piece: Piece
    target: Target | None


def _target(*, wish: Wish, piece_file: Path | None) -> Target | None:
    return _aim(wish=wish, piece_file=piece_file).target


def _aim(*, wish: Wish, piece_file: Path | None, step: float | None = None) -> Aim:
    piece = with_wish(read_piece(piece_file), replace(wish, step_mm=step))
    answer_in_unit_of(piece)
    target = target_from_piece(piece)
    for name, value in {"--findings": wish.findings_mm, "--step": step}.items():
        if target is None and value is not None:
            raise TargetError(f"{name} needs a target: add --strung, --finished, --wrist, --ankle or --neck")
    if target is None and piece_file is not None:
        raise TargetError(
            f'{piece_file} has no target: add one to the file, or an option as --wrist "6 1/2 in"'
        )
    return Aim(piece=piece, target=target)


_piece_option = click.option(
    "--piece",
    "piece_file",
    type=InputFile(),
    metavar="FILE",
    help="Piece file (TOML) with target and findings; options typed here take precedence.",
)

target_options = gather("target", _target, wish_options, _piece_option)
"""Options that describe a target, and `--piece`; the command receives one `target`, a Target or None."""

_step_option = click.option(
    "--step",
    type=StepType(),
    metavar=f"LENGTH|{TOUCHING}",
    help="Strands of one piece, one around the other: how much longer each is than the one inside it, or "
    f"{TOUCHING} for as much as its beads need. The target is then that of the shortest, which lies inside. "
    "Without it all are of one length.",
)

aim_options = gather("aim", _aim, wish_options, _step_option, _piece_option)
"""The same and a step; the command receives one `aim`, an `Aim`."""
