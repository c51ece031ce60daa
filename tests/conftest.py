"""Puts tests/ on the import path, so that tests can `import synthetic` and their other local helpers."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
