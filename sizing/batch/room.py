"""How many photos this computer measures at once: what it, and the group of processes we are in, may use."""

import os
from collections.abc import Iterator
from pathlib import Path

WORKER_BYTES = 1_500_000_000
"""A worker holds 0.4 GB when idle and up to 1.3 GB with a photo of 48 megapixels."""
_GROUPS = Path("/sys/fs/cgroup")
_OWN_GROUP = Path("/proc/self/cgroup")
_MEMORY = Path("/proc/meminfo")


def workers_for(photos: int) -> int:
    """Return how many processes to measure so many photos in: one for each core that memory allows."""
    return max(min(photos, cores(), memory_bytes() // WORKER_BYTES), 1)


def cores() -> int:
    """Return how many cores this process may use."""
    allowed = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    quotas = [int(quota) // int(period) for quota, period in _limits("cpu.max", words=2)]
    return max(min([allowed, *quotas]), 1)


def memory_bytes() -> int:
    """Return the memory that is free to use; where the system does not say, enough for two workers."""
    free = _available_bytes()
    for folder in _groups():
        most, used = _number(folder / "memory.max"), _number(folder / "memory.current")
        if most is not None and used is not None:
            free = min(free, most - used + _cached_bytes(folder))
    return max(free, 0)


def _limits(name: str, *, words: int) -> Iterator[list[str]]:
    """Yield the words of a limit of each group that we are in, where it is set (version 2 of groups)."""
    for folder in _groups():
        found = _text(folder / name).split()
        if len(found) == words and "max" not in found:
            yield found


def _groups() -> Iterator[Path]:
    """Yield the folders of the groups that we are in, from our own up."""
    own = next((line[3:] for line in _text(_OWN_GROUP).splitlines() if line.startswith("0::")), "/")
    folder = _GROUPS / own.strip("/")
    yield from (each for each in (folder, *folder.parents) if each.is_relative_to(_GROUPS))


def _cached_bytes(group: Path) -> int:
    """Return what a group holds of files, which the system takes back where memory is short."""
    lines = dict(line.split(maxsplit=1) for line in _text(group / "memory.stat").splitlines())
    return int(lines.get("inactive_file", 0))


def _available_bytes() -> int:
    for line in _text(_MEMORY).splitlines():
        if line.startswith("MemAvailable:"):
            return 1024 * int(line.split()[1])
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):
        return 2 * WORKER_BYTES


def _number(path: Path) -> int | None:
    text = _text(path).strip()
    return int(text) if text.isdigit() else None


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii")
    except (OSError, ValueError):
        return ""
