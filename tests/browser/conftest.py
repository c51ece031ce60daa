"""One browser for all these tests, and the pages that the commands make of the sample images."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from playwright.sync_api import Browser, sync_playwright

from sizing.cli.main import cli
from sizing.piece.toml.read import PIECE_HELP
from tests.helpers.pages import PAGES
from tests.helpers.paths import SAMPLES

COMMANDS = {
    "strand": ("strand", SAMPLES / "anklet.jpg", "--finished", "25cm", "--findings", "22mm"),
    "mixed strand": ("strand", SAMPLES / "mixed-strand.jpg", "--wrist", "6in", "--check-length", "255.4mm"),
    "lot": (
        *("lot", SAMPLES / "mixed-lot.jpg", "--pairs", "3", "--uniform", "12", "--graduated", "17cm"),
        *("--check-length", "273.0mm"),
    ),
    "check": ("check", SAMPLES / "labelled-10mm.jpg", "--label", "10mm", "--bed-height", "1.2mm"),
    "plan": ("plan", "piece.toml", "--sizes", "women"),
    "graduated plan": (
        *("plan", "--finished", "16in", "--graduated"),
        *("--bead", "10mm", "--bead", "8mm", "--bead", "6mm"),
    ),
}


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Start the installed Chromium with an empty profile; outside its sandbox, so that root can run it."""
    program = shutil.which("chromium")
    if program is None:
        raise FileNotFoundError("found no chromium: install it with apt-get install chromium")
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=program, chromium_sandbox=False)
        yield running
        running.close()


@pytest.fixture(
    scope="session",
    params=[*COMMANDS, "plan of kept beads", "lot of several photos", "closed loop", "several strands"],
)
def page(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write one page and return its file."""
    folder = tmp_path_factory.mktemp("page")
    path: Path = folder / "page.html"
    if request.param in PAGES and request.param not in COMMANDS:
        path.write_text(PAGES[request.param](), encoding="utf-8")
        return path
    (folder / "piece.toml").write_text(PIECE_HELP, encoding="utf-8")
    words = [str(folder / word) if word == "piece.toml" else str(word) for word in COMMANDS[request.param]]
    result = CliRunner().invoke(cli, [*words, "--report", str(path)])
    assert result.exit_code == 0, result.stderr
    return path
