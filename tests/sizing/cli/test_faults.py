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
        (("strand",), "Error: Missing argument 'PHOTO...' (see strandgauge strand --help)"),
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


TELLS_WHEN_IT_CATCHES_SIGNALS = """
import signal
real = signal.signal
def set_and_tell(*words):
    real(*words)
    signal.signal = real
    print("ready", flush=True)
signal.signal = set_and_tell
from sizing.__main__ import main
main()
"""


@pytest.mark.parametrize("after_s", [0.0, 0.05, 0.15, 0.3, 0.6, 1.2])
def test_ctrl_c_ends_the_program_without_a_word(after_s: float) -> None:
    words = (sys.executable, "-c", TELLS_WHEN_IT_CATCHES_SIGNALS, "strand", str(SAMPLES / "anklet.jpg"))
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT
    ) as running:
        assert running.stdout is not None
        assert running.stdout.readline() == "ready\n"
        time.sleep(after_s)
        running.send_signal(signal.SIGINT)
        stdout, stderr = running.communicate(timeout=60)
    assert (stdout, stderr) == ("", "")
    assert running.returncode == STOPPED


SHORT_OF_MEMORY = """
import re, resource, sys
taken = 1024 * int(re.search(r"VmSize:\\s+(\\d+) kB", open("/proc/self/status").read())[1])
resource.setrlimit(resource.RLIMIT_AS, (taken + int(sys.argv.pop(1)),) * 2)
from sizing.__main__ import main
main()
"""


@pytest.mark.parametrize("left_mb", [150, 400, 700, 900, 1100])
def test_too_little_memory_is_one_line(left_mb: int) -> None:
    # What the libraries take at their start depends on the cores; beyond it too little is left to measure.
    words = (sys.executable, "-c", SHORT_OF_MEMORY, str(left_mb << 20), "strand", str(SAMPLES / "anklet.jpg"))
    done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == NOT_MEASURED
    assert "too little memory" in done.stderr
    assert len(done.stderr.splitlines()) == 1


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
        (
            RuntimeError("[ONNXRuntimeError] : 1 : FAIL : Failed to allocate memory for requested buffer"),
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

    monkeypatch.setattr("sizing.piece.plan.make_plan", fail)
    result = run(*PLAN)
    assert result.exit_code == code
    assert said in result.stderr
    assert result.stdout == ""
    assert len(result.stderr.strip().splitlines()) <= 1


def test_a_mistake_of_ours_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sizing.piece.plan.make_plan", lambda _: 1 // 0)
    assert isinstance(run(*PLAN).exception, ZeroDivisionError)


LOT_BEAD = '{"max_feret_mm": %s, "min_feret_mm": %s, "max_feret_u95_mm": 0.1}'


@pytest.mark.parametrize(
    "content",
    [
        *(f'{{"beads": [{LOT_BEAD % (size, size)}]}}' for size in ("0", "NaN", "-8", "1e308", "9" * 5000)),
        '{"beads": ' + "[" * 1000 + "]" * 1000 + "}",
        '{"beads": [' + ",".join([LOT_BEAD % (8, 8)] * 40_000) + "]}",
        '{"beads": [' + ",".join(['{"along_mm": 8}'] * 40_000) + "]}",
    ],
    ids=["zero", "NaN", "negative", "1e308", "5000 digits", "1000 levels", "40 000 loose", "40 000 strung"],
)
def test_a_measurement_out_of_reason_is_one_line(tmp_path: Path, content: str) -> None:
    path = tmp_path / "beads.json"
    path.write_text(content)
    result = run("plan", "--strung", "16cm", "--beads", path)
    assert result.exit_code == REFUSED
    assert len(result.stderr.splitlines()) == 1
    assert "beads.json" in result.stderr


def test_a_piece_file_nested_3000_deep_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "deep.toml"
    path.write_text("a = " + "[" * 3000 + "]" * 3000)
    result = run("plan", path)
    assert result.exit_code == REFUSED
    assert result.stderr.startswith("Error: deep.toml, line 1: over 20 brackets lie inside each other")
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.parametrize("option", ["--beads", "--piece"])
def test_an_endless_file_is_one_line(option: str) -> None:
    command = ("plan", "--strung", "16cm") if option == "--beads" else ("strand", SAMPLES / "anklet.jpg")
    result = run(*command, option, "/dev/zero")
    assert result.exit_code == REFUSED
    assert "/dev/zero is larger than 16 MB" in result.stderr
