"""The page of a club: photos are measured by a cluster of two workers, of which one is lost."""

import asyncio
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from sizing.base.measured_sheets import remembered_sheets
from sizing.lot.handfuls import Handful
from sizing.web.measuring.bench import Bench
from sizing.web.measuring.limits import Limits
from sizing.web.measuring.measurements import Measurement, Measurements
from sizing.web.measuring.seat import Seat
from sizing.web.measuring.work import Order
from tests.helpers.cluster import Running, cluster, crew_of
from tests.helpers.workers import JPEG, pretend, where

LIMITS = Limits(workers=2, photo_s=60.0)


@pytest.fixture
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with cluster(tmp_path_factory.mktemp("cluster")) as found:
        yield found


def orders(folder: Path, *does: str, what: str = "strand") -> list[Order]:
    """Return an order for each photo, with which a worker does something."""
    made = []
    for number, each in enumerate(does):
        path = folder / f"{number}.photo"
        path.write_bytes(JPEG + each.encode())
        handful = Handful(path=path, name=f"photo {number}")
        made.append(Order(handful=handful, what=what, thing="card"))  # type: ignore[arg-type]
    return made


async def finished(asked: Measurement) -> Measurement:
    async with asyncio.timeout(60):
        while asked.state in {"waiting", "measuring"}:  # noqa: ASYNC110 - as the page asks again and again
            await asyncio.sleep(0.01)
    return asked


def test_photos_are_measured_by_both_workers_until_one_is_lost(tmp_path: Path, running: Running) -> None:
    crew = crew_of(running)

    async def club() -> None:
        bench = Bench([Seat(LIMITS, pretend, crew) for _ in range(crew.workers)], most_waiting=60)
        measurements = Measurements(bench, LIMITS)
        asked = [measurements.begin("strand", [order], typed={}) for order in orders(tmp_path, *["slow"] * 8)]
        await finished(asked[0])
        running.workers[0].kill()
        for each in asked:
            assert (await finished(each)).state == "done"
            assert len(each.strands[0].beads) == 30
        await measurements.close()
        bench.close()

    asyncio.run(club())
    crew.close()


def test_workers_are_other_processes_which_see_no_file_of_ours(tmp_path: Path, running: Running) -> None:
    crew = crew_of(running)

    async def club() -> list[str]:
        seats = [Seat(LIMITS, where, crew) for _ in range(2)]
        taken = [seat.run(order) for seat, order in zip(seats, orders(tmp_path, "slow", "slow"), strict=True)]
        outcomes = await asyncio.gather(*taken)
        assert [seat.process for seat in seats] == [None, None]
        for seat in seats:
            seat.close()
        return [each.said[0] for each in outcomes]

    processes = {int(said) for said in asyncio.run(club())}
    assert processes == {worker.pid for worker in running.workers}
    assert os.getpid() not in processes
    crew.close()


def test_what_a_sheet_measures_is_remembered_here(tmp_path: Path, running: Running) -> None:
    crew = crew_of(running)

    async def club() -> None:
        bench = Bench([Seat(LIMITS, pretend, crew)], most_waiting=60)
        measurements = Measurements(bench, LIMITS)
        asked = measurements.begin("sheet", orders(tmp_path, "", what="sheet"), typed={})
        assert (await finished(asked)).said == ("card",)
        await measurements.close()
        bench.close()

    asyncio.run(club())
    assert remembered_sheets()["mat-a4"].check_length_mm == 272.4
    crew.close()
