"""Picks beads out of a lot: matched pairs, the most uniform few, a graduated run."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sizing.lot.sizes import Mean, Sizes, mean_of
from vision.common.records import FloatArray

VISIBLE_SIZE_STEP = 0.02
"""Diameters of one pearl that differ by less count as equal (pearl classification, see
`sizing.lot.roundness`). At half or double, size counts twice or half as much beside colour."""
VISIBLE_COLOUR_STEP = 2.3
"""Just noticeable difference in CIELAB units (Mahy, Van Eycken & Oosterlinck 1994)."""

_LEAST_FALL = 0.10
"""A run that tapers by less, as a share of the largest bead, does not look graduated (common practice, no
source). At half, beads sold as one size would do (8 mm: 7.6 to 8.2); at double, 8 to 6.5 mm would not."""
_CENTRES_TRIED = 12
"""Sizes tried for the centre bead. At half, the runs found are 4 % less even; at double, 2 % more even in
twice the time (measured on 40 lots of 90 random beads)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedPair:
    """Two beads that look the same.

    Attributes
    ----------
    index : tuple of int
        Their positions among the sizes.
    width_difference_mm, length_difference_mm : float
        Differences of their smallest and of their largest caliper sizes.
    colour_difference : float
        CIELAB distance of their colours in the light of the photo; below 2.3 it is barely noticeable.
    """

    index: tuple[int, int]
    width_difference_mm: float
    length_difference_mm: float
    colour_difference: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UniformPick:
    """The most uniform few beads.

    Attributes
    ----------
    index : tuple of int
        Their positions among the sizes, by rising size.
    mean : Mean
    range_mm : float
        Largest minus smallest size.
    """

    index: tuple[int, ...]
    mean: Mean
    range_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GraduatedRun:
    """A graduated run: the largest bead in the centre, smaller ones towards both ends.

    Attributes
    ----------
    index : tuple of int
        Positions among the sizes, from the left end of the string to the right.
    strung_mm, strung_u95_mm : float
        Strung length and its expanded uncertainty.
    off_even_mm : float
        Root mean square difference from an even taper.
    worst_pair_mm : float
        Largest difference between two beads at the same place left and right.
    """

    index: tuple[int, ...]
    strung_mm: float
    strung_u95_mm: float
    off_even_mm: float
    worst_pair_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Picks:
    """What was asked for, and what was found; None and 0 for what was not asked for.

    Attributes
    ----------
    pairs : tuple of MatchedPair or None
    uniform_asked : int
    uniform : UniformPick or None
    strung_asked_mm : float
    graduated : GraduatedRun or None
    """

    pairs: tuple[MatchedPair, ...] | None = None
    uniform_asked: int = 0
    uniform: UniformPick | None = None
    strung_asked_mm: float = 0.0
    graduated: GraduatedRun | None = None


def make_picks(sizes: Sizes, *, pairs: int = 0, uniform: int = 0, graduated_mm: float = 0.0) -> Picks:
    """Pick a number of pairs, a number of uniform beads, and a graduated run of a strung length.

    Examples
    --------
    >>> from sizing.lot.sizes import sizes_of
    >>> from tests.helpers.lots import lot_of
    >>> sizes = sizes_of(lot_of([6.0, 8.0, 8.01, 7.2, 8.3]))
    >>> picks = make_picks(sizes, pairs=1, uniform=3)
    >>> picks.pairs[0].index, picks.uniform.index, round(picks.uniform.range_mm, 2)
    ((1, 2), (1, 2, 4), 0.3)
    """
    return Picks(
        pairs=matched_pairs(sizes, pairs) if pairs else None,
        uniform_asked=uniform,
        uniform=most_uniform(sizes, uniform) if uniform else None,
        strung_asked_mm=graduated_mm,
        graduated=graduated_run(sizes, graduated_mm) if graduated_mm else None,
    )


def matched_pairs(sizes: Sizes, count: int) -> tuple[MatchedPair, ...]:
    """Return up to `count` pairs, each the closest match among the beads not yet paired.

    The distance of two beads is the root of the sum of squares of their differences in width, length
    and colour, in steps that are just visible (`VISIBLE_SIZE_STEP`, `VISIBLE_COLOUR_STEP`).
    """
    if len(sizes) < 2:
        return ()
    looks = _looks(sizes)
    first, second = np.triu_indices(len(sizes), k=1)
    apart = np.sqrt(np.sum((looks[first] - looks[second]) ** 2, axis=1))
    taken: set[int] = set()
    pairs: list[MatchedPair] = []
    for best in np.argsort(apart, kind="stable"):
        a, b = int(first[best]), int(second[best])
        if len(pairs) == count:
            break
        if a not in taken and b not in taken:
            taken |= {a, b}
            pairs.append(_pair(sizes, (a, b)))
    return tuple(pairs)


def most_uniform(sizes: Sizes, count: int) -> UniformPick | None:
    """Return the `count` beads with the smallest range of sizes; None if there are fewer beads."""
    if not 1 <= count <= len(sizes):
        return None
    order = np.argsort(sizes.mm, kind="stable")
    ordered_mm = sizes.mm[order]
    ranges = ordered_mm[count - 1 :] - ordered_mm[: len(ordered_mm) - count + 1]
    start = int(np.argmin(ranges))
    index = tuple(int(i) for i in order[start : start + count])
    return UniformPick(index=index, mean=mean_of(sizes.at(index)), range_mm=float(ranges[start]))


def graduated_run(sizes: Sizes, strung_mm: float) -> GraduatedRun | None:
    """Return the graduated run with the most even taper that strings to a length.

    The largest bead is in the centre, then pairs follow in even steps to both ends. The strung length is
    within half of the smallest bead of the length asked for. None if the lot has no such run.

    Notes
    -----
    For each size of the centre bead and each number of pairs, one end size gives the length. Beads are
    assigned to the even steps with the least sum of squared differences (linear assignment). Of all
    these runs the one whose differences are the smallest share of its taper is returned.
    """
    best: tuple[float, GraduatedRun] | None = None
    for steps_mm in _even_steps(sizes, strung_mm):
        run = _fill(sizes, steps_mm)
        smallest_mm = float(np.min(sizes.mm[list(run.index)]))
        if abs(run.strung_mm - strung_mm) > smallest_mm / 2:
            continue
        unevenness = run.off_even_mm / float(steps_mm[0] - steps_mm[-1])
        if best is None or unevenness < best[0]:
            best = (unevenness, run)
    return best[1] if best else None


def _looks(sizes: Sizes) -> FloatArray:
    """Return width, length and CIELAB colour of each bead in just visible steps, shape (N, 5)."""
    widths = np.array([bead.min_feret_mm for bead in sizes.beads])
    lengths = np.array([bead.max_feret_mm for bead in sizes.beads])
    # On a logarithmic scale steps of 2 % are equal.
    size_steps = np.log(np.column_stack([widths, lengths])) / math.log1p(VISIBLE_SIZE_STEP)
    return np.column_stack([size_steps, _lab(sizes) / VISIBLE_COLOUR_STEP])


def _lab(sizes: Sizes) -> FloatArray:
    """Return the beads' colours in CIELAB, shape (N, 3)."""
    from skimage.color import rgb2lab  # noqa: PLC0415 - takes its time to import

    rgb = np.array([bead.colour_rgb for bead in sizes.beads], dtype=float) / 255
    lab: FloatArray = rgb2lab(rgb)
    return lab


def _pair(sizes: Sizes, index: tuple[int, int]) -> MatchedPair:
    """Describe two beads as a pair."""
    pair = sizes.at(index)
    one, other = pair.beads
    lab = _lab(pair)
    return MatchedPair(
        index=index,
        width_difference_mm=float(abs(one.min_feret_mm - other.min_feret_mm)),
        length_difference_mm=float(abs(one.max_feret_mm - other.max_feret_mm)),
        colour_difference=float(np.linalg.norm(lab[0] - lab[1])),
    )


def _even_steps(sizes: Sizes, strung_mm: float) -> Iterator[FloatArray]:
    """Yield the even tapers that string to a length: the sizes of the centre and of each pair outwards."""
    if len(sizes) < 3:
        return
    smallest, largest = float(np.min(sizes.mm)), float(np.max(sizes.mm))
    for centre in np.unique(np.quantile(sizes.mm, np.linspace(0.5, 1, _CENTRES_TRIED))):
        for pairs in range(1, (len(sizes) - 1) // 2 + 1):
            # Centre and pairs, centre - fall j / pairs for j = 1 ... pairs, add up to the strung length.
            fall = ((2 * pairs + 1) * centre - strung_mm) / (pairs + 1)
            if fall >= _LEAST_FALL * largest and centre - fall >= smallest:
                yield centre - fall * np.arange(pairs + 1) / pairs


def _fill(sizes: Sizes, steps_mm: FloatArray) -> GraduatedRun:
    """Assign beads to the steps of a run, one to the centre and two to each other step."""
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - takes its time to import

    places_mm = np.concatenate([steps_mm[:1], np.repeat(steps_mm[1:], 2)])
    departures = places_mm[:, None] - sizes.mm[None, :]
    _, chosen = linear_sum_assignment(departures**2)
    # Sorting the chosen beads by size costs nothing and makes the two beads of a pair neighbours in size.
    falling = chosen[np.argsort(-sizes.mm[chosen], kind="stable")]
    off_even = places_mm - sizes.mm[falling]
    left, right = falling[1::2], falling[2::2]
    index = tuple(int(i) for i in (*left[::-1], falling[0], *right))
    mean = mean_of(sizes.at(index))
    return GraduatedRun(
        index=index,
        strung_mm=mean.mm * len(index),
        strung_u95_mm=mean.u95_mm * len(index),
        off_even_mm=float(np.sqrt(np.mean(off_even**2))),
        worst_pair_mm=float(np.max(np.abs(sizes.mm[left] - sizes.mm[right]))),
    )
