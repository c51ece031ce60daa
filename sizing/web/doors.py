"""Where the page is to be found: addresses, and under which names it may be asked for."""

import ipaddress
import socket
from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from sizing.base.errors import SizingError

LOCAL = "127.0.0.1"
USUAL_PORT = 8321
NO_NETWORK = "this computer is in no network: connect it to the one that the phone is in"


@dataclass(slots=True, kw_only=True)
class Doors:
    """Addresses that the page is served at; phones may be let in later.

    Attributes
    ----------
    port : int
    home : str
        Address of this computer in the home network; empty where only this computer may ask.
    secure : bool
        Whether the traffic is encrypted (TLS).
    opens : callable or None
        Begins to serve at another address of this computer; None where nothing is served.

    Examples
    --------
    >>> Doors(port=8321, home="192.168.1.20").urls
    ('http://127.0.0.1:8321', 'http://192.168.1.20:8321')
    """

    port: int
    home: str = ""
    secure: bool = False
    opens: Callable[[str], Awaitable[None]] | None = None

    async def open_home(self) -> None:
        """Let the home network ask too.

        Raises
        ------
        SizingError
            There is no network, or its port is taken.
        """
        if self.home or self.opens is None:
            return
        home = home_address()
        if not home:
            raise SizingError(NO_NETWORK)
        await self.opens(home)
        self.home = home

    @property
    def scheme(self) -> str:
        """`http` or `https`."""
        return "https" if self.secure else "http"

    @property
    def urls(self) -> tuple[str, ...]:
        """Address for this computer, and that for phones where there is one."""
        return tuple(f"{self.scheme}://{host}:{self.port}" for host in (LOCAL, self.home) if host)

    def hosts(self, server: str) -> frozenset[str]:
        """Return the names by which a browser may ask at one of our addresses (RFC 9110, 7.2)."""
        if is_loopback(server):
            return frozenset(f"{name}:{self.port}" for name in (LOCAL, "localhost"))
        return frozenset({f"{self.home}:{self.port}"} if self.home else ())


def is_loopback(address: str) -> bool:
    """Return whether an address is that of this computer alone.

    Examples
    --------
    >>> is_loopback("127.0.0.1"), is_loopback("192.168.1.20"), is_loopback("somebody")
    (True, False, False)
    """
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def home_address() -> str:
    """Return the address of this computer in its network; empty where it is in none.

    The socket is never written to: connecting one for datagrams only chooses a route (RFC 1122, 3.3.4).
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))  # an address that belongs to nobody (RFC 5737)
        except OSError:
            return ""
        address: str = asked.getsockname()[0]
    return "" if is_loopback(address) else address
