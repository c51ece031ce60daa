"""The commands of `strandgauge stash`."""

import click

from sizing.cli.main import LazyGroup

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

_ROOM = "sizing.cli.stash"
_COMMANDS = {
    "keep": (f"{_ROOM}.keep:keep", "Keep the beads in a measurement that was saved as JSON."),
    "list": (f"{_ROOM}.look:list_entries", "List what the stash has, or what of it fits."),
    "show": (f"{_ROOM}.look:show", "Show one entry: sizes, changes of count, what matches it."),
    "make": (f"{_ROOM}.make:make", "Say what can be made of the stash for a target."),
    "use": (f"{_ROOM}.counts:use", "Take beads out of an entry, as for a piece."),
    "recount": (f"{_ROOM}.counts:recount", "Put the count of an entry right."),
    "describe": (f"{_ROOM}.keep:describe", "Change what is said of an entry."),
    "forget": (f"{_ROOM}.keep:forget", "Delete an entry with all its counts, for good."),
    "export": (f"{_ROOM}.carry:export_file", "Write everything to one file, to keep it elsewhere."),
    "import": (f"{_ROOM}.carry:import_file", "Add everything in a file that export wrote."),
    "check": (f"{_ROOM}.carry:check", "Check that the stash is sound, and say where it lies."),
}


@click.command(cls=LazyGroup, epilog=_EPILOG, table=_COMMANDS)
def stash() -> None:
    """Keep measured beads in the stash book, find them again, and see what they make."""
