"""Photos that were sent and are not measured yet: files of our own names in a private folder."""

import asyncio
import contextlib
import errno
import os
import re
import secrets
import shutil
import tempfile
import time
from collections.abc import AsyncIterator, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from sizing.base.files import computer_mark, process_runs
from sizing.web.measuring.limits import Limits

_KEPT_S = 900.0  # a photo that nobody asks to measure goes after a quarter of an hour
_HEAD_BYTES = 12
_FOLDER = "strandgauge-page-"
_LEFT = re.compile(_FOLDER + r"(?P<host>[0-9a-f]{8})-(?P<process>[0-9]{1,9})-.*")
_HEIF_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1"})  # ISO/IEC 23008-12
_NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
_TIFF_HEADS = frozenset({b"II*\0", b"MM\0*"})


class RefusedPhotoError(Exception):
    """A photo is not received; says why and what to do.

    Attributes
    ----------
    status : int
        Of HTTP: 408, 413, 415, 503, 507.
    """

    def __init__(self, status: int, message: str) -> None:
        super().__init__(message)
        self.status = status


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    path: Path
    size: int
    since_s: float


class Inbox:
    """Receives photos, and hands them out once.

    Attributes
    ----------
    folder : Path
        Where they lie; nobody else may read it.
    """

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        _remove_left()
        own = f"{_FOLDER}{computer_mark()}-{os.getpid()}-"
        self.folder = Path(tempfile.mkdtemp(prefix=own))
        self._kept: dict[str, _Kept] = {}
        self._sending = 0

    async def receive(self, chunks: AsyncIterator[bytes]) -> str:
        """Write a photo as it comes and return the word by which it is asked for.

        Raises
        ------
        RefusedPhotoError
            It is too large, no photo, comes too slowly, there is no room for it now, or the disk is full.
        """
        self._drop_old()
        if self._sending >= self._limits.sending or self._bytes() > self._limits.inbox_bytes:
            raise RefusedPhotoError(503, "too many photos are being sent now: try again in a minute")
        word = secrets.token_urlsafe(16)
        path = self.folder / f"{secrets.token_hex(8)}.photo"
        self._sending += 1
        try:
            with _told():
                size = await self._write(path, chunks)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        finally:
            self._sending -= 1
        self._kept[word] = _Kept(path=path, size=size, since_s=time.monotonic())
        return word

    def take(self, words: Iterable[str]) -> list[Path] | None:
        """Hand out the files of photos; None, and none of them, where one is not there."""
        words = list(words)
        if len(set(words)) != len(words) or any(word not in self._kept for word in words):
            return None
        return [self._kept.pop(word).path for word in words]

    def close(self) -> None:
        """Delete all files."""
        shutil.rmtree(self.folder, ignore_errors=True)

    async def _write(self, path: Path, chunks: AsyncIterator[bytes]) -> int:
        head, size = b"", 0
        until_s = asyncio.get_running_loop().time() + self._limits.arrival_s
        with path.open("xb") as file:
            while (chunk := await self._next(chunks, until_s)) is not None:
                size += len(chunk)
                if size > self._limits.photo_bytes:
                    most = f"{self._limits.photo_bytes // 1_000_000} MB"
                    raise RefusedPhotoError(
                        413, f"the photo is larger than {most}: send it at a smaller size"
                    )
                if len(head) < _HEAD_BYTES:
                    head = (head + chunk)[:_HEAD_BYTES]
                    _check_kind(head, whole=False)
                file.write(chunk)
        _check_kind(head, whole=True)
        return size

    async def _next(self, chunks: AsyncIterator[bytes], until_s: float) -> bytes | None:
        silent_s = asyncio.get_running_loop().time() + self._limits.silence_s
        async with asyncio.timeout_at(min(silent_s, until_s)):
            return await anext(chunks, None)

    def _bytes(self) -> int:
        return sum(each.size for each in self._kept.values())

    def _drop_old(self) -> None:
        now = time.monotonic()
        for word, each in list(self._kept.items()):
            if now - each.since_s > _KEPT_S:
                del self._kept[word]
                each.path.unlink(missing_ok=True)


def is_photo(head: bytes) -> bool:
    """Return whether a file that begins so is of a kind that a worker opens.

    Examples
    --------
    >>> is_photo(bytes.fromhex("ffd8ffe000104a4649460001")), is_photo(b"<html><body>")
    (True, False)
    """
    return (
        head.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"))
        or head[:4] in _TIFF_HEADS
        or (head[:4] == b"RIFF" and head[8:12] == b"WEBP")
        or (head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS)
    )


@contextlib.contextmanager
def _told() -> Iterator[None]:
    """Say what goes wrong on the way in words for who sends a photo."""
    try:
        yield
    except TimeoutError:
        raise RefusedPhotoError(408, "the photo did not arrive: send it again") from None
    except OSError as error:
        if error.errno not in _NO_ROOM:
            raise
        full = "the computer's disk is full: free some space there, then send the photo again"
        raise RefusedPhotoError(507, full) from error


def _remove_left() -> None:
    """Delete folders that a killed server left."""
    for folder in Path(tempfile.gettempdir()).glob(f"{_FOLDER}*"):
        match = _LEFT.fullmatch(folder.name)
        if match and match["host"] == computer_mark() and not process_runs(int(match["process"])):
            shutil.rmtree(folder, ignore_errors=True)


def _check_kind(head: bytes, *, whole: bool) -> None:
    if (whole or len(head) >= _HEAD_BYTES) and not is_photo(head):
        raise RefusedPhotoError(415, "this file is no photo: send a JPEG, PNG, TIFF, WebP or HEIC picture")
