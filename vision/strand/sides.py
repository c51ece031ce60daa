"""The two sides of a straightened strand: where, at each step along it, bead gives way to bed.

Neither colour nor edge alone will do: shadows darken the bed beside a bead, glass lets the bed shine
through, facets have edges inside. Each cell is judged by how much likelier its colour is among the
cells near the string than among those of the bed beside, the bed shaded or not; the side is the smooth
line that best divides the two and runs along sharp changes (a maximum a posteriori path, Viterbi).
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray, Mask
from vision.image.gradient import Image, block_peaks, edge_strength, grain_level
from vision.strand.axis import STEP_MM
from vision.strand.strip import Strip
from vision.topview.blocks import disc

_SIGMA_MM = 0.1
_SHADE_MM = 0.35
"""What changes over more than this is shadow, not edge."""
_LOG_UNIT = 100.0
_TOE = 30.0
"""Codes added before taking logarithms: black is never quite black, and its noise is not contrast."""
_GRAIN_WINDOW_MM = 25.0
_BLOCK = 5
_BINS = 18
_CELL_WEIGHT = 0.3
"""Neighbouring cells are not independent: each counts for this much of its likelihood ratio."""
_EDGE_WEIGHT = 2.5
_GUIDE_SD_MM = 0.2
_GUIDE_WEIGHT = 2.5
"""The guide's pull grows with the logarithm of the distance: a bead with clear edges of its own wins."""
_STEEPEST = 3
"""Cells the side may move per step along: 72 degrees."""
_BEND_COST = 0.25
_ANY_TONE = 0.2
_FLOOR = 1e-5
_CORE = 0.7
"""Share of the half width that surely shows bead, where there is one."""
_KNOWN, _OWN = 0.7, 0.7
"""Weights of what the network makes of a cell and of its own colour: the network knows a bead by its look,
but draws it on cells twice as wide, and is up to 0.2 mm off."""
_NEVER = 0.05
"""It is never surer than this."""
_SHADE_DEPTH = 0.6
"""Log units of light that a shadow beside a bead may take away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flanks:
    """Sides of a strand, and the pictures they were found in.

    Attributes
    ----------
    left_mm, right_mm : ndarray, shape (S,)
        Distance of either side from the string (left negative).
    odds : ndarray, shape (T, S)
        Log likelihood ratio of bead against bed.
    gradient : ndarray, shape (T, S)
        Colour gradient in its strongest direction over the bed's grain.
    mirroring : ndarray of bool, shape (S,)
        Where polished beads mirror the bed and sides were moved to their outlines (see `mirror`).
    """

    left_mm: FloatArray
    right_mm: FloatArray
    odds: Image
    gradient: Image
    mirroring: Mask

    @property
    def width_mm(self) -> FloatArray:
        """Distance between the sides, shape (S,)."""
        return self.right_mm - self.left_mm


def find_flanks(strip: Strip, inside: Image, *, half_mm: float, widest: float) -> Flanks:
    """Find both sides of a strand of about `half_mm` half width; none lies beyond `widest` times that.

    `inside`, shape (T, S), is how likely each cell of the strip shows a bead.
    """
    strongest = edge_strength(
        log_tone(strip), fine_cells=_SIGMA_MM / STEP_MM, coarse_cells=_SHADE_MM / STEP_MM
    )
    outside = np.abs(strip.aside_mm) > 1.25 * half_mm + 1.0
    grain = _grain_beside(strongest, outside)
    strongest = (strongest / grain).astype(np.float32)
    known = _KNOWN * np.log((inside + _NEVER) / (1 - inside + _NEVER)).astype(np.float32)
    looks = _Looks(
        tone=relative_tone(strip, outside), relief=_relief(strongest), gradient=strongest, known=known
    )
    core = np.broadcast_to((np.abs(strip.aside_mm) < _CORE * half_mm)[:, None], strongest.shape)
    far = np.maximum(np.abs(strip.aside_mm) - widest * half_mm, 0.0)[:, None]
    bed = np.broadcast_to(outside[:, None], strongest.shape)
    odds, left, right = looks.divide(core, bed, far)
    rows, margin = np.arange(len(strip.aside_mm))[:, None], round(0.3 / STEP_MM)
    bead = core & (rows > left + margin) & (rows < right - margin)
    bed = (rows < left - 2 * margin) | (rows > right + 2 * margin)
    odds, left, right = looks.divide(bead, bed, far)
    return Flanks(
        left_mm=strip.aside_mm[left],
        right_mm=strip.aside_mm[right],
        odds=odds,
        gradient=strongest,
        mirroring=np.zeros(len(left), dtype=bool),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looks:
    """What each cell of the strip looks like: tone (T, S, 3), relief and edge strength (T, S)."""

    tone: Image
    relief: Image
    gradient: Image
    known: Image

    def divide(self, bead: Mask, bed: Mask, far: Image) -> tuple[Image, NDArray[np.intp], NDArray[np.intp]]:
        """Learn what bead and bed look like from samples of each, and divide them: odds and both sides."""
        own = np.clip(_odds(self.tone, bead, bed) + _relief_odds(self.relief, bead, bed), -2.0, 2.0)
        odds = _OWN * own + self.known
        odds = odds - far / 0.25
        left, right = _sides(odds, self.gradient)
        return odds, left, right


def _relief(gradient: Image) -> Image:
    """Return the log of the gradient near each cell: glass has edges inside where its tone is the bed's."""
    # closing fills the space between edges without widening what they enclose
    return np.log1p(cv2.morphologyEx(gradient, cv2.MORPH_CLOSE, disc(0.5 / STEP_MM)))


def _relief_odds(relief: Image, bead: Mask, bed: Mask) -> Image:
    index = np.clip((relief / 3.0 * 2 * _BINS).astype(int), 0, 2 * _BINS - 1)
    densities = []
    for part in (bead, bed):
        counts = np.bincount(index[part], minlength=2 * _BINS).astype(float)
        smooth = ndimage.gaussian_filter1d(counts, 1.0, mode="nearest")
        densities.append(smooth / max(smooth.sum(), 1e-9))
    ratio = np.log((densities[0] + 1e-3) / (densities[1] + 1e-3))
    # a soft shadow has some relief of its own, and a plain bead none: relief speaks for beads only
    return np.clip(ratio, -0.2, 0.8)[index].astype(np.float32)


def _grain_beside(gradient: Image, outside: Mask) -> FloatArray:
    """Return the bed's own gradient at each step along, shape (S,)."""
    beside = gradient[outside]
    peaks = block_peaks(beside, _BLOCK)
    window = round(_GRAIN_WINDOW_MM / STEP_MM / _BLOCK)
    level = np.median(grain_level(peaks, window=window), axis=0)
    steps = np.arange(gradient.shape[1])
    return np.interp(steps, (np.arange(len(level)) + 0.5) * _BLOCK, level)


def log_tone(strip: Strip) -> Image:
    """Return the logarithm of the codes, (T, S, 3): an edge counts by its contrast, on black felt too."""
    return (_LOG_UNIT * np.log(strip.rgb.astype(np.float32) + _TOE)).astype(np.float32)


def relative_tone(strip: Strip, outside: Mask) -> Image:
    """Return the log ratio of each cell to the bed beside it: light, then two of colour, (T, S, 3).

    A shadow changes the first and leaves the others.
    """
    log = cv2.GaussianBlur(log_tone(strip), (0, 0), 1.0) / _LOG_UNIT
    span = 2 * round(3.0 / STEP_MM) + 1
    sides = []
    for side in (strip.aside_mm < 0, strip.aside_mm > 0):
        level = np.median(log[side & outside], axis=0)
        sides.append(ndimage.median_filter(level, size=(span, 1), mode="nearest"))
    share = (np.arange(len(strip.aside_mm)) / (len(strip.aside_mm) - 1))[:, None, None]
    ratio = log - ((1 - share) * sides[0] + share * sides[1])
    light = ratio.mean(axis=2)
    return np.dstack([light, ratio[..., 0] - ratio[..., 1], ratio[..., 2] - ratio[..., 1]])


def _odds(tone: Image, inside: Mask, bed: Mask) -> Image:
    """Return the clipped log likelihood ratio of bead over bed for each cell, shape (T, S)."""
    spread = [max(robust_sd(tone[..., k][bed], about=0.0), 0.02) for k in range(3)]
    reach = [min(1.5, 12 * s + 0.35) for s in spread]
    index = np.stack(
        [np.clip(((tone[..., k] / reach[k] + 1) / 2 * _BINS).astype(int), 0, _BINS - 1) for k in range(3)]
    )
    flat = np.ravel_multi_index(tuple(index), (_BINS,) * 3)
    bead_density = _density(flat[inside])
    bed_density = _density(flat[bed])
    bed_density = _shaded(bed_density, cells=_SHADE_DEPTH / (2 * reach[0] / _BINS))
    # a bead may show any tone, a rim of light or a reflection no other bead has; the bed may not
    bead_density = (1 - _ANY_TONE) * bead_density + _ANY_TONE / bead_density.size
    ratio = np.log(bead_density / (bed_density + _FLOOR)).ravel()
    return np.clip(ratio, -1.3, 2.0)[flat].astype(np.float32)


def _density(flat: NDArray[np.intp]) -> FloatArray:
    counts = np.bincount(flat, minlength=_BINS**3).reshape((_BINS,) * 3).astype(float)
    smooth = ndimage.gaussian_filter(counts, 0.8, mode="nearest")
    density: FloatArray = smooth / max(smooth.sum(), 1e-9)
    return density


def _shaded(density: FloatArray, *, cells: float) -> FloatArray:
    """Add the bed's tones darkened by shadow, the likelier the fainter."""
    steps = np.arange(0, max(2, round(2 * cells)))
    weights = np.exp(-steps / max(cells / 2, 0.5))
    weights /= weights.sum()
    shaded = sum(w * _shift_down(density, int(k)) for k, w in zip(steps, weights, strict=True))
    return 0.5 * density + 0.5 * np.asarray(shaded)


def _shift_down(density: FloatArray, cells: int) -> FloatArray:
    """Move the tones `cells` bins darker; what falls off the end stays in the darkest bin."""
    moved = np.zeros_like(density)
    moved[: _BINS - cells] = density[cells:]
    moved[0] += density[:cells].sum(axis=0)
    return moved


def _sides(
    odds: Image, gradient: Image, guide: FloatArray | None = None
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return row indices of the left (upper) and right (lower) side at each step, two (S,) arrays.

    `guide`, shape (2, S), is where the sides are expected (rows); NaN where nothing is.
    """
    middle = len(odds) // 2
    edge = _EDGE_WEIGHT * np.log1p(np.minimum(gradient, 8.0))
    scores = []
    for half_odds, half_edge in (
        (odds[middle::-1], edge[middle::-1]),
        (odds[middle:], edge[middle:]),
    ):
        gain = _CELL_WEIGHT * (np.cumsum(half_odds, axis=0) - half_odds / 2)
        scores.append(gain + half_edge)
    score = np.stack(scores)
    if guide is not None:
        rows = np.arange(middle + 1)[None, :, None]
        expected = np.stack([middle - guide[0], guide[1] - middle])[:, None]
        surprise = ((rows - expected) * STEP_MM / _GUIDE_SD_MM) ** 2
        score = score - np.nan_to_num(_GUIDE_WEIGHT * np.log1p(surprise))
    paths = _best_paths(score)
    return middle - paths[0], middle + paths[1]


def sides_of(odds: Image, gradient: Image) -> tuple[FloatArray, FloatArray]:
    """Return the sides, mm, of a picture with given odds and edge strengths, both (T, S)."""
    middle = len(odds) // 2
    left, right = _sides(odds, gradient)
    return (left - middle) * STEP_MM, (right - middle) * STEP_MM


def guided(flanks: Flanks, strip: Strip, guide_mm: FloatArray) -> Flanks:
    """Find the sides again where it is known about where to expect them.

    Parameters
    ----------
    flanks : Flanks
        Of a first look.
    strip : Strip
    guide_mm : ndarray, shape (2, S)
        Expected left and right sides; NaN where nothing is.
    """
    middle = len(strip.aside_mm) // 2
    left, right = _sides(flanks.odds, flanks.gradient, middle + guide_mm / STEP_MM)
    return replace(flanks, left_mm=strip.aside_mm[left], right_mm=strip.aside_mm[right])


def _best_paths(score: Image) -> NDArray[np.intp]:
    """Return for each (T, S) score the row path of the greatest sum, steps limited, shape (K, S)."""
    count, rows, steps = score.shape
    moves = np.arange(-_STEEPEST, _STEEPEST + 1)
    cost = (_BEND_COST * np.abs(moves)).astype(np.float32)[None, :, None]
    by_step = np.ascontiguousarray(score.transpose(2, 0, 1), dtype=np.float32)
    padded = np.full((count, rows + 2 * _STEEPEST), -np.inf, dtype=np.float32)
    # one view of the padded row for every move, made once: this loop is most of the work
    shifted = np.lib.stride_tricks.sliding_window_view(padded, rows, axis=1)
    middle = padded[:, _STEEPEST:-_STEEPEST]
    middle[:] = by_step[0]
    came = np.zeros((steps, count, rows), dtype=np.int8)
    options = np.empty((count, len(moves), rows), dtype=np.float32)
    for s in range(1, steps):
        np.subtract(shifted, cost, out=options)
        came[s] = options.argmax(axis=1)
        np.add(options.max(axis=1), by_step[s], out=middle)
    return np.array([_followed_back(came[:, k], int(middle[k].argmax())) for k in range(count)])


def _followed_back(came: NDArray[np.int8], last: int) -> list[int]:
    """Return the rows of the path that ends in row `last`, by which move each row (S, T) was reached."""
    path = [last]
    for moves in came[:0:-1]:
        path.append(path[-1] + int(moves[path[-1]]) - _STEEPEST)
    return path[::-1]
