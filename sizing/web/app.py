"""The pages as one application: addresses, answers to errors, begin and end."""

import asyncio
import contextlib
import importlib
from collections.abc import AsyncIterator, Awaitable, Callable

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route

from sizing.base.errors import SizingError
from sizing.web import read, sheets, take, visitors
from sizing.web.desk import Desk, NotThereError
from sizing.web.guard import Guard
from sizing.web.measuring.bench import BusyError
from sizing.web.measuring.inbox import RefusedPhotoError
from sizing.web.pages import UnreadableError, manifest, page, refuse, static

_WAIT_S = 60  # before a photo is sent again that was told to wait: the mean time for a full line to shorten
_FIRST_PAGE_S = 0.3  # the browser has the first page by then; at half the workers slow it down
_SWALLOW_S = 5.0  # a photo takes a second at home; who sends longer hears nothing
_HEAVY = ("sizing.web.stash", "sizing.web.make", "sizing.web.plan", "sizing.web.reading.putting_right")
"""What takes its time to import and is first needed when a photo was measured."""


def _later(module: str, name: str) -> Callable[[Request], Awaitable[Response]]:
    """Return what answers requests, of a module of this room that takes its time to import."""

    async def answer(request: Request) -> Response:
        found = await asyncio.to_thread(importlib.import_module, f"sizing.web.{module}")
        answered: Response = await getattr(found, name)(request)
        return answered

    return answer


_ROUTES = [
    Route("/", take.start),
    Route("/take/{kind}", take.take),
    Route("/photos", take.receive_photo, methods=["POST"]),
    Route("/measurements", take.begin, methods=["POST"]),
    Route("/m/{word}", read.measurement),
    Route("/m/{word}/state", take.state),
    Route("/m/{word}/cancel", take.cancel, methods=["POST"]),
    Route("/m/{word}/photo/{index:int}.jpg", read.photo),
    Route("/m/{word}/beads.{kind}", read.download),
    Route("/m/{word}/wish", read.wish, methods=["POST"]),
    Route("/m/{word}/corrections", read.correct, methods=["POST"]),
    Route("/m/{word}/undo", read.undo, methods=["POST"]),
    Route("/m/{word}/keep", _later("stash", "keep_measured"), methods=["POST"]),
    Route("/stash", _later("stash", "shelf")),
    Route("/stash/all.zip", _later("stash", "export")),
    Route("/stash/all", _later("stash", "bring"), methods=["POST"]),
    Route("/stash/{number:int}", _later("stash", "entry_page")),
    Route("/stash/{number:int}/{which}.jpg", _later("stash", "picture")),
    Route("/stash/{number:int}/{deed}", _later("stash", "change_entry"), methods=["POST"]),
    Route("/make", _later("make", "make")),
    Route("/make/take", _later("make", "take_out"), methods=["POST"]),
    Route("/plan", _later("plan", "plan")),
    Route("/plan.toml", _later("plan", "piece_file")),
    Route("/pieces", _later("show", "pieces")),
    Route("/show", _later("show", "make_list"), methods=["POST"]),
    Route("/show/{word}", _later("show", "show")),
    Route("/sheets", sheets.sheets),
    Route("/sheets/{name}.pdf", sheets.sheet),
    Route("/pair", visitors.pair_page),
    Route("/pair", visitors.pair, methods=["POST"]),
    Route("/phones", visitors.phones),
    Route("/phones/open", visitors.let_in, methods=["POST"]),
    Route("/phones/code", visitors.offer, methods=["POST"]),
    Route("/phones/forget", visitors.forget, methods=["POST"]),
    Route("/manifest.webmanifest", manifest),
    Route("/static/{name}", static),
]


def make_app(desk: Desk) -> Starlette:
    """Return the application that answers for a desk; its workers run as long as it does."""

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        warming = asyncio.create_task(_warm(desk))
        yield
        warming.cancel()
        await desk.measurements.close()
        desk.bench.close()
        desk.inbox.close()

    app = Starlette(
        routes=_ROUTES,
        middleware=[Middleware(Guard, doors=desk.doors, phones=desk.phones)],
        exception_handlers={
            SizingError: _sizing,
            UnreadableError: _unreadable,
            NotThereError: _not_there,
            BusyError: _busy,
            RefusedPhotoError: _refused_photo,
            ClientDisconnect: _gone,
            404: _not_found,
            500: _fault,
        },
        lifespan=lifespan,
    )
    app.state.desk = desk
    return app


async def _warm(desk: Desk) -> None:
    """Start the workers and import the rest, after the first page was asked for or a moment has passed."""
    await asyncio.sleep(_FIRST_PAGE_S)
    desk.bench.warm()
    for name in _HEAVY:
        await asyncio.to_thread(importlib.import_module, name)


async def _sizing(request: Request, error: Exception) -> Response:
    return _answer(request, str(error), 400)


async def _unreadable(request: Request, error: Exception) -> Response:
    return _answer(request, str(error), 400)


async def _not_there(request: Request, error: Exception) -> Response:
    return _answer(request, str(error), 404)


async def _busy(_: Request, error: Exception) -> Response:
    return refuse(str(error), 503, Retry_After=str(_WAIT_S))


async def _refused_photo(request: Request, error: Exception) -> Response:
    status = error.status if isinstance(error, RefusedPhotoError) else 400
    await _swallow(request)
    return refuse(str(error), status, **({"Retry_After": str(_WAIT_S)} if status == 503 else {}))


async def _gone(_: Request, __: Exception) -> Response:
    return Response(status_code=400)  # which nobody reads any more


async def _not_found(request: Request, _: Exception) -> Response:
    return _answer(request, "there is no such page", 404)


async def _fault(request: Request, _: Exception) -> Response:
    return _answer(request, "the program made a mistake: open the page again", 500)


def _answer(request: Request, message: str, status: int) -> Response:
    """Say what is wrong: to a script as JSON, to a browser as a page."""
    if request.method == "POST":
        return refuse(message, status)
    return page("message.html", request, status=status, message=message[:1].upper() + message[1:])


async def _swallow(request: Request) -> None:
    """Read what a browser still sends, up to a limit: it hears no answer before."""
    left = request.app.state.desk.limits.photo_bytes
    with contextlib.suppress(Exception):
        async with asyncio.timeout(_SWALLOW_S):
            async for chunk in request.stream():
                left -= len(chunk)
                if left < 0:
                    return
