"""Pages from templates, files that go with them, and what a browser sent."""

import functools
import importlib.resources
import json
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from sizing.report.html.page import typeset
from sizing.report.sentences.phrases import opening
from sizing.web.desk import NotThereError
from sizing.web.reading.wishes import FIELDS, GOALS, METHODS, PICKS, SHAPES, THINGS
from sizing.web.reading.words import for_page

_LARGEST_BYTES = 64_000  # of what is typed; 500 corrections of a photo take half
_CHOICES = {"goal": GOALS, "method": METHODS, "pick": PICKS, "shape": SHAPES, "thing": THINGS}
_TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".png": "image/png"}


class UnreadableError(Exception):
    """What a browser sent cannot be read."""


def page(name: str, request: Request, *, status: int = 200, **values: object) -> HTMLResponse:
    """Return a page, or a part of one, from its template."""
    template = _environment().get_template(name)
    at_computer = request.scope.get("state", {}).get("at_computer", False)
    return HTMLResponse(template.render(at_computer=at_computer, **values), status)


def again(name: str, request: Request, error: Exception, **values: object) -> HTMLResponse:
    """Return a page with all that was typed on it, and with what is wrong about that."""
    return page(name, request, status=400, problem=opening(str(error)), **values)


def go(url: str) -> JSONResponse:
    """Answer a change by naming the page to open."""
    return JSONResponse({"go": url})


def refuse(message: str, status: int, **headers: str) -> JSONResponse:
    """Answer a change that is not made with the reason."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return JSONResponse({"message": opening(for_page(message))}, status, headers=named)


async def sent(request: Request) -> dict[str, Any]:
    """Return what a page sent, as JSON.

    Raises
    ------
    UnreadableError
        It is too large, or no JSON object.
    """
    content = b""
    async for chunk in request.stream():
        content += chunk
        if len(content) > _LARGEST_BYTES:
            raise UnreadableError("that is more than a page sends: open it again")
    try:
        values = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise UnreadableError("that cannot be read: open the page again") from error
    if not isinstance(values, dict):
        raise UnreadableError("that cannot be read: open the page again")
    return values


async def static(request: Request) -> Response:
    """Return a file that goes with the pages; its name is looked up in a list, never on the disk."""
    files = _static_files()
    name = request.path_params["name"]
    if name not in files:
        raise NotThereError("there is no such file")
    content, kind = files[name]
    return Response(content, media_type=kind, headers={"Cache-Control": "no-cache"})


def static_text(name: str) -> str:
    """Return a file that goes with the pages, as text."""
    return _static_files()[name][0].decode()


async def manifest(_: Request) -> Response:
    """Say how the page looks among a phone's programs (W3C Web Application Manifest)."""
    said = {
        "name": "Strandgauge",
        "short_name": "Strandgauge",
        "start_url": "/",
        "display": "standalone",
        "background_color": "#fbfaf7",
        "theme_color": "#fbfaf7",
        "icons": [
            {"src": "/static/icon.svg", "sizes": "any", "type": "image/svg+xml"},
            {"src": "/static/icon.png", "sizes": "192x192", "type": "image/png"},
        ],
    }
    return JSONResponse(said, media_type="application/manifest+json")


@functools.cache
def _static_files() -> dict[str, tuple[bytes, str]]:
    """Return all files that go with the pages, and their kinds, by name."""
    folder = importlib.resources.files("sizing.web") / "static"
    style = importlib.resources.files("sizing.report.html") / "templates" / "report.css"
    files = [*folder.iterdir(), style]
    return {
        file.name: (file.read_bytes(), kind)
        for file in files
        for suffix, kind in _TYPES.items()
        if file.name.endswith(suffix)
    }


@functools.cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("sizing.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["said"] = _said
    environment.globals.update(fields=FIELDS, choices=_CHOICES)
    return environment


def _said(sentence: str) -> Markup:
    return typeset(for_page(sentence))
