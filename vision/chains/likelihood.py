"""How likely each way is in which a string may pass a piece: log-odds against the piece lying loose.

The weights were estimated on 150 drawn tables (`python -m tests.vision.chains.weights`): those under which
the true strings are as probable as they can be against all other answers (Papandreou and Yuille 2011).
Evidence about a link stands at both of its pieces, by halves. Two more kinds of evidence were tried and
count nothing beside these: likeness in size (spacers and graded beads differ, loose beads are as alike), and
whether the string runs along an axis of the piece.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vision.chains.ends import End
from vision.chains.links import Link
from vision.common.records import FloatArray
from vision.topview.kinds import Kind

_STRUNG = -3.0
"""A piece hangs on a string, nothing else known."""
_LINK = 6.0
"""It follows a piece that it touches, straight ahead."""
_GAP, _BARE = -0.8, -7.4
"""For each e-fold of 1 + the gap in sizes; and again where no string or clasp is seen in the gap."""
_TURN = -3.7
"""For each radian of the turn within a piece. A circle costs the same however many pieces it has. Beside a
clasp it costs as much less as the gap shows of that, up to a right angle: its rings and hooks turn freely,
but no string goes out to the end of an extender and comes back."""
_CROWDED = -3.6
"""For each other piece that touches it as well: rare on a string, the rule in a heap. What is smaller than
the piece counts by its area: it may be a part of the piece's own shadow."""
_ENDS = {Kind.STRING: -0.6, Kind.FINDING: -0.3, Kind.STOPPER: 0.8, Kind.BED: -0.2}
"""What leaves a piece where its string ends. What looks like string often is none."""
_NOTHING = -5.3
"""A string ends where nothing leaves its last piece."""
_HOPELESS = 7.0
"""A way so much worse than the piece's best, a thousandth as likely, is not tried. At double the same strings
are found in five times as long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One way in which a string may pass a piece.

    Attributes
    ----------
    piece : int
    links, ends : tuple of int
        Over which links it goes on, and with what it ends: two in all, or one link and nothing.
    hangs : tuple of int
        The link over which a chain hangs from it, or a tassel.
    ring : bool
        Whether it hangs from a ring of a clasp.
    log_odds : float
        Against the piece lying loose.
    """

    piece: int
    links: tuple[int, ...]
    ends: tuple[int, ...]
    log_odds: float
    hangs: tuple[int, ...] = ()
    ring: bool = False

    @property
    def joints(self) -> tuple[int, ...]:
        """All links that it uses."""
        return self.links + self.hangs


@dataclass(frozen=True, slots=True, kw_only=True)
class _Half:
    """Half of a passage: a link or an end, its way from the middle of the piece, and what it counts.

    `clasp` is the share of the way on which a clasp or a chain is seen.
    """

    link: tuple[int, ...] = ()
    end: tuple[int, ...] = ()
    way: FloatArray
    log_odds: float
    clasp: float = 0.0


def passages(sizes_mm: Sequence[float], links: Sequence[Link], ends: Sequence[End]) -> list[Passage]:
    """Return the ways to pass each of the pieces of these sizes that are worth a trial.

    From a piece that goes on at both sides, a chain or a tassel that touches it may hang.
    """
    halves: list[list[_Half]] = [[] for _ in sizes_mm]
    crowded = np.zeros(len(sizes_mm))
    for number, link in enumerate(links):
        for piece, other, way in zip(link.pieces, link.pieces[::-1], link.ways, strict=True):
            crowds = _CROWDED * link.touches * min(1.0, sizes_mm[other] / sizes_mm[piece]) ** 2
            crowded[piece] += crowds
            counts = _link_log_odds(link) / 2 - crowds
            halves[piece].append(_Half(link=(number,), way=way, log_odds=counts, clasp=link.clasp))
    for number, end in enumerate(ends):
        halves[end.piece].append(_Half(end=(number,), way=end.way, log_odds=_ENDS[end.kind]))
    beforehand = _STRUNG + crowded
    at_clasp = {end.piece for end in ends if end.kind is Kind.FINDING}
    found = []
    for k, own in enumerate(halves):
        ways = list(_ways(k, own, beforehand[k]))
        touching = [number for number, link in enumerate(links) if link.touches and k in link.pieces]
        found += _worth_a_trial([*ways, *_hung(ways, touching, ring=k in at_clasp)])
    return found


def _hung(ways: Sequence[Passage], touching: Sequence[int], *, ring: bool) -> Iterator[Passage]:
    """Return those ways that go on at both sides, each with all that may hang there.

    That it touches counts against the piece, as anywhere, and that it is linked counts for it. From a ring of
    a clasp something is expected to hang; elsewhere it is as a string that ends where nothing is seen.
    """
    log_odds = _LINK / 2 + (0.0 if ring else _NOTHING)
    for way in ways:
        for number in touching:
            if len(way.links) == 2 and number not in way.links:
                yield replace(way, hangs=(number,), ring=ring, log_odds=way.log_odds + log_odds)


def _worth_a_trial(ways: Sequence[Passage]) -> list[Passage]:
    """Return those ways to pass a piece that may be part of the best answer.

    Where the next piece takes another way after all, the string ends here, however unlikely that is.
    """
    best = max((way.log_odds for way in ways), default=0.0)
    likely = [way for way in ways if way.log_odds > best - _HOPELESS]
    used = {number for way in likely for number in way.links}
    just_ends = [way for way in ways if len(way.links + way.ends) == 1 and used.issuperset(way.links)]
    return likely + [way for way in just_ends if way not in likely]


def _link_log_odds(link: Link) -> float:
    return _LINK + (_GAP + _BARE * (1 - link.bridged)) * float(np.log1p(link.gap))


def _ways(piece: int, halves: Sequence[_Half], beforehand: float) -> Iterator[Passage]:
    """Return all pairs of halves, and all links after which the string just ends."""
    for one, other in itertools.combinations(halves, 2):
        turn = float(np.arccos(np.clip(-one.way @ other.way, -1, 1)))
        turn -= max(one.clasp, other.clasp) * min(turn, np.pi / 2)
        yield Passage(
            piece=piece,
            links=one.link + other.link,
            ends=one.end + other.end,
            log_odds=beforehand + one.log_odds + other.log_odds + _TURN * turn,
        )
    for half in halves:
        if half.link:
            yield Passage(
                piece=piece, links=half.link, ends=(), log_odds=beforehand + half.log_odds + _NOTHING
            )
