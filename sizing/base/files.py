"""Writes a file whole or not at all."""

import contextlib
import os
import secrets
from pathlib import Path

from sizing.base.errors import OutputError


def write_whole(path: str | Path, data: str | bytes) -> None:
    """Write a file so that a reader, or a power cut, never sees half of it.

    The data goes to a new file beside the target, which then takes the target's place in one step.
    Text is written as UTF-8 with the line ends it has.

    Raises
    ------
    OutputError
        The file cannot be written; whatever stood there before still stands.
    """
    content = data.encode() if isinstance(data, str) else data
    # The link's own target is replaced, not the link.
    target = Path(path).resolve()
    try:
        if target.exists() and not target.is_file():
            # A pipe or a terminal takes data as it comes; a folder complains by itself.
            target.write_bytes(content)
        else:
            _replace(target, content)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"{path} cannot be written ({reason}): choose another name or folder") from error


def _replace(target: Path, content: bytes) -> None:
    """Write beside the target and move into its place; leave nothing behind on failure."""
    beside = target.with_name(f".{target.name[:200]}.{secrets.token_hex(4)}.part")
    try:
        beside.write_bytes(content)
        if target.exists():
            beside.chmod(target.stat().st_mode & 0o777)
        os.replace(beside, target)  # noqa: PTH105 - the name of the guarantee
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
