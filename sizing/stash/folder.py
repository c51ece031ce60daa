"""Where the stash book lies: the user's own data folder."""

import os
from pathlib import Path

from platformdirs import user_data_path

DATA_VARIABLE = "STRANDGAUGE_DATA"
"""The environment variable that names another data folder."""
_FILE = "stash.sqlite3"


def stash_file() -> Path:
    """Return the file of the stash book; it need not exist yet."""
    named = os.environ.get(DATA_VARIABLE)
    return (Path(named) if named else user_data_path("strandgauge", appauthor=False)) / _FILE
