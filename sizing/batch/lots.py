"""Measures one lot from several photos of a handful of beads each.

A photo that cannot be measured is left out of the lot, which names it with the reason: it can be taken again.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from sizing.batch.crew import Crew
from sizing.batch.job import Job, Measured, measure
from sizing.batch.kept import Kept
from sizing.batch.run import run
from sizing.lot.handfuls import Handful, as_one_lot, complaint, flat_by_most, with_name
from vision.common.errors import PhotoError
from vision.common.records import LeftOut, Lot


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

    def measured(given: Sequence[Handful], told: Callable[[], None]) -> list[Lot | str]:
        found: dict[int, Lot | str] = {}
        for i, outcome in run([Job(handful=h, what="loose") for h in given], crew, work=work, kept=kept):
            found[i] = outcome if isinstance(outcome, Lot) else with_name(given[i].name, str(outcome))
            told()
        return [found[i] for i in range(len(given))]

    outcomes = measured(handfuls, progress)
    lots = [each for each in outcomes if isinstance(each, Lot)]
    if not lots:
        raise PhotoError(complaint([str(each) for each in outcomes], len(outcomes)))
    flat = flat_by_most(lots)
    differing = [i for i, each in enumerate(outcomes) if isinstance(each, Lot) and each.flat != flat]
    again = measured([replace(handfuls[i], flat=flat) for i in differing], lambda: None)
    for i, outcome in zip(differing, again, strict=True):
        outcomes[i] = outcome
    left_out = [
        LeftOut(photo=handful.name, reason=outcome, place=place)
        for place, (handful, outcome) in enumerate(zip(handfuls, outcomes, strict=True))
        if isinstance(outcome, str)
    ]
    one = as_one_lot([each for each in outcomes if isinstance(each, Lot)])
    return replace(one, left_out=tuple(left_out))
