"""What goes wrong around the program ends in one line: full disks, closed pipes, stops, too little memory."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from sizing.base.errors import SizingError
from sizing.cli.main import cli
from tests.helpers.paths import ROOT, SAMPLES
from vision.common.errors import PhotoError

PROGRAM = (sys.executable, "-m", "sizing")
PLAN = ("plan", "--strung", "160mm", "--bead", "8mm")
REFUSED, NOT_MEASURED, STOPPED = 2, 3, 130


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("strand",), "Error: Missing argument 'PHOTO' (see strandgauge strand --help)"),
        (("measure",), "Error: No such command 'measure' (see strandgauge --help)"),
        (("lot",), "Error: Missing argument 'PHOTO...' (see strandgauge lot --help)"),
        ((*PLAN, "x\ny.toml"), "Error: Invalid value for '[PIECE.toml]': File 'x\\ny.toml' does not exist."),
        (
            ("strand", "x\ny\x1b[2J.jpg"),
            "Error: x\\ny\\x1b[2J.jpg: no such file; check the name and the folder.",
        ),
    ],
)
def test_an_error_is_one_line(words: tuple[str, ...], line: str) -> None:
    done = subprocess.run([*PROGRAM, *words], capture_output=True, text=True, check=False)
    assert done.stderr == f"{line}\n"
    assert done.stdout == ""
    assert done.returncode == (NOT_MEASURED if words[-1].endswith(".jpg") else REFUSED)


@pytest.mark.parametrize(
    "words",
    [
        ("lot", "photo.jpg", "--by", "x" * 5000),
        ("lot", "photo.jpg", "--step", "x" * 5000),
        ("lot", "photo.jpg", "--step", "9" * 5000 + "mm"),
        ("lot", "x" * 5000),
        ("strand", "x/" * 2500),
        ("x" * 5000,),
        (f"--{'x' * 5000}",),
        (*PLAN, "--csv", "x" * 5000),
        ("check", "photo.jpg", "--label", "x" * 5000),
        ("plan", "--strung", "160mm", "--bead", "x" * 5000),
    ],
    ids=lambda words: " ".join(words)[:20],
)
def test_long_values_are_shortened(words: tuple[str, ...]) -> None:
    result = run(*words)
    assert result.exit_code in {REFUSED, NOT_MEASURED}
    [line] = result.stderr.splitlines()
    assert len(line) < 500


def test_typing_nothing_shows_the_help() -> None:
    result = run()
    assert result.exit_code == REFUSED
    assert "strandgauge sheet --paper a4" in result.stderr


@pytest.mark.parametrize(
    "words", [PLAN, (*PLAN, "--json"), ("plan", "--example"), ("--help",), ("--version",)]
)
def test_a_full_disk_behind_standard_output_is_one_line(words: tuple[str, ...]) -> None:
    # Every write to this device fails as on a full disk: full(4).
    with Path("/dev/full").open("w") as full:
        done = subprocess.run([*PROGRAM, *words], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == REFUSED
    assert done.stderr == "Error: the answer cannot be written (No space left on device): free some space\n"


def test_a_full_disk_behind_both_streams_changes_no_exit_code() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run([*PROGRAM, "plan", "--strung", "1"], stdout=full, stderr=full, check=False)
    assert done.returncode == REFUSED


def test_a_reader_that_stops_reading_is_no_error() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([*PROGRAM, *PLAN], stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_terminal_without_our_letters_still_gets_the_answer() -> None:
    plain = os.environ | {"PYTHONIOENCODING": "ascii"}
    done = subprocess.run([*PROGRAM, *PLAN], capture_output=True, env=plain, check=False)
    assert done.returncode == 0
    assert done.stdout.isascii()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("after_s", [0.05, 0.15, 0.3, 0.6, 1.2])
def test_a_stop_ends_the_program_without_a_word(number: signal.Signals, after_s: float) -> None:
    words = (*PROGRAM, "strand", str(SAMPLES / "anklet.jpg"))
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT) as running:
        wait_for_handler(running.pid)
        time.sleep(after_s)
        running.send_signal(number)
        stdout, stderr = running.communicate(timeout=60)
    assert (stdout, stderr) == (b"", b"")
    assert running.returncode == 128 + number


def wait_for_handler(process: int) -> None:
    """Wait until the program catches signals: Python itself takes some hundredths of a second to start."""
    mask = 1 << (signal.SIGTERM - 1)
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        status = Path(f"/proc/{process}/status").read_text(encoding="utf-8")
        caught = int(next(line.split()[1] for line in status.splitlines() if line.startswith("SigCgt")), 16)
        if caught & mask:
            return
        time.sleep(0.001)


@pytest.mark.parametrize(
    ("error", "code", "said"),
    [
        (PhotoError("too dark:\nlamp"), NOT_MEASURED, "Error: too dark:\\nlamp"),
        (SizingError("7 has no unit"), REFUSED, "Error: 7 has no unit"),
        (MemoryError(), NOT_MEASURED, "there is too little memory: close other programs"),
        (
            RuntimeError("OpenCV: (-4:Insufficient memory) Failed to allocate"),
            NOT_MEASURED,
            "too little memory",
        ),
        (ImportError("libx.so: failed to map segment from shared object"), NOT_MEASURED, "too little memory"),
        (OSError(28, "No space left on device"), REFUSED, "cannot be written (No space left on device)"),
        (KeyboardInterrupt(), STOPPED, ""),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else None,
)
def test_every_error_has_its_exit_code(
    monkeypatch: pytest.MonkeyPatch, error: BaseException, code: int, said: str
) -> None:
    def fail(_: object) -> None:
        raise error

    monkeypatch.setattr("sizing.cli.plan.make_plan", fail)
    result = run(*PLAN)
    assert result.exit_code == code
    assert said in result.stderr
    assert result.stdout == ""
    assert len(result.stderr.strip().splitlines()) <= 1


def test_a_mistake_of_ours_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sizing.cli.plan.make_plan", lambda _: 1 // 0)
    assert isinstance(run(*PLAN).exception, ZeroDivisionError)
