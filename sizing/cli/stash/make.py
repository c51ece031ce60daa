"""`strandgauge stash make`: what can be made of the stash for a target."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import click

from sizing.base.errors import StashError
from sizing.cli.options import answer_in_unit_of, json_option, wish_options
from sizing.piece.piece import Piece, Wish, target_from_piece, with_wish
from sizing.report.records.output import to_json
from sizing.report.records.stash import ways_record
from sizing.report.text.stash import ways_text
from sizing.stash.book import Book, reading
from sizing.stash.entries import Entry, entries, find, pick_size
from sizing.stash.ways import Source, no_target, ways_to_make

_EPILOG = """
\b
Examples:
  strandgauge stash make --wrist "6 1/2 in"
  strandgauge stash make --finished 16in --findings 0.75in --sizes "17 in, 18 in"
  strandgauge stash make --wrist 6in --with "blue glass" --with "blue glass" --with rondelles

Ways that lack no bead stand first, then those that come nearest to the target, to a millimetre, then those
of fewer lots. Each size alone is always listed. Repeats of two sizes and graduated strands are listed only
where nothing is lacking.
"""


@click.command(epilog=_EPILOG)
@wish_options
@click.option(
    "--sizes", default="", metavar="LIST", help='One of each besides: women, men, or "6 in, 6 1/2 in, 7 in".'
)
@click.option(
    "--with",
    "repeat",
    multiple=True,
    metavar="ENTRY",
    help="Beads of one repeat, in order, by number or name; of an entry with several sizes as ENTRY:SIZE.",
)
@json_option
def make(*, wish: Wish, sizes: str, repeat: Sequence[str], as_json: bool) -> None:
    """Say what the stash makes: pieces of one size, of two in turn, or graduated."""
    piece = replace(with_wish(Piece(), wish), sizes=sizes)
    answer_in_unit_of(piece)
    target = target_from_piece(piece)
    if target is None:
        raise no_target()
    with reading() as book:
        ways = ways_to_make(entries(book), piece, repeat=list(_sources(book, repeat)))
    click.echo(to_json(ways_record(ways, target)) if as_json else ways_text(ways, target), nl=False)


def _sources(book: Book, repeat: Sequence[str]) -> Iterator[Source]:
    """Find the beads of a repeat."""
    for wanted in repeat:
        entry, place = _chosen(book, wanted)
        yield from (Source(entry=entry, size=size) for size in entry.sizes if size.place == place)


def _chosen(book: Book, wanted: str) -> tuple[Entry, int]:
    """Return the entry and the size that are meant; a name may itself have a colon in it."""
    name, _, place = wanted.rpartition(":")
    try:
        entry = find(book, wanted)
    except StashError:
        if not name or not place.isdecimal():
            raise
        entry = find(book, name)
        return entry, pick_size(entry, int(place))
    return entry, _only_size(entry)


def _only_size(entry: Entry) -> int:
    """Return the size of an entry that was named alone.

    Raises
    ------
    StashError
        It has several. The counts' own message would name an option that this command lacks.
    """
    places = [size.place for size in entry.sizes if size.kind == "bead"]
    if len(places) == 1:
        return places[0]
    raise StashError(
        f"{entry.name} has {len(entry.sizes)} sizes: say which as --with {entry.number}:SIZE, by its number "
        f"in strandgauge stash show {entry.number}"
    )
