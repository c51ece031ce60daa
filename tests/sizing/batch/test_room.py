"""As many photos at once as cores and memory allow, also those of the group of processes that we are in."""

from pathlib import Path

import pytest

from sizing.batch import room

GB = 1_000_000_000


@pytest.fixture
def groups(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Pretend a computer of 16 cores and 64 GB; we are in the group `inner` of the group returned."""
    (tmp_path / "outer" / "inner").mkdir(parents=True)
    (tmp_path / "own").write_text("0::/outer/inner\n")
    (tmp_path / "memory").write_text(f"MemTotal: 1 kB\nMemAvailable: {64 * GB // 1024} kB\n")
    monkeypatch.setattr(room, "_GROUPS", tmp_path)
    monkeypatch.setattr(room, "_OWN_GROUP", tmp_path / "own")
    monkeypatch.setattr(room, "_MEMORY", tmp_path / "memory")
    monkeypatch.setattr("os.sched_getaffinity", lambda _: set(range(16)))
    return tmp_path / "outer"


def limit(group: Path, **values: str) -> None:
    """Set files of a group as the kernel writes them (Control Group v2, kernel documentation)."""
    for name, value in values.items():
        (group / name.replace("_", ".", 1)).write_text(value + "\n")


def test_without_limits_all_cores_work(groups: Path) -> None:
    limit(groups, cpu_max="max 100000", memory_max="max", memory_current="5")
    assert room.workers_for(1000) == 16
    assert room.workers_for(3) == 3


def test_a_quota_of_the_outer_group_holds_for_us(groups: Path) -> None:
    limit(groups, cpu_max="350000 100000")
    limit(groups / "inner", cpu_max="max 100000")
    assert room.cores() == 3


def test_less_than_one_core_is_still_one_worker(groups: Path) -> None:
    limit(groups / "inner", cpu_max="50000 100000")
    assert room.workers_for(10) == 1


def test_memory_of_the_group_less_what_is_used(groups: Path) -> None:
    limit(groups, memory_max=str(8 * GB), memory_current=str(5 * GB), memory_stat=f"inactive_file {GB}\nx 1")
    assert room.memory_bytes() == 4 * GB
    assert room.workers_for(10) == 4 * GB // room.WORKER_BYTES


def test_free_memory_of_the_computer(groups: Path) -> None:
    assert groups.exists()
    assert room.memory_bytes() == 64 * GB // 1024 * 1024


def test_where_the_system_says_nothing_there_are_two(groups: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "_MEMORY", groups / "none")

    def unknown(_: str) -> int:
        raise ValueError

    monkeypatch.setattr("os.sysconf", unknown)
    assert room.workers_for(10) == 2
