"""One input of the program: what is typed, and the files that it names."""

import os
from dataclasses import dataclass, field
from pathlib import Path

MEASURING_S = 20.0
"""What measuring a photo takes on a slow core, at most; other work may take as long again."""
OTHER_S = 20.0
MEGABYTE = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One input.

    Attributes
    ----------
    words : tuple of str
        What is typed after the name of the program.
    files : dict
        Content of the files that it may read, by name; None for a pipe that nobody writes to. All must
        still hold the same afterwards.
    links : dict
        What links point to.
    data : dict
        Content of the files in the user's own data folder, by name; they may change.
    limit_s : float
        Time on the processor.
    memory : int
        Bytes that it may take beyond those taken at the start; 0 for the usual limit.
    """

    words: tuple[str, ...]
    files: dict[str, bytes | None] = field(default_factory=dict)
    links: dict[str, str] = field(default_factory=dict)
    data: dict[str, bytes] = field(default_factory=dict)
    limit_s: float = OTHER_S
    memory: int = 0


def write_files(case: Case, folder: Path) -> None:
    """Write the files of a case into an empty folder."""
    for name, content in case.files.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        if content is None:
            os.mkfifo(path)
        else:
            path.write_bytes(content)
    for name, target in case.links.items():
        (folder / name).symlink_to(target)


def write_data(case: Case, folder: Path) -> None:
    """Write the user's own data into a new folder."""
    folder.mkdir()
    for name, content in case.data.items():
        (folder / name).write_bytes(content)
