"""What was measured before: kept in the user's cache folder by content, options and version.

A photo that is measured again with the same options, under whatever name, is read from there. An entry is
written whole or not at all. One that is damaged counts as none, and its photo is measured anew.
"""

import contextlib
import hashlib
import io
import json
import os
import pickle
from dataclasses import asdict, dataclass
from functools import cache
from importlib import metadata, resources
from importlib.resources.abc import Traversable
from pathlib import Path

import platformdirs

from sizing.base.errors import OutputError
from sizing.base.files import write_whole
from sizing.batch.job import Job, Measured, named

CACHE_VARIABLE = "STRANDGAUGE_CACHE"
"""The environment variable that names another cache folder."""
MOST_BYTES = 200_000_000
"""The kept results of some thousand photos, as a strand of 60 beads takes 60 kB."""
_ENDING = ".measured"
_DIGEST_BYTES = hashlib.sha256().digest_size
_CODE = (".py", ".onnx")
_ALLOWED = {
    ("numpy", "dtype"),
    ("numpy", "ndarray"),
    ("numpy._core.multiarray", "_reconstruct"),
    ("numpy._core.multiarray", "scalar"),
    ("numpy._core.numeric", "_frombuffer"),
}
_RECORDS = {f"vision.common.{name}" for name in ("conditions", "corrections", "records")}


def cache_folder() -> Path:
    """Return the folder of results that are kept; it need not exist."""
    own = os.environ.get(CACHE_VARIABLE)
    return Path(own) if own else platformdirs.user_cache_path("strandgauge", appauthor=False)


@cache
def program_digest() -> str:
    """Return what is the same for two computers that measure alike: a digest of all code and networks."""
    digest = hashlib.sha256(metadata.version("strandgauge").encode())
    for package in ("vision", "sizing"):
        for name, content in sorted(_code(resources.files(package), package)):
            digest.update(f"{name} {len(content)} ".encode() + content)
    return digest.hexdigest()


@dataclass(frozen=True, slots=True)
class Kept:
    """Results that are kept in a folder.

    Attributes
    ----------
    folder : Path
    most_bytes : int
        Those used longest ago go first.
    """

    folder: Path
    most_bytes: int = MOST_BYTES

    def get(self, job: Job) -> Measured | None:
        """Return what a job gave before; None where that is not known."""
        path = self._path(job)
        if path is None:
            return None
        try:
            whole = path.read_bytes()
        except OSError:
            return None
        content = whole[_DIGEST_BYTES:]
        if hashlib.sha256(content).digest() != whole[:_DIGEST_BYTES]:
            return None
        try:
            measured: Measured = _Records(io.BytesIO(content)).load()
            found = named(measured, job.handful.name)
        except Exception:  # noqa: BLE001 - whatever is wrong with it, the photo is measured anew
            return None
        with contextlib.suppress(OSError):
            os.utime(path)
        return found

    def put(self, job: Job, measured: Measured) -> None:
        """Keep what a job gave; a folder that cannot be written keeps nothing."""
        path = self._path(job)
        if path is None:
            return
        content = pickle.dumps(named(measured, ""), protocol=5)
        with contextlib.suppress(OSError, OutputError):
            self.folder.mkdir(parents=True, exist_ok=True)
            write_whole(path, hashlib.sha256(content).digest() + content)

    def trim(self) -> None:
        """Delete what was used longest ago, until the folder is within its bound."""
        with contextlib.suppress(OSError):
            found = [(path, path.stat()) for path in self.folder.glob(f"*{_ENDING}")]
            over = sum(stat.st_size for _, stat in found) - self.most_bytes
            for path, stat in sorted(found, key=lambda each: each[1].st_mtime):
                if over <= 0:
                    return
                path.unlink(missing_ok=True)
                over -= stat.st_size

    def _path(self, job: Job) -> Path | None:
        """Return where the result of a job is kept; None where its photo cannot be read."""
        handful = job.handful
        try:
            if not handful.path.is_file():
                return None
            with handful.path.open("rb") as file:
                photo = hashlib.file_digest(file, "sha256").hexdigest()
        except (OSError, ValueError):
            return None
        options = {
            "what": job.what,
            "check length": handful.check_length_mm,
            "its uncertainty": handful.check_length_u_mm,
            "bed": handful.bed_height_mm,
            "flat": handful.flat,
            "remembered": {name: asdict(sheet) for name, sheet in handful.remembered.items()},
        }
        said = json.dumps([program_digest(), photo, options], sort_keys=True)
        return self.folder / f"{hashlib.sha256(said.encode()).hexdigest()}{_ENDING}"


class _Records(pickle.Unpickler):
    """Reads measured records and arrays, and calls nothing else, whoever wrote the file."""

    def find_class(self, module_name: str, global_name: str, /) -> object:
        """Return a class that records are made of.

        Raises
        ------
        UnpicklingError
            It is another one.
        """
        if (module_name, global_name) in _ALLOWED:
            return super().find_class(module_name, global_name)
        if module_name in _RECORDS and "." not in global_name:  # a dot reaches what the module imports
            found = super().find_class(module_name, global_name)
            if isinstance(found, type) and found.__module__ == module_name:
                return found
        raise pickle.UnpicklingError(f"{module_name}.{global_name} is no part of a measurement")


def _code(folder: Traversable, name: str) -> list[tuple[str, bytes]]:
    """Return the names and contents of the files in a package that decide what is measured."""
    found = []
    for each in folder.iterdir():
        inner = f"{name}/{each.name}"
        if each.is_dir():
            found += _code(each, inner)
        elif each.name.endswith(_CODE):
            found.append((inner, each.read_bytes()))
    return found
