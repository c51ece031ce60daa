"""The best set of strings, as an integer programme.

Each piece is passed in at most one way. A link is used by both of its pieces or by neither. So the passages
that are chosen form paths and closed loops, and paths that hang from one.

Integer links alone would do: a piece with two links in use has one passage left. But HiGHS solves mixed
programmes a second time, and then may print a line of its own on standard output.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from vision.chains.likelihood import Passage
from vision.chains.links import Link
from vision.common.records import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """All passages that there may be, over these links."""

    passages: Sequence[Passage]
    links: Sequence[Link]

    def best(self, *, linked: bool = False) -> tuple[Passage, ...]:
        """Return the passages of the best answer: of all, or of those that link any pieces."""
        if not self.passages or (linked and not self.links):
            return ()
        worth = np.array([passage.log_odds for passage in self.passages])
        count = len(worth)
        found = milp(
            np.concatenate([-worth, np.zeros(len(self.links))]),
            integrality=np.ones(count + len(self.links)),
            bounds=Bounds(0, 1),
            constraints=[self._once(), self._consistent(), self._linked(least=int(linked))],
        )
        if found.x is None:  # no link has a passage at both of its pieces
            return ()
        return tuple(p for p, used in zip(self.passages, found.x[:count], strict=True) if round(used))

    def _once(self) -> LinearConstraint:
        """Each piece is passed once or not at all."""
        pieces = [passage.piece for passage in self.passages]
        return self._rows({(piece, k): 1.0 for k, piece in enumerate(pieces)}, most=np.ones(max(pieces) + 1))

    def _consistent(self) -> LinearConstraint:
        """Both pieces of a link are passed over it where it is used, and neither is where it is not."""
        entries = {}
        for number in range(len(self.links)):
            for side in (0, 1):
                entries[2 * number + side, len(self.passages) + number] = -1.0
        for k, passage in enumerate(self.passages):
            for number in passage.joints:
                side = self.links[number].pieces.index(passage.piece)
                entries[2 * number + side, k] = 1.0
        return self._rows(entries, least=0.0, most=np.zeros(2 * len(self.links)))

    def _linked(self, *, least: int) -> LinearConstraint:
        """At least so many links are used."""
        links = {(0, len(self.passages) + number): 1.0 for number in range(len(self.links))}
        return self._rows(links, least=least, most=np.array([np.inf]))

    def _rows(
        self, entries: dict[tuple[int, int], float], *, most: FloatArray, least: float = -np.inf
    ) -> LinearConstraint:
        """Return constraints from their (row, column) entries."""
        where = np.array(list(entries), dtype=np.intp).reshape(-1, 2)
        shape = len(most), len(self.passages) + len(self.links)
        return LinearConstraint(
            coo_array((list(entries.values()), where.T), shape=shape).tocsr(), least, most
        )
