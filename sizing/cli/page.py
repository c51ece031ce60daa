"""`strandgauge page`: opens a page in the browser, where photos are measured; on phones too."""

import io
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sizing.cli.files import InputFile
from sizing.cli.many import cluster_option
from sizing.cli.options import WholeNumberType
from sizing.web.doors import USUAL_PORT

if TYPE_CHECKING:
    from sizing.web.desk import Desk

# White blocks are what is light of a code. These two of the 256 colours are the same in every theme.
_WHITE_ON_BLACK, _RESET = "\x1b[38;5;231;48;5;16m", "\x1b[0m"
NOT_ENCRYPTED = "The traffic is not encrypted: whoever listens in the home network sees your photos."

_EPILOG = """
\b
Examples:
  strandgauge page
  strandgauge page --phone
  strandgauge page --port 9000 --no-browser

Only this computer may open the page, unless --phone lets phones of the home network in: each is paired
once, by a code that it scans. Their traffic is not encrypted unless you give --certificate and --key.
Of a class or a club, --cluster lets other computers measure what many phones send. Ctrl-C ends it.
"""


@click.command(epilog=_EPILOG)
@click.option(
    "--port",
    type=WholeNumberType("port", least=1, most=65535),
    metavar="N",
    help=f"Port of the page; {USUAL_PORT} if not given, or any where that is taken.",
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option("--phone", is_flag=True, help="Let phones of the home network in, and show a code to scan.")
@click.option(
    "--certificate", type=InputFile(), metavar="FILE", help="Certificate for encrypted traffic (PEM)."
)
@click.option("--key", type=InputFile(), metavar="FILE", help="Its private key (PEM).")
@cluster_option
def page(
    *,
    port: int | None,
    no_browser: bool,
    phone: bool,
    certificate: Path | None,
    key: Path | None,
    cluster: str | None,
) -> None:
    """Open the page: photograph, measure and decide in a browser, on this computer or a phone."""
    if (certificate is None) != (key is None):
        raise click.UsageError("--certificate and --key belong together: give both")
    from sizing.web.server import Certificate, serve

    pem = Certificate(certificate=certificate, key=key) if certificate and key else None

    def ready(desk: "Desk") -> None:
        click.echo(_welcome(desk))
        if not no_browser:
            webbrowser.open(desk.doors.urls[0])

    if serve(port=port, phone=phone, certificate=pem, cluster=cluster, ready=ready):
        raise click.Abort


def _welcome(desk: "Desk") -> str:
    """Say where the page is, and how a phone comes in."""
    doors = desk.doors
    lines = [f"The page is at {doors.urls[0]} (Ctrl-C ends it)."]
    if not doors.home:
        return lines[0]
    from sizing.web.phones import OFFER_S
    from sizing.web.visitors import pairing_url

    url = pairing_url(desk)
    lines += [
        f"Scan this code with the phone's camera within {OFFER_S / 60:.0f} minutes. It lets one phone in:",
        drawn_code(url),
        url,
    ]
    if not doors.secure:
        lines.append(NOT_ENCRYPTED)
    return "\n".join(lines)


def drawn_code(url: str) -> str:
    """Return a code for a phone's camera as a terminal shows it: black on white, whatever its own colours."""
    import segno

    drawn = io.StringIO()
    segno.make(url, error="l").terminal(out=drawn, compact=True)
    return "\n".join(f"{_WHITE_ON_BLACK}{line}{_RESET}" for line in drawn.getvalue().splitlines())
