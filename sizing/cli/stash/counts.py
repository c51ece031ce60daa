"""`strandgauge stash use` and `recount`: how many beads there are."""

import click

from sizing.cli.stash.options import entry_argument, size_option
from sizing.report.sentences.stash import entry_sentence
from sizing.stash.book import writing
from sizing.stash.counts import recount as recount_entry
from sizing.stash.counts import use as use_entry
from sizing.stash.entries import find


@click.command()
@entry_argument
@click.argument("beads", type=click.IntRange(min=1))
@size_option
@click.option("--why", default="used", metavar="TEXT", help="What for: the piece that they went into.")
def use(wanted: str, beads: int, *, size: int | None, why: str) -> None:
    """Take BEADS out of ENTRY (its number or name), as for a piece."""
    with writing() as book:
        entry = use_entry(book, find(book, wanted), beads, size=size, why=why)
    click.echo(f"Now {entry_sentence(entry)}")


@click.command()
@entry_argument
@click.argument("count", type=click.IntRange(min=0))
@size_option
@click.option("--why", default="counted", metavar="TEXT", help="Why it was not right.")
def recount(wanted: str, count: int, *, size: int | None, why: str) -> None:
    """Put the count of ENTRY (its number or name) right: there are COUNT."""
    with writing() as book:
        entry = recount_entry(book, find(book, wanted), count, size=size, why=why)
    click.echo(f"Now {entry_sentence(entry)}")
