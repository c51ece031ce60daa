"""What can be made of the stash, on a page."""

from dataclasses import replace

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from sizing.base.errors import SizingError, StashError, TargetError
from sizing.base.units import printed_as
from sizing.piece.piece import Piece, target_from_piece
from sizing.report.sentences.phrases import aim
from sizing.report.sentences.stash import way_sentence
from sizing.stash.book import reading, writing
from sizing.stash.counts import use
from sizing.stash.entries import entries, find
from sizing.stash.ways import Source, Way, ways_to_make
from sizing.web.pages import again, go, page, sent
from sizing.web.reading.wishes import tidy, wished_piece

_MOST_WAYS = 20  # more do not fit on a screen: common practice, no source
_MOST_NEEDS = 50  # sizes of a piece; a graduated strand has a dozen

Taken = list[tuple[int, int, int]]


async def make(request: Request) -> Response:
    """Say what the stash makes for a target, where one is given."""
    values = dict(request.query_params)
    typed, sizes = tidy(values), values.get("sizes", "")[:100]
    if not typed.get("goal"):
        return page("make.html", request, typed=typed, sizes=sizes, ways=None, aim="", more=0)
    try:
        piece = replace(wished_piece(typed), sizes=sizes)
        said, ways = await run_in_threadpool(_said, piece)
        aimed = _aimed(piece)
    except SizingError as error:
        return again("make.html", request, error, typed=typed, sizes=sizes, ways=None, aim="", more=0)
    shown = said[:_MOST_WAYS]
    return page(
        "make.html",
        request,
        typed=typed,
        sizes=sizes,
        ways=list(zip(shown, map(_taken, ways), map(_lacks, ways), map(_planned, ways), strict=False)),
        aim=aimed,
        more=len(said) - len(shown),
    )


async def take_out(request: Request) -> Response:
    """Take the beads of a piece out of the stash, all or none."""
    values = await sent(request)
    await run_in_threadpool(_use, _needs(values.get("needs")))
    return go("/stash")


def _said(piece: Piece) -> tuple[list[str], tuple[Way, ...]]:
    with reading() as book:
        stash = entries(book)
    ways = ways_to_make(stash, piece)
    with printed_as(next(iter(piece.target_mm.values()))):
        return [way_sentence(way) for way in ways], ways


def _aimed(piece: Piece) -> str:
    target = target_from_piece(piece)
    if target is None:
        raise TargetError("choose a target first")
    with printed_as(next(iter(piece.target_mm.values()))):
        return aim(target)


def _taken(way: Way) -> str:
    """Return what a way takes, as a page sends it back."""
    each = [(need.source.entry.number, need.source.size.place, need.needed) for need in way.needs]
    return " ".join(",".join(map(str, need)) for need in each)


def _planned(way: Way) -> dict[str, str]:
    """Return what the page that plans a way is asked with."""
    kept = {source.part: f"{source.entry.number}.{source.size.place}" for source in _sources(way)}
    return {
        "kept": " ".join(kept[bead] for bead in way.piece.beads),
        "order": "graduated" if way.piece.layout.graduated else "",
    }


def _sources(way: Way) -> list[Source]:
    return [need.source for need in way.needs]


def _lacks(way: Way) -> bool:
    return way.lacking > 0


def _needs(value: object) -> Taken:
    """Read what is to be taken out."""
    words = value.split() if isinstance(value, str) else []
    rows = [word.split(",") for word in words[:_MOST_NEEDS]]
    if not rows or not all(len(row) == 3 and all(map(_is_number, row)) for row in rows):
        raise StashError("that cannot be read: open the page again")
    return [(int(number), int(place), int(beads)) for number, place, beads in rows]


def _use(needs: Taken) -> None:
    with writing() as book:
        for number, place, beads in needs:
            use(book, find(book, number), beads, size=place, why="a piece")


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) < 8
