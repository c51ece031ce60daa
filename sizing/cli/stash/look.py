"""`strandgauge stash list` and `show`: what stands in the stash book."""

import click

from sizing.cli.options import json_option
from sizing.cli.stash.options import entry_argument, wanted_options
from sizing.report.records.output import to_json
from sizing.report.records.stash import ShownEntry, entry_record, stash_record
from sizing.report.text.stash import entry_text, stash_text
from sizing.stash.book import reading
from sizing.stash.entries import changes, entries, find, measured_fields
from sizing.stash.matching import matches
from sizing.stash.measurement import read_measurement
from sizing.stash.search import Wanted, search


@click.command("list")
@wanted_options
@json_option
def list_entries(*, wanted: Wanted, as_json: bool) -> None:
    """List what the stash has; with options, only what has all of them."""
    with reading() as book:
        stash = entries(book)
    found = search(stash, wanted)
    click.echo(to_json(stash_record(found)) if as_json else stash_text(found, stash), nl=False)


@click.command()
@entry_argument
@json_option
def show(wanted: str, *, as_json: bool) -> None:
    """Show ENTRY (its number or name): sizes, every change of count, and what matches its beads."""
    with reading() as book:
        entry = find(book, wanted)
        stash = entries(book)
        made = changes(book, entry)
        measured = read_measurement(measured_fields(book, entry), entry.name)
    alike = [match for size in entry.sizes for match in matches(stash, entry, size)]
    if as_json:
        shown = ShownEntry(entry=entry, changes=made, beads=measured.beads, matches=alike)
        click.echo(to_json(entry_record(shown)), nl=False)
    else:
        click.echo(entry_text(entry, made, alike), nl=False)
