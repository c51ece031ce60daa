"""Workers measure one photo after the other within limits, and are replaced where they break."""

import asyncio
import errno
import io
import os
import re
import time
import zipfile
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import replace
from multiprocessing import active_children
from pathlib import Path

import cv2
import pytest
from PIL import Image

from sizing.batch.crew import Processes
from sizing.lot.handfuls import Handful
from sizing.web.measuring.bench import Bench, BusyError
from sizing.web.measuring.inbox import Inbox, RefusedPhotoError
from sizing.web.measuring.limits import Limits, usual_limits
from sizing.web.measuring.measurements import Measurement, Measurements
from sizing.web.measuring.seat import Seat
from sizing.web.measuring.work import Order, measure
from sizing.web.reading.lots import read_lot
from sizing.web.reading.wishes import Asked
from tests.helpers.paths import SAMPLES
from tests.helpers.workers import JPEG, pretend
from vision.common.errors import PhotoError

LIMITS = Limits(
    workers=1,
    photo_s=20.0,
    waiting=3,
    photo_bytes=1000,
    sending=2,
    silence_s=0.05,
    arrival_s=0.4,
    kept=2,
)


def order(folder: Path, does: str = "", *, name: str = "photo 1") -> Order:
    """Return an order for a photo with which a worker does something."""
    path = folder / f"{name}.photo"
    path.write_bytes(JPEG + does.encode())
    return Order(handful=Handful(path=path, name=name), what="strand")


def with_seat(use: Callable[[Seat], Awaitable[None]], limits: Limits = LIMITS) -> None:
    """Run something that uses a worker."""

    async def run() -> None:
        seat = Seat(limits, pretend)
        try:
            await use(seat)
        finally:
            seat.close()

    asyncio.run(run())


def test_a_worker_stays_for_the_next_photo(tmp_path: Path) -> None:
    async def use(seat: Seat) -> None:
        first = await seat.run(order(tmp_path))
        process = seat.process
        again = await seat.run(order(tmp_path, name="photo 2"))
        assert (first.shown.name, again.shown.name) == ("photo 1", "photo 2")
        assert seat.process == process

    with_seat(use)


@pytest.mark.parametrize(
    ("does", "photo_s", "said"),
    [
        ("die", 20.0, "process ended"),
        ("hang", 0.2, "took longer than 0 s"),
        ("empty", 20.0, "no bead is seen"),
    ],
)
def test_after_a_photo_that_breaks_a_worker_the_next_is_measured(
    tmp_path: Path, does: str, photo_s: float, said: str
) -> None:
    async def use(seat: Seat) -> None:
        await seat.run(order(tmp_path))  # it is warm then
        vars(seat)["_limits"] = replace(LIMITS, photo_s=photo_s)
        with pytest.raises(PhotoError, match=said):
            await seat.run(order(tmp_path, does))
        vars(seat)["_limits"] = LIMITS  # the next worker starts first
        assert (await seat.run(order(tmp_path, name="photo 2"))).shown.name == "photo 2"

    with_seat(use)


def test_a_worker_that_hangs_as_it_starts_is_ended(tmp_path: Path) -> None:
    async def use() -> None:
        seat = Seat(replace(LIMITS, photo_s=0.2), pretend, crew=Processes(1, time.sleep, (600.0,)))
        try:
            seat.warm()
            started = seat.process
            with pytest.raises(PhotoError, match="took longer than 0 s"):
                await seat.run(order(tmp_path))
            await ended(started)
        finally:
            seat.close()

    asyncio.run(use())


async def ended(process: int | None) -> None:
    """Wait until a process that was started here has ended."""
    assert process is not None
    async with asyncio.timeout(60):
        while process in {each.pid for each in active_children()}:  # noqa: ASYNC110 - it tells nobody
            await asyncio.sleep(0.01)


def test_memory_of_a_worker_is_limited(tmp_path: Path) -> None:
    async def use(seat: Seat) -> None:
        with pytest.raises(MemoryError):
            await seat.run(order(tmp_path, "fill"))

    with_seat(use)


def with_measurements(use: Callable[[Measurements], Awaitable[None]]) -> None:
    """Run something that asks for measurements, one photo at a time."""

    async def run() -> None:
        bench = Bench([Seat(LIMITS, pretend)], most_waiting=LIMITS.waiting)
        measurements = Measurements(bench, LIMITS)
        try:
            await use(measurements)
        finally:
            await measurements.close()
            bench.close()

    asyncio.run(run())


async def left(asked: Measurement, *states: str) -> Measurement:
    """Wait until a measurement has left some states."""
    async with asyncio.timeout(60):
        while asked.state in states:  # noqa: ASYNC110 - as the page asks for it again and again
            await asyncio.sleep(0.01)
    return asked


async def finished(asked: Measurement) -> Measurement:
    """Wait until a measurement is over."""
    return await left(asked, "waiting", "measuring")


def test_a_full_line_says_its_length(tmp_path: Path) -> None:
    async def use(measurements: Measurements) -> None:
        asked = [
            measurements.begin("strand", [order(tmp_path, "slow", name=f"photo {i}")], typed={})
            for i in range(4)
        ]
        await asyncio.sleep(0)
        await left(asked[0], "waiting")
        assert [measurements.ahead_of(each) for each in asked] == [0, 0, 1, 2]
        with pytest.raises(BusyError, match="3 photos are waiting"):
            measurements.begin("strand", [order(tmp_path, name="photo 9")], typed={})
        assert [(await finished(each)).state for each in asked] == ["done"] * 4

    with_measurements(use)


def test_a_cancelled_photo_frees_the_worker(tmp_path: Path) -> None:
    async def use(measurements: Measurements) -> None:
        stuck = measurements.begin("strand", [order(tmp_path, "hang")], typed={})
        follows = measurements.begin("strand", [order(tmp_path, name="photo 2")], typed={})
        await left(stuck, "waiting")
        await measurements.cancel(stuck)
        assert stuck.state == "cancelled"
        assert (await finished(follows)).state == "done"

    with_measurements(use)


def test_photos_of_a_lot_are_merged_and_each_refused_one_is_named(tmp_path: Path) -> None:
    def orders(*does: str) -> list[Order]:
        made = [order(tmp_path, each, name=f"photo {i}") for i, each in enumerate(does, 1)]
        return [Order(handful=each.handful, what="loose") for each in made]

    async def use(measurements: Measurements) -> None:
        whole = await finished(measurements.begin("lot", orders("", ""), typed={}))
        assert whole.lot is not None
        assert {bead.photo for bead in whole.lot.beads} == {"photo 1", "photo 2"}
        lacking = await finished(measurements.begin("lot", orders("", "empty"), typed={}))
        assert lacking.message.startswith("1 of 2 photos cannot be measured")
        assert "photo 2: no bead is seen" in lacking.message
        mixed = await finished(measurements.begin("lot", orders("discs", "", ""), typed={}))
        assert mixed.lot is not None
        assert [each.photo for each in mixed.lot.conditions] == ["photo 2", "photo 3"]
        assert [(each.photo, each.place) for each in mixed.lot.left_out] == [("photo 1", 0)]
        read = read_lot(mixed.lot, Asked(), sizes_px={shown.name: shown.size_px for shown in mixed.shown})
        assert [(photo.name, photo.index) for photo in read.photos] == [("photo 2", 1), ("photo 3", 2)]
        assert read.cards[0].title == "Bead B1"
        alone = await finished(measurements.begin("lot", orders("empty"), typed={}))
        assert alone.message == "No bead is seen: lay some on the sheet"

    with_measurements(use)


def test_files_go_when_they_are_measured_and_old_measurements_are_forgotten(tmp_path: Path) -> None:
    async def use(measurements: Measurements) -> None:
        words = []
        for i in range(3):
            asked = order(tmp_path, name=f"photo {i}")
            words.append((await finished(measurements.begin("strand", [asked], typed={}))).word)
            assert not asked.handful.path.exists()
        assert [measurements.get(word) is None for word in words] == [True, False, False]

    with_measurements(use)


async def chunks(*parts: bytes, pause_s: float = 0.0) -> AsyncIterator[bytes]:
    """Yield parts of a file as they arrive."""
    for part in parts:
        await asyncio.sleep(pause_s)
        yield part


@pytest.mark.parametrize(
    ("parts", "pause_s", "status"),
    [
        ((b"<html><script>alert(1)</script>",), 0.0, 415),
        ((b"GIF89a/*", JPEG), 0.0, 415),
        ((b"%PDF-1.7", JPEG), 0.0, 415),
        ((b"PK\x03\x04" + JPEG,), 0.0, 415),
        ((b"\xff\xd8",), 0.0, 415),
        ((b"",), 0.0, 415),
        ((JPEG, bytes(2000)), 0.0, 413),
        ((JPEG, b"late"), 0.2, 408),
        ((JPEG, *[b"trickles"] * 60), 0.02, 408),
    ],
)
def test_what_is_no_photo_leaves_no_file(parts: tuple[bytes, ...], pause_s: float, status: int) -> None:
    inbox = Inbox(LIMITS)
    try:
        with pytest.raises(RefusedPhotoError) as refused:
            asyncio.run(receive(inbox, chunks(*parts, pause_s=pause_s)))
        assert refused.value.status == status
        assert list(inbox.folder.iterdir()) == []
    finally:
        inbox.close()


async def receive(inbox: Inbox, parts: AsyncIterator[bytes]) -> str:
    return await inbox.receive(parts)


def test_a_broken_upload_leaves_no_file_and_no_place_taken() -> None:
    async def broken() -> AsyncIterator[bytes]:
        yield JPEG
        raise ConnectionError

    async def run() -> None:
        inbox = Inbox(LIMITS)
        try:
            for _ in range(LIMITS.sending + 1):
                with pytest.raises(ConnectionError):
                    await inbox.receive(broken())
            assert list(inbox.folder.iterdir()) == []
            assert inbox.take([await inbox.receive(chunks(JPEG))])
        finally:
            inbox.close()

    asyncio.run(run())


def test_on_a_full_disk_a_photo_is_refused_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    inbox = Inbox(LIMITS)
    monkeypatch.setattr(Path, "open", full)
    try:
        with pytest.raises(RefusedPhotoError, match="disk is full: free some space") as refused:
            asyncio.run(receive(inbox, chunks(JPEG)))
        assert refused.value.status == 507
    finally:
        inbox.close()


def test_photos_are_handed_out_once_and_all_or_none() -> None:
    async def run() -> None:
        inbox = Inbox(LIMITS)
        try:
            one, two = [await inbox.receive(chunks(JPEG[:5], JPEG[5:])) for _ in range(2)]
            assert inbox.take([one, one]) is None
            assert inbox.take([one, "../../etc/passwd"]) is None
            paths = inbox.take([one, two])
            assert paths is not None
            assert [path.read_bytes() for path in paths] == [JPEG, JPEG]
            assert {path.parent for path in paths} == {inbox.folder}
            assert inbox.folder.stat().st_mode & 0o077 == 0
            assert inbox.take([one]) is None
        finally:
            inbox.close()
            assert not inbox.folder.exists()

    asyncio.run(run())


def test_too_many_at_once_are_told_to_wait() -> None:
    async def run() -> None:
        inbox = Inbox(LIMITS)
        try:
            sent = [asyncio.create_task(receive(inbox, chunks(JPEG, pause_s=0.02))) for _ in range(3)]
            outcomes = await asyncio.gather(*sent, return_exceptions=True)
            assert [isinstance(each, str) for each in outcomes] == [True, True, False]
            assert isinstance(outcomes[2], RefusedPhotoError)
            assert outcomes[2].status == 503
        finally:
            inbox.close()

    asyncio.run(run())


def test_of_a_photo_only_pixels_are_shown(tmp_path: Path) -> None:
    """A photo that is a page and an archive too, and says where it was taken (Exif 2.32, 4.6.6)."""
    path = tmp_path / "photo"
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0)})
    exif[0x010E] = "<script>alert(1)</script>"
    with Image.open(SAMPLES / "anklet.jpg") as sample:
        sample.resize((1600, 1200)).save(path, "JPEG", exif=exif, quality=90)
    with path.open("ab") as file:
        file.write(b"<html><script>alert(1)</script></html>")
    with zipfile.ZipFile(path, "a") as file:
        file.writestr("evil.js", "alert(1)")
    assert zipfile.is_zipfile(path)
    assert b"<script>" in path.read_bytes()
    shown = measure(Order(handful=Handful(path=path, name="photo 1"), what="strand")).shown
    for jpeg in (shown.jpeg, shown.small):
        assert not zipfile.is_zipfile(io.BytesIO(jpeg))
        assert not re.search(rb"script|Exif|html|alert", jpeg)
        with Image.open(io.BytesIO(jpeg)) as image:
            assert image.getexif() == {}


def test_a_photo_too_large_for_memory_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise cv2.error("(-4:Insufficient memory) Failed to allocate 900000000 bytes")

    monkeypatch.setattr("sizing.web.measuring.work.measured_on", fail)
    path = SAMPLES / "anklet.jpg"
    with pytest.raises(PhotoError, match="photo 1: there is too little memory for this photo"):
        measure(Order(handful=Handful(path=path, name="photo 1"), what="strand"))


def test_workers_are_as_many_as_cores_at_most() -> None:
    assert 1 <= usual_limits().workers <= 1024
