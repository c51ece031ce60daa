"""Puts tests/ and tests/training on the import path, so that tests can import their local helpers."""

import sys
from pathlib import Path

from hypothesis import settings

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE / "training")]

# Every run draws the same examples, and a slow computer fails none of them.
settings.register_profile("project", derandomize=True, deadline=None)
settings.load_profile("project")
