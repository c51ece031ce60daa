"""Finds out whether memory is free, before a library that cannot do without it is called."""

import mmap

_OWN = getattr(mmap, "MAP_PRIVATE", 0) | getattr(mmap, "MAP_ANONYMOUS", 0)


def is_free(size: int) -> bool:
    """Return whether this process may take so many bytes more.

    They are asked for and given back untouched, which takes microseconds.

    Examples
    --------
    >>> is_free(1_000_000), is_free(1 << 60)
    (True, False)
    """
    try:
        # Where the system has no such flags, it takes none.
        taken = mmap.mmap(-1, size, _OWN) if _OWN else mmap.mmap(-1, size)
    except (OSError, ValueError, OverflowError, MemoryError):
        return False
    taken.close()
    return True
