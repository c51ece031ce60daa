"""Settings of all tests."""

import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

from sizing.base.measured_sheets import SETTINGS_VARIABLE
from sizing.batch.kept import CACHE_VARIABLE
from sizing.stash.book import DATA_VARIABLE

# Looking for examples imports every module; these need PyTorch, onnx or Mitsuba, which only training does.
collect_ignore_glob = [
    "training/parts.py",
    "training/quantise.py",
    "training/stored.py",
    "training/train*.py",
    "training/network.py",
    "rendering/lots.py",
    "rendering/photos.py",
    "rendering/running.py",
    "rendering/stage.py",
    "rendering/views.py",
]

# Every run draws the same examples, and a slow computer fails none of them.
settings.register_profile("project", derandomize=True, deadline=None)
settings.load_profile("project")


def pytest_configure(config: pytest.Config) -> None:
    """Keep examples in docstrings, which no fixture of the tests reaches, out of the user's own folders."""
    folder = tempfile.TemporaryDirectory()
    config.add_cleanup(folder.cleanup)
    os.environ |= dict.fromkeys((SETTINGS_VARIABLE, DATA_VARIABLE, CACHE_VARIABLE), folder.name)


@pytest.fixture(autouse=True)
def own_settings(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty settings folder in place of the user's, whose measured sheets would change results."""
    folder = tmp_path_factory.mktemp("settings")
    monkeypatch.setenv(SETTINGS_VARIABLE, str(folder))
    return folder


@pytest.fixture(autouse=True)
def own_stash(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty data folder in place of the user's, whose stash is nobody's business here."""
    folder = tmp_path_factory.mktemp("data")
    monkeypatch.setenv(DATA_VARIABLE, str(folder))
    return folder


@pytest.fixture(autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty cache folder in place of the user's, whose results may be of another program."""
    folder = tmp_path_factory.mktemp("cache")
    monkeypatch.setenv(CACHE_VARIABLE, str(folder))
    return folder
