"""Keeps what was just measured in the stash book, where `--keep` asks for it."""

import json
from collections.abc import Callable

import click

from sizing.report.records.field import Record
from sizing.report.records.output import to_json
from vision.common.records import ImageArray


def check_name(_: click.Context, __: click.Parameter, name: str | None) -> str | None:
    """Return the name to keep beads under; refuse one that cannot be, before anything is measured.

    Raises
    ------
    StashError
        It is taken, or is no name.
    """
    if name is None:
        return None
    from sizing.stash.book import reading
    from sizing.stash.details import Details, checked
    from sizing.stash.entries import entries
    from sizing.stash.keep import name_taken

    wanted = checked(Details(name=name)).name
    with reading() as book:
        if any(entry.name == wanted for entry in entries(book)):
            raise name_taken(wanted)
    return name


def keep_if_asked(name: str | None, record: Record, *, picture: Callable[[], ImageArray]) -> None:
    """Keep a measurement under a name, with a small picture, and say so on standard error.

    Parameters
    ----------
    name : str or None
        None where it is not to be kept.
    record : mapping
        What `--json` prints.
    picture : callable, keyword-only
        Returns the photo's pixels, shape (H, W, 3).

    Raises
    ------
    StashError
        The name is taken, or the stash book cannot be written.
    """
    if name is None:
        return
    from sizing.report.sentences.stash import entry_sentence
    from sizing.stash.book import writing
    from sizing.stash.details import Details
    from sizing.stash.keep import keep
    from sizing.stash.photos import thumbnail

    fields, small = json.loads(to_json(record)), thumbnail(picture())
    with writing() as book:
        entry = keep(book, fields, details=Details(name=name), thumbnail=small)
    click.echo(f"Kept as {entry_sentence(entry)}", err=True)
