"""`strandgauge stash keep`, `describe` and `forget`: what stands in the stash book."""

from dataclasses import replace
from pathlib import Path

import click

from sizing.cli.files import InputFile
from sizing.cli.options import WholeNumberType
from sizing.cli.stash.options import Said, details, entry_argument, said_options
from sizing.report.sentences.stash import entry_sentence
from sizing.stash.book import writing
from sizing.stash.entries import find
from sizing.stash.keep import describe as describe_entry
from sizing.stash.keep import forget as forget_entry
from sizing.stash.keep import keep as keep_entry
from sizing.stash.measurement import load_fields
from sizing.stash.photos import delete_photo, keep_photo, thumbnail
from vision.image.photo import load_photo


@click.command()
@click.argument("file", type=InputFile(), metavar="FILE.json")
@click.option("--name", required=True, metavar="NAME", help="What to call them; each name stands once.")
@click.option(
    "--count",
    type=WholeNumberType("number of beads", least=1),
    metavar="N",
    help="How many there are; if not given, those measured.",
)
@said_options
@click.option(
    "--photo",
    "photo_file",
    type=InputFile(),
    metavar="PHOTO",
    help="Keep a small picture of it.",
)
@click.option("--whole-photo", is_flag=True, help="Keep the photo in its full size, too.")
def keep(
    file: Path, *, name: str, count: int | None, said: Said, photo_file: Path | None, whole_photo: bool
) -> None:
    """Keep the beads in FILE.json, which strand, lot or check printed with --json."""
    if whole_photo and photo_file is None:
        raise click.UsageError("--whole-photo keeps no photo without --photo PHOTO: give both")
    fields, photo = load_fields(file), load_photo(photo_file) if photo_file else None
    picture = thumbnail(photo.rgb) if photo else None
    with writing() as book:
        entry = keep_entry(book, fields, details=details(name, said), count=count, thumbnail=picture)
        if photo and whole_photo:
            keep_photo(book, entry, photo)
    click.echo(f"Kept as {entry_sentence(entry)}")


@click.command()
@entry_argument
@click.option("--name", metavar="NAME", help="What to call it from now on.")
@said_options
def describe(wanted: str, *, name: str | None, said: Said) -> None:
    """Change what is said of ENTRY (its number or name); what is not given stays."""
    with writing() as book:
        entry = find(book, wanted)
        changed = replace(entry.details, **said)
        entry = describe_entry(book, entry, replace(changed, name=name) if name else changed)
    click.echo(f"Changed {entry_sentence(entry)}")


@click.command()
@entry_argument
@click.option("--photo", "photo_only", is_flag=True, help="Delete its photo only.")
def forget(wanted: str, *, photo_only: bool) -> None:
    """Delete ENTRY (its number or name) with all its counts, for good."""
    with writing() as book:
        entry = find(book, wanted)
        there = delete_photo(book, entry)
        if not photo_only:
            forget_entry(book, entry)
    if photo_only:
        click.echo(f"Deleted the photo of {entry.name}" if there else f"{entry.name} has no photo")
    else:
        click.echo(f"Forgot {entry_sentence(entry)}")
