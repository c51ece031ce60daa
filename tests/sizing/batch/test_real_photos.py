"""Real photos measured side by side, each with one thread, are measured as one by one with all of them."""

from sizing.batch.crew import Processes, ThisProcess
from sizing.batch.job import Job, What
from sizing.batch.lots import measure_handfuls
from sizing.batch.run import run
from sizing.lot.handfuls import Handful
from tests.helpers.paths import SAMPLES
from tests.helpers.records import said

STRANDS = ("anklet.jpg", "mixed-strand.jpg")
LOTS = ("mixed-lot.jpg", "labelled-10mm.jpg")


def photos(names: tuple[str, ...]) -> list[Handful]:
    return [Handful(path=SAMPLES / name, name=name) for name in names]


def test_strands_are_the_same_to_the_last_digit() -> None:
    what: What = "strand"
    jobs = [Job(handful=each, what=what) for each in photos(STRANDS)]
    here, there = (dict(run(jobs, crew)) for crew in (ThisProcess(), Processes(2)))
    assert said([there[0], there[1]]) == said([here[0], here[1]])
    assert all(isinstance(each, tuple) for each in here.values())


def test_a_lot_of_several_photos_is_the_same_to_the_last_digit() -> None:
    here, there = (measure_handfuls(photos(LOTS), crew) for crew in (ThisProcess(), Processes(2)))
    assert said([there]) == said([here])
    assert len(here.conditions) == len(LOTS)
