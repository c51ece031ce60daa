"""Who may ask for what: stands before all pages, and sets the headers that keep them to themselves."""

from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from sizing.web.doors import Doors, is_loopback
from sizing.web.phones import Phones

COOKIE = "strandgauge-phone"
PAIRING_PATHS = frozenset({"/pair", "/static/pair.js", "/static/report.css", "/static/page.css"})
"""All that a phone may ask for before it is let in."""
_READING = frozenset({"GET", "HEAD"})
_POLICY = (
    "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
    "Permissions-Policy": "geolocation=(), microphone=()",
}


class Guard:
    """Answers 403 to everyone but this computer and the phones that were let in.

    The name asked for must be one of ours, so that no foreign page reaches us under a name of its own (DNS
    rebinding). A change must come from a page of ours. No header can make a stranger look like this computer:
    only the addresses of the connection count.
    """

    def __init__(self, app: ASGIApp, *, doors: Doors, phones: Phones) -> None:
        self._app = app
        self._doors = doors
        self._phones = phones

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] == "http":
            refusal = self._refusal(scope)
            scope.setdefault("state", {})["at_computer"] = at_computer(scope)
            app = PlainTextResponse(refusal, 403) if refusal else self._app
            await app(scope, receive, _with_headers(send))
        else:
            await send({"type": "websocket.close", "code": 1008})

    def _refusal(self, scope: Scope) -> str:
        """Return why a request is refused; empty where it is not."""
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        server = (scope.get("server") or ("",))[0]
        if len(hosts) != 1 or hosts[0].lower() not in self._doors.hosts(server):
            return "This page is not served under that name."
        if not self._may_enter(scope, headers):
            return "Only phones that were paired may come in: scan the code that the computer shows."
        origin = f"{self._doors.scheme}://{hosts[0].lower()}"
        if scope["method"] not in _READING and headers.getlist("origin") != [origin]:
            return "A change must come from this page itself: open it again."
        return ""

    def _may_enter(self, scope: Scope, headers: Headers) -> bool:
        if at_computer(scope) or self._phones.knows(_cookie(headers)):
            return True
        if scope["method"] == "POST":
            return bool(scope["path"] == "/pair")
        return scope["method"] in _READING and scope["path"] in PAIRING_PATHS


def at_computer(scope: Scope) -> bool:
    """Return whether a request comes from this computer, by its own address."""
    ends: list[Any] = [scope.get("client"), scope.get("server")]
    return all(end is not None and is_loopback(end[0]) for end in ends)


def _cookie(headers: Headers) -> str:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return found.value if found else ""


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending
