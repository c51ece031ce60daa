"""Opens the stash book to read it, or to change it in one transaction: whole and on the disk, or not at all.

Any number of programs may read while one writes. A second writer waits, then gives up with one line.
"""

import contextlib
import os
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

from platformdirs import user_data_path

from sizing.base.errors import StashError
from sizing.stash.schema import STEPS, take_steps, version_of

Book = sqlite3.Connection
"""An open stash book, as the functions of this room take it."""

DATA_VARIABLE = "STRANDGAUGE_DATA"
"""The environment variable that names another data folder."""
_FILE = "stash.sqlite3"

BUSY_S = 5.0
"""A writer waits so long for another; one change takes a few hundredths of it, a large import about one."""
_ASK_AGAIN_S = 0.01

# What SQLite's primary result codes mean for a maker (sqlite.org, "Result and Error Codes").
_TOLD = {
    sqlite3.SQLITE_BUSY: "is being changed by another program: try again in a moment",
    sqlite3.SQLITE_FULL: "cannot be written, as the disk is full: free some space, nothing was changed",
    sqlite3.SQLITE_READONLY: "may not be written: check the permissions of its folder",
    sqlite3.SQLITE_PERM: "may not be opened: check the permissions of its folder",
    sqlite3.SQLITE_CANTOPEN: "cannot be opened: check the permissions of its folder",
    sqlite3.SQLITE_IOERR: "cannot be read or written: check the disk, nothing was changed",
    sqlite3.SQLITE_CORRUPT: "is damaged: move it away, then import what you exported last",
    sqlite3.SQLITE_NOTADB: "is no stash book: move it away, then import what you exported last",
}


_NO_TEXT = "Could not decode"
"""How Python begins, without a code, where a text in the book is none any more."""


def stash_file() -> Path:
    """Return the file of the stash book, in the user's own data folder; it need not exist yet."""
    named = os.environ.get(DATA_VARIABLE)
    return (Path(named) if named else user_data_path("strandgauge", appauthor=False)) / _FILE


@contextlib.contextmanager
def reading() -> Iterator[Book]:
    """Open the stash book to look something up; where there is none yet, an empty one in memory.

    Raises
    ------
    StashError
        It cannot be opened, is damaged, or is of a newer version.

    Examples
    --------
    >>> with reading() as book:
    ...     book.execute("SELECT count(*) FROM entry").fetchone()[0]
    0
    """
    path = stash_file()
    with _refusal(path):
        if not _is_there(path):
            with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as book:
                take_steps(book, STEPS)
                yield book
            return
        with contextlib.closing(_connect(path, writes=False)) as book:
            if version_of(book) < len(STEPS):
                with writing():
                    pass
            book.execute("BEGIN")  # one state of the book, whatever is written meanwhile
            take_steps(book, STEPS)  # refuses a newer version
            yield book


@contextlib.contextmanager
def writing() -> Iterator[Book]:
    """Open the stash book for one change, and make it where there is none.

    What is done inside is kept for good when the block ends, and undone where it raises.

    Raises
    ------
    StashError
        It cannot be written, another program is writing, or it is damaged or of a newer version.
    """
    path = stash_file()
    with _refusal(path):
        _make_folder(path.parent)
        with contextlib.closing(_connect(path, writes=True)) as book:
            book.execute("BEGIN IMMEDIATE")
            try:
                take_steps(book, STEPS)
                yield book
                book.execute("COMMIT")
            finally:
                if book.in_transaction:
                    book.execute("ROLLBACK")


def told(error: sqlite3.Error, path: Path) -> StashError | None:
    """Return what an error of the database means for a maker; None where it is a mistake of ours."""
    primary = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    if str(error).startswith(_NO_TEXT):
        primary = sqlite3.SQLITE_CORRUPT
    return StashError(f"the stash book {path} {_TOLD[primary]}") if primary in _TOLD else None


@contextlib.contextmanager
def _refusal(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        refused = told(error, path)
        if refused is None:
            raise
        raise refused from error


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError as error:
        raise StashError(
            f"the stash book {path} cannot be opened ({error.strerror}): check the permissions of its folder"
        ) from error


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StashError(
            f"the folder {folder} for the stash book cannot be made ({error.strerror}): check its permissions"
        ) from error


def _connect(path: Path, *, writes: bool) -> Book:
    """Open the file; to read it only, also in a folder where nothing may be written."""
    mode = "rwc" if writes else "rw" if os.access(path.parent, os.W_OK) else "ro&immutable=1"
    if "immutable" in mode and path.with_name(f"{path.name}-wal").exists():
        raise StashError(f"the stash book {path} has unfinished changes: make its folder writable")
    # Threads of a server may hand a connection on, one at a time.
    book = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=BUSY_S,
        isolation_level=None,
        check_same_thread=False,
    )
    try:
        book.execute("PRAGMA foreign_keys = ON")
        if writes:
            if version_of(book) == 0:
                # The room of a deleted photo is given back; only a file without tables takes this setting.
                book.execute("PRAGMA auto_vacuum = FULL")
            _write_ahead(book)
            book.execute("PRAGMA synchronous = FULL")
    except BaseException:
        book.close()
        raise
    return book


def _write_ahead(book: Book) -> None:
    """Have changes written to a log first (WAL), so that readers need not wait.

    Where two programs make one book at once each would wait for the other here, so SQLite refuses instead of
    waiting (sqlite.org, "sqlite3_busy_handler"); the one that is refused asks again.
    """
    given_up = time.monotonic() + BUSY_S
    while True:
        try:
            book.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > given_up:
                raise
            time.sleep(_ASK_AGAIN_S)
        else:
            return
