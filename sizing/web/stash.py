"""The stash book on a page: what was measured is kept, found and counted."""

import json
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from sizing.base.dates import today
from sizing.base.errors import StashError
from sizing.base.units import parse_length
from sizing.report.records.output import to_json
from sizing.report.sentences.stash import match_sentence, price_phrase, size_phrase
from sizing.stash.book import reading, writing
from sizing.stash.colours import WORDS
from sizing.stash.counts import recount, use
from sizing.stash.details import Details, read_price
from sizing.stash.entries import Change, Entry, changes, entries, find, thumbnail_of
from sizing.stash.keep import describe, forget, keep
from sizing.stash.matching import matches
from sizing.stash.pack import export_stash
from sizing.stash.photos import delete_photo, insert_photo, photo_of
from sizing.stash.search import Wanted, read_colour, read_range, search
from sizing.stash.unpack import add_pack, open_pack
from sizing.web.desk import NotThereError, desk_of
from sizing.web.measuring.measurements import Measurement
from sizing.web.pages import go, page, sent
from sizing.web.read import done_measurement
from sizing.web.result import printed

_LONGEST = 2000  # letters of a field: as long as a note may be
_MOST_DIGITS = 7  # of a count: the book itself refuses more than a million


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """An entry, its changes and what matches it."""

    entry: Entry
    changes: tuple[Change, ...]
    matches: list[str]


async def keep_measured(request: Request) -> Response:
    """Keep a measurement."""
    asked, typed = done_measurement(request), _texts(await sent(request))
    number = await run_in_threadpool(_keep, asked, typed)
    return go(f"/stash/{number}")


async def shelf(request: Request) -> Response:
    """List what the stash has of what is looked for."""
    typed = _texts(request.query_params)
    found = await run_in_threadpool(_search, _wanted(typed))
    return page("stash.html", request, entries=found, typed=typed, colours=WORDS, say=_say)


async def entry_page(request: Request) -> Response:
    """Show one entry."""
    shown = await run_in_threadpool(_show, request.path_params["number"])
    return page("entry.html", request, shown=shown, entry=shown.entry, say=_say, price=price_phrase)


async def picture(request: Request) -> Response:
    """Return the small picture of an entry, or its photo."""
    whole = request.path_params["which"] == "photo"
    jpeg = await run_in_threadpool(_picture, request.path_params["number"], whole)
    return Response(jpeg, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=600"})


async def export(request: Request) -> Response:
    """Return everything that is kept as one file, which is deleted when it was sent."""
    folder = Path(tempfile.mkdtemp(dir=desk_of(request).inbox.folder))
    file = folder / "stash.zip"
    try:
        await run_in_threadpool(_export, file)
    except BaseException:
        shutil.rmtree(folder)
        raise
    sent_whole = BackgroundTask(shutil.rmtree, folder)
    return FileResponse(
        file, media_type="application/zip", filename=f"stash-{today()}.zip", background=sent_whole
    )


async def bring(request: Request) -> Response:
    """Add everything in a file that was exported; what the stash has already is not doubled."""
    desk = desk_of(request)
    with tempfile.TemporaryDirectory(dir=desk.inbox.folder) as folder:
        file = Path(folder) / "stash.zip"
        await _receive(request, file, most_bytes=desk.limits.inbox_bytes)
        await run_in_threadpool(_brought, file)
    return go("/stash")


async def change_entry(request: Request) -> Response:
    """Take beads out, put a count right, say something else of them, delete a photo or the whole entry."""
    number, deed = request.path_params["number"], request.path_params["deed"]
    typed = _texts(await sent(request))
    await run_in_threadpool(_change, number, deed, typed)
    return go("/stash" if deed == "forget" else f"/stash/{number}")


def _export(file: Path) -> None:
    with reading() as book:
        export_stash(book, file)


async def _receive(request: Request, file: Path, *, most_bytes: int) -> None:
    left = most_bytes
    try:
        with file.open("xb") as stream:
            async for chunk in request.stream():
                left -= len(chunk)
                if left < 0:
                    raise StashError("that is larger than any stash: nothing was imported")
                stream.write(chunk)
    except OSError as error:
        raise StashError(
            f"the file cannot be received ({error.strerror}): free some space on the computer"
        ) from error


def _brought(file: Path) -> None:
    with open_pack(file) as pack, writing() as book:
        add_pack(book, pack)


def _keep(asked: Measurement, typed: Mapping[str, str]) -> int:
    fields = json.loads(to_json(printed(asked).record))
    details = _details(typed)
    count = _number(typed, "count") if typed.get("count") else None
    with writing() as book:
        entry = keep(book, fields, details=details, count=count, thumbnail=asked.shown[0].small)
        if typed.get("photo"):
            insert_photo(book, entry.number, asked.shown[0].jpeg)
    return entry.number


def _details(typed: Mapping[str, str]) -> Details:
    price, currency = read_price(typed["price"]) if typed.get("price") else (None, "")
    try:
        hole = parse_length(typed["hole"]) if typed.get("hole") else None
    except ValueError as error:
        raise StashError(f"Hole: {error}") from error
    return Details(
        name=typed.get("name", ""),
        source=typed.get("source", ""),
        price=price,
        currency=currency,
        material=typed.get("material", ""),
        hole_mm=hole,
        note=typed.get("note", ""),
        date=typed.get("date", ""),
    )


def _search(wanted: Wanted) -> list[Entry]:
    with reading() as book:
        return search(entries(book), wanted)


def _wanted(typed: Mapping[str, str]) -> Wanted:
    try:
        low_mm, high_mm = read_range(typed["size"]) if typed.get("size") else (0.0, float("inf"))
    except ValueError as error:
        raise StashError(str(error)) from error
    return Wanted(
        text=typed.get("text", ""),
        low_mm=low_mm,
        high_mm=high_mm,
        colour=read_colour(typed["colour"]) if typed.get("colour") else "",
        least_count=_number(typed, "count") if typed.get("count") else 0,
    )


def _show(number: int) -> _Shown:
    with reading() as book:
        entry = find(book, number)
        made, stash = changes(book, entry), entries(book)
    alike = [match_sentence(match) for size in entry.sizes for match in matches(stash, entry, size)]
    return _Shown(entry=entry, changes=made, matches=alike)


def _picture(number: int, whole: bool) -> bytes:  # noqa: FBT001 - handed on by a thread pool
    with reading() as book:
        entry = find(book, number)
        jpeg = photo_of(book, entry) if whole else thumbnail_of(book, entry)
    if jpeg is None:
        raise NotThereError("there is no such picture")
    return jpeg


def _change(number: int, deed: str, typed: Mapping[str, str]) -> None:
    place = _number(typed, "size") if typed.get("size") else None
    with writing() as book:
        entry = find(book, number)
        if deed == "use":
            use(book, entry, _number(typed, "beads"), size=place, why=typed.get("why") or "used")
        elif deed == "recount":
            recount(book, entry, _number(typed, "count"), size=place)
        elif deed == "describe":
            describe(book, entry, _details(typed))
        elif deed == "photo":
            delete_photo(book, entry)
        elif deed == "forget":
            forget(book, entry)
        else:
            raise NotThereError("there is no such page")


def _say(entry: Entry) -> list[tuple[str, int, str]]:
    """Return for each size of an entry its beads in words, its count, and its colour as CSS writes it."""
    return [
        (
            f"{size_phrase(size)}{', spacers' * (size.kind == 'spacer')}",
            size.count,
            "#{:02x}{:02x}{:02x}".format(*size.colour_rgb),
        )
        for size in entry.sizes
    ]


def _texts(values: Mapping[str, object]) -> dict[str, str]:
    return {name: value.strip()[:_LONGEST] for name, value in values.items() if isinstance(value, str)}


def _number(typed: Mapping[str, str], name: str) -> int:
    text = typed.get(name, "")
    if not (text.isascii() and text.isdecimal() and len(text) <= _MOST_DIGITS):
        raise StashError(f"{text or 'nothing'} is no number of beads: type one as 12")
    return int(text)
