"""What workers do in tests with a job instead of measuring; other processes import it by name."""

import os
import signal
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from sizing.batch.job import Job, Measured, named
from sizing.lot.handfuls import Handful
from tests.helpers.lots import lot_of
from tests.helpers.strands import make_strand
from vision.common.errors import NoSheetError
from vision.common.records import Other

NO_SHEET = "no scale sheet is seen: lay it under the beads"

CLASP = Other(
    centre_px=(300.0, 200.0), kind="finding", outline_px=np.array([[290, 190], [310, 190], [300, 215]])
)


def write(folder: Path, **photos: str) -> list[Handful]:
    """Write files that say what a worker does with them, and return them as photos."""
    made = []
    for name, said in photos.items():
        path = folder / f"{name}.jpg"
        path.write_text(said, encoding="ascii")
        made.append(Handful(path=path, name=path.name))
    return made


def pretend(job: Job) -> Measured:
    """Do what stands in the photo: `5`, `5 flat`, `5 clasp` loose, or strung; `dark`, `die`, `slow 5`.

    `5 flat only` cannot be measured as rounds.
    """
    said = (job.content or job.handful.path.read_bytes()).decode().split()
    if "dark" in said or ("only" in said and job.handful.flat is False):
        raise NoSheetError(NO_SHEET)
    if "die" in said:
        os.kill(os.getpid(), signal.SIGKILL)
    if "bug" in said:
        raise AssertionError(job.handful.name)
    if "huge" in said:
        raise cv2.error("(-4:Insufficient memory) Failed to allocate 900000000 bytes")
    if "slow" in said:
        time.sleep(0.5)
    sizes = [8.0] * next(int(word) for word in said if word.isdigit())
    if job.what == "strand":
        return named((make_strand(sizes),), job.handful.name)
    seen_flat = "flat" in said if job.handful.flat is None else job.handful.flat
    flags = ("unsure-count",) if "unsure" in said else ()
    others = (CLASP,) if "clasp" in said else ()
    return named(replace(lot_of(sizes), flat=seen_flat, flags=flags, others=others), job.handful.name)


def wait(job: Job) -> Measured:
    """Say which process this is, and never end."""
    os.write(1, f"{os.getpid()}\n".encode())  # at once: others write there too
    time.sleep(600)
    raise AssertionError(job)
