"""Finds out whether memory is free, before a library that cannot do without it is called."""

import ctypes
import mmap
import os
import sys

_OWN = getattr(mmap, "MAP_PRIVATE", 0) | getattr(mmap, "MAP_ANONYMOUS", 0)

# Address space that the libraries take as they are imported: 0.75 GB with two cores, for each of which two of
# them start a thread with a stack of 8 MB. Without it one of them tries for ever, or ends the program.
_START_BYTES, _CORE_BYTES = 800_000_000, 24_000_000
_MMAP_THRESHOLD, _TRIM_THRESHOLD = -3, -1  # numbers of glibc's settings, from its malloc.h
_KEPT_BYTES = 32 << 20
"""The largest array whose memory is kept, and half of what is kept in all: more glibc may not allow."""


def libraries_bytes() -> int:
    """Return how much address space the libraries that measure a photo will take; 0 once they are there."""
    return 0 if "vision.measure" in sys.modules else _START_BYTES + _CORE_BYTES * (os.cpu_count() or 1)


def keep_freed() -> None:
    """Let the C library of Linux (glibc) keep freed memory for the next array.

    It takes a tenth of a second of each photo to have pages taken and given anew, which the system clears.
    """
    if sys.platform == "linux":
        set_to = getattr(ctypes.CDLL(None), "mallopt", lambda *_: 0)
        set_to(_MMAP_THRESHOLD, _KEPT_BYTES)
        set_to(_TRIM_THRESHOLD, 2 * _KEPT_BYTES)


def is_free(size: int) -> bool:
    """Return whether this process may take so many bytes more.

    They are asked for and given back untouched, which takes microseconds.

    Examples
    --------
    >>> is_free(0), is_free(1_000_000), is_free(1 << 60)
    (True, True, False)
    """
    try:
        # Where the system has no such flags, it takes none.
        taken = mmap.mmap(-1, max(size, 1), _OWN) if _OWN else mmap.mmap(-1, max(size, 1))
    except (OSError, ValueError, OverflowError, MemoryError):
        return False
    taken.close()
    return True
