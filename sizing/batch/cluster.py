"""Other computers that measure: a cluster of Dask `distributed`, through the executor that it offers.

The bytes of a photo travel, and records come back. A task whose worker is lost is given to another by the
scheduler. The program must be installed there in the same version, or results would differ.
"""

import contextlib
import functools
import socket
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import Any, TypeVar
from urllib.parse import urlsplit

from sizing.base.errors import SizingError
from sizing.batch.kept import program_digest
from sizing.batch.worker import one_thread

Result = TypeVar("Result")

_ANSWER_S = 10.0  # in which a scheduler of the home network answers, and a first worker is there
_RETURN_S = 30.0  # in which a worker that was lost is there again, where somebody watches over it
_AHEAD = 2  # photos given out for each worker, so that none waits for the next one to arrive
_QUIET = {
    # A lost worker is no news to a maker: its photos are measured again.
    "logging": {"distributed": "critical", "distributed.client": "critical"},
    "distributed.admin.large-graph-warning-threshold": "1GB",  # photos travel with their tasks, on purpose
}
_one_at_a_time = threading.Lock()


class Cluster:
    """The crew of a cluster.

    Parameters
    ----------
    address : str
        Of its scheduler, as `tcp://192.168.1.20:8786`.

    Raises
    ------
    SizingError
        The extra is not installed, nobody answers at the address, no worker is there, or one of them has
        another version of the program.
    """

    def __init__(self, address: str) -> None:
        try:
            import dask  # noqa: PLC0415 - an extra, which takes its time to import

            dask.config.set(_QUIET)
            import distributed  # noqa: PLC0415
        except ImportError:
            raise SizingError(
                "a cluster needs the extra that is not installed: "
                "pip install '.[cluster]' where the program's files lie"
            ) from None
        self.losses: tuple[type[Exception], ...] = (distributed.KilledWorker,)
        self._address = address
        _knock(address)
        self._client = _client(distributed, address)
        try:
            _check_workers(self._client, address)
        except SizingError:
            with contextlib.suppress(Exception):
                self._client.close()
            raise

    @property
    def ahead(self) -> int:
        """How many photos are given out at once."""
        return _AHEAD * self.workers

    @property
    def workers(self) -> int:
        """How many workers there are now, at least one."""
        return max(len(self._client.scheduler_info(n_workers=-1)["workers"]), 1)

    @property
    def is_elsewhere(self) -> bool:
        """Where else."""
        return True

    def check(self) -> None:
        """Refuse to wait for nobody.

        Raises
        ------
        SizingError
            The scheduler, or every worker, is gone.
        """
        try:
            self._client.wait_for_workers(1, timeout=_RETURN_S)
        except (OSError, TimeoutError, ValueError):
            raise SizingError(
                f"nobody measures at {self._address} any more: start its workers, then give the same command "
                "again; what was measured is kept"
            ) from None

    def open(self) -> Executor:
        """Begin to work."""
        return _Elsewhere(self._client.get_executor())

    def alone(self) -> "Cluster":
        """Return itself: a lost worker takes no photo of another with it."""
        return self

    def close(self) -> None:
        """Leave the cluster."""
        self._client.close()


class _Elsewhere(Executor):
    """An executor of a cluster whose workers measure one photo at a time, with the same program as here."""

    def __init__(self, executor: Executor) -> None:
        self._executor = executor

    def submit(
        self,
        fn: Callable[..., Result],
        /,
        *args: Any,  # noqa: ANN401 - as declared by Executor
        **kwargs: Any,  # noqa: ANN401
    ) -> Future[Result]:
        """Let a worker call a function."""
        return self._executor.submit(_there, program_digest(), functools.partial(fn, *args, **kwargs))

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:  # noqa: FBT001, FBT002 - as declared by Executor
        """End; the cluster goes on."""
        # The executor cancels what is not done only where it does not wait for it.
        self._executor.shutdown(wait=wait and not cancel_futures)


def _there(digest: str, work: Callable[[], Result]) -> Result:
    """Work on another computer, as on this one: with one thread, one photo at a time.

    Raises
    ------
    SizingError
        Another version of the program is installed there.
    """
    if program_digest() != digest:
        raise SizingError(_other_version(["one"]))
    with _one_at_a_time:
        one_thread()
        return work()


def _knock(address: str) -> None:
    """Find out whether anybody listens at an address: a client that finds nobody leaves half of itself."""
    place = urlsplit(address if "://" in address else f"tcp://{address}")
    try:
        socket.create_connection((place.hostname or "", place.port or 0), timeout=_ANSWER_S).close()
    except (OSError, ValueError, OverflowError):
        raise SizingError(_nobody(address)) from None


def _client(distributed: Any, address: str) -> Any:  # noqa: ANN401 - an optional package, without types

    class Client(distributed.Client):  # type: ignore[misc]  # an optional package
        """A client that is closed when told to, never by the garbage collector.

        That may come while another client is made, and would wait for a lock that this one holds.
        """

        def __del__(self) -> None:
            pass

    try:
        return Client(address, timeout=_ANSWER_S, set_as_default=False)
    except Exception:  # noqa: BLE001 - whatever answers there, it is no scheduler
        raise SizingError(_nobody(address)) from None


def _check_workers(client: Any, address: str) -> None:  # noqa: ANN401 - an optional package, without types
    """Refuse a cluster without workers, or with workers of another version of the program."""
    try:
        client.wait_for_workers(1, timeout=_ANSWER_S)
        digests = client.run(program_digest, on_error="return")
    except (OSError, TimeoutError):
        raise SizingError(
            f"the cluster at {address} has no workers: start some with dask worker {address} --nthreads 1"
        ) from None
    if others := sorted(worker for worker, digest in digests.items() if digest != program_digest()):
        raise SizingError(_other_version(others))


def _nobody(address: str) -> str:
    return f"no cluster answers at {address}: check the address, and that dask scheduler runs there"


def _other_version(workers: list[str]) -> str:
    return (
        "another version of the program, or none, is installed on workers of the cluster "
        f"({', '.join(workers)}): install the same one on all computers"
    )
