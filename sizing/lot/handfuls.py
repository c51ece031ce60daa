"""Measures one lot from several photos of a handful of beads each, in parallel processes.

If any photo cannot be measured no lot is returned, because counts without that handful would be wrong.
The error names every such photo with the reason, so that it can be taken again or left out.
"""

import contextlib
import os
import signal
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field, replace
from multiprocessing import get_context, parent_process
from pathlib import Path

from sizing.base.errors import SizingError
from sizing.base.measured_sheets import CheckReading, MeasuredSheet, reading_for
from sizing.base.printable import printable
from vision.common.errors import PhotoError
from vision.common.records import Lot


@dataclass(frozen=True, slots=True, kw_only=True)
class Handful:
    """One photo and what the maker says about it.

    Attributes
    ----------
    path : Path
    name : str
        Name of the photo in the records of its beads.
    check_length_mm : float or None
        As measured on the printed sheet; None for the nominal one.
    check_length_u_mm : float
        Its standard uncertainty.
    bed_height_mm : float
        Height of the surface under the beads above the sheet.
    flat : bool or None
        Whether the beads are flat discs; None to let the photo decide.
    remembered : mapping
        The sheets that were measured before, by name, for a check length that is None.
    """

    path: Path
    name: str
    check_length_mm: float | None = None
    check_length_u_mm: float = 0.0
    bed_height_mm: float = 0.0
    flat: bool | None = None
    remembered: Mapping[str, MeasuredSheet] = field(default_factory=dict)


Measure = Callable[[Handful], Lot]


def measure_one(handful: Handful) -> Lot:
    """Measure one photo.

    Raises
    ------
    PhotoError
        It cannot be measured.
    """
    # Imported late, by the process that measures, to keep the start of the program quick.
    from vision.image.photo import load_photo  # noqa: PLC0415

    photo = replace(load_photo(handful.path), name=handful.name)
    from vision.measure import measure_lot  # noqa: PLC0415 - a photo that cannot be opened needs none of it

    typed = CheckReading(length_mm=handful.check_length_mm, u_mm=handful.check_length_u_mm)
    reading = reading_for(photo, typed, remembered=handful.remembered)
    lot = measure_lot(
        photo,
        check_length_mm=reading.length_mm,
        check_length_u_mm=reading.u_mm,
        bed_height_mm=handful.bed_height_mm,
        flat=handful.flat,
    )
    return replace(lot, conditions=tuple(reading.noted(each) for each in lot.conditions))


def photo_names(paths: Sequence[Path]) -> tuple[str, ...]:
    """Return a printable name for each photo: its file name, or its path if two files have the same name.

    Raises
    ------
    SizingError
        A photo is given twice, so that its beads would count twice.

    Examples
    --------
    >>> photo_names([Path("a.jpg"), Path("b.jpg")])
    ('a.jpg', 'b.jpg')
    """
    seen: set[str] = set()
    for path in paths:
        real = os.path.realpath(path)
        if real in seen:
            raise SizingError(f"{path} is given twice, so its beads would count twice: give each photo once")
        seen.add(real)
    count = Counter(path.name for path in paths)
    return tuple(printable(path.name if count[path.name] == 1 else str(path)) for path in paths)


def measure_handfuls(
    handfuls: Sequence[Handful],
    *,
    progress: Callable[[], None] = lambda: None,
    measure: Measure = measure_one,
) -> Lot:
    """Measure the photos of one lot and merge them, in the order given.

    Parameters
    ----------
    progress : callable, keyword-only
        Called each time a photo is done.
    measure : callable, keyword-only
        Measures one photo; other processes must be able to import it by its name.

    Raises
    ------
    PhotoError
        Some photos cannot be measured; the message names each, with the reason.

    Notes
    -----
    If some photos appear to show flat discs and others rounds, the kind with more beads is taken for the
    whole lot, and the other photos are measured again as that kind.
    """
    lots = _measure_all(handfuls, measure, progress)
    flat = flat_by_most(lots)
    differing = [i for i, lot in enumerate(lots) if lot.flat != flat]
    again = [replace(handfuls[i], flat=flat) for i in differing]
    for i, lot in zip(differing, _measure_all(again, measure, lambda: None), strict=True):
        lots[i] = lot
    return as_one_lot(lots)


def as_one_lot(lots: Sequence[Lot]) -> Lot:
    """Merge lots that were all measured as flat discs, or all as rounds."""
    return Lot(
        conditions=tuple(each for lot in lots for each in lot.conditions),
        beads=tuple(bead for lot in lots for bead in lot.beads),
        flat=lots[0].flat,
        flags=tuple(dict.fromkeys(flag for lot in lots for flag in lot.flags)),
    )


def flat_by_most(lots: Sequence[Lot]) -> bool:
    """Return whether most beads are on photos that were measured as flat discs."""
    return sum(len(lot.beads) if lot.flat else -len(lot.beads) for lot in lots) > 0


def _measure_all(handfuls: Sequence[Handful], measure: Measure, progress: Callable[[], None]) -> list[Lot]:
    """Measure photos, in order; raise one error that names every photo that could not be measured."""
    workers = min(len(handfuls), cores())
    outcomes = _one_by_one(handfuls, measure) if workers < 2 else _side_by_side(handfuls, measure, workers)
    lots: dict[int, Lot] = {}
    failed: dict[int, str] = {}
    for i, outcome in outcomes:
        if isinstance(outcome, Lot):
            lots[i] = outcome
        else:
            failed[i] = with_name(handfuls[i].name, outcome)
        progress()
    if failed:
        raise PhotoError(complaint([failed[i] for i in sorted(failed)], len(handfuls)))
    return [lots[i] for i in range(len(handfuls))]


def _one_by_one(handfuls: Sequence[Handful], measure: Measure) -> Iterator[tuple[int, Lot | str]]:
    """Measure in this process; yield each position with the lot, or with the reason there is none."""
    for i, handful in enumerate(handfuls):
        yield i, _outcome(measure, handful)


def _side_by_side(
    handfuls: Sequence[Handful], measure: Measure, workers: int
) -> Iterator[tuple[int, Lot | str]]:
    """Measure in several processes; yield as `_one_by_one` does, in order of completion."""
    # Spawned, not forked: image libraries run threads that a forked process would lack.
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=begin_worker)
    try:
        with _stops_ignored():
            at = {pool.submit(_outcome, measure, handful): i for i, handful in enumerate(handfuls)}
        for done in as_completed(at):
            yield at[done], done.result()
    except BrokenProcessPool as error:
        message = "a measuring process was stopped, perhaps for lack of memory: give fewer photos at a time"
        raise PhotoError(message) from error
    finally:
        pool.shutdown(cancel_futures=True)


def _outcome(measure: Measure, handful: Handful) -> Lot | str:
    """Measure one photo; return the message of the error if it cannot be measured."""
    try:
        return measure(handful)
    except PhotoError as error:
        return str(error)


@contextlib.contextmanager
def _stops_ignored() -> Iterator[None]:
    """Ignore Ctrl-C while workers start, so that they ignore it and end quietly with this process."""
    if threading.current_thread() is not threading.main_thread():  # where signals cannot be set
        yield
        return
    handler = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, handler)


def begin_worker() -> None:
    """Limit a worker to one core, because there is a worker for each core, and end it with its parent."""
    import cv2  # noqa: PLC0415 - only where photos are measured

    threading.Thread(target=_end_with_parent, daemon=True).start()
    cv2.setNumThreads(1)


def _end_with_parent() -> None:
    """End this process when its parent has ended: a worker without one would wait for ever."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def with_name(name: str, message: str) -> str:
    """Put the name of the photo before a message that does not contain it."""
    return message if name in message else f"{name}: {message}"


def complaint(messages: Sequence[str], photos: int) -> str:
    """Return the message of one error for all photos that could not be measured."""
    if photos == 1:
        return messages[0]
    head = f"{len(messages)} of {photos} photos cannot be measured, take them again or leave them out"
    return f"{head}: {'; '.join(messages)}"
