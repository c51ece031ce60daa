"""Writes a file whole or not at all."""

import contextlib
import secrets
from pathlib import Path

from sizing.base.errors import OutputError


def write_whole(path: str | Path, data: str | bytes) -> None:
    """Write a file so that no reader, and no power cut, leaves half of it.

    The data goes to a new file in the same folder, which then replaces the target in one step.
    Text is written as UTF-8, its line ends unchanged.

    Raises
    ------
    OutputError
        The file cannot be written; a file that was there before is unchanged.
    """
    content = data.encode() if isinstance(data, str) else data
    # If the path is a link, the file that it points to is replaced, not the link.
    target = Path(path).resolve()
    try:
        if target.exists() and not target.is_file():
            # A pipe or a terminal can only be written to directly; for a folder this raises.
            target.write_bytes(content)
        else:
            _replace(target, content)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"{path} cannot be written ({reason}): choose another name or folder") from error


def _replace(target: Path, content: bytes) -> None:
    """Write a file beside the target and rename it to the target; delete it on failure."""
    # 200 characters leave room for the rest of the name within the usual limit of 255 bytes.
    beside = target.with_name(f".{target.name[:200]}.{secrets.token_hex(4)}.part")
    try:
        beside.write_bytes(content)
        if target.exists():
            beside.chmod(target.stat().st_mode & 0o777)
        beside.replace(target)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
