"""Measurements that were asked for: how far each is, and what it gave."""

import asyncio
import contextlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from sizing.base.measured_sheets import remember
from sizing.lot.handfuls import complaint, of_other_kind, one_lot, with_name
from sizing.web.measuring.bench import Bench
from sizing.web.measuring.limits import Limits
from sizing.web.measuring.work import Order, Outcome, Shown
from vision.common.corrections import Correction
from vision.common.errors import PhotoError, StrandgaugeError
from vision.common.records import Lot, Strand

Kind = Literal["strand", "lot", "label", "sheet"]
State = Literal["waiting", "measuring", "done", "refused", "cancelled"]
_FAULT = "this photo could not be measured, by a fault of the program: take another photo"


@dataclass(slots=True, kw_only=True)
class Measurement:
    """One measurement, while it goes on and afterwards.

    Attributes
    ----------
    word : str
        Names it; nobody can guess it.
    kind : str
        What the maker asked: `strand`, `lot`, `label` for a lot against its label, `sheet` for a printed one.
    orders : sequence of Order
        One for each photo.
    state : str
    message : str
        Why there is no result.
    photos_done : int
    strands : tuple of Strand
    lot : Lot or None
    said : tuple of str
        Of a printed sheet, what it measures.
    shown : tuple of Shown
        The photos as a page shows them.
    typed : dict
        What the maker typed about it, by the name of the field; it may be changed afterwards.
    corrections : list of Correction
        What the maker put right since.
    changing : Lock
        Held while one of several browsers changes it.
    """

    word: str
    kind: Kind
    orders: Sequence[Order]
    state: State = "waiting"
    message: str = ""
    photos_done: int = 0
    strands: tuple[Strand, ...] = ()
    lot: Lot | None = None
    said: tuple[str, ...] = ()
    shown: tuple[Shown, ...] = ()
    typed: dict[str, str] = field(default_factory=dict)
    corrections: list[Correction] = field(default_factory=list)
    changing: asyncio.Lock = field(default_factory=asyncio.Lock)


class Measurements:
    """Begins, follows and keeps measurements."""

    def __init__(self, bench: Bench, limits: Limits) -> None:
        self._bench = bench
        self._limits = limits
        self._all: dict[str, Measurement] = {}
        self._tasks: dict[str, asyncio.Task[None]] = {}

    def begin(self, kind: Kind, orders: Sequence[Order], *, typed: dict[str, str]) -> Measurement:
        """Put the photos of a measurement into the line.

        Raises
        ------
        BusyError
            As many photos wait as may.
        """
        self._bench.check_room(len(orders))
        asked = Measurement(word=secrets.token_urlsafe(9), kind=kind, orders=orders, typed=typed)
        self._forget_oldest()
        self._all[asked.word] = asked
        self._tasks[asked.word] = asyncio.create_task(self._follow(asked))
        return asked

    def get(self, word: str) -> Measurement | None:
        """Return a measurement; None where it is unknown or was forgotten."""
        return self._all.get(word)

    def ahead_of(self, asked: Measurement) -> int:
        """Return how many photos wait before the first of a measurement."""
        return self._bench.ahead_of(asked.orders[0])

    async def cancel(self, asked: Measurement) -> None:
        """Stop measuring; what was measured already stays."""
        task = self._tasks.pop(asked.word, None)
        if task is not None:
            task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await task

    async def close(self) -> None:
        """Stop all measurements."""
        for asked in list(self._all.values()):
            await self.cancel(asked)

    async def _follow(self, asked: Measurement) -> None:
        """Measure all photos of a measurement, and note what became of it."""
        try:
            outcomes = await self._measure_all(asked)
            asked.shown = tuple(each.shown for each in outcomes)
            for each in outcomes:
                if each.sheet is not None:  # here, since a worker may be another computer
                    remember(each.sheet)
            asked.said = tuple(line for each in outcomes for line in each.said)
            asked.strands = tuple(strand for each in outcomes for strand in each.strands)
            asked.lot = await self._one_lot(asked, outcomes)
            asked.state = "done"
        except asyncio.CancelledError:
            asked.state = "cancelled"
            raise
        except StrandgaugeError as error:
            asked.state, asked.message = "refused", str(error)
        except Exception:  # noqa: BLE001 - whatever it was, the page must say that it is over
            asked.state, asked.message = "refused", _FAULT
        finally:
            self._tasks.pop(asked.word, None)
            for order in asked.orders:
                order.handful.path.unlink(missing_ok=True)

    async def _measure_all(self, asked: Measurement) -> list[Outcome]:
        """Return what each photo gave; raise one error that names every photo that gave nothing."""
        tasks = [asyncio.create_task(self._one(asked, order)) for order in asked.orders]
        try:
            outcomes = await asyncio.gather(*tasks)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
        failed = [each for each in outcomes if isinstance(each, str)]
        if failed:
            raise PhotoError(complaint(failed, len(outcomes)))
        return [each for each in outcomes if isinstance(each, Outcome)]

    async def _one(self, asked: Measurement, order: Order) -> Outcome | str:
        def begun() -> None:
            asked.state = "measuring"

        try:
            return await self._bench.run(order, begun=begun)
        except PhotoError as error:
            name = order.handful.name
            return with_name(name, str(error)) if len(asked.orders) > 1 else _without_name(name, str(error))
        finally:
            asked.photos_done += 1

    async def _one_lot(self, asked: Measurement, outcomes: Sequence[Outcome]) -> Lot | None:
        """Merge the lots of all photos; those that took the beads for the other kind are measured again."""
        lots: list[Lot | str] = [each.lot for each in outcomes if each.lot is not None]
        if not lots:
            return None
        flat, others = of_other_kind(lots)
        for i in others:
            handful = replace(asked.orders[i].handful, flat=flat)
            try:
                lots[i] = (await self._bench.run(replace(asked.orders[i], handful=handful))).lot or lots[i]
            except PhotoError as error:
                lots[i] = with_name(handful.name, str(error))
        return one_lot([order.handful.name for order in asked.orders], lots)

    def _forget_oldest(self) -> None:
        over = [each.word for each in self._all.values() if each.word not in self._tasks]
        for word in over[: max(len(self._all) + 1 - self._limits.kept, 0)]:
            del self._all[word]


def _without_name(name: str, message: str) -> str:
    """Return a message without the name of the only photo at its beginning."""
    text = message.removeprefix(f"{name}: ")
    return text[:1].upper() + text[1:]
