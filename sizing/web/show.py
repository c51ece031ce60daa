"""Pieces to make, and what to buy for them: a list that needs no network once it was opened."""

import base64
import hashlib
import secrets
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from sizing.base.errors import SizingError
from sizing.base.units import printed_as
from sizing.piece.piece import Piece
from sizing.web.desk import NotThereError, desk_of
from sizing.web.pages import go, page, sent, static_text
from sizing.web.reading.shopping import shopping_list
from sizing.web.reading.wishes import PLAN, read_plan

_MOST_PIECES = 30
_MOST_OF_ONE = 99
_MOST_LISTS = 20  # held; a browser keeps its own
_KEPT_S = 30 * 24 * 3600  # by the browser: a show is weeks after the plan
_STYLES = ("report.css", "page.css")
_SCRIPT = "ticks.js"


async def pieces(request: Request) -> Response:
    """Show the pieces to make, which the browser remembers."""
    return page("pieces.html", request)


async def make_list(request: Request) -> Response:
    """Make the list of what to buy for pieces."""
    wanted = _wanted(await sent(request))
    found = await run_in_threadpool(_found, wanted)
    word, lists = secrets.token_urlsafe(9), desk_of(request).lists
    while len(lists) >= _MOST_LISTS:
        del lists[next(iter(lists))]
    lists[word] = found
    return go(f"/show/{word}")


async def show(request: Request) -> Response:
    """Return a list as one file that asks for nothing more."""
    word = request.path_params["word"]
    found = desk_of(request).lists.get(word)
    if found is None:
        raise NotThereError("this list is no longer there: make it again from the pieces")
    style, script = "".join(map(static_text, _STYLES)), static_text(_SCRIPT)
    answer = page("show.html", request, word=word, style=Markup(style), script=Markup(script), **found)  # noqa: S704 - our own files
    answer.headers["Content-Security-Policy"] = (
        f"default-src 'none'; style-src {_hashed(style)}; script-src {_hashed(script)}; img-src data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    answer.headers["Cache-Control"] = f"private, max-age={_KEPT_S}"
    return answer


def _found(wanted: list[tuple[Piece, int]]) -> dict[str, Any]:
    first = wanted[0][0]
    with printed_as(next(iter(first.target_mm.values()), None)):
        listed = shopping_list(wanted)
    return {"pieces": listed.pieces, "groups": listed.groups}


def _wanted(values: Mapping[str, object]) -> list[tuple[Piece, int]]:
    """Read which pieces are wanted, of each how many.

    Raises
    ------
    SizingError
    """
    rows = values.get("pieces")
    if not isinstance(rows, list) or not 0 < len(rows) <= _MOST_PIECES:
        raise SizingError(f"put 1 to {_MOST_PIECES} pieces on the list first")
    return [_row(row) for row in rows]


def _row(row: object) -> tuple[Piece, int]:
    values = row if isinstance(row, dict) else {}
    text, count = values.get(PLAN), values.get("count")
    if not isinstance(text, str):
        raise SizingError("that cannot be read: open the page again")
    if type(count) is not int or not 0 < count <= _MOST_OF_ONE:
        typed = count if isinstance(count, str | int | float) and count != "" else "nothing"
        raise SizingError(f"{typed} is no number of pieces: of each, type 1 to {_MOST_OF_ONE}")
    return read_plan(text), count


def _hashed(text: str) -> str:
    """Return how a policy names a text that stands in the page (W3C Content Security Policy 3, 2.3.1)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
