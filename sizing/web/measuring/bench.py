"""All workers, and the line of photos that wait for one."""

import asyncio
from collections.abc import Callable

from sizing.web.measuring.seat import Seat
from sizing.web.measuring.work import Order, Outcome


class BusyError(Exception):
    """As many photos wait as may; says how many."""

    def __init__(self, waiting: int) -> None:
        super().__init__(f"{waiting} photos are waiting to be measured: try again in a minute")
        self.waiting = waiting


class Bench:
    """Measures photos first come, first served."""

    def __init__(self, seats: list[Seat], *, most_waiting: int) -> None:
        self._seats = seats
        self._free: asyncio.Queue[Seat] = asyncio.Queue()
        for seat in seats:
            self._free.put_nowait(seat)
        self._most = most_waiting
        self._line: list[object] = []

    def warm(self) -> None:
        """Start all workers."""
        for seat in self._seats:
            seat.warm()

    def close(self) -> None:
        """End all workers."""
        for seat in self._seats:
            seat.close()

    @property
    def waiting(self) -> int:
        """How many photos wait for a worker."""
        return len(self._line)

    def ahead_of(self, ticket: object) -> int:
        """Return how many photos wait before one; 0 for one that does not wait."""
        return self._line.index(ticket) if ticket in self._line else 0

    def check_room(self, photos: int) -> None:
        """Refuse more photos than may wait; into an empty line any lot fits.

        Raises
        ------
        BusyError
        """
        if self._line and len(self._line) + photos > self._most:
            raise BusyError(len(self._line))

    async def run(self, order: Order, *, begun: Callable[[], None] = lambda: None) -> Outcome:
        """Measure a photo when its turn comes, and say when it does.

        Raises
        ------
        PhotoError
        """
        ticket = order
        self._line.append(ticket)
        try:
            seat = await self._free.get()
        finally:
            self._line.remove(ticket)
        try:
            begun()
            return await seat.run(order)
        finally:
            self._free.put_nowait(seat)
