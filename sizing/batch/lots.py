"""Measures one lot from several photos of a handful of beads each.

A photo that cannot be measured is left out of the lot, which names it with the reason: it can be taken again.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from sizing.batch.crew import Crew
from sizing.batch.job import Job, Measured, measure
from sizing.batch.kept import Kept
from sizing.batch.run import run
from sizing.lot.handfuls import Handful, Outcome, of_other_kind, one_lot, with_name
from vision.common.records import Lot


def measure_handfuls(
    handfuls: Sequence[Handful],
    crew: Crew,
    *,
    progress: Callable[[], None] = lambda: None,
    work: Callable[[Job], Measured] = measure,
    kept: Kept | None = None,
) -> Lot:
    """Measure the photos of one lot and merge them, in the order given.

    Parameters
    ----------
    crew : Crew
        Who measures.
    progress : callable, keyword-only
        Called each time a photo is done.
    work : callable, keyword-only
        Measures one photo; other processes must be able to import it by its name.
    kept : Kept or None, keyword-only
        What was measured before; None to measure all.

    Raises
    ------
    PhotoError
        No photo can be measured; the message names each, with the reason.

    Notes
    -----
    If some photos appear to show flat discs and others rounds, the kind with more beads is taken for the
    whole lot, and the other photos are measured again as that kind.
    """

    def measured(given: Sequence[Handful], told: Callable[[], None]) -> list[Outcome]:
        found: dict[int, Outcome] = {}
        for i, outcome in run([Job(handful=h, what="loose") for h in given], crew, work=work, kept=kept):
            found[i] = outcome if isinstance(outcome, Lot) else with_name(given[i].name, str(outcome))
            told()
        return [found[i] for i in range(len(given))]

    outcomes = measured(handfuls, progress)
    flat, others = of_other_kind(outcomes)
    again = measured([replace(handfuls[i], flat=flat) for i in others], lambda: None)
    for i, outcome in zip(others, again, strict=True):
        outcomes[i] = outcome
    return one_lot([handful.name for handful in handfuls], outcomes)
