"""A measurement is read, its target changed, its beads put right."""

from dataclasses import replace
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from sizing.base.errors import CorrectionError
from sizing.web.desk import NotThereError, desk_of
from sizing.web.measuring.measurements import Measurement
from sizing.web.pages import page, sent
from sizing.web.reading.wishes import tidy
from sizing.web.take import GOOD_PHOTO, SHEET, title_of
from vision.common.records import Correction


async def measurement(request: Request) -> Response:
    """Show a measurement: what came out, or how far it is, or why nothing came."""
    asked = desk_of(request).measurement(request.path_params["word"])
    values: dict[str, Any] = {"asked": asked, "title": title_of(asked.kind)}
    if asked.state == "done" and asked.kind == SHEET:
        return page("sheet.html", request, **values)
    if asked.state == "done":
        return page("reading.html", request, **values, **_read(asked))
    if asked.state in {"waiting", "measuring"}:
        return page("waiting.html", request, **values)
    return page("refused.html", request, **values, message=asked.message, good=GOOD_PHOTO)


async def photo(request: Request) -> Response:
    """Return a photo as a page shows it."""
    asked = desk_of(request).measurement(request.path_params["word"])
    index = request.path_params["index"]
    if not index < len(asked.shown):
        raise NotThereError("there is no such photo")
    kept = {"Cache-Control": "private, max-age=3600"}
    return Response(asked.shown[index].jpeg, media_type="image/jpeg", headers=kept)


async def download(request: Request) -> Response:
    """Return a measurement as a file for other programs."""
    from sizing.report.records.output import to_csv, to_json  # noqa: PLC0415 - takes its time to import
    from sizing.web.result import printed  # noqa: PLC0415

    found, kind = printed(done_measurement(request)), request.path_params["kind"]
    if kind not in {"json", "csv"}:
        raise NotThereError("there is no such file")
    text = to_json(found.record) if kind == "json" else to_csv(found.rows)
    media = "application/json" if kind == "json" else "text/csv; charset=utf-8"
    named = {"Content-Disposition": f'attachment; filename="beads.{kind}"'}
    return Response(text, media_type=media, headers=named)


async def wish(request: Request) -> Response:
    """Take another target, label or way to sort, and answer with what follows."""
    from sizing.web.result import read_again  # noqa: PLC0415 - takes its time to import

    asked = done_measurement(request)
    typed = asked.typed | tidy(await sent(request))
    read_again(asked, typed)
    asked.typed = typed
    return page("_reading.html", request, asked=asked, **_read(asked))


async def correct(request: Request) -> Response:
    """Put one thing right, and answer with what follows."""
    from sizing.web.reading.putting_right import correction_of, with_correction  # noqa: PLC0415 - likewise

    asked = done_measurement(request)
    correction = correction_of(await sent(request), {shown.name: shown.size_px for shown in asked.shown})
    return _corrected(request, asked, with_correction(asked.corrections, correction))


async def undo(request: Request) -> Response:
    """Take one correction back, and answer with what follows."""
    asked = done_measurement(request)
    index = (await sent(request)).get("index")
    if not isinstance(index, int) or not 0 <= index < len(asked.corrections):
        raise CorrectionError("that was taken back already")
    return _corrected(request, asked, [each for k, each in enumerate(asked.corrections) if k != index])


def _corrected(request: Request, asked: Measurement, corrections: list[Correction]) -> Response:
    """Answer with what corrections come to, and keep them if they can be meant."""
    from sizing.web.result import read_again  # noqa: PLC0415 - takes its time to import

    read_again(replace(asked, corrections=corrections), asked.typed)
    asked.corrections = corrections
    return page("_reading.html", request, asked=asked, **_read(asked))


def _read(asked: Measurement) -> dict[str, Any]:
    from sizing.web.reading.putting_right import corrections_listed  # noqa: PLC0415 - likewise
    from sizing.web.result import read_again  # noqa: PLC0415

    listed = corrections_listed(asked.corrections, [shown.name for shown in asked.shown])
    return {"reading": read_again(asked, asked.typed), "corrected": listed}


def done_measurement(request: Request) -> Measurement:
    """Return the measurement that a request is about, which must have a result.

    Raises
    ------
    NotThereError
    """
    asked = desk_of(request).measurement(request.path_params["word"])
    if asked.state != "done" or asked.kind == SHEET:
        raise NotThereError("this measurement has no result yet")
    return asked
