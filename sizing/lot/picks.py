"""Beads worth picking out of a lot: matched pairs, the most uniform few, a graduated run."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment
from skimage.color import rgb2lab

from sizing.lot.sizes import Mean, Sizes, mean_of
from vision.common.records import FloatArray

VISIBLE_SIZE_STEP = 0.02
"""Diameters that differ by less count as the same in a round pearl (see `sizing.lot.roundness`)."""
VISIBLE_COLOUR_STEP = 2.3
"""Just noticeable difference in CIELAB units (Mahy, Van Eycken & Oosterlinck 1994)."""

_LEAST_FALL = 0.10
"""A run that falls by less, as a share of its largest bead, does not look graduated."""
_CENTRES_TRIED = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedPair:
    """Two beads that look alike.

    Attributes
    ----------
    index : tuple of int
        Their positions in the sizes.
    width_difference_mm, length_difference_mm : float
        Between their smallest and between their largest caliper sizes.
    colour_difference : float
        CIELAB distance of their colours in this photo's light; below 2.3 hardly anyone sees it.
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
        By rising size.
    mean : Mean
    range_mm : float
        Largest less smallest size.
    """

    index: tuple[int, ...]
    mean: Mean
    range_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GraduatedRun:
    """A symmetric run, the largest bead in the centre.

    Attributes
    ----------
    index : tuple of int
        From the left end of the string to the right.
    strung_mm, strung_u95_mm : float
        What they string to.
    off_even_mm : float
        Root mean square departure from a fall in even steps.
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
    """What was asked to be picked, and what was found; None and 0 where it was not asked for.

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
    """Pick what is asked for: a number of pairs, of uniform beads, a strung length of a run."""
    return Picks(
        pairs=matched_pairs(sizes, pairs) if pairs else None,
        uniform_asked=uniform,
        uniform=most_uniform(sizes, uniform) if uniform else None,
        strung_asked_mm=graduated_mm,
        graduated=graduated_run(sizes, graduated_mm) if graduated_mm else None,
    )


def matched_pairs(sizes: Sizes, count: int) -> tuple[MatchedPair, ...]:
    """Return up to `count` pairs, each the closest match among the beads not yet paired.

    Sizes are compared in visible steps (2 %), colours in just noticeable ones, and added as squares.
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
            pairs.append(_pair(sizes, a, b))
    return tuple(pairs)


def most_uniform(sizes: Sizes, count: int) -> UniformPick | None:
    """Return the `count` beads of the smallest range of sizes; None where there are not so many."""
    if not 1 <= count <= len(sizes):
        return None
    order = np.argsort(sizes.mm, kind="stable")
    ordered_mm = sizes.mm[order]
    ranges = ordered_mm[count - 1 :] - ordered_mm[: len(ordered_mm) - count + 1]
    start = int(np.argmin(ranges))
    index = tuple(int(i) for i in order[start : start + count])
    return UniformPick(index=index, mean=mean_of(sizes.at(index)), range_mm=float(ranges[start]))


def graduated_run(sizes: Sizes, strung_mm: float) -> GraduatedRun | None:
    """Return the run that falls most evenly for its fall and strings to a length.

    Largest bead in the centre, then pairs that fall in even steps to both ends; it strings to the
    length asked within half its smallest bead. None where the lot has no such run.

    Notes
    -----
    A centre and a number of pairs leave one end size that gives the length. Beads are given to the
    even steps so that the squares of the departures add up to least (linear assignment), and of
    all runs the one whose departure is the smallest share of its fall is taken.
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
    """Return what the eye compares, shape (N, 5): width and length in visible steps, colour likewise."""
    widths = np.array([bead.min_feret_mm for bead in sizes.beads])
    lengths = np.array([bead.max_feret_mm for bead in sizes.beads])
    # A logarithm turns steps of 2 % into equal ones.
    size_steps = np.log(np.column_stack([widths, lengths])) / math.log1p(VISIBLE_SIZE_STEP)
    return np.column_stack([size_steps, _lab(sizes) / VISIBLE_COLOUR_STEP])


def _lab(sizes: Sizes) -> FloatArray:
    """Return the beads' colours in CIELAB, shape (N, 3)."""
    rgb = np.array([bead.colour_rgb for bead in sizes.beads], dtype=float) / 255
    lab: FloatArray = rgb2lab(rgb)
    return lab


def _pair(sizes: Sizes, a: int, b: int) -> MatchedPair:
    """Describe two beads as a pair."""
    one, other = sizes.beads[a], sizes.beads[b]
    lab = _lab(sizes.at([a, b]))
    return MatchedPair(
        index=(a, b),
        width_difference_mm=float(abs(one.min_feret_mm - other.min_feret_mm)),
        length_difference_mm=float(abs(one.max_feret_mm - other.max_feret_mm)),
        colour_difference=float(np.linalg.norm(lab[0] - lab[1])),
    )


def _even_steps(sizes: Sizes, strung_mm: float) -> Iterator[FloatArray]:
    """Yield the even falls that string to a length: sizes of the centre, then of each pair outwards."""
    if len(sizes) < 3:
        return
    smallest, largest = float(np.min(sizes.mm)), float(np.max(sizes.mm))
    for centre in np.unique(np.quantile(sizes.mm, np.linspace(0.5, 1, _CENTRES_TRIED))):
        for pairs in range(1, (len(sizes) - 1) // 2 + 1):
            # centre + 2 sum of centre - (centre - end) j / pairs over j = 1 .. pairs  =  strung
            fall = ((2 * pairs + 1) * centre - strung_mm) / (pairs + 1)
            if fall >= _LEAST_FALL * largest and centre - fall >= smallest:
                yield centre - fall * np.arange(pairs + 1) / pairs


def _fill(sizes: Sizes, steps_mm: FloatArray) -> GraduatedRun:
    """Give beads to the steps of a run, one to the centre and two to every other step."""
    places_mm = np.concatenate([steps_mm[:1], np.repeat(steps_mm[1:], 2)])
    departures = places_mm[:, None] - sizes.mm[None, :]
    _, chosen = linear_sum_assignment(departures**2)
    # Falling sizes fill falling places at the same cost, and make the two beads of a pair neighbours.
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
