"""The tables of the stash book, as steps from each version to the next.

`PRAGMA user_version` holds how many steps a file has taken. A step, once released, is never changed: a
new version is a new step behind it. What a table refuses by itself stands in it as a CHECK.
"""

import sqlite3
from collections.abc import Sequence

from sizing.base.errors import StashError

Steps = Sequence[tuple[str, ...]]

# An entry's count is not stored: it is the sum of its changes. A change of size 0 is of beads that belong
# to none of the entry's sizes.
STEPS: Steps = (
    (
        """CREATE TABLE entry (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            uuid TEXT NOT NULL UNIQUE CHECK (length(uuid) = 36),
            form TEXT NOT NULL CHECK (form IN ('lot', 'strand')),
            name TEXT NOT NULL UNIQUE CHECK (name <> ''),
            source TEXT NOT NULL,
            price TEXT,
            currency TEXT NOT NULL,
            material TEXT NOT NULL,
            hole_mm REAL CHECK (hole_mm > 0),
            note TEXT NOT NULL,
            date TEXT NOT NULL,
            target TEXT NOT NULL,
            kept INTEGER NOT NULL CHECK (kept > 0),
            measurement TEXT NOT NULL,
            thumbnail BLOB
        ) STRICT""",
        """CREATE TABLE size (
            entry INTEGER NOT NULL REFERENCES entry ON DELETE CASCADE,
            place INTEGER NOT NULL CHECK (place > 0),
            along_mm REAL NOT NULL CHECK (along_mm > 0),
            across_mm REAL NOT NULL CHECK (across_mm > 0),
            rel_u95 REAL NOT NULL CHECK (rel_u95 >= 0),
            measured INTEGER NOT NULL CHECK (measured >= 0),
            colour INTEGER NOT NULL CHECK (colour BETWEEN 0 AND 16777215),
            PRIMARY KEY (entry, place)
        ) STRICT, WITHOUT ROWID""",
        """CREATE TABLE change (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            uuid TEXT NOT NULL UNIQUE CHECK (length(uuid) = 36),
            entry INTEGER NOT NULL REFERENCES entry ON DELETE CASCADE,
            size INTEGER NOT NULL CHECK (size >= 0),
            beads INTEGER NOT NULL,
            date TEXT NOT NULL,
            why TEXT NOT NULL
        ) STRICT""",
        "CREATE INDEX change_of_entry ON change (entry, number)",
        """CREATE TABLE photo (
            entry INTEGER PRIMARY KEY REFERENCES entry ON DELETE CASCADE,
            jpeg BLOB NOT NULL
        ) STRICT""",
    ),
    # Spacers that were kept before this step stay beads, until their entry is exported and imported.
    ("ALTER TABLE size ADD COLUMN kind TEXT NOT NULL DEFAULT 'bead' CHECK (kind IN ('bead', 'spacer'))",),
)


def version_of(connection: sqlite3.Connection) -> int:
    """Return how many steps a file has taken."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def take_steps(connection: sqlite3.Connection, steps: Steps) -> None:
    """Bring a file to the newest version, all steps in the transaction that is open.

    Raises
    ------
    StashError
        A newer version of this program wrote the file.
    """
    version = version_of(connection)
    if version > len(steps):
        raise StashError(
            f"the stash book is of version {version}, this program knows {len(steps)}: install a newer one"
        )
    for number, statements in enumerate(steps[version:], start=version + 1):
        for statement in statements:
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {number:d}")
