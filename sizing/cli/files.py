"""Files that a command reads and writes: each output is checked before anything is measured.

An output may name no file that the command reads, and no other output, by whatever spelling or link. It takes
the place of no file of another kind. Its folder must exist and be writable.
"""

import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from sizing.base.files import is_stream, try_writing

_HEAD_BYTES = 4096  # of a file that exists: its kind shows here


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of file that commands write.

    Attributes
    ----------
    name : str
        What messages call it.
    suffixes : tuple of str
        In lower case, the usual one first.
    mark : pattern
        What stands at the beginning of an existing file that it may take the place of.
    has_formats : bool
        The suffix decides what is written, so that the name of a pipe must have one too.
    """

    name: str
    suffixes: tuple[str, ...]
    mark: re.Pattern[bytes]
    has_formats: bool = False


TABLE = Kind(name="a CSV table", suffixes=(".csv",), mark=re.compile(rb"\A[^\0]*\Z"))
PAGE = Kind(name="an HTML page", suffixes=(".html", ".htm"), mark=re.compile(rb"(?i)<!doctype html|<html"))
PIECE = Kind(name="a piece file", suffixes=(".toml",), mark=re.compile(rb"(?m)^\s*piece\s*="))
# A photo is never a marked copy: `vision.image.photo` writes the program's name into what it encodes.
MARKED_COPY = Kind(
    name="a marked copy made by this program",
    suffixes=(".jpg", ".jpeg", ".png"),
    mark=re.compile(rb"strandgauge"),
    has_formats=True,
)
SHEET = Kind(
    name="a scale sheet",
    suffixes=(".pdf", ".svg", ".png"),
    mark=re.compile(rb"\A%PDF-|<svg|strandgauge"),
    has_formats=True,
)


class InputFile(click.Path):
    """The path of a file to read."""

    def __init__(self) -> None:
        super().__init__(exists=True, dir_okay=False, path_type=Path)


class OutputFile(click.Path):
    """The path of a file to write; with `copy_of`, one for each of the photos that this parameter names."""

    def __init__(self, kind: Kind, *, copy_of: str | None = None) -> None:
        super().__init__(dir_okay=False, readable=False, path_type=Path)
        self.kind = kind
        self.copy_of = copy_of

    def paths(self, value: Path, values: dict[str, Any]) -> Sequence[Path]:
        """Return the files that will be written, given the values of all parameters."""
        photos = values.get(self.copy_of) if self.copy_of else None
        if not isinstance(photos, tuple) or not value.name:  # a path without a name is refused as it is
            return [value]
        return list(copy_paths(photos, value).values())


class FileCommand(click.Command):
    """A command that checks its outputs before it begins."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's signature
        """Check the files, then run the command."""
        _check(ctx)
        return super().invoke(ctx)


def copy_paths(photos: Sequence[Path], path: Path) -> dict[str, Path]:
    """Return where the annotated copy of each photo goes, by the photo's name.

    A single copy goes to the path itself; for several, the letter of the photo is added to the file name.

    Examples
    --------
    >>> [str(copy) for copy in copy_paths([Path("a.jpg"), Path("b.jpg")], Path("marked.jpg")).values()]
    ['marked-A.jpg', 'marked-B.jpg']
    """
    from sizing.lot.handfuls import photo_names

    return named_copies(photo_names(photos), path)


def named_copies(names: Sequence[str], path: Path) -> dict[str, Path]:
    """Return where the annotated copy of each photo goes, given the names of all photos."""
    from sizing.lot.bead_names import letters_for

    letters = letters_for(names)
    return {name: path.with_stem(f"{path.stem}-{letters[name]}") if letters else path for name in names}


def _check(ctx: click.Context) -> None:
    """Refuse outputs that would lose a file, or cannot be written.

    Raises
    ------
    click.BadParameter
        The name is that of another kind of file, of an input, or of another output.
    OutputError
        The file cannot be written.
    """
    taken = {_identity(path): f"{path}, which is read" for path in _inputs(ctx)}
    for parameter, kind, path in _outputs(ctx):
        _check_name(path, kind, parameter)
        identity = _identity(path)
        if identity in taken:
            problem = f"{path} would overwrite {taken[identity]}: give the output another name"
            raise click.BadParameter(problem, param=parameter)
        taken[identity] = f"{path}, which is written as well"
        _check_place(path, kind, parameter)
        try_writing(path)


def _inputs(ctx: click.Context) -> Iterator[Path]:
    for parameter in ctx.command.params:
        if isinstance(parameter.type, click.Path) and not isinstance(parameter.type, OutputFile):
            value = ctx.params.get(parameter.name or "")
            yield from value if isinstance(value, tuple) else (value,) if value else ()


def _outputs(ctx: click.Context) -> Iterator[tuple[click.Parameter, Kind, Path]]:
    for parameter in ctx.command.params:
        value = ctx.params.get(parameter.name or "")
        if isinstance(parameter.type, OutputFile) and value is not None:
            for path in parameter.type.paths(value, ctx.params):
                yield parameter, parameter.type.kind, path


def _identity(path: Path) -> tuple[int, int] | str:
    """Return what is the same for all spellings of a path and all links to it.

    Outputs that do not exist yet differ by their suffixes already.
    """
    try:
        found = path.stat()
    except (OSError, ValueError):
        return os.path.realpath(path)
    return found.st_dev, found.st_ino


def _check_name(path: Path, kind: Kind, parameter: click.Parameter) -> None:
    """Refuse a name of another kind, also where the name is a link to a file of such a name."""
    if is_stream(path) and not kind.has_formats:
        return
    for name in (path, Path(os.path.realpath(path))):
        if name.suffix.lower() not in kind.suffixes:
            *some, last = kind.suffixes
            known = f"{', '.join(some)} or {last}" if some else last
            example = f"{path.stem or 'output'}{kind.suffixes[0]}"
            raise click.BadParameter(f"{name} must end in {known}: write {example}", param=parameter)


def _check_place(path: Path, kind: Kind, parameter: click.Parameter) -> None:
    """Refuse to take the place of a file that holds something else."""
    if is_stream(path):
        return
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except (OSError, ValueError):
        return  # it does not exist, or cannot be written either, and that complaint says why
    if head and not kind.mark.search(head):
        raise click.BadParameter(
            f"{path} exists and is not {kind.name}: give the output another name", param=parameter
        )
