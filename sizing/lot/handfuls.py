"""One lot from several photos, each a handful of it, measured on the cores there are.

Where any photo cannot be measured there is no lot: a tally that silently lacks a handful would be
wrong. Every such photo is named with its reason, so that it can be taken again or left out.
"""

import os
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

from sizing.base.errors import SizingError
from vision.common.errors import PhotoError
from vision.common.records import Lot


@dataclass(frozen=True, slots=True, kw_only=True)
class Handful:
    """One photo and what its maker says about it.

    Attributes
    ----------
    path : Path
    name : str
        What its beads know it by.
    check_length_mm : float or None
        None: the sheet's nominal one is assumed.
    check_length_u_mm : float
        Its standard uncertainty.
    bed_height_mm : float
    flat : bool or None
        Flat discs or rounds; None: the photo's evidence decides.
    """

    path: Path
    name: str
    check_length_mm: float | None = None
    check_length_u_mm: float = 0.0
    bed_height_mm: float = 0.0
    flat: bool | None = None


Measure = Callable[[Handful], Lot]


def measure_one(handful: Handful) -> Lot:
    """Measure one photo.

    Raises
    ------
    PhotoError
        It cannot be measured.
    """
    # Imported by the process that measures, and not before there is something to measure.
    from vision.image.photo import load_photo  # noqa: PLC0415
    from vision.measure import measure_lot  # noqa: PLC0415

    return measure_lot(
        replace(load_photo(handful.path), name=handful.name),
        check_length_mm=handful.check_length_mm,
        check_length_u_mm=handful.check_length_u_mm,
        bed_height_mm=handful.bed_height_mm,
        flat=handful.flat,
    )


def photo_names(paths: Sequence[Path]) -> tuple[str, ...]:
    """Return a name for each photo: its file name, or its path where two files share that.

    Raises
    ------
    SizingError
        A photo is given twice: its beads would count twice.
    """
    seen: set[Path] = set()
    for path in paths:
        if path.resolve() in seen:
            raise SizingError(f"{path} is given twice, so its beads would count twice: give each photo once")
        seen.add(path.resolve())
    count = Counter(path.name for path in paths)
    return tuple(path.name if count[path.name] == 1 else str(path) for path in paths)


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
        Called whenever a photo is done.
    measure : callable, keyword-only
        Measures one photo; other processes must be able to import it by its name.

    Raises
    ------
    PhotoError
        Photos that cannot be measured, a line each.

    Notes
    -----
    Where the photos' evidence disagrees on flat discs or rounds, the side with more beads decides,
    and the other photos are measured again as that.
    """
    lots = _measure_all(handfuls, measure, progress)
    flat = _flat_by_most(lots)
    odd = [i for i, lot in enumerate(lots) if lot.flat != flat]
    again = [replace(handfuls[i], flat=flat) for i in odd]
    for i, lot in zip(odd, _measure_all(again, measure, lambda: None), strict=True):
        lots[i] = lot
    return Lot(
        conditions=tuple(each for lot in lots for each in lot.conditions),
        beads=tuple(bead for lot in lots for bead in lot.beads),
        flat=flat,
        flags=tuple(dict.fromkeys(flag for lot in lots for flag in lot.flags)),
    )


def _flat_by_most(lots: Sequence[Lot]) -> bool:
    """Tell whether most beads lie on photos that were measured as flat discs."""
    return sum(len(lot.beads) if lot.flat else -len(lot.beads) for lot in lots) > 0


def _measure_all(handfuls: Sequence[Handful], measure: Measure, progress: Callable[[], None]) -> list[Lot]:
    """Measure photos, in order; raise one error that names every one that could not be."""
    workers = min(len(handfuls), _cores())
    outcomes = _one_by_one(handfuls, measure) if workers < 2 else _side_by_side(handfuls, measure, workers)
    lots: dict[int, Lot] = {}
    failed: dict[int, str] = {}
    for i, outcome in outcomes:
        if isinstance(outcome, Lot):
            lots[i] = outcome
        else:
            failed[i] = _with_name(handfuls[i].name, outcome)
        progress()
    if failed:
        raise PhotoError(_complaint([failed[i] for i in sorted(failed)], len(handfuls)))
    return [lots[i] for i in range(len(handfuls))]


def _one_by_one(handfuls: Sequence[Handful], measure: Measure) -> Iterator[tuple[int, Lot | str]]:
    """Measure in this process; yield position and lot, or why there is none."""
    for i, handful in enumerate(handfuls):
        yield i, _outcome(measure, handful)


def _side_by_side(
    handfuls: Sequence[Handful], measure: Measure, workers: int
) -> Iterator[tuple[int, Lot | str]]:
    """Measure in several processes; yield as each photo is done."""
    # Spawned, not forked: image libraries hold threads that a fork would leave half alive.
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_take_one_core)
    try:
        at = {pool.submit(_outcome, measure, handful): i for i, handful in enumerate(handfuls)}
        for done in as_completed(at):
            yield at[done], done.result()
    except BrokenProcessPool as error:
        message = "measuring was cut off, as happens when memory runs out: give fewer photos at a time"
        raise PhotoError(message) from error
    finally:
        pool.shutdown(cancel_futures=True)


def _outcome(measure: Measure, handful: Handful) -> Lot | str:
    """Measure, turning what is wrong with the photo into its message."""
    try:
        return measure(handful)
    except PhotoError as error:
        return str(error)


def _take_one_core() -> None:
    """Keep a worker to one core, as there is a worker for each."""
    import cv2  # noqa: PLC0415 - only where photos are measured

    cv2.setNumThreads(1)


def _cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _with_name(name: str, message: str) -> str:
    """Say which photo a message is about, unless it does."""
    return message if name in message else f"{name}: {message}"


def _complaint(messages: Sequence[str], photos: int) -> str:
    """Return the message of one error for all photos that could not be measured."""
    if photos == 1:
        return messages[0]
    head = f"{len(messages)} of {photos} photos cannot be measured: take them again or leave them out"
    return "\n".join([head, *messages])
