"""Nothing that was confirmed is lost, whatever happens: kills, a full disk, a folder to read, two writers."""

import json
import os
import sqlite3
import subprocess
import sys
import tempfile
import threading
from contextlib import closing
from pathlib import Path

import pytest

from sizing.base.errors import StashError
from sizing.stash import book as book_module
from sizing.stash.book import DATA_VARIABLE, reading, stash_file, writing
from sizing.stash.counts import use
from sizing.stash.entries import entries, find, measured_fields
from sizing.stash.photos import insert_photo
from sizing.stash.soundness import problems
from tests.fuzz.__main__ import ONE_THREAD
from tests.helpers.paths import ROOT
from tests.helpers.stash import kept

KILLS = 40
WRITERS, EACH_TAKES = 4, 15


def run(script: str, *words: str) -> str:
    """Run a script in a process of its own, which may fork, and return what it prints."""
    call = [sys.executable, "-c", script, *words]
    env = os.environ | ONE_THREAD
    return subprocess.run(call, stdout=subprocess.PIPE, text=True, cwd=ROOT, env=env, check=True).stdout


def test_there_is_no_book_before_something_is_kept(own_stash: Path) -> None:
    with reading() as book:
        assert entries(book) == []
    assert list(own_stash.iterdir()) == []


def test_the_book_is_one_file_as_safe_as_it_gets(own_stash: Path) -> None:
    kept("blue", [8.0] * 5)
    # The last one to close the book puts everything into the one file.
    assert [path.name for path in own_stash.iterdir()] == [stash_file().name]
    with writing() as book:
        wanted = {"journal_mode": "wal", "foreign_keys": 1, "synchronous": 2, "auto_vacuum": 1}
        assert {name: book.execute(f"PRAGMA {name}").fetchone()[0] for name in wanted} == wanted


def test_the_users_own_folder_is_the_usual_one(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv(DATA_VARIABLE)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))  # XDG Base Directory Specification
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))
    assert tmp_path in stash_file().parents
    assert "strandgauge" in stash_file().parts


def test_what_raises_is_undone() -> None:
    made = kept("blue", [8.0] * 30)
    with pytest.raises(ZeroDivisionError):
        use_and_fail()
    with reading() as book:
        assert entries(book) == [made]


def use_and_fail() -> None:
    with writing() as book:
        use(book, find(book, "blue"), 10)
        raise ZeroDivisionError


KILLED = """
import json, os, random, signal, sys, time
from sizing.stash.book import reading, writing
from sizing.stash.counts import use
from sizing.stash.entries import changes, find
from sizing.stash.photos import insert_photo
from sizing.stash.soundness import problems
from tests.helpers.stash import kept

kept("blue", [8.0] * 20, count=1_000_000)
rng = random.Random(7)

def taken():
    with reading() as book:
        entry = find(book, "blue")
        assert problems(book) == (), problems(book)
        reasons = [change.why for change in changes(book, entry)[1:]]
        assert entry.count == 1_000_000 - len(reasons)
        return reasons

def write(number, out):
    while True:
        with writing() as book:
            entry = find(book, "blue")
            use(book, entry, 1, why=str(number))
            insert_photo(book, entry.number, os.urandom(40_000))
        os.write(out, b"%08d" % number)
        number += 1

confirmed_in_all, number, most_unconfirmed = 0, 0, 0
for _ in range(int(sys.argv[1])):
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ours)
        try:
            write(number, theirs)
        finally:
            os._exit(1)
    os.close(theirs)
    with os.fdopen(ours, "rb") as stream:
        heard = stream.read(8 * rng.randrange(4))
        time.sleep(rng.uniform(0, 0.02))  # up to some changes more, or into the middle of one
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        heard += stream.read()
    confirmed = [str(int(heard[i:i + 8])) for i in range(0, len(heard), 8)]
    found = taken()
    assert found[number:number + len(confirmed)] == confirmed, (number, confirmed, found)
    most_unconfirmed = max(most_unconfirmed, len(found) - number - len(confirmed))
    confirmed_in_all += len(confirmed)
    number = len(found)
assert found == [str(each) for each in range(number)]
print(json.dumps([confirmed_in_all, most_unconfirmed]))
"""


def test_a_kill_at_any_moment_loses_nothing_that_was_confirmed() -> None:
    confirmed, most_unconfirmed = json.loads(run(KILLED, str(KILLS)))
    assert confirmed > KILLS
    # A change may be on the disk though nobody heard of it, but only the last one.
    assert most_unconfirmed <= 1


TOGETHER = """
import sys
from sizing.stash.book import writing
from sizing.stash.counts import use
from sizing.stash.entries import find
sys.stdin.readline()
for _ in range(int(sys.argv[1])):
    with writing() as book:
        use(book, find(book, "blue"), 1)
"""


def test_writers_take_turns() -> None:
    kept("blue", [8.0] * 20, count=100)
    call = [sys.executable, "-c", TOGETHER, str(EACH_TAKES)]
    env = os.environ | ONE_THREAD
    writers = [subprocess.Popen(call, stdin=subprocess.PIPE, cwd=ROOT, env=env) for _ in range(WRITERS)]
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write(b"go\n")
        writer.stdin.close()
    assert [writer.wait() for writer in writers] == [0] * WRITERS
    with reading() as book:
        assert find(book, "blue").count == 100 - WRITERS * EACH_TAKES


def test_writers_who_make_the_book_together_make_one() -> None:
    start = threading.Barrier(WRITERS)
    failed: list[Exception] = []

    def make(number: int) -> None:
        start.wait()
        try:
            kept(f"lot {number}", [8.0] * 5)
        except StashError as error:
            failed.append(error)

    threads = [threading.Thread(target=make, args=(number,)) for number in range(WRITERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    with reading() as book:
        assert len(entries(book)) == WRITERS
        assert problems(book) == ()


def test_a_writer_waits_also_where_the_book_has_no_log_yet() -> None:
    made = kept("blue", [8.0] * 5)
    with closing(sqlite3.connect(stash_file(), isolation_level=None, check_same_thread=False)) as other:
        other.execute("PRAGMA journal_mode = DELETE")
        other.execute("BEGIN IMMEDIATE")
        done = threading.Timer(0.2, other.execute, ["COMMIT"])
        done.start()
        with writing() as book:  # SQLite itself does not wait to begin a log
            assert entries(book) == [made]
        done.join()


def test_a_writer_who_waits_too_long_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    made = kept("blue", [8.0] * 30)
    monkeypatch.setattr(book_module, "BUSY_S", 0.05)
    with writing() as book:
        use(book, made, 10)
        with pytest.raises(StashError, match=r"is being changed by another program: try again in a moment$"):
            kept("green", [8.0] * 5)
        with reading() as other:  # readers see what was there before
            assert entries(other) == [made]
    with reading() as book:
        assert [entry.count for entry in entries(book)] == [20]


def test_a_full_disk_is_one_line_and_nothing_is_changed() -> None:
    made = kept("blue", [8.0] * 30)
    with pytest.raises(StashError, match=r"the disk is full: free some space, nothing was changed$"):
        fill(made.number)
    with reading() as book:
        assert entries(book) == [made]
        assert problems(book) == ()


def fill(number: int) -> None:
    with writing() as book:
        book.execute("PRAGMA max_page_count = 1")  # no less than it has already
        use(book, find(book, number), 10)
        insert_photo(book, number, b"x" * 1_000_000)


ON_A_FULL_DISK = """
import resource, signal
from sizing.base.errors import StashError
from tests.helpers.stash import kept
kept("blue", [8.0] * 30)
# A file that grows beyond this is refused: setrlimit(2), RLIMIT_FSIZE.
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))
for number in range(40):
    try:
        kept(f"lot {number}", [8.0] * 30)
    except StashError as error:
        print(number, error)
        break
"""


def test_a_file_that_cannot_grow_keeps_what_was_confirmed() -> None:
    number, _, line = run(ON_A_FULL_DISK).strip().partition(" ")
    assert "nothing was changed" in line
    assert "\n" not in line
    with reading() as book:
        assert [entry.name for entry in entries(book)] == ["blue", *(f"lot {i}" for i in range(int(number)))]
        assert problems(book) == ()


IN_A_FOLDER_TO_READ = """
import os, sys
from sizing.base.errors import StashError
from sizing.stash.book import reading, stash_file
from sizing.stash.entries import entries
from tests.helpers.stash import kept
if sys.argv[1] == "kept":
    kept("blue", [8.0] * 30)
    stash_file().chmod(0o444)
stash_file().parent.chmod(0o555)
if os.geteuid() == 0:  # who may write everywhere
    os.setuid(65534)
with reading() as book:
    print([entry.name for entry in entries(book)])
try:
    kept("green", [8.0] * 30)
except StashError as error:
    print(error)
"""


@pytest.mark.parametrize(
    ("first", "names", "why"), [("kept", "['blue']", "may not be written"), ("", "[]", "cannot be opened")]
)
def test_a_folder_to_read_can_be_read(
    monkeypatch: pytest.MonkeyPatch, first: str, names: str, why: str
) -> None:
    # pytest's own folders are closed to other users.
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        monkeypatch.setenv(DATA_VARIABLE, f"{folder}/data")
        Path(folder, "data").mkdir()
        found, line = run(IN_A_FOLDER_TO_READ, first).splitlines()
    assert found == names
    assert line.endswith(f"{why}: check the permissions of its folder")


def test_a_folder_that_may_not_be_entered_is_one_line() -> None:
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        said = run(IN_A_CLOSED_FOLDER, f"{folder}/data").splitlines()
    assert said == ["cannot be opened (Permission denied)", "cannot be opened"]


IN_A_CLOSED_FOLDER = """
import os, sys
from sizing.base.errors import StashError
from sizing.stash.book import DATA_VARIABLE, reading, writing
os.environ[DATA_VARIABLE] = sys.argv[1]
os.makedirs(sys.argv[1])
os.chmod(sys.argv[1], 0)
if os.geteuid() == 0:  # who may enter everywhere
    os.setuid(65534)
for open_book in (reading, writing):
    try:
        open_book().__enter__()
    except StashError as error:
        print(str(error).split("stash.sqlite3 ")[1].split(":")[0])
"""


def test_a_folder_that_cannot_be_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "file" / "data"))
    with pytest.raises(StashError, match=r"for the stash book cannot be made \("):
        kept("blue", [8.0])


@pytest.mark.parametrize("content", [b"no database, but long enough to be one" * 40, b"\0" * 8192])
def test_a_file_that_is_no_stash_is_refused_and_left(content: bytes) -> None:
    stash_file().write_bytes(content)
    for attempt in (lambda: kept("blue", [8.0]), look):
        with pytest.raises(StashError, match="is no stash book: move it away"):
            attempt()
    assert stash_file().read_bytes() == content


def look() -> None:
    with reading() as book:
        entries(book)


def test_a_damaged_file_is_found_out() -> None:
    for number in range(20):
        kept(f"lot {number}", [8.0] * 30)
    content = bytearray(stash_file().read_bytes())
    middle = len(content) // 2
    content[middle : middle + 4096] = b"\xaa" * 4096
    stash_file().write_bytes(content)
    assert complaints()


def complaints() -> list[str]:
    """Return what is wrong with the book, also where that is too much to open it."""
    try:
        with reading() as book:
            return list(problems(book))
    except StashError as error:
        return [str(error)]


def test_what_the_tables_refuse_is_a_mistake_of_ours() -> None:
    made = kept("blue", [8.0] * 30)
    with pytest.raises(sqlite3.IntegrityError), writing() as book:
        book.execute("INSERT INTO photo VALUES (?, ?)", (made.number + 1, b"x"))


def test_a_count_below_nothing_is_a_problem() -> None:
    made = kept("blue", [8.0] * 30)
    with writing() as book:
        book.execute("UPDATE change SET beads = -4 WHERE entry = ?", (made.number,))
        assert problems(book) == ("blue: there are -4 beads of size 1",)


@pytest.mark.parametrize("damage", ["'{\"kind\": '", "CAST(x'ff' AS TEXT)"])
def test_a_damaged_measurement_is_told_in_one_line(damage: str) -> None:
    made = kept("blue", [8.0] * 5)
    with writing() as book:
        book.execute(f"UPDATE entry SET measurement = {damage}")  # noqa: S608 - of this test
    with pytest.raises(StashError, match="damaged"), reading() as book:
        measured_fields(book, made)
