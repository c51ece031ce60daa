"""What all pages work with: photos that are measured, phones that were let in, addresses."""

from dataclasses import dataclass, field
from typing import Any

from starlette.requests import Request

from sizing.batch.crew import Crew
from sizing.web.doors import Doors
from sizing.web.measuring.bench import Bench
from sizing.web.measuring.inbox import Inbox
from sizing.web.measuring.limits import Limits
from sizing.web.measuring.measurements import Measurement, Measurements
from sizing.web.measuring.seat import Seat, Work
from sizing.web.measuring.work import measure
from sizing.web.phones import Phones


class NotThereError(Exception):
    """What is asked for is not there, or no longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """Everything that a running server holds."""

    doors: Doors
    limits: Limits
    phones: Phones
    inbox: Inbox
    bench: Bench
    measurements: Measurements
    lists: dict[str, dict[str, Any]] = field(default_factory=dict)
    """What to buy, by the word that names a list."""

    def measurement(self, word: str) -> Measurement:
        """Return a measurement.

        Raises
        ------
        NotThereError
        """
        asked = self.measurements.get(word)
        if asked is None:
            raise NotThereError("this measurement is no longer there: take the photo again")
        return asked


def open_desk(
    *, doors: Doors, phones: Phones, limits: Limits, work: Work = measure, crew: Crew | None = None
) -> Desk:
    """Return a desk with its workers, none of which has started yet; without a crew, of this computer."""
    bench = Bench([Seat(limits, work, crew) for _ in range(limits.workers)], most_waiting=limits.waiting)
    return Desk(
        doors=doors,
        limits=limits,
        phones=phones,
        inbox=Inbox(limits),
        bench=bench,
        measurements=Measurements(bench, limits),
    )


def desk_of(request: Request) -> Desk:
    """Return the desk of the server that answers a request."""
    desk: Desk = request.app.state.desk
    return desk
