"""Reads files without waiting or filling the memory, and writes them whole or not at all."""

import contextlib
import errno
import os
import re
import secrets
import select
import stat
import time
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from socket import gethostname
from typing import IO

from sizing.base.errors import OutputError, PieceError

MOST_READ_BYTES = 16_000_000
"""A saved measurement of 10 000 beads takes half of it; an endless file ends here."""
_WAIT_S = 10.0  # for somebody to write into a named pipe; the output of a command before us is waited for
_READ_BYTES = 1 << 16  # what a pipe holds on Linux
_OLD_S = 3600.0  # nothing is written for an hour

# Of a file that is being written: the name of the file, and computer and process that write it. Nobody else
# names files so, and a reader of the folder can tell whether the process is still there.
_PART = re.compile(r"\..*\.strandgauge-(?P<host>[0-9a-f]{8})-(?P<process>[0-9]{1,9})-[0-9a-f]{8}\.part")
# 150 letters leave room for the rest of the name within the usual limit of 255 bytes, in most scripts.
_NAME_KEPT = 150
_writing: set[Path] = set()


def read_text(path: str | Path) -> str:
    """Read a text file, or what comes through a pipe, up to `MOST_READ_BYTES`.

    Raises
    ------
    PieceError
        It cannot be read, is too large or is not text in UTF-8; or nothing comes through the pipe.
    """
    try:
        content = _read(path)
    except OSError as error:
        raise PieceError(f"{path} cannot be read ({_reason(error)}): check its name") from error
    if len(content) > MOST_READ_BYTES:
        most = f"{MOST_READ_BYTES // 1_000_000} MB"
        raise PieceError(f"{path} is larger than {most}, more than any piece or measurement: check its name")
    try:
        return content.decode()
    except UnicodeDecodeError as error:
        raise PieceError(f"{path} is not plain text: save it again as plain text in UTF-8") from error


def write_whole(path: str | Path, data: str | bytes) -> None:
    """Write a file so that no reader, and no power cut, leaves half of it.

    The data goes to a new file in the same folder, which then replaces the target in one step.
    Text is written as UTF-8, its line ends unchanged.

    Raises
    ------
    OutputError
        The file cannot be written; a file that was there before is unchanged.
    """
    # Half of a character pair, as in a file name that is not UTF-8, has no bytes of its own.
    content = data.encode("utf-8", "backslashreplace") if isinstance(data, str) else data
    write_whole_by(path, lambda stream: stream.write(content))


def write_whole_by(path: str | Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write a file as `write_whole` does, piece by piece: `write` writes them into a stream.

    Raises
    ------
    OutputError
        As `write_whole`.
    """
    with _refusal(path):
        target = _behind_links(path)
        if is_stream(target):
            _write_into(target, write)
        else:
            _replace(target, write)


def try_writing(path: str | Path) -> None:
    """Find out whether `write_whole` can write a file, and delete what killed runs left in its folder.

    Raises
    ------
    OutputError
        As `write_whole` would.
    """
    with _refusal(path):
        target = _behind_links(path)
        if target.exists() and not os.access(target, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        if not is_stream(target):
            _remove_left_parts(target.parent)
            with _part_of(target) as part:
                part.touch(exist_ok=False)


def is_stream(path: str | Path) -> bool:
    """Return whether a path is a pipe, a terminal or another thing that can only be written into."""
    try:
        mode = Path(path).stat().st_mode
    except (OSError, ValueError):  # it does not exist, or no file can have this name
        return False
    return not stat.S_ISREG(mode) and not stat.S_ISDIR(mode)


def discard_parts() -> None:
    """Delete the files that are being written; for a program that is told to stop at once."""
    for part in tuple(_writing):
        with contextlib.suppress(OSError):
            part.unlink()


def _read(path: str | Path) -> bytes:
    """Read up to a byte more than may be read; a named pipe is waited for, but not for ever."""
    # Opening a pipe that nobody writes to would wait.
    number = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(number, "rb", buffering=0) as stream:  # noqa: PTH123 - opened by number
        if stat.S_ISREG(os.fstat(number).st_mode):
            return stream.read(MOST_READ_BYTES + 1)
        wait_s = _WAIT_S if Path(os.path.realpath(path)).is_fifo() else None
        content = b""
        while len(content) <= MOST_READ_BYTES:
            if not select.select([number], [], [], wait_s)[0]:
                raise TimeoutError(errno.ETIMEDOUT, f"nothing came through this pipe for {wait_s:g} s")
            came = stream.read(_READ_BYTES)
            if not came:
                return content
            content += came
        return content


@contextlib.contextmanager
def _refusal(path: str | Path) -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError) as error:  # a name with a null character is a ValueError
        raise OutputError(
            f"{path} cannot be written ({_reason(error)}): choose another name or folder"
        ) from error


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)


def _behind_links(path: str | Path) -> Path:
    """Return the file that a path leads to: if the path is a link, that file is replaced, not the link.

    Raises
    ------
    OSError
        It is a folder, or links lead in a circle.
    """
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if target.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
    return target


def _write_into(target: Path, write: Callable[[IO[bytes]], object]) -> None:
    is_pipe = target.is_fifo()
    try:
        # Opening a pipe that nobody reads would wait.
        number = os.open(target, os.O_WRONLY | (os.O_NONBLOCK if is_pipe else 0))
    except OSError as error:
        if is_pipe and error.errno == errno.ENXIO:
            raise OSError(errno.ENXIO, "no program reads this pipe") from error
        raise
    with open(number, "wb") as stream:  # noqa: PTH123 - opened by number
        if is_pipe:
            os.set_blocking(number, True)
        write(stream)


def _replace(target: Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write a file beside the target and rename it to the target."""
    with _part_of(target) as part:
        with part.open("xb") as stream:
            write(stream)
            stream.flush()
            os.fsync(stream.fileno())  # before the name changes, or a power cut may leave an empty file
        if target.exists():
            part.chmod(target.stat().st_mode & 0o777)
        part.replace(target)


@contextlib.contextmanager
def _part_of(target: Path) -> Iterator[Path]:
    """Give the path for a file that is being written; what still has that name at the end is deleted."""
    end = f".strandgauge-{computer_mark()}-{os.getpid()}-{secrets.token_hex(4)}.part"
    part = target.with_name(f".{target.name[:_NAME_KEPT]}{end}")
    _writing.add(part)
    try:
        yield part
    finally:
        with contextlib.suppress(OSError):
            part.unlink()
        _writing.discard(part)


def _remove_left_parts(folder: Path) -> None:
    """Delete files that a killed run was writing in a folder."""
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if (match := _PART.fullmatch(entry.name)) and _is_left(entry, match):
                with contextlib.suppress(OSError):
                    Path(entry.path).unlink()


def _is_left(entry: "os.DirEntry[str]", match: re.Match[str]) -> bool:
    """Return whether nobody writes a part any more: it is old, or its process on this computer is gone."""
    try:
        written = entry.stat(follow_symlinks=False)
    except OSError:
        return False
    if not stat.S_ISREG(written.st_mode):
        return False
    is_gone = match["host"] == computer_mark() and not process_runs(int(match["process"]))
    return is_gone or time.time() - written.st_mtime > _OLD_S


def computer_mark() -> str:
    """Return a short mark of this computer: folders are shared between computers, process numbers are not."""
    return f"{zlib.crc32(gethostname().encode()):08x}"


def process_runs(process: int) -> bool:
    """Return whether a process of this computer runs."""
    if os.name == "nt":  # where signal 0 would end it
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):  # it is somebody else's
        return True
    return True
