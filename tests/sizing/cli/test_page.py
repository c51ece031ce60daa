"""`strandgauge page` says where it is, answers there, lets phones in if asked, and ends when told to."""

import contextlib
import os
import re
import shlex
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from click.testing import CliRunner

from sizing.cli.main import cli
from sizing.cli.page import NOT_ENCRYPTED, drawn_code
from sizing.web.doors import home_address
from tests.helpers.paths import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
LINES = re.findall(r"^    strandgauge (page.*)$", README, re.MULTILINE)


@contextlib.contextmanager
def running(*words: str, settings: Path) -> Iterator[tuple[str, "subprocess.Popen[str]"]]:
    """Run the command until the test is over; give the address that it prints."""
    command = [sys.executable, "-m", "sizing", *words, "--no-browser"]
    environment = os.environ | {"STRANDGAUGE_SETTINGS": str(settings), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        try:
            first = process.stdout.readline()
            found = re.search(r"http://127\.0\.0\.1:\d+", first)
            assert found, first
            yield found[0], process
        finally:
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=30)


def status(url: str | urllib.request.Request) -> int:
    """Return how a page is answered."""
    try:
        with urllib.request.urlopen(url, timeout=30) as answer:  # noqa: S310 - our own
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code


def test_readme_names_the_page() -> None:
    assert LINES == ["page", "page --phone"]


def test_the_page_answers_this_computer_and_ends_without_a_word(tmp_path: Path) -> None:
    with running(*shlex.split(LINES[0]), settings=tmp_path) as (url, process):
        assert status(f"{url}/") == 200
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)
        assert (out, err) == ("", "")
        assert process.returncode == 128 + signal.SIGINT


def test_phones_find_a_code_and_nothing_else(tmp_path: Path) -> None:
    home = home_address()
    if not home:  # without a network it says so
        result = CliRunner().invoke(cli, ["page", "--phone", "--no-browser"])
        assert "in no network" in result.stderr
        return
    with running(*shlex.split(LINES[1]), settings=tmp_path) as (url, process):
        assert process.stdout is not None
        said = "".join(iter(process.stdout.readline, f"{NOT_ENCRYPTED}\n"))
        there = url.replace("127.0.0.1", home)
        assert re.search(rf"{re.escape(there)}/pair#[\w-]{{32}}\n", said)
        assert status(f"{there}/") == 403
        assert status(f"{there}/pair") == 200
        assert status(f"{url}/") == 200


def test_phones_are_let_in_from_the_page(tmp_path: Path) -> None:
    home = home_address()
    with running("page", settings=tmp_path) as (url, _):
        asked = urllib.request.Request(  # noqa: S310 - our own
            f"{url}/phones/open", b"{}", {"Origin": url, "Content-Type": "application/json"}
        )
        assert status(asked) == (200 if home else 400)
        if home:
            there = url.replace("127.0.0.1", home)
            assert [status(f"{there}{path}") for path in ("/", "/pair")] == [403, 200]
            assert status(asked) == 200  # which changes nothing
        assert status(f"{url}/phones") == 200


def test_a_code_is_black_on_white_whatever_the_terminal_is() -> None:
    """ISO/IEC 18004: a quiet zone of four light modules, and dark corners of seven."""
    lines = drawn_code("http://192.168.1.20:8321/pair#secret").splitlines()
    coloured = [
        re.fullmatch(r"\x1b\[38;5;231;48;5;16m([ \u2580\u2584\u2588]+)\x1b\[0m", line) for line in lines
    ]
    rows = [found[1] for found in coloured if found]
    assert len(rows) == len(lines)
    light, lower = "\N{FULL BLOCK}", "\N{LOWER HALF BLOCK}"
    assert rows[0] == rows[1] == light * len(rows[0])
    assert rows[2][:12] == f"{light * 4} {lower * 5} {light}"


def test_a_port_that_is_taken_is_told() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        result = CliRunner().invoke(cli, ["page", "--no-browser", "--port", str(port)])
    assert result.exit_code == 2
    assert f"port {port} of 127.0.0.1 is taken by another program" in result.stderr


def test_a_certificate_needs_its_key_and_must_be_one(tmp_path: Path) -> None:
    file = tmp_path / "odd.pem"
    file.write_text("no certificate")
    alone = CliRunner().invoke(cli, ["page", "--certificate", str(file)])
    assert "belong together" in alone.stderr
    odd = CliRunner().invoke(cli, ["page", "--no-browser", "--certificate", str(file), "--key", str(file)])
    assert odd.exit_code == 2
    assert "the certificate cannot be used" in odd.stderr


def test_a_pipe_is_no_certificate(tmp_path: Path) -> None:
    """It would be waited for, as nobody writes into it."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    words = ["page", "--no-browser", "--certificate", str(pipe), "--key", str(pipe)]
    refused = CliRunner().invoke(cli, words)
    assert refused.exit_code == 2
    assert "is no file" in refused.stderr
