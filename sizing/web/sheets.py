"""The scale sheets, to print."""

import asyncio

from starlette.requests import Request
from starlette.responses import Response

from sizing.base.measured_sheets import remembered_sheets
from sizing.base.units import format_length
from sizing.web.desk import NotThereError
from sizing.web.pages import page
from vision.common.check_words import PRINT_AT_FULL_SIZE, READ_RULER

_KINDS = {
    "a4-white": "A4 mat, white bed",
    "a4-grey": "A4 mat, grey bed",
    "a4-card": "Small card on A4",
    "letter-white": "Letter mat, white bed",
    "letter-grey": "Letter mat, grey bed",
    "letter-card": "Small card on Letter",
}


async def sheets(request: Request) -> Response:
    """Show which sheets there are to print, and which were measured."""
    from vision.sheet.geometry import SHEETS  # noqa: PLC0415 - imports OpenCV

    known = [
        f"{sheet.title}: {format_length(found.check_length_mm)}, {found.origin}"
        for name, found in remembered_sheets().items()
        if (sheet := SHEETS.get(name))
    ]
    return page("sheets.html", request, kinds=_KINDS, measured=known, advice=(PRINT_AT_FULL_SIZE, READ_RULER))


async def sheet(request: Request) -> Response:
    """Return a sheet as PDF."""
    name = request.path_params["name"]
    if name not in _KINDS:
        raise NotThereError("there is no such sheet")
    content = await asyncio.to_thread(_drawn, *name.split("-"))
    return Response(
        content,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="scale-sheet-{name}.pdf"'},
    )


def _drawn(paper: str, bed: str) -> bytes:
    from vision.sheet.drawing import render  # noqa: PLC0415 - takes its time to import
    from vision.sheet.geometry import SHEETS  # noqa: PLC0415
    from vision.sheet.layout import lay_out, place_on  # noqa: PLC0415

    if bed != "card":
        return render(lay_out(SHEETS[f"mat-{paper}"], grey_bed=bed == "grey"), ".pdf")
    width, height = SHEETS[f"mat-{paper}"].page_mm
    return render(place_on(lay_out(SHEETS["card"]), (height, width)), ".pdf")
