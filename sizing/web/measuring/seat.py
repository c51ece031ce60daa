"""A place for one photo at a time: a process that stays warm and is replaced, or a worker of a cluster."""

import asyncio
import contextlib
import os
import signal
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import replace
from multiprocessing import active_children

from sizing.batch.crew import Crew, Processes
from sizing.web.measuring.limits import Limits
from sizing.web.measuring.work import Order, Outcome, begin, measure
from vision.common.errors import PhotoError

Work = Callable[[Order], Outcome]
"""What a worker does with an order; other processes must be able to import it by its name."""

_LOST = "a measuring process ended, perhaps for lack of memory: send the photo again, or a smaller one"
_END = getattr(signal, "SIGKILL", signal.SIGTERM)


class Seat:
    """A place for one worker.

    Parameters
    ----------
    limits : Limits
    work : callable
    crew : Crew or None
        Who sits here: None for a process of this computer; it is ended where it must be.
    """

    def __init__(self, limits: Limits, work: Work = measure, crew: Crew | None = None) -> None:
        self._limits = limits
        self._work = work
        self._crew = crew or Processes(1, begin, (limits.worker_bytes,))
        self._executor: Executor | None = None
        self._process: int | None = None

    def warm(self) -> None:
        """Start the worker, so that the first photo need not wait for it."""
        if self._executor is None:
            others = active_children()
            self._executor = self._crew.open()
            self._process = next((each.pid for each in active_children() if each not in others), None)

    async def run(self, order: Order) -> Outcome:
        """Measure a photo; where this is cancelled, the worker is ended.

        Raises
        ------
        PhotoError
            The photo cannot be measured, takes too long, or the worker was lost.
        """
        try:
            async with asyncio.timeout(self._limits.photo_s):
                return await _result(await self._given_out(order))
        except TimeoutError:
            self.replace()
            most = f"{self._limits.photo_s:.0f} s"
            raise PhotoError(f"measuring took longer than {most}: send a smaller or clearer photo") from None
        except _LostError:
            self.replace()
            raise PhotoError(_LOST) from None
        except self._crew.losses:
            self.replace()
            raise PhotoError(_LOST) from None
        except asyncio.CancelledError:
            self.replace()
            raise

    def replace(self) -> None:
        """End the worker and start another."""
        self.close()
        self.warm()

    def close(self) -> None:
        """End the worker; one of a cluster only loses its photo."""
        if self._process is not None:
            with contextlib.suppress(OSError):  # it has ended already
                os.kill(self._process, _END)
        self._process = None
        if self._executor is not None:
            self._executor.shutdown(wait=False, cancel_futures=True)
        self._executor = None

    @property
    def process(self) -> int | None:
        """Number of the process that measures; None for a worker of a cluster."""
        return self._process

    async def _given_out(self, order: Order) -> Future[Outcome]:
        self.warm()
        assert self._executor is not None  # noqa: S101 - it is warm
        if self._crew.is_elsewhere:
            content = await asyncio.to_thread(order.handful.path.read_bytes)
            return self._executor.submit(self._work, replace(order, content=content))
        return self._executor.submit(self._work, order)


class _LostError(Exception):
    """The future of a photo was cancelled by whoever measured it."""


async def _result(done: Future[Outcome]) -> Outcome:
    """Wait for a photo; to be cancelled by its worker is another thing than to be cancelled here."""
    try:
        return await asyncio.wrap_future(done)
    except asyncio.CancelledError:
        task = asyncio.current_task()
        if task is not None and not task.cancelling():
            raise _LostError from None
        raise
