"""Photos are taken, sent, measured and waited for."""

from dataclasses import replace
from typing import Literal

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from sizing.base.errors import SizingError
from sizing.web.desk import NotThereError, desk_of
from sizing.web.measuring.measurements import Kind
from sizing.web.measuring.work import Order
from sizing.web.pages import go, page, sent
from sizing.web.reading.wishes import asked_for, handful_of, thing_of, tidy

TASKS: dict[Kind, tuple[str, str]] = {
    "strand": ("This strand", "Beads on a wire, a rod or a cord: how long, and what to add or take off"),
    "lot": ("This lot", "Loose beads: how many of which size"),
    "label": ("This delivery", "Loose beads against their label: are they what it says?"),
}
"""What a maker may ask of photos, in words."""
_OF_LOTS: tuple[Kind, ...] = ("lot", "label")
SHEET: Kind = "sheet"
_SHEET_TASK = ("This sheet", "")
_WHAT: dict[Kind, Literal["strand", "loose", "sheet"]] = {"strand": "strand", "sheet": "sheet"}
GOOD_PHOTO = (
    "The sheet lies flat, and all of it is in the picture.",
    "The phone is level, straight above, about 30 cm away.",
    "The light is even: no glare, no hard shadow of the phone.",
    "Strung beads touch each other, loose ones lie in one layer.",
    "Pale beads lie on grey, dark ones on white.",
)


async def start(request: Request) -> Response:
    """Show what can be measured."""
    return page("start.html", request, tasks=TASKS)


async def take(request: Request) -> Response:
    """Show how to take a photo for one task."""
    kind = request.path_params["kind"]
    known = _known(kind)
    if known is None:
        raise NotThereError("there is no such page")
    limits = desk_of(request).limits
    most = limits.photos_in_lot if known in _OF_LOTS else 1
    return page(
        "take.html", request, kind=known, title=title_of(known), most=most, limits=limits, good=GOOD_PHOTO
    )


async def receive_photo(request: Request) -> Response:
    """Keep a photo that is sent as it is; answer with the word by which it is asked for."""
    word = await desk_of(request).inbox.receive(request.stream())
    return JSONResponse({"photo": word})


async def begin(request: Request) -> Response:
    """Begin to measure photos that were sent."""
    desk, values = desk_of(request), await sent(request)
    kind = _known(values.get("kind"))
    words = _words(values.get("photos"))
    if kind is None or not 0 < len(words) <= desk.limits.photos_in_lot:
        raise SizingError("choose a photo first")
    if kind not in _OF_LOTS and len(words) > 1:
        raise SizingError("this is measured on one photo: choose one")
    typed = tidy(values)
    asked_for(typed, label=kind == "label")
    said = handful_of(typed)
    desk.bench.check_room(len(words))
    paths = desk.inbox.take(words)
    if paths is None:
        raise NotThereError("the photo is no longer there: send it again")
    handfuls = [replace(said, path=path, name=f"photo {i}") for i, path in enumerate(paths, 1)]
    orders = [Order(handful=each, what=_WHAT.get(kind, "loose"), thing=thing_of(typed)) for each in handfuls]
    return go(f"/m/{desk.measurements.begin(kind, orders, typed=typed).word}")


async def state(request: Request) -> Response:
    """Say how far a measurement is."""
    desk = desk_of(request)
    asked = desk.measurement(request.path_params["word"])
    ahead = desk.measurements.ahead_of(asked)
    said = {
        "state": asked.state,
        "ahead": ahead,
        "photos_done": asked.photos_done,
        "photos": len(asked.orders),
        "message": asked.message,
    }
    return JSONResponse(said)


async def cancel(request: Request) -> Response:
    """Stop a measurement."""
    desk = desk_of(request)
    asked = desk.measurement(request.path_params["word"])
    await desk.measurements.cancel(asked)
    return go(f"/take/{asked.kind}")


def title_of(kind: Kind) -> str:
    """Return what a measurement is about, in words."""
    return TASKS.get(kind, _SHEET_TASK)[0]


def _known(kind: object) -> Kind | None:
    return next((each for each in (*TASKS, SHEET) if each == kind), None)


def _words(values: object) -> list[str]:
    listed = values if isinstance(values, list) else []
    return [value for value in listed if isinstance(value, str)]
