"""Runs the command line, as `strandgauge` or as `python -m sizing`."""

import gc
import os
import signal
import sys
from types import FrameType

_STANDARD_ERROR = 2
_NEW_OBJECTS = 10_000
"""Between two looks for what is used no longer: at Python's 700 there are 200 of a photo, most of them while
modules are imported."""
LIBRARIES = {"NUMPY_MADVISE_HUGEPAGE": "0", "OPENBLAS_NUM_THREADS": "1"}
"""NumPy asks Linux for pages of 2 MB, of which each cell that is written takes a whole one: 30 MB more.
Threads for linear algebra look for work all the time: 0.15 s of a core a photo, whose matrices are small."""
_SHOW_CURSOR = b"\x1b[?25h"
"""A progress bar hides the cursor of a terminal (ECMA-48 and DEC private mode 25)."""


def main() -> None:
    """Run the command line; Ctrl-C ends it at once, without a word, also while it still starts.

    A request to end from another program keeps its usual effect: it works even while a library computes.
    """
    signal.signal(signal.SIGINT, _stop)
    for name, value in LIBRARIES.items():
        os.environ.setdefault(name, value)
    gc.set_threshold(_NEW_OBJECTS)
    from sizing.cli.main import cli  # noqa: PLC0415 - a signal may come while it is imported

    try:
        cli(prog_name="strandgauge")
    finally:
        gc.freeze()  # else all that was imported is looked through once more at the end: 0.15 s


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
