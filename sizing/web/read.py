"""A measurement is read, its target changed, its beads put right."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from sizing.base.errors import CorrectionError
from sizing.web.desk import NotThereError, desk_of
from sizing.web.measuring.measurements import Measurement
from sizing.web.pages import page, sent
from sizing.web.reading.wishes import tidy
from sizing.web.take import GOOD_PHOTO, SHEET, title_of


async def measurement(request: Request) -> Response:
    """Show a measurement: what came out, or how far it is, or why nothing came."""
    asked = desk_of(request).measurement(request.path_params["word"])
    values: dict[str, Any] = {"asked": asked, "title": title_of(asked.kind)}
    if asked.state == "done" and asked.kind == SHEET:
        return page("sheet.html", request, **values)
    if asked.state == "done":
        return page("reading.html", request, **values, **await _read(asked))
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

    kind = request.path_params["kind"]
    found = await run_in_threadpool(printed, done_measurement(request))
    if kind not in {"json", "csv"}:
        raise NotThereError("there is no such file")
    text = to_json(found.record) if kind == "json" else to_csv(found.rows)
    media = "application/json" if kind == "json" else "text/csv; charset=utf-8"
    named = {"Content-Disposition": f'attachment; filename="beads.{kind}"'}
    return Response(text, media_type=media, headers=named)


async def wish(request: Request) -> Response:
    """Take another target, label or way to sort, and answer with what follows."""
    asked, values = done_measurement(request), tidy(await sent(request))
    return await _changed(request, asked, lambda now: replace(now, typed=now.typed | values))


async def correct(request: Request) -> Response:
    """Put one thing right, and answer with what follows."""
    from sizing.web.reading.putting_right import correction_of, with_correction  # noqa: PLC0415 - as above

    asked = done_measurement(request)
    new = correction_of(await sent(request), {shown.name: shown.size_px for shown in asked.shown})
    return await _changed(
        request, asked, lambda now: replace(now, corrections=with_correction(now.corrections, new))
    )


async def undo(request: Request) -> Response:
    """Take one correction back, and answer with what follows."""
    from sizing.web.reading.putting_right import word_for  # noqa: PLC0415 - as above

    asked, word = done_measurement(request), (await sent(request)).get("word")

    def without(now: Measurement) -> Measurement:
        left = [each for each in now.corrections if word_for(each) != word]
        if len(left) == len(now.corrections):
            raise CorrectionError("that was taken back already")
        return replace(now, corrections=left)

    return await _changed(request, asked, without)


async def _changed(
    request: Request, asked: Measurement, change: Callable[[Measurement], Measurement]
) -> Response:
    """Answer with what a change comes to, and keep it if it can be meant; one change after the other."""
    async with asked.changing:
        tried = change(asked)
        values = await _read(tried)
        asked.typed, asked.corrections = tried.typed, tried.corrections
    return page("_reading.html", request, asked=asked, **values)


async def _read(asked: Measurement) -> dict[str, Any]:
    """Return what a page shows of a measurement; others are answered while it is worked out."""
    from sizing.web.reading.putting_right import word_for  # noqa: PLC0415 - as above
    from sizing.web.result import read_again  # noqa: PLC0415

    reading, listed = await run_in_threadpool(read_again, asked, asked.typed)
    words = map(word_for, asked.corrections)
    return {"reading": reading, "corrected": list(zip(words, listed, strict=True))}


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
