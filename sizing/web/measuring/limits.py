"""How much one home computer does for the page at once."""

from dataclasses import dataclass

from sizing.batch.room import cores, workers_for

_MEGABYTE = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Bounds on photos that are sent and measured.

    Attributes
    ----------
    workers : int
        Photos measured at the same time.
    photo_s : float
        Longest time for one photo; then its worker is ended. On two busy cores 48 megapixels take 30 s.
    worker_bytes : int
        Largest address space of a worker. Opening the largest photo and measuring it takes 2.2 GB.
    waiting : int
        Photos that wait to be measured: at 10 s a photo and two workers, five minutes of waiting.
    photo_bytes : int
        Largest file: a TIFF of 20 megapixels.
    photos_in_lot : int
        Handfuls of one lot.
    inbox_bytes : int
        Photos sent and not yet measured, together.
    sending : int
        Photos that are received at the same time.
    silence_s : float
        Longest pause while a photo is sent.
    arrival_s : float
        Longest time that a photo may take to arrive: the largest one at 0.2 MB/s.
    kept : int
        Measurements whose records and photos are held; half a megabyte each.
    """

    workers: int = 1
    photo_s: float = 120.0
    worker_bytes: int = 3_500 * _MEGABYTE
    waiting: int = 60
    photo_bytes: int = 60 * _MEGABYTE
    photos_in_lot: int = 24
    inbox_bytes: int = 2_000 * _MEGABYTE
    sending: int = 8
    silence_s: float = 30.0
    arrival_s: float = 300.0
    kept: int = 60


def usual_limits() -> Limits:
    """Return the limits for this computer: a worker for each core that memory allows."""
    return Limits(workers=workers_for(cores()))
