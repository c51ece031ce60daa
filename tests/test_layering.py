"""Imports run one way between rooms, images are opened in one place, library code keeps quiet."""

import ast
import graphlib
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.paths import ROOT

MODULES = sorted(path for package in ("vision", "sizing") for path in (ROOT / package).rglob("*.py"))
INNER = [path for path in MODULES if path.name not in {"__init__.py", "__main__.py"}]
ROOMS = sorted({path.parent for path in MODULES})
MOST_MODULES = 16
"""In one room: more is a heap."""
OPENERS = {"imread", "imdecode", "imreadmulti", "VideoCapture", "fromstring", "frombytes"}
RULE = "May import: "
RECORDS = ("changes", "conditions", "corrections", "records")


def dotted(path: Path) -> str:
    """Name of a module or room: vision/image/photo.py is vision.image.photo."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


def nodes(path: Path) -> Iterator[ast.AST]:
    return ast.walk(ast.parse(path.read_text(encoding="utf-8")))


def imported(path: Path) -> set[str]:
    """Modules that a module imports, wherever in it; a room whose modules are imported from it is not one."""
    names: set[str] = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports relatively"
            assert node.module is not None
            is_room = ROOT.joinpath(*node.module.split(".")).is_dir()
            names |= {f"{node.module}.{alias.name}" for alias in node.names} if is_room else {node.module}
    return names


def packages(path: Path) -> set[str]:
    """Top-level packages that a module imports."""
    return {name.partition(".")[0] for name in imported(path)}


def called(path: Path) -> set[str]:
    """Names of the functions that a module calls: `open` for `Image.open`, with the object before the dot."""
    return {ast.unparse(node.func) for node in nodes(path) if isinstance(node, ast.Call)}


def allowed(room: Path) -> set[str]:
    """Rooms that a room may import from, as its own docstring says."""
    text = ast.get_docstring(ast.parse((room / "__init__.py").read_text(encoding="utf-8"))) or ""
    rule = text.partition(RULE)[2].replace("\n", " ").removesuffix(".")
    return {name.strip() for name in rule.split(",")} - {"nothing of this project"}


def used(room: Path) -> set[str]:
    """Rooms that the modules of a room import from."""
    own = {name for path in room.glob("*.py") for name in imported(path)}
    rooms = {name.rpartition(".")[0] for name in own if name.startswith(("vision.", "sizing."))}
    return rooms - {dotted(room)}


def test_modules_were_found() -> None:
    assert len(INNER) > 100
    assert len(ROOMS) > 15


@pytest.mark.parametrize("room", ROOMS, ids=dotted)
def test_a_room_imports_what_its_docstring_allows(room: Path) -> None:
    assert used(room) == allowed(room)


def test_imports_between_rooms_run_one_way() -> None:
    graph = {dotted(room): allowed(room) for room in ROOMS}
    assert list(graphlib.TopologicalSorter(graph).static_order())  # raises CycleError on a circle


@pytest.mark.parametrize("room", ROOMS, ids=dotted)
def test_a_room_holds_no_heap(room: Path) -> None:
    assert len([path for path in room.glob("*.py") if path in INNER]) <= MOST_MODULES


@pytest.mark.parametrize("path", [p for p in MODULES if dotted(p).startswith("vision")], ids=dotted)
def test_vision_knows_nothing_of_sizing(path: Path) -> None:
    assert not packages(path) & {"sizing", "click", "pint"}


@pytest.mark.parametrize("path", [p for p in MODULES if dotted(p) != "vision.image.photo"], ids=dotted)
def test_only_photo_opens_images(path: Path) -> None:
    names = called(path)
    assert "Image.open" not in names
    assert "pillow_heif" not in packages(path)
    assert not {name.rpartition(".")[2] for name in names} & OPENERS


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_nothing_prints_or_configures_logging(path: Path) -> None:
    assert not called(path) & {"print", "logging.basicConfig"}


@pytest.mark.parametrize("path", [p for p in MODULES if not dotted(p).startswith("sizing.cli.")], ids=dotted)
def test_only_commands_echo(path: Path) -> None:
    assert "click.echo" not in called(path)


def test_records_need_numpy_alone() -> None:
    needed = {name for module in RECORDS for name in imported(ROOT / "vision" / "common" / f"{module}.py")}
    others = {name.partition(".")[0] for name in needed - {f"vision.common.{module}" for module in RECORDS}}
    assert others <= {"numpy", *sys.stdlib_module_names}
