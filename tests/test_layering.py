"""Imports run one way, images are opened in one place, library code keeps quiet."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
VISION = sorted((ROOT / "vision").glob("*.py"))
SIZING = sorted((ROOT / "sizing").glob("*.py"))
OPENERS = {"imread", "imdecode", "imreadmulti", "VideoCapture", "fromstring", "frombytes"}


def nodes(path: Path) -> Iterator[ast.AST]:
    return ast.walk(ast.parse(path.read_text(encoding="utf-8")))


def imported(path: Path) -> set[str]:
    """Top-level packages that a module imports, wherever in it."""
    names: set[str] = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports relatively"
            names.add(str(node.module).partition(".")[0])
    return names


def called(path: Path) -> set[str]:
    """Names of the functions that a module calls: `open` for `Image.open`, with the object before the dot."""
    names = set()
    for node in nodes(path):
        if isinstance(node, ast.Call):
            names.add(ast.unparse(node.func))
    return names


def test_modules_were_found() -> None:
    assert len(VISION) > 10
    assert len(SIZING) > 10


@pytest.mark.parametrize("path", VISION, ids=lambda path: path.stem)
def test_vision_knows_nothing_of_sizing(path: Path) -> None:
    assert not imported(path) & {"sizing", "click", "pint"}


@pytest.mark.parametrize(
    "path", [p for p in VISION + SIZING if p.stem != "photo"], ids=lambda path: path.stem
)
def test_only_photo_opens_images(path: Path) -> None:
    names = called(path)
    assert "Image.open" not in names
    assert "pillow_heif" not in imported(path)
    assert not {name.rpartition(".")[2] for name in names} & OPENERS


@pytest.mark.parametrize("path", VISION + SIZING, ids=lambda path: f"{path.parent.stem}.{path.stem}")
def test_nothing_prints_or_configures_logging(path: Path) -> None:
    assert not called(path) & {"print", "logging.basicConfig"}


@pytest.mark.parametrize(
    "path", [p for p in SIZING if not p.stem.startswith("cli")], ids=lambda path: path.stem
)
def test_only_commands_echo(path: Path) -> None:
    assert "click.echo" not in called(path)


def test_records_need_numpy_alone() -> None:
    assert imported(ROOT / "vision" / "records.py") <= {"numpy", *sys.stdlib_module_names}
