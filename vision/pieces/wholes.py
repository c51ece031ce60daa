"""What may be beads on a top view, after a second look at each piece: parts of one bead are joined.

A gleam in glass, the bright end of a tube or what is pressed into a piece may look like a bead's end, and
beads of two colours lie in halves. Pieces that touch and look like parts are one if together they look like
one bead, and if the lot has beads of that form rather than of theirs.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vision.common.pooling import ONE_KIND
from vision.common.records import FloatArray
from vision.pieces.counting import CERTAIN, LEAST, ODD_BEADS
from vision.pieces.merge import form, join_pieces, joined, touching
from vision.pieces.second_look import Whole, second_look
from vision.topview.reading import Reading
from vision.topview.region import PROBABLE, SURE, Fragment

_ENOUGH = 1.0
"""Least logarithm of the odds that pieces are one. At 0 two cubes side by side are one; at 2 two lots of 65
less are counted exactly."""


Groups = list[tuple[int, ...]]


def whole_pieces(seen: Reading, things: Sequence[Fragment]) -> list[Fragment]:
    """Return what may be a bead each, with the probabilities that it is any and that it is one, by its looks.

    Parameters
    ----------
    seen : Reading
    things : sequence of Fragment
        What the map says is no strung part; such as look like beads in the photo are among what is returned.
    """
    found = join_pieces(seen.pieces, per_mm=seen.top.cells_per_mm)
    looks = second_look(found, seen, among=found)
    of_things = second_look(things, seen, among=[*found, *things], map_shown=False)
    beads = of_things[:, Whole.ONE] > PROBABLE
    found += [thing for thing, bead in zip(things, beads, strict=True) if bead]
    looks = np.concatenate([looks, of_things[beads]])
    may = np.flatnonzero(looks[:, Whole.PART] > 1 - CERTAIN)
    near = touching([found[k] for k in may], per_mm=seen.top.cells_per_mm)
    groups = [tuple(int(k) for k in may[list(group)]) for group in near]
    pieces = [*found, *(joined([found[k] for k in group]) for group in groups)]
    looks = np.concatenate([looks, second_look(pieces[len(found) :], seen, among=found)])
    one, beads = looks[:, Whole.ONE], looks[:, (Whole.ONE, Whole.SEVERAL)].sum(axis=1)
    divided = one < SURE * beads
    return [
        replace(pieces[k], probability=float(beads[k]), one=float(one[k]), divided=bool(divided[k]))
        for k in _chosen(pieces, groups, looks)
    ]


def _chosen(pieces: Sequence[Fragment], groups: Groups, looks: FloatArray) -> list[int]:
    """Return the numbers of the pieces that are wholes: the likeliest groups, and what is in none of them.

    Single pieces come first, then those that the groups of them are.
    """
    members = [(k,) for k in range(len(pieces) - len(groups))] + groups
    singles = np.full(len(pieces) - len(groups), _ENOUGH)
    odds = np.concatenate([singles, _odds(pieces, members, looks, of=groups)])
    gone, chosen = set[int](), []
    for number in np.argsort(-odds, kind="stable"):
        if gone.isdisjoint(members[number]):
            gone.update(members[number])
            chosen.append(int(number))
    return sorted(chosen)


def _odds(
    pieces: Sequence[Fragment], members: Sequence[Sequence[int]], looks: FloatArray, *, of: Groups
) -> FloatArray:
    """Return the logarithms of the odds that the members of the last pieces are one bead, not one each."""
    if not of:
        return np.zeros(0)
    forms = np.array([form(piece)[1:] for piece in pieces])
    near = np.exp(-0.5 * (((forms[:, None] - forms) / ONE_KIND) ** 2).sum(axis=2))
    log, odds = np.log(np.maximum(looks, LEAST)), []
    for number, group in enumerate(of, start=len(pieces) - len(of)):
        others = looks[:, Whole.ONE] * [set(group).isdisjoint(its) for its in members]
        usual = np.log((ODD_BEADS + near @ others) / (ODD_BEADS + others.sum()))
        as_one = log[number, Whole.ONE] - log[number, Whole.SEVERAL] + usual[number]
        apart = log[list(group), Whole.ONE] - log[list(group), Whole.PART] + usual[list(group)]
        odds.append(as_one - apart.sum())
    return np.array(odds)
