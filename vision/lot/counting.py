"""Which pieces on the bed are beads, and how probable it is that their number is right.

A piece is a bead, a fleck of the bed, or another thing, such as a coin, a finger or a crimp. How many of each
are to be expected with its looks, of its size and where it lies is compared (Bayes' rule). Looks are what the
map of beads says. Beads come in sizes: the next bead of a lot is of a size seen before, the sooner the more
there are, or of a new one (Blackwell and MacQueen 1973). Flecks come in any size: the more there are, the
sooner a piece is one more. What else the beads of a lot have in common says `likeness`.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vision.common.pooling import ONE_KIND
from vision.common.records import FloatArray, Mask
from vision.lot.likeness import Shown
from vision.lot.merge import form
from vision.topview.region import Fragment

CERTAIN = 0.95
"""A count, or that a piece is a bead, is certain from this probability on: the level of all uncertainties."""
_EVEN, _STEP = 0.53, 0.08
"""Looks speak for neither bead nor fleck at the first value of the map; the odds change by a factor of e with
each of the second. Fitted to 45 traced tables and 6 drawn samples: at 0.5 11 beads are missed and 122 other
pieces counted, at 0.55 88 and 108, at 0.6 245 and 89; the second hardly matters."""
_ODD_BEADS, _FLECKS, _THINGS = 0.1, 1.0, 0.03
"""To be expected on a photo beside all that is seen: beads unlike all others, flecks, and other things that
look as much like beads as beads do (common practice, no source)."""
_BEADS_MM, _THINGS_MM = (1.5, 25.0), (10.0, 50.0)
"""Diameters, all equally probable on a scale of logarithms. Flecks have those of beads."""
_ROUNDS = 4
"""After as many the probabilities hardly change any more."""
_DOUBTED = 11.0
"""So many times more often is what is poorly separated, cut off, stacked or unlike all others no single bead,
but several, a part of one or none: of 167 such pieces on 104 photos 59, of 3255 others 108."""


def weighed(pieces: Sequence[Fragment], *, per_mm: float, shown: Shown) -> list[Fragment]:
    """Return pieces with the probabilities that they are beads, given the others on the photo.

    Parameters
    ----------
    pieces : sequence of Fragment
        All that may be beads, with the probability that the map of beads gives each alone.
    per_mm : float
        Cells.
    shown : Shown
        What they show besides.

    Examples
    --------
    Beside ten beads, a piece that looks little like one is a bead if it has their size, else a fleck:

    >>> ten = [Fragment(mask=np.ones((40, 40), dtype=bool), corner=(0, 0), probability=0.9)] * 10
    >>> faint = [
    ...     Fragment(mask=np.ones((side, side), dtype=bool), corner=(0, 0), probability=0.45)
    ...     for side in (40, 12)
    ... ]
    >>> same = Shown(foreign=np.zeros(11), beds=np.zeros((11, 3)), view=np.zeros((1, 3)))
    >>> [round(weighed([*ten, piece], per_mm=5.0, shown=same)[-1].probability, 2) for piece in faint]
    [0.96, 0.03]
    """
    if not pieces:
        return []
    looks = np.exp((np.array([p.probability for p in pieces]) - _EVEN) / _STEP)
    log_mm = np.log([2 * np.sqrt(p.area / np.pi) / per_mm for p in pieces])
    chances = _settled(looks, log_mm, shown)
    return [replace(p, probability=float(chance)) for p, chance in zip(pieces, chances, strict=True)]


def _settled(looks: FloatArray, log_mm: FloatArray, shown: Shown) -> FloatArray:
    """Return the probability of each piece that it is a bead.

    A bead supports others of its size as far as it is one itself; at first none does.

    Parameters
    ----------
    looks : ndarray, shape (N,)
        Odds by looks alone.
    log_mm : ndarray, shape (N,)
        Logarithm of the diameter.
    shown : Shown
    """
    others = 1 - np.eye(len(looks))
    near = np.exp(-0.5 * ((log_mm[:, None] - log_mm) / ONE_KIND) ** 2)
    alike = others * near / (ONE_KIND * np.sqrt(2 * np.pi))
    any_size, of_things = (1 / np.log(high / low) for low, high in (_BEADS_MM, _THINGS_MM))
    only_bead = np.where(others, 1 / (1 + looks), 1).prod(axis=1)
    flecks = (_FLECKS + others @ (1 / (1 + looks))) * any_size
    things = np.where(log_mm > np.log(_THINGS_MM[0]), _THINGS * of_things, 0.0)
    chances = np.zeros(len(looks))
    for _ in range(_ROUNDS):
        beads = ((_ODD_BEADS + only_bead) * any_size + alike @ chances) * shown.on_their_bed(chances)
        solid = looks * beads / (looks * (beads + things) + flecks)
        chances = solid * shown.are_beads(chances, solid, near=near)
    return chances


def less_certain(beads: Sequence[Fragment]) -> list[Fragment]:
    """Return beads, those unlike all others in width or length with a lower probability.

    They may be two, one on the other or side by side, or something else.
    """
    if len(beads) < 2:
        return list(beads)
    forms = np.array([form(bead)[1:] for bead in beads])
    apart = np.abs(forms[:, None] - forms).max(axis=2) + np.where(np.eye(len(beads)), np.inf, 0)
    unlike = apart.min(axis=1) > ONE_KIND
    chances = _doubted(np.array([bead.probability for bead in beads]), unlike)
    return [replace(bead, probability=float(one)) for bead, one in zip(beads, chances, strict=True)]


def count_probability(beads: FloatArray, whole: Sequence[bool], *, besides: FloatArray) -> float:
    """Return the probability that each piece counted is one bead, and that there are no more.

    Parameters
    ----------
    beads : ndarray, shape (N,)
        Probabilities of those counted.
    whole : sequence of bool, length N
        Whether each lies wholly within the photo and is clearly separated from its neighbours.
    besides : ndarray, shape (M,)
        Probabilities that there are more beads: pieces left out, or covered ones.

    Examples
    --------
    >>> round(count_probability(np.array([0.9, 1.0]), [True, False], besides=np.array([0.2])), 2)
    0.72
    """
    return float(np.prod(_doubted(beads, ~np.array(whole, dtype=bool))) * np.prod(1 - besides))


def _doubted(chances: FloatArray, why: Mask) -> FloatArray:
    """Return the probabilities of pieces to be one bead, where there is reason to doubt that, shape (N,)."""
    return np.asarray(chances / (chances + np.where(why, _DOUBTED, 1.0) * (1 - chances)))
