"""The commands of `strandgauge stash`."""

import click

from sizing.cli.stash.carry import check, export_file, import_file
from sizing.cli.stash.counts import recount, use
from sizing.cli.stash.keep import describe, forget, keep
from sizing.cli.stash.look import list_entries, show
from sizing.cli.stash.make import make

_EPILOG = """
\b
Examples:
  strandgauge stash keep anklet.json --name "blue glass" --price "12.50 EUR" --photo anklet.jpg
  strandgauge stash list --colour blue --size 6mm
  strandgauge stash make --wrist "6 1/2 in"
  strandgauge plan --wrist "6 1/2 in" --from-stash "blue glass"
  strandgauge stash use "blue glass" 25 --why bracelet
  strandgauge stash export stash.zip

A file to keep is what strand, lot or check printed with --json. Their own --keep NAME keeps at once what they
measure. The stash book lies in your own data folder; strandgauge stash check says where.
"""


class InOrder(click.Group):
    """A group that lists its commands in the order in which they are used."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the names in the order of the help."""
        return list(self.commands)


_COMMANDS: tuple[click.Command, ...] = (
    keep,
    list_entries,
    show,
    make,
    use,
    recount,
    describe,
    forget,
    export_file,
    import_file,
    check,
)


@click.group(cls=InOrder, epilog=_EPILOG, commands={command.name or "": command for command in _COMMANDS})
def stash() -> None:
    """Keep measured beads in the stash book, find them again, and see what they make."""
