"""The command line: a group whose commands are modules of their own, imported only when they are called.

Exit codes: 0 done; 2 the command was typed wrongly or a file cannot be written; 3 a photo cannot be
measured. One line on standard error says what was found and what to do.
"""

import importlib
from typing import Any

import click

from sizing.base.errors import SizingError
from vision.common.errors import PhotoError

# Module and short help of each command; the help stands here so that listing the commands imports none.
_COMMANDS = {
    "strand": ("sizing.cli.strand:strand", "Measure a strand: bead sizes, length, beads to add or remove."),
    "lot": ("sizing.cli.lot:lot", "Measure loose beads and sort them by size."),
    "check": ("sizing.cli.check:check", "Check loose beads against the size on their label."),
    "plan": ("sizing.cli.plan:plan", "Plan a piece: how many beads, findings, wire to cut."),
    "sheet": ("sizing.cli.sheet:sheet", "Write the scale sheet that beads are photographed on."),
}


class _Refused(click.ClickException):
    """What was typed is wrong: one line on standard error."""

    exit_code = 2


class _NotMeasured(click.ClickException):
    """A photo cannot be measured: one line on standard error."""

    exit_code = 3


class Program(click.Group):
    """A group that imports a command only when it is called, and prints the project's errors in one line."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the names in the order of the help."""
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import and return a command; None for an unknown name."""
        if cmd_name not in _COMMANDS:
            return None
        module, _, name = _COMMANDS[cmd_name][0].partition(":")
        command = getattr(importlib.import_module(module), name)
        if not isinstance(command, click.Command):
            raise TypeError(f"{module}:{name} must be a click command, got {command!r}")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, short_help) for name, (_, short_help) in _COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's signature
        """Run a command; turn an error that a user can cause into one line and an exit code."""
        try:
            return super().invoke(ctx)
        except PhotoError as error:
            raise _NotMeasured(str(error)) from error
        except SizingError as error:
            raise _Refused(str(error)) from error


@click.command(
    cls=Program, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
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
