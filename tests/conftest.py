"""Puts tests/ on the import path, so that tests can `import synthetic` and their other local helpers."""

import sys
from pathlib import Path

from hypothesis import settings

sys.path.insert(0, str(Path(__file__).parent))

# Every run draws the same examples, and a slow computer fails none of them.
settings.register_profile("project", derandomize=True, deadline=None)
settings.load_profile("project")
