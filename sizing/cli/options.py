"""Options that several commands share, each declared once."""

import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from sizing.base.errors import TargetError
from sizing.base.target import Target
from sizing.base.units import TypedLength, read_length
from sizing.piece.file import load_piece
from sizing.piece.piece import TARGET_KEYS, Piece, Wish, target_from_piece, with_wish

Command = Callable[..., Any]


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


LENGTH = LengthType()
LENGTH_OR_ZERO = LengthType(allow_zero=True)
TYPED_LENGTH = TypedLengthType()
FILE_OUT = click.Path(dir_okay=False, path_type=Path)
FILE_IN = click.Path(exists=True, dir_okay=False, path_type=Path)

check_length_option = click.option(
    "--check-length",
    type=TYPED_LENGTH,
    metavar="LENGTH",
    help="What a ruler reads on the printed sheet over its top row of tags, as fine as you can read it.",
)
bed_height_option = click.option(
    "--bed-height",
    type=LENGTH_OR_ZERO,
    default="0 mm",
    metavar="LENGTH",
    help="Thickness of the cloth or felt under the beads, if it lies on the sheet.",
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON instead of text; lengths in mm."
)
csv_option = click.option(
    "--csv", "csv_file", type=FILE_OUT, metavar="FILE", help="Write a table for a spreadsheet."
)
annotated_option = click.option(
    "--annotated",
    "annotated_file",
    type=FILE_OUT,
    metavar="FILE",
    help="Write a copy of the photo with every bead outlined and numbered.",
)
report_option = click.option(
    "--report", "report_file", type=FILE_OUT, metavar="FILE", help="Write a page to read or print (HTML)."
)

_TARGET_OPTIONS = (
    click.option("--strung", type=LENGTH, metavar="LENGTH", help="Target: length of the beads alone."),
    click.option(
        "--finished", type=LENGTH, metavar="LENGTH", help="Target: length of the piece, findings included."
    ),
    click.option("--wrist", type=LENGTH, metavar="LENGTH", help="Target: bare girth of the wrist."),
    click.option("--ankle", type=LENGTH, metavar="LENGTH", help="Target: bare girth of the ankle."),
    click.option("--neck", type=LENGTH, metavar="LENGTH", help="Target: bare girth of the neck."),
    click.option(
        "--ease",
        type=LENGTH_OR_ZERO,
        metavar="LENGTH",
        help="How much wider than the girth the closed piece should be inside; usually 1/4 in.",
    ),
    click.option(
        "--findings",
        type=LENGTH_OR_ZERO,
        metavar="LENGTH",
        help="Length that clasp, crimps and covers add to the beads; 1 in where not given, 0 mm for none.",
    ),
)


piece_option = click.option(
    "--piece",
    "piece_file",
    type=FILE_IN,
    metavar="FILE",
    help="Take target and findings from a piece file (TOML); what is typed besides comes first.",
)


def wish_options(command: Command) -> Command:
    """Add the target options; the command receives what was typed of them as one `wish`, a Wish."""

    @functools.wraps(command)
    def with_wish_made(
        *args: Any,  # noqa: ANN401 - passed through
        ease: float | None,
        findings: float | None,
        **kwargs: Any,  # noqa: ANN401 - passed through
    ) -> Any:  # noqa: ANN401 - passed through
        given = {name: length for name in TARGET_KEYS if (length := kwargs.pop(name)) is not None}
        return command(*args, wish=Wish(target_mm=given, ease_mm=ease, findings_mm=findings), **kwargs)

    # The last decorator applied shows first in the help.
    for option in reversed(_TARGET_OPTIONS):
        with_wish_made = option(with_wish_made)
    return with_wish_made


def target_options(command: Command) -> Command:
    """Add the target options and `--piece`; the command receives one `target`, a Target or None."""

    @functools.wraps(command)
    def with_target(
        *args: Any,  # noqa: ANN401 - passed through
        wish: Wish,
        piece_file: Path | None,
        **kwargs: Any,  # noqa: ANN401 - passed through
    ) -> Any:  # noqa: ANN401 - passed through
        return command(*args, target=_target(wish, piece_file), **kwargs)

    return wish_options(piece_option(with_target))


def _target(wish: Wish, piece_file: Path | None) -> Target | None:
    target = target_from_piece(with_wish(load_piece(piece_file) if piece_file else Piece(), wish))
    if target is None and wish.findings_mm is not None:
        raise TargetError("--findings belongs to a target: give --finished, --strung or a girth with it")
    if target is None and piece_file is not None:
        raise TargetError(f"{piece_file} names no target: add one to it, or give one here")
    return target
