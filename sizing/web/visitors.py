"""Phones are paired, listed and forgotten."""

from datetime import datetime

import segno
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from sizing.web.desk import Desk, NotThereError, desk_of
from sizing.web.guard import COOKIE
from sizing.web.pages import go, page, refuse, sent
from sizing.web.phones import OFFER_S

_COOKIE_S = 180 * 24 * 3600  # half a year: a phone that was not used for so long is paired once more


def pairing_url(desk: Desk) -> str:
    """Return the address that lets one phone in; the secret is in a part that is never sent by itself."""
    return f"{desk.doors.urls[-1]}/pair#{desk.phones.offer()}"


async def pair_page(request: Request) -> Response:
    """Show the page that a code leads to."""
    return page("pair.html", request)


async def pair(request: Request) -> Response:
    """Let a phone in that has the secret."""
    desk, values = desk_of(request), await sent(request)
    secret = values.get("secret")
    token = desk.phones.redeem(secret) if isinstance(secret, str) else None
    if token is None:
        return refuse("this code was used, or is too old: show a new one on the computer", 403)
    answer = go("/")
    answer.set_cookie(
        COOKIE, token, max_age=_COOKIE_S, httponly=True, samesite="strict", secure=desk.doors.secure
    )
    return answer


async def phones(request: Request) -> Response:
    """List the phones that were let in; at the computer only."""
    desk = _at_computer(request)
    known = [(phone.number, _date(phone.since_s)) for phone in desk.phones.all]
    return page("phones.html", request, phones=known, doors=desk.doors, code="", minutes=int(OFFER_S / 60))


async def let_in(request: Request) -> Response:
    """Let the home network ask, where only this computer might; at the computer only."""
    await _at_computer(request).doors.open_home()
    return go("/phones")


async def offer(request: Request) -> Response:
    """Show a new code; at the computer only."""
    desk = _at_computer(request)
    if not desk.doors.home:
        raise NotThereError("phones cannot come in yet: let them in first")
    code = segno.make(pairing_url(desk), error="m")
    drawn = code.svg_inline(scale=6, border=4, dark="#000", light="#fff", omitsize=True)
    return page("_code.html", request, code=Markup(drawn), minutes=int(OFFER_S / 60))  # noqa: S704 - our own


async def forget(request: Request) -> Response:
    """Let a phone in no more; at the computer only."""
    desk = _at_computer(request)
    number = (await sent(request)).get("number")
    if isinstance(number, int):
        desk.phones.forget(number)
    return go("/phones")


def _at_computer(request: Request) -> Desk:
    """Return the desk.

    Raises
    ------
    NotThereError
        The request comes from a phone.
    """
    if not request.scope["state"]["at_computer"]:
        raise NotThereError("phones are listed on the computer")
    return desk_of(request)


def _date(since_s: float) -> str:
    day = datetime.fromtimestamp(since_s).astimezone()
    return f"{day.day} {day:%B %Y, %H:%M}"
