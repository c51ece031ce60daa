"""Which pieces on the bed are beads, and how probable it is that their number is right.

A piece is a bead, or a fleck: of the bed, a shadow, another thing. How many of each are to be expected with
its looks, by a second look, of its size and where it lies (`likeness`) is compared (Bayes' rule). Beads come
in sizes: the next one is of a size seen before, the sooner the more there are, or of a new one (Blackwell and
MacQueen 1973). Flecks come in any size: the more there are, the sooner a piece is one more.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vision.common.pooling import ONE_KIND
from vision.common.records import FloatArray
from vision.pieces.likeness import Shown
from vision.topview.region import SURE, Fragment

CERTAIN = 0.95
"""A count, or that a piece is a bead, is certain from this probability on: the level of all uncertainties."""
_TAUGHT, LEAST = 2.7, 1e-6
"""Beads for each other piece among those that the second look was taught by, as far as its probabilities show
them; at 1.6 12 more other pieces are counted on 65 traced tables, at 4.5 two of 38 other lots are counted
wrongly. Least probability that looks give: the network saw no more than a million pieces."""
ODD_BEADS, _FLECKS = 0.1, 1.0
"""To be expected on a photo beside all that is seen: beads unlike all others, and flecks (common practice, no
source)."""
_SIZES_MM = 1.5, 25.0
"""Diameters of beads and of flecks, all equally probable on a scale of logarithms."""
_ROUNDS = 4
"""After as many the probabilities hardly change any more."""


def weighed(pieces: Sequence[Fragment], *, per_mm: float, shown: Shown) -> list[Fragment]:
    """Return pieces with the probabilities that they are beads, given the others on the photo.

    Parameters
    ----------
    pieces : sequence of Fragment
        All that may be beads, with the probability that a second look gives each alone.
    per_mm : float
        Cells.
    shown : Shown
        What they show besides.

    Examples
    --------
    Beside ten beads, a piece that looks little like one is a bead if it has their size, else a fleck:

    >>> ten = [Fragment(mask=np.ones((40, 40), dtype=bool), corner=(0, 0), probability=0.99)] * 10
    >>> faint = [
    ...     Fragment(mask=np.ones((side, side), dtype=bool), corner=(0, 0), probability=0.45)
    ...     for side in (40, 12)
    ... ]
    >>> same = Shown(beds=np.zeros((11, 3)), view=np.zeros((1, 3)))
    >>> [round(weighed([*ten, piece], per_mm=5.0, shown=same)[-1].probability, 2) for piece in faint]
    [0.95, 0.02]
    """
    chances = np.clip([piece.probability for piece in pieces], LEAST, 1 - LEAST)
    looks = chances / (1 - chances) / _TAUGHT
    log_mm = np.log([piece.diameter / per_mm for piece in pieces])
    others = 1 - np.eye(len(pieces))
    near = np.exp(-0.5 * ((log_mm[:, None] - log_mm) / ONE_KIND) ** 2)
    alike = others * near / (ONE_KIND * np.sqrt(2 * np.pi))
    any_size = 1 / np.log(_SIZES_MM[1] / _SIZES_MM[0])
    only_bead = np.where(others, 1 / (1 + looks), 1).prod(axis=1)
    flecks = (_FLECKS + others @ (1 / (1 + looks))) * any_size
    chances = np.zeros(len(pieces))  # each supports others of its size as far as it is a bead; at first none
    for _ in range(_ROUNDS):
        beads = ((ODD_BEADS + only_bead) * any_size + alike @ chances) * shown.on_their_bed(chances)
        chances = looks * beads / (looks * beads + flecks)
    return [replace(piece, probability=float(one)) for piece, one in zip(pieces, chances, strict=True)]


def count_probability(beads: FloatArray, one: FloatArray, *, besides: FloatArray) -> float:
    """Return the probability that each piece counted is one bead, and that there are no more.

    Parameters
    ----------
    beads : ndarray, shape (N,)
        Probabilities of those counted.
    one : ndarray, shape (N,)
        Probabilities that each is exactly one, by its looks alone.
    besides : ndarray, shape (M,)
        Probabilities that there are more beads: pieces left out, or covered ones.

    Examples
    --------
    >>> round(count_probability(np.array([0.9, 1.0]), np.array([1.0, 0.5]), besides=np.array([0.2])), 2)
    0.36
    """
    return float(np.prod(np.where(one < SURE, one, 1.0) * beads) * np.prod(1 - besides))
