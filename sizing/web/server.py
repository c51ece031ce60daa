"""The server: sockets, addresses, begin and end."""

import asyncio
import contextlib
import errno
import socket
import ssl
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

import uvicorn

from sizing.base.errors import SizingError
from sizing.base.measured_sheets import settings_file
from sizing.batch.crew import Crew
from sizing.web.app import make_app
from sizing.web.desk import Desk, open_desk
from sizing.web.doors import LOCAL, NO_NETWORK, USUAL_PORT, Doors, home_address
from sizing.web.measuring.limits import Limits, usual_limits
from sizing.web.phones import Phones

_PHONES = "paired-phones.json"
_FAREWELL_S = 2  # for pages that are still being sent when the program ends


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Files for encrypted traffic (TLS), in PEM format."""

    certificate: Path
    key: Path


def serve(
    *,
    port: int | None,
    phone: bool,
    certificate: Certificate | None,
    ready: Callable[[Desk], None],
    cluster: str | None = None,
) -> bool:
    """Serve the page until the program is told to stop; return whether it was.

    Parameters
    ----------
    port : int or None
        None for the usual one, or any that is free.
    phone : bool
        Whether phones in the home network may come in.
    certificate : Certificate or None
        None: traffic is not encrypted.
    cluster : str or None
        Address of other computers that measure; None for this one.
    ready : callable
        Called when a browser may ask.

    Raises
    ------
    SizingError
        The port is taken, there is no network, the certificate cannot be used, or no cluster answers.
    """
    if certificate:
        _check(certificate)
    home = home_address() if phone else ""
    if phone and not home:
        raise SizingError(NO_NETWORK)
    first = _bound(LOCAL, port)
    doors = Doors(port=first.getsockname()[1], home=home, secure=certificate is not None)
    sockets = [first, *([_listening(home, doors.port)] if home else [])]
    phones = Phones(settings_file().parent / _PHONES)
    with _crew(cluster) as (crew, limits):
        desk = open_desk(doors=doors, phones=phones, limits=limits, crew=crew)
        server = _Server(_config(desk, certificate), ready=lambda: ready(desk))
        doors.opens = server.listen_at
        server.run(sockets=sockets)
    return server.stopped


@contextlib.contextmanager
def _crew(cluster: str | None) -> Iterator[tuple[Crew | None, Limits]]:
    """Give the cluster that measures, None for this computer, and with how many photos at once."""
    if cluster is None:
        yield None, usual_limits()
        return
    from sizing.batch.cluster import Cluster  # noqa: PLC0415 - an extra, which takes its time to import

    with contextlib.closing(Cluster(cluster)) as crew:
        yield crew, Limits(workers=crew.workers)


class _Server(uvicorn.Server):
    """A server that says when it is ready."""

    def __init__(self, config: uvicorn.Config, *, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready
        self.stopped = False

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, and say so."""
        await super().startup(sockets=sockets)
        self._ready()

    async def listen_at(self, host: str) -> None:
        """Serve at another address too, at the same port.

        Raises
        ------
        SizingError
            The port is taken there.
        """
        port = self.servers[0].sockets[0].getsockname()[1]
        config, loop = self.config, asyncio.get_running_loop()

        def protocol() -> asyncio.Protocol:  # as uvicorn makes it at its start
            made: asyncio.Protocol = config.http_protocol_class(  # type: ignore[call-arg]
                config=config, server_state=self.server_state, app_state=self.lifespan.state
            )
            return made

        opened = await loop.create_server(
            protocol, sock=_listening(host, port), ssl=config.ssl, backlog=config.backlog
        )
        self.servers.append(opened)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:  # noqa: ARG002 - uvicorn's signature
        """End in order when told to: uvicorn would raise the signal once more, and leave workers behind."""
        self.force_exit = self.should_exit
        self.should_exit = self.stopped = True


def _config(desk: Desk, certificate: Certificate | None) -> uvicorn.Config:
    return uvicorn.Config(
        make_app(desk),
        log_config=None,
        log_level="error",  # a stranger's odd request is no news
        access_log=False,
        proxy_headers=False,  # else a header could make a stranger look like this computer
        server_header=False,
        ws="none",
        timeout_keep_alive=15,
        timeout_graceful_shutdown=_FAREWELL_S,
        ssl_certfile=certificate.certificate if certificate else None,
        ssl_keyfile=certificate.key if certificate else None,
    )


def _check(certificate: Certificate) -> None:
    """Refuse files that are no certificate with its key; a pipe would be waited for."""
    for path in (certificate.certificate, certificate.key):
        if not path.is_file():
            raise SizingError(f"{path} is no file: give the certificate and its key in PEM format")
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(
            certificate.certificate, certificate.key
        )
    except OSError as error:
        reason = getattr(error, "reason", None) or error.strerror or error
        raise SizingError(
            f"the certificate cannot be used ({reason}): give it and its key in PEM format"
        ) from error


def _bound(host: str, port: int | None) -> socket.socket:
    """Return a socket at a port; where none is asked for and the usual one is taken, at any free one."""
    if port is not None:
        return _listening(host, port)
    try:
        return _listening(host, USUAL_PORT)
    except SizingError:
        return _listening(host, 0)


def _listening(host: str, port: int) -> socket.socket:
    opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        opened.bind((host, port))
    except (OSError, OverflowError) as error:
        opened.close()
        taken = getattr(error, "errno", None) == errno.EADDRINUSE
        why = "is taken by another program" if taken else "cannot be used"
        raise SizingError(f"port {port} of {host} {why}: give another one with --port") from error
    return opened
