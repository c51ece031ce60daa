"""Who measures photos: this process, or processes of this computer; `sizing.batch.cluster` has other ones."""

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Any, Protocol, TypeVar

from sizing.batch.worker import begin_worker

Result = TypeVar("Result")
_AHEAD = 2
"""Photos given out for each worker, so that none waits while results are taken in."""


class Crew(Protocol):
    """Who measures photos."""

    @property
    def ahead(self) -> int:
        """How many photos are given out at once."""

    @property
    def is_elsewhere(self) -> bool:
        """Whether other computers measure, which have no files of ours: the bytes of a photo travel."""

    @property
    def losses(self) -> tuple[type[Exception], ...]:
        """Errors that mean that a worker was lost."""

    def check(self) -> None:
        """Find out, where results are long in coming, whether anybody works.

        Raises
        ------
        SizingError
            Nobody does.
        """

    def open(self) -> Executor:
        """Begin to work; what was lost with a worker is given to a new executor."""

    def alone(self) -> "Crew":
        """Return a crew of one, whose loss takes no other photo with it."""


class _Here(Executor):
    """An executor that works at once, in this process."""

    def submit(
        self,
        fn: Callable[..., Result],
        /,
        *args: Any,  # noqa: ANN401 - as declared by Executor
        **kwargs: Any,  # noqa: ANN401 - as declared by Executor
    ) -> Future[Result]:
        """Work, and return what became of it."""
        done: Future[Result] = Future()
        try:
            done.set_result(fn(*args, **kwargs))
        except Exception as error:  # noqa: BLE001 - whoever asks for the result gets it
            done.set_exception(error)
        return done


@dataclass(frozen=True, slots=True)
class ThisProcess:
    """The crew that needs no other process."""

    ahead: int = 1
    is_elsewhere: bool = False
    losses: tuple[type[Exception], ...] = ()

    def check(self) -> None:
        """Do nothing: this process works."""

    def open(self) -> Executor:
        """Begin to work."""
        return _Here()

    def alone(self) -> Crew:
        """Return itself."""
        return self


@dataclass(frozen=True, slots=True)
class Processes:
    """Processes of this computer, one core each.

    Attributes
    ----------
    count : int
    begin : callable
        What each does first; with the arguments `said`.
    """

    count: int
    begin: Callable[..., None] = begin_worker
    said: tuple[object, ...] = ()

    @property
    def ahead(self) -> int:
        """How many photos are given out at once."""
        return _AHEAD * self.count

    @property
    def is_elsewhere(self) -> bool:
        """Not."""
        return False

    @property
    def losses(self) -> tuple[type[Exception], ...]:
        """One lost process breaks the executor."""
        return (BrokenExecutor,)

    def check(self) -> None:
        """Do nothing: an executor tells when a process is lost."""

    def open(self) -> Executor:
        """Begin to work."""
        # Spawned, not forked: image libraries run threads that a forked process would lack.
        pool = ProcessPoolExecutor(
            self.count, mp_context=get_context("spawn"), initializer=self.begin, initargs=self.said
        )
        with _stops_ignored():
            for _ in range(self.count):
                pool.submit(int)  # each starts a process, which ignores Ctrl-C as this one does now
        return pool

    def alone(self) -> "Processes":
        """Return a crew of one process."""
        return Processes(1, self.begin, self.said)


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
