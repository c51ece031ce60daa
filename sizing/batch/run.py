"""Measures many photos: each result as it comes, a bad photo by its reason, a lost worker's photos again."""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, CancelledError, Executor, Future, wait
from dataclasses import replace

from sizing.base.memory import is_memory_error
from sizing.batch.crew import Crew
from sizing.batch.job import NO_MEMORY, Job, Measured, measure
from sizing.batch.kept import Kept
from vision.common.errors import PhotoError

Work = Callable[[Job], Measured]
"""What measures a photo; other processes must be able to import it by its name."""
LOST = "a measuring process was stopped, perhaps for lack of memory: give this photo alone, or a smaller one"
_LONG_S = 10.0  # a photo takes a few seconds; at half or double a cluster is only asked more or less often
_TRIES = 2  # of a photo alone: its first result may have gone with a worker that another photo ended


def run(
    jobs: Sequence[Job], crew: Crew, *, work: Work = measure, kept: Kept | None = None
) -> Iterator[tuple[int, Measured | str]]:
    """Yield the position of each job with what was measured, or with the reason why nothing was.

    Parameters
    ----------
    jobs : sequence of Job
    crew : Crew
        Who measures.
    work : callable, keyword-only
    kept : Kept or None, keyword-only
        What was measured before; None to measure all.

    Raises
    ------
    SizingError
        Nobody is left to measure.

    Notes
    -----
    Where a worker is lost, the photos that were given out then are measured once more, one by one: so the one
    that ends its worker is found, and costs no other its result.
    """
    left: deque[int] = deque()
    for i, job in enumerate(jobs):
        known = kept.get(job) if kept else None
        if known is None:
            left.append(i)
        else:
            yield i, known
    for i, outcome in _outcomes(left, jobs, crew, work):
        if kept and not isinstance(outcome, str):
            kept.put(jobs[i], outcome)
        yield i, outcome


def only(job: Job, crew: Crew, *, work: Work = measure) -> Measured:
    """Measure one photo.

    Raises
    ------
    PhotoError
        It cannot be measured.
    """
    [(_, outcome)] = run([job], crew, work=work)
    if isinstance(outcome, str):
        raise PhotoError(outcome)
    return outcome


def _outcomes(
    left: deque[int], jobs: Sequence[Job], crew: Crew, work: Work
) -> Iterator[tuple[int, Measured | str]]:
    while left:
        suspects = []
        for i, outcome in _given_out(left, jobs, crew, work):
            if outcome is None:
                suspects.append(i)
            else:
                yield i, outcome
        for i in suspects:
            yield i, _alone(i, jobs, crew, work)


def _alone(i: int, jobs: Sequence[Job], crew: Crew, work: Work) -> Measured | str:
    """Measure a photo that was lost with its worker, with no other beside it."""
    for _ in range(_TRIES):
        crew.check()
        [(_, outcome)] = _given_out(deque([i]), jobs, crew.alone(), work)
        if outcome is not None:
            return outcome
    return LOST


def _given_out(
    queue: deque[int], jobs: Sequence[Job], crew: Crew, work: Work
) -> Iterator[tuple[int, Measured | str | None]]:
    """Measure what a queue holds, until it is empty or a worker is lost; None for what was lost with it."""
    executor = crew.open()
    out: dict[Future[Measured | str], int] = {}
    is_whole = True
    try:
        while out or (queue and is_whole):
            while queue and is_whole and len(out) < crew.ahead:
                i = queue.popleft()
                out[_submitted(executor, jobs[i], crew, work)] = i
            ready = wait(out, timeout=_LONG_S, return_when=FIRST_COMPLETED).done
            if not ready:
                crew.check()
            for done in ready:
                i = out.pop(done)
                outcome = _taken_in(done, crew)
                is_whole = is_whole and outcome is not None
                yield i, outcome
    finally:
        executor.shutdown(cancel_futures=True)


def _submitted(executor: Executor, job: Job, crew: Crew, work: Work) -> Future[Measured | str]:
    """Give a job to whoever measures; where this cannot be, return a future that says so."""
    if crew.is_elsewhere:
        job = _with_content(job)
        if not job.content:  # only here can be said why it cannot be read
            refused: Future[Measured | str] = Future()
            refused.set_result(_outcome(work, job))
            return refused
    try:
        return executor.submit(_outcome, work, job)
    except crew.losses as error:
        lost: Future[Measured | str] = Future()
        lost.set_exception(error)
        return lost


def _with_content(job: Job) -> Job:
    path = job.handful.path
    try:
        return replace(job, content=path.read_bytes()) if path.is_file() else job
    except (OSError, ValueError):
        return job


def _taken_in(done: Future[Measured | str], crew: Crew) -> Measured | str | None:
    try:
        return done.result()
    except CancelledError:
        return None
    except crew.losses:
        return None


def _outcome(work: Work, job: Job) -> Measured | str:
    """Measure one photo; return the message of the error if it cannot be measured."""
    try:
        return work(job)
    except PhotoError as error:
        return str(error)
    except Exception as error:
        if is_memory_error(error):
            return NO_MEMORY
        raise
