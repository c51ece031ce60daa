"""What every process that measures does first. Nothing here imports what reads the settings made here."""

import os
import threading
from multiprocessing import parent_process

_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""Environment variables by which libraries for linear algebra take their number of threads, once."""


def begin_worker() -> None:
    """Limit a worker to one core, because there is a worker for each core, and end it with its parent."""
    os.environ.update(dict.fromkeys(_THREADS, "1"))
    threading.Thread(target=_end_with_parent, daemon=True).start()
    one_thread()


def one_thread() -> None:
    """Let OpenCV compute in the thread that calls it."""
    import cv2  # noqa: PLC0415 - after the environment is set

    cv2.setNumThreads(1)


def _end_with_parent() -> None:
    """End this process when its parent has ended: a worker without one would wait for ever."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
