"""Runs the command line, as `strandgauge` or as `python -m sizing`."""

import os
import signal
import sys
from types import FrameType


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
    os._exit(128 + number)


if __name__ == "__main__":
    main()
