"""A command imports what it runs when it runs it: counted in modules, in fresh processes."""

import os
import subprocess
import sys

import pytest

HEAVY = {
    "cv2", "jinja2", "matplotlib", "reportlab", "scipy", "segno", "skimage", "sqlite3",
    "starlette", "tree_sitter", "uvicorn",
}  # fmt: skip
"""Packages, each of which takes 10 ms or more to import."""
WITH_UNITS = {"jinja2", "scipy", "tree_sitter"}
"""What the library of units imports where it is installed, and what reads piece files."""
HELP_NEEDS_NONE = HEAVY | {"numpy", "PIL"}
WHERE_MODULES_ARE_COUNTED = """
import atexit, sys
atexit.register(lambda: print("imported:", *sys.modules))
from sizing.cli.main import cli
cli(sys.argv[1:])
"""


def imported(*args: str) -> set[str]:
    """Return the modules that a command has imported when it ends."""
    done = subprocess.run(
        [sys.executable, "-c", WHERE_MODULES_ARE_COUNTED, *args], capture_output=True, text=True, check=False
    )
    _, found, modules = done.stdout.partition("imported: ")
    assert found, done.stderr
    return set(modules.split())


@pytest.mark.parametrize("args", [("--help",), ("stash", "--help"), ("--version",)], ids=" ".join)
def test_help_imports_no_library_but_that_of_the_command_line(args: tuple[str, ...]) -> None:
    assert not HELP_NEEDS_NONE & imported(*args)


@pytest.mark.parametrize("command", ["strand", "lot", "check"])
def test_a_photo_is_opened_before_anything_heavy_is_imported(command: str) -> None:
    label = ("--label", "8mm") if command == "check" else ()
    modules = imported(command, "no-such-photo.jpg", *label)
    assert "vision.image.photo" in modules  # where it was to be opened
    assert not (HEAVY - WITH_UNITS if label else HEAVY) & modules


@pytest.mark.parametrize(
    "args",
    [("plan", "--wrist", "6in", "--bead", "7mm"), ("page", "--help")],
    ids=lambda args: args[0],
)
def test_what_shows_no_picture_imports_nothing_for_pictures(args: tuple[str, ...]) -> None:
    assert not (HEAVY - WITH_UNITS) & imported(*args)


WHERE_NUMPY_IS_ASKED = """
import atexit, os, sys
from sizing.__main__ import main
def say_what_numpy_is_told():
    assert "numpy" not in told
    from numpy._core.multiarray import _get_madvise_hugepage
    print("huge pages:", "yes" if _get_madvise_hugepage() else "no")
    print("threads:", os.environ["OPENBLAS_NUM_THREADS"])
atexit.register(say_what_numpy_is_told)
told = sys.modules.copy()
main()
"""
USERS_MAY_SET = {"NUMPY_MADVISE_HUGEPAGE": "1", "OPENBLAS_NUM_THREADS": "3"}


@pytest.mark.parametrize(("own", "huge", "threads"), [({}, "no", "1"), (USERS_MAY_SET, "yes", "3")])
def test_numpy_asks_for_huge_pages_and_threads_only_where_its_user_does(
    own: dict[str, str], huge: str, threads: str
) -> None:
    unset = {name: value for name, value in os.environ.items() if name not in USERS_MAY_SET}
    done = subprocess.run(
        [sys.executable, "-c", WHERE_NUMPY_IS_ASKED, "--version"],
        capture_output=True,
        text=True,
        check=False,
        env=unset | own,
    )
    assert f"huge pages: {huge}\nthreads: {threads}\n" in done.stdout
