"""A cluster of two workers gives what this process gives, also where one of them is killed midway."""

import contextlib
import shutil
import signal
import socket
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner

from sizing.base.errors import SizingError
from sizing.batch import cluster as module
from sizing.batch.cluster import Cluster
from sizing.batch.crew import Processes, ThisProcess
from sizing.batch.job import Job, Measured
from sizing.batch.run import LOST, run
from sizing.cli.main import cli
from sizing.lot.handfuls import Handful
from sizing.web.desk import Desk
from sizing.web.server import serve
from tests.helpers.cluster import Running, cluster, crew_of
from tests.helpers.jobs import NO_SHEET, pretend, write
from tests.helpers.paths import ROOT
from tests.helpers.records import said


@pytest.fixture
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with cluster(tmp_path_factory.mktemp("cluster")) as found:
        yield found


@pytest.fixture
def crew(running: Running) -> Iterator[Cluster]:
    found = crew_of(running)
    yield found
    found.close()


def strands(handfuls: Sequence[Handful]) -> list[Job]:
    return [Job(handful=each, what="strand") for each in handfuls]


def in_order(outcomes: dict[int, Measured | str]) -> list[str]:
    return said([outcomes[i] for i in range(len(outcomes))])


def test_a_crew_is_left_when_told_to_and_never_while_another_is_made(crew: Cluster) -> None:
    """The garbage collector may come while another client holds the lock that closing this one waits for."""
    client = vars(crew)["_client"]
    client.__del__()
    assert client.status == "running"
    assert crew.workers == 2


def test_a_killed_worker_costs_no_result(tmp_path: Path, running: Running, crew: Cluster) -> None:
    jobs = strands(write(tmp_path, **{f"photo{i}": f"slow {3 + i}" for i in range(12)}))
    outcomes: dict[int, Measured | str] = {}
    for i, outcome in run(jobs, crew, work=pretend):
        if not outcomes:
            running.workers[0].kill()
        outcomes[i] = outcome
    assert in_order(outcomes) == in_order(dict(run(jobs, ThisProcess(), work=pretend)))
    assert crew.workers == 1


def test_a_thousand_photos_with_a_worker_killed(tmp_path: Path, running: Running, crew: Cluster) -> None:
    jobs = strands(write(tmp_path, **{f"photo{i:03}": str(3 + i % 7) for i in range(1000)}))
    outcomes: dict[int, Measured | str] = {}
    for i, outcome in run(jobs, crew, work=pretend):
        outcomes[i] = outcome
        if len(outcomes) == 100:
            running.workers[0].kill()
    assert in_order(outcomes) == in_order(dict(run(jobs, Processes(2), work=pretend)))


def test_what_travels_is_the_photo(tmp_path: Path, crew: Cluster) -> None:
    handfuls = write(tmp_path, a="3", b="dark", c="5")
    jobs = strands([*handfuls, Handful(path=tmp_path / "none.jpg", name="none.jpg")])

    def only_what_came(job: Job) -> Measured:
        assert job.content or job.handful.name == "none.jpg"
        return pretend(Job(handful=Handful(path=Path("nowhere"), name=job.handful.name), what="strand",
                           content=job.content or b"dark"))  # fmt: skip

    # A function of this test travels by its value, not by its name.
    outcomes = dict(run(jobs, crew, work=only_what_came))
    assert [outcomes[i] for i in (1, 3)] == [NO_SHEET] * 2
    assert in_order({0: outcomes[0], 1: outcomes[2]}) == said([pretend(jobs[0]), pretend(jobs[2])])


@pytest.fixture
def left(monkeypatch: pytest.MonkeyPatch) -> list[Cluster]:
    """Return a list of the clusters that are left from now on."""
    close, found = Cluster.close, []

    def noted(crew: Cluster) -> None:
        found.append(crew)
        close(crew)

    monkeypatch.setattr(Cluster, "close", noted)
    return found


def test_a_page_that_ends_leaves_its_cluster(running: Running, left: list[Cluster]) -> None:
    def stop(_: Desk) -> None:
        signal.raise_signal(signal.SIGINT)

    assert serve(port=None, phone=False, certificate=None, ready=stop, cluster=running.address)
    assert len(left) == 1


def test_real_photos_give_the_same_report_as_on_one_computer(running: Running, left: list[Cluster]) -> None:
    photos = [str(ROOT / "sample_images" / name) for name in ("anklet.jpg", "mixed-strand.jpg")]
    here, there = (
        CliRunner().invoke(cli, ["strand", *photos, "--json", "--anew", *where])
        for where in ((), ("--cluster", running.address))
    )
    assert (here.exit_code, there.exit_code) == (0, 0)
    assert there.stdout == here.stdout
    assert len(here.stdout.splitlines()) == len(photos)
    assert len(left) == 1


def test_a_photo_that_ends_every_worker_is_named(tmp_path: Path) -> None:
    jobs = strands(write(tmp_path, a="3", bad="die", c="4"))
    once = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1"}
    with (
        cluster(tmp_path, watched=True, **once) as running,
        contextlib.closing(Cluster(running.address)) as crew,
    ):
        outcomes = dict(run(jobs, crew, work=pretend))
    assert outcomes[1] == LOST
    assert in_order({0: outcomes[0], 1: outcomes[2]}) == said([pretend(jobs[0]), pretend(jobs[2])])


def test_where_nobody_is_left_nobody_is_waited_for(
    tmp_path: Path, running: Running, crew: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "_RETURN_S", 1.0)
    monkeypatch.setattr("sizing.batch.run._LONG_S", 0.5)
    jobs = strands(write(tmp_path, a="slow 3", b="slow 3", c="slow 3"))
    for worker in running.workers:
        worker.kill()
    with pytest.raises(SizingError, match=r"nobody measures at .* any more"):
        list(run(jobs, crew, work=pretend))


def test_workers_of_another_version_are_refused(tmp_path: Path) -> None:
    for package in ("vision", "sizing", "tests/helpers"):
        shutil.copytree(ROOT / package, tmp_path / package)
    with (tmp_path / "vision" / "measure.py").open("a") as code:
        code.write("# changed\n")
    with (
        cluster(tmp_path, workers=1, root=tmp_path) as running,
        pytest.raises(SizingError, match="another version of the program, or none, is installed on workers"),
    ):
        Cluster(running.address)


def test_an_address_where_nobody_answers_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_ANSWER_S", 1.0)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    for address in (f"tcp://127.0.0.1:{port}", f"127.0.0.1:{port}"):
        with pytest.raises(SizingError, match=f"no cluster answers at {address}"):
            Cluster(address)


@pytest.mark.parametrize("address", ["nonsense", "", "ftp://127.0.0.1:99", "tcp://127.0.0.1:x"])
def test_what_is_no_address_is_one_line(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_ANSWER_S", 1.0)
    with pytest.raises(SizingError, match="no cluster answers at"):
        Cluster(address)


def test_where_another_program_answers_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_ANSWER_S", 1.0)

    def answer() -> None:
        with contextlib.suppress(OSError):  # the test is over
            while True:
                caller, _ = other.accept()
                with caller:
                    caller.recv(100)
                    caller.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n")

    with socket.create_server(("127.0.0.1", 0)) as other:
        threading.Thread(target=answer, daemon=True).start()
        with pytest.raises(SizingError, match="no cluster answers at"):
            Cluster(f"tcp://127.0.0.1:{other.getsockname()[1]}")


def test_a_cluster_without_workers_is_one_line(tmp_path: Path) -> None:
    with cluster(tmp_path, workers=0) as empty, pytest.raises(SizingError, match="has no workers"):
        Cluster(empty.address)
