"""Runs the command line, as `strandgauge` or as `python -m sizing`."""

import os
import signal
import sys
from types import FrameType

_STANDARD_ERROR = 2
_SHOW_CURSOR = b"\x1b[?25h"
"""A progress bar hides the cursor of a terminal (ECMA-48 and DEC private mode 25)."""


def main() -> None:
    """Run the command line; Ctrl-C ends it at once, without a word, also while it still starts.

    A request to end from another program keeps its usual effect: it works even while a library computes.
    """
    signal.signal(signal.SIGINT, _stop)
    from sizing.cli.main import cli  # noqa: PLC0415 - a signal may come while it is imported

    cli(prog_name="strandgauge")


def _stop(number: int, _: FrameType | None) -> None:
    """End the program at once: an exception would be lost, or told at length, in some imports."""
    files = sys.modules.get("sizing.base.files")
    if files is not None and hasattr(files, "discard_parts"):
        files.discard_parts()
    if os.isatty(_STANDARD_ERROR):
        os.write(_STANDARD_ERROR, _SHOW_CURSOR)
    os._exit(128 + number)


if __name__ == "__main__":
    main()
