"""The command line: a group whose commands are modules of their own.

Exit codes: 0 done; 2 the command was typed wrongly or a file cannot be written; 3 a photo cannot be
measured; 130 it was stopped with Ctrl-C. One line on standard error says what was found and what to do.
"""

import contextlib
import importlib
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import click

from sizing.base.errors import SizingError
from sizing.base.memory import is_memory_error
from sizing.base.printable import one_line
from vision.common.errors import PhotoError
from vision.image.memory import is_free, libraries_bytes

_TYPED_WRONGLY, _NOT_MEASURED, _STOPPED = 2, 3, 130
_TOO_LITTLE_MEMORY = "there is too little memory: close other programs, or save the photo at a smaller size"

# Module and short help of each command; the help stands here so that listing the commands imports none.
_COMMANDS = {
    "strand": ("sizing.cli.strand:strand", "Measure a strand: bead sizes, length, beads to add or remove."),
    "lot": ("sizing.cli.lot:lot", "Measure loose beads and sort them by size."),
    "check": ("sizing.cli.check:check", "Check loose beads against the size on their label."),
    "plan": ("sizing.cli.plan:plan", "Plan a piece: how many beads, findings, wire to cut."),
    "stash": ("sizing.cli.stash.group:stash", "Keep measured beads, find them again, see what they make."),
    "sheet": ("sizing.cli.sheet:sheet", "Write the scale sheet that beads are photographed on."),
    "page": ("sizing.cli.page:page", "Open the page, to do all this in a browser or on a phone."),
}


class LazyGroup(click.Group):
    """A group that lists its commands, in the order of use, without importing any.

    Parameters
    ----------
    table : mapping
        For each name, the module and name of the command, as `module:name`, and its short help.
    """

    def __init__(self, *args: Any, table: Mapping[str, tuple[str, str]] | None = None, **extra: Any) -> None:  # noqa: ANN401 - click's signature
        super().__init__(*args, **extra)
        self._table = table or {}

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the names in the order of the help."""
        return list(self._table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import and return a command; None for an unknown name."""
        if cmd_name not in self._table:
            return None
        module, _, name = self._table[cmd_name][0].partition(":")
        command = getattr(importlib.import_module(module), name)
        if not isinstance(command, click.Command):
            raise TypeError(f"{module}:{name} must be a click command, got {command!r}")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, short_help) for name, (_, short_help) in self._table.items()])


class Program(LazyGroup):
    """The group of all commands: it prints every error in one line."""

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return a command; None for an unknown name.

        Raises
        ------
        MemoryError
            The libraries that it may import would not fit.
        """
        if not is_free(libraries_bytes()):
            raise MemoryError
        return super().get_command(ctx, cmd_name)

    def main(  # type: ignore[override]  # which has overloads for each value of standalone_mode
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        *,
        standalone_mode: bool = True,
        **extra: Any,  # noqa: ANN401 - click's signature
    ) -> Any:  # noqa: ANN401
        """Run a command; standalone, turn an error that a user can cause into one line and an exit code."""

        def run() -> Any:  # noqa: ANN401
            return super(Program, self).main(args, prog_name, standalone_mode=False, **extra)

        if not standalone_mode:
            return run()
        for stream in (sys.stdout, sys.stderr):
            # A letter that the terminal's encoding lacks is no reason to stop.
            getattr(stream, "reconfigure", lambda **_: None)(errors="backslashreplace")
        sys.exit(_exit_code(run))


def _exit_code(run: Callable[[], Any]) -> int:
    """Run the program; print the message of an error that a user can cause and return the exit code."""
    try:
        return int(run() or 0)
    except SystemExit:
        # Whoever reads our output has stopped reading: click made the streams harmless and leaves.
        return 0
    except click.Abort:
        return _STOPPED
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()  # the help, as asked for by typing nothing
        return _TYPED_WRONGLY
    except Exception as error:
        message, code = _told(error)
        if code is None:
            raise
        return _say(message, code)


def _told(error: Exception) -> tuple[str, int | None]:
    """Return the message of an error that a user can cause, and the exit code; None for a mistake of ours."""
    if isinstance(error, PhotoError | SizingError):
        return str(error), _NOT_MEASURED if isinstance(error, PhotoError) else _TYPED_WRONGLY
    if isinstance(error, click.ClickException):
        return _with_hint(error), _TYPED_WRONGLY
    if is_memory_error(error):
        return _TOO_LITTLE_MEMORY, _NOT_MEASURED
    if isinstance(error, OSError):
        _leave_output()
        return f"the answer cannot be written ({error.strerror or error}): free some space", _TYPED_WRONGLY
    return str(error), None


def _with_hint(error: click.ClickException) -> str:
    """Return what was typed wrongly; where the message does not say what to write, where to read that."""
    message = error.format_message()
    says_it = isinstance(error, click.BadParameter) and not isinstance(error, click.MissingParameter)
    if not isinstance(error, click.UsageError) or error.ctx is None or says_it:
        return message
    return f"{message.rstrip('.')} (see {error.ctx.command_path} --help)"


def _say(message: str, code: int) -> int:
    with contextlib.suppress(OSError):  # of a full disk too
        click.echo(f"Error: {one_line(message)}", err=True)
    return code


def _leave_output() -> None:
    """Let Python's own attempt to write the rest of the output at the end go nowhere."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@click.command(
    cls=Program,
    table=_COMMANDS,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(package_name="strandgauge", prog_name="strandgauge")
def cli() -> None:
    """Measure beads from one phone photo, and see what to add, remove and cut.

    \b
    1. Print a scale sheet once, at 100 %:
         strandgauge sheet --paper a4 -o sheet.pdf
    2. Lay it flat, the beads on it, and photograph both from straight above.
    3. Measure and decide:
         strandgauge strand bracelet.jpg --wrist "6 1/2 in"
         strandgauge lot handful1.jpg handful2.jpg
         strandgauge check delivery.jpg --label 8mm

    Type lengths with their unit: 7mm, "16 cm", "6 1/2 in", 6.5in. Each command has more with --help.
    """  # noqa: D301 - \b keeps click from refilling the lines
