"""`strandgauge stash export`, `import` and `check`: the stash as one file, and whether it is sound."""

import re
from pathlib import Path

import click

from sizing.base.errors import StashError
from sizing.cli.files import FileCommand, InputFile, Kind, OutputFile
from sizing.report.sentences.phrases import counted
from sizing.stash.book import reading, stash_file, writing
from sizing.stash.entries import entries
from sizing.stash.pack import export_stash
from sizing.stash.soundness import problems
from sizing.stash.unpack import Added, add_pack, open_pack

# A zip begins with the name of its first file, 30 bytes in (APPNOTE 4.3.7).
PACK = Kind(
    name="a stash that was exported",
    suffixes=(".zip",),
    mark=re.compile(rb"\APK\x03\x04(?s:.{26})stash\.json"),
)


@click.command("export", cls=FileCommand)
@click.argument("file", type=OutputFile(PACK), metavar="FILE.zip")
def export_file(file: Path) -> None:
    """Write everything, photos too, to FILE.zip, to keep it elsewhere or import it on another computer."""
    with reading() as book:
        count = export_stash(book, file)
    click.echo(f"Wrote {_counted_entries(count)} to {file}")


@click.command("import")
@click.argument("file", type=InputFile(), metavar="FILE.zip")
def import_file(file: Path) -> None:
    """Add everything in FILE.zip, which export wrote; what the stash has already is not doubled."""
    with open_pack(file) as pack, writing() as book:
        added = add_pack(book, pack)
    click.echo(_added(added))


@click.command()
def check() -> None:
    """Check that the stash is sound, and say where it lies."""
    with reading() as book:
        found = problems(book)
        count = 0 if found else len(entries(book))
    if found:
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        raise StashError(
            f"the stash book {stash_file()} is not sound: {found[0]}{more}; move it away, then import what "
            "you exported last"
        )
    click.echo(f"The stash is sound: {_counted_entries(count)} in {stash_file()}")


def _added(added: Added) -> str:
    names = f": {', '.join(added.new)}" if added.new else ""
    lines = [f"Added {_counted_entries(len(added.new))}{names}"]
    if added.changes:
        lines.append(f"Added {counted(added.changes, 'change')} of count to what the stash has")
    if added.renamed:
        lines.append(f"Numbered, as their names were taken: {', '.join(added.renamed)}")
    return "\n".join(lines)


def _counted_entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count} entries"
