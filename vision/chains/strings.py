"""The strings of a top view: their pieces in order, and what closes those that are closed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vision.chains.ends import ends_of
from vision.chains.likelihood import Passage, passages
from vision.chains.links import Link, links_of
from vision.chains.pieces import Piece, strung_pieces
from vision.chains.programme import Programme
from vision.chains.seen import Seen
from vision.common.numerics import read_backwards
from vision.common.records import FloatArray
from vision.topview.kinds import Kind
from vision.topview.region import Fragment

_FEWEST = 3
"""Strung parts that are a string where nothing else is seen of it: any two that touch lie in a line."""
_CLASP = 0.3
"""Share of a gap that a clasp takes up: the bare string to either side of it is not longer than it is."""
_ASKED = 5.0
"""Log-odds that a strand lies where one is asked for, before anything is seen, less the logarithm of how many
pieces lie there, as each may begin a row by chance. Of 75 photos of loose beads the likeliest string of one
reaches -3.7, of all others -5.6; of six strands that alone would be none, three reach -2.6 to -4.6."""
_SURE = 20.0
"""Log-odds that what a chain hangs from is a ring: more than a network's about all that may follow it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringOfPieces:
    """Pieces on one string.

    Attributes
    ----------
    pieces : tuple of int
        In order along the string: of a closed one from its clasp on, or from where a tassel hangs, or
        else from its topmost piece.
    closed : bool
    clasp : bool
        Whether a finding or chain lies between the last and the first piece of a closed string.
    clasp_pieces : tuple of int
        Those of its pieces that are parts of the clasp, such as rings; they are not among `pieces`.
    """

    pieces: tuple[int, ...]
    closed: bool
    clasp: bool
    clasp_pieces: tuple[int, ...]


def strings_of(fragments: Sequence[Fragment], seen: Seen) -> tuple[list[Piece], list[StringOfPieces]]:
    """Return the pieces that may be strung, and their strings in reading order of the first pieces.

    A piece on no string lies loose. A string of fewer than three pieces counts where bare string or a
    stopper is seen at it.
    """
    pieces = strung_pieces(fragments, seen)
    links, ends = links_of(pieces, seen), ends_of(pieces, seen)
    programme = Programme(passages=passages([p.size_mm for p in pieces], links, ends), links=links)
    found = []
    for path in _paths(_asked(programme, len(pieces)), links):
        last = {ends[k].kind for passage in path for k in passage.ends}
        if len(path) >= _FEWEST or {Kind.STRING, Kind.STOPPER} & last:
            found.append(_string(path, pieces, links))
    return pieces, sorted(found, key=lambda string: tuple(pieces[string.pieces[0]].centre_mm[::-1]))


def _asked(programme: Programme, pieces: int) -> tuple[Passage, ...]:
    """Return the best answer, which knows that a strand was asked for."""
    best = programme.best()
    if any(passage.links for passage in best):
        return best
    linked = programme.best(linked=True)
    worth = sum(passage.log_odds for passage in linked)
    return linked if worth > np.log(max(pieces, 1)) - _ASKED else best


def _paths(chosen: Sequence[Passage], links: Sequence[Link]) -> list[list[Passage]]:
    """Return the passages of each string, one after the other; open strings begin at an end."""
    at = {passage.piece: passage for passage in chosen}
    hung = {number for passage in chosen for number in passage.hangs}
    found = []
    for start in sorted(chosen, key=lambda passage: len(set(passage.links) - hung)):
        path: list[Passage] = []
        here: Passage | None = at.get(start.piece)
        while here is not None:
            path.append(at.pop(here.piece))
            nexts = (piece for number in here.links if number not in hung for piece in links[number].pieces)
            here = next((at[piece] for piece in nexts if piece in at), None)
        if path:
            found += _untied(path)
    return found


def _untied(path: list[Passage]) -> list[list[Passage]]:
    """Return a path that hangs from itself as a loop and the chain that hangs from it.

    Which of the three that meet there hangs is all the same to the programme.
    """
    for way in (path, path[::-1]):
        for k, passage in enumerate(way[:-_FEWEST]):
            if set(passage.hangs) & set(way[-1].links):
                hangs = set(passage.links) & set(way[k - 1].joints) if k else set()
                own = tuple(sorted(set(passage.joints) - hangs))
                knot = replace(passage, links=own, hangs=tuple(hangs))
                return [[knot, *way[k + 1 :]], *([way[:k]] if k else [])]
    return [path]


def _string(path: list[Passage], pieces: Sequence[Piece], links: Sequence[Link]) -> StringOfPieces:
    """Return a path as a string."""
    closed = len(path) >= _FEWEST and all(len(passage.links) == 2 for passage in path)
    clasp = False
    parts: list[Passage] = []
    if closed:
        path, clasp = _from_clasp(path, pieces, links)
        rings = [passage.ring for passage in path]
        odds = np.where(rings, _SURE, [pieces[passage.piece].clasp_odds for passage in path])
        path, parts = _without_clasp(path, odds, at_ends=clasp)
    elif read_backwards(pieces[path[-1].piece].centre_mm - pieces[path[0].piece].centre_mm):
        path = path[::-1]
    return StringOfPieces(
        pieces=tuple(passage.piece for passage in path),
        closed=closed,
        clasp=clasp or bool(parts),
        clasp_pieces=tuple(passage.piece for passage in parts),
    )


def _from_clasp(
    path: list[Passage], pieces: Sequence[Piece], links: Sequence[Link]
) -> tuple[list[Passage], bool]:
    """Return a closed path clockwise, and whether it has a clasp.

    It begins at the clasp, or where anything hangs from it, or else at the top.
    """
    centres = np.array([pieces[passage.piece].centre_mm for passage in path])
    x, y = centres.T
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0:
        path, centres = path[::-1], centres[::-1]
    shared = [set(a.joints) & set(b.joints) for a, b in zip(path[-1:] + path[:-1], path, strict=True)]
    clasps = [links[number].clasp for link in shared for number in link]
    first = int(np.argmax(clasps))
    hangs = [k for k, passage in enumerate(path) if passage.hangs]
    start = first if clasps[first] > _CLASP else (*hangs, int(np.argmin(centres[:, 1])))[0]
    return path[start:] + path[:start], path[start].ring or clasps[first] > _CLASP


def _without_clasp(
    path: list[Passage], odds: FloatArray, *, at_ends: bool
) -> tuple[list[Passage], list[Passage]]:
    """Return a closed path without the parts of its clasp, and these, by the log-odds that each is one.

    They follow each other: the run that most probably is a clasp, beside the rest of the clasp where that is
    seen at the ends of the path.
    """
    count = len(path)
    sums = {
        (first, many): float(np.take(odds, range(first, first + many), mode="wrap").sum())
        for first in range(count)
        for many in range(1, count - _FEWEST + 1)
        if not at_ends or first == 0 or first + many >= count
    }
    first, many = max(sums, key=lambda run: sums[run], default=(0, 0))
    if not many or sums[first, many] <= 0:
        return path, []
    turned = path[first:] + path[:first]
    return turned[many:], turned[:many]
