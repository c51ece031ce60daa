"""One worker process that stays warm between photos, and is replaced when it is ended or ends by itself."""

import asyncio
import contextlib
import os
import signal
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context

from sizing.web.measuring.limits import Limits
from sizing.web.measuring.work import Order, Outcome, begin, measure
from vision.common.errors import PhotoError

Work = Callable[[Order], Outcome]
"""What a worker does with an order; other processes must be able to import it by its name."""

_LOST = "a measuring process ended, perhaps for lack of memory: send the photo again, or a smaller one"
_END = getattr(signal, "SIGKILL", signal.SIGTERM)


class Seat:
    """A place for one worker."""

    def __init__(self, limits: Limits, work: Work = measure) -> None:
        self._limits = limits
        self._work = work
        self._pool = self._new_pool()
        self._process: int | None = None

    def warm(self) -> None:
        """Start the worker, so that the first photo need not wait for it."""
        self._pool.submit(os.getpid)

    async def run(self, order: Order) -> Outcome:
        """Measure a photo; where this is cancelled, the worker is ended.

        Raises
        ------
        PhotoError
            The photo cannot be measured, takes too long, or the worker was lost.
        """
        try:
            self._process = await asyncio.wrap_future(self._pool.submit(os.getpid))
            done = asyncio.wrap_future(self._pool.submit(self._work, order))
            return await asyncio.wait_for(done, self._limits.photo_s)
        except TimeoutError:
            self.replace()
            most = f"{self._limits.photo_s:.0f} s"
            raise PhotoError(f"measuring took longer than {most}: send a smaller or clearer photo") from None
        except BrokenProcessPool:
            self.replace()
            raise PhotoError(_LOST) from None
        except asyncio.CancelledError:
            self.replace()
            raise

    def replace(self) -> None:
        """End the worker and start another."""
        self.close()
        self._pool = self._new_pool()
        self.warm()

    def close(self) -> None:
        """End the worker."""
        if self._process is not None:
            with contextlib.suppress(OSError):  # it has ended already
                os.kill(self._process, _END)
        self._process = None
        self._pool.shutdown(wait=False, cancel_futures=True)

    @property
    def process(self) -> int | None:
        """Number of the process that measures, or measured last."""
        return self._process

    def _new_pool(self) -> ProcessPoolExecutor:
        # Spawned, not forked: image libraries run threads that a forked process would lack.
        return ProcessPoolExecutor(
            1, mp_context=get_context("spawn"), initializer=begin, initargs=(self._limits.worker_bytes,)
        )
