"""Every earlier version of the stash book comes to the newest one, whole or not at all."""

import sqlite3

import pytest

from sizing.base.errors import StashError
from sizing.stash import book as book_module
from sizing.stash.book import reading, stash_file, writing
from sizing.stash.entries import entries
from sizing.stash.schema import STEPS, Steps, take_steps, version_of
from sizing.stash.soundness import problems
from tests.helpers.stash import kept

# A schema of its own with three steps: a table, a column filled from another, a table made anew.
SYNTHETIC: Steps = (
    ("CREATE TABLE bead (size TEXT)", "INSERT INTO bead VALUES ('8 mm'), ('6 mm')"),
    ("ALTER TABLE bead ADD COLUMN mm REAL", "UPDATE bead SET mm = CAST(size AS REAL)"),
    ("CREATE TABLE kept (mm REAL NOT NULL)", "INSERT INTO kept SELECT mm FROM bead", "DROP TABLE bead"),
)
NEXT = (*STEPS, ("ALTER TABLE entry ADD COLUMN shelf TEXT NOT NULL DEFAULT 'box'",))


@pytest.fixture
def memory() -> sqlite3.Connection:
    return sqlite3.connect(":memory:", isolation_level=None)


@pytest.mark.parametrize("version", range(len(SYNTHETIC) + 1))
def test_every_version_comes_to_the_newest(memory: sqlite3.Connection, version: int) -> None:
    take_steps(memory, SYNTHETIC[:version])
    assert version_of(memory) == version
    take_steps(memory, SYNTHETIC)
    assert version_of(memory) == len(SYNTHETIC)
    assert memory.execute("SELECT mm FROM kept ORDER BY mm").fetchall() == [(6.0,), (8.0,)]


@pytest.mark.parametrize("version", range(len(STEPS) + 1))
def test_every_released_version_comes_to_the_one_of_today(memory: sqlite3.Connection, version: int) -> None:
    take_steps(memory, STEPS[:version])
    take_steps(memory, STEPS)
    new = sqlite3.connect(":memory:", isolation_level=None)
    take_steps(new, STEPS)
    tables = "SELECT name, sql FROM sqlite_master ORDER BY name"
    assert memory.execute(tables).fetchall() == new.execute(tables).fetchall()


@pytest.mark.parametrize("open_book", [reading, writing])
def test_an_older_file_is_brought_up_as_it_is_opened(
    monkeypatch: pytest.MonkeyPatch, open_book: object
) -> None:
    made = kept("blue", [8.0] * 20)
    monkeypatch.setattr(book_module, "STEPS", NEXT)
    with open_book() as book:  # type: ignore[operator]
        assert version_of(book) == len(NEXT)
        assert book.execute("SELECT shelf FROM entry").fetchall() == [("box",)]
        assert entries(book) == [made]
        assert problems(book) == ()


def test_a_step_that_fails_leaves_the_file_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    made = kept("blue", [8.0] * 20)
    with monkeypatch.context() as patched:
        patched.setattr(book_module, "STEPS", (*NEXT, ("CREATE TABLE entry (x)",)))
        with pytest.raises(sqlite3.OperationalError, match="already exists"), writing():
            pass
    with reading() as book:
        assert version_of(book) == len(STEPS)
        assert entries(book) == [made]


@pytest.mark.parametrize("open_book", [reading, writing])
def test_a_newer_file_is_left_alone(monkeypatch: pytest.MonkeyPatch, open_book: object) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(book_module, "STEPS", NEXT)
        kept("blue", [8.0] * 20)
    before = stash_file().read_bytes()
    newer = f"of version {len(NEXT)}, this program knows {len(STEPS)}: install a newer one"
    with pytest.raises(StashError, match=newer), open_book():  # type: ignore[operator]
        pass
    assert stash_file().read_bytes() == before
