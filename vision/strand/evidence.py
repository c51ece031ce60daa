"""How strongly each cell of a straightened strand shows bead, bed, or the edge between them.

Colour alone does not divide bead from bed: a shadow darkens the bed, glass lets it shine through. So each
cell's colour, relative to the bed beside, is compared with samples of both, the bed shaded or not; the relief
(edges inside a bead) and the map of beads are added. All three are logarithms of likelihood ratios.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.numerics import medians, robust_sd
from vision.common.records import FloatArray, Mask
from vision.image.gradient import Image, block_peaks, edge_strength, grain_level
from vision.strand.axis import STEP_MM
from vision.strand.strip import Strip
from vision.topview.region import disc

_FINE_MM, _COARSE_MM = 0.1, 0.35
"""Scales of an edge and of shadow. Either, at double, flags a count and 14 to 18 more beads of 89."""
_PER_CENT = 100.0
"""Logarithms are taken in hundredths: edges count in per cent of the light, about as large as in codes."""
_TOE = 30 / 255
"""Share of full scale added before taking logarithms: black is never quite black, and its noise is not
contrast. At half 7 fewer beads are flagged."""
_GRAIN_WINDOW_MM, _BLOCK_MM = 25.0, 0.5
"""The bed's grain is the usual sharpest change in such blocks within such a window. Half or double: last
digits."""
_LEVEL_MM = 3.0
"""Reach along the string over which the bed's colour is taken: shadows of single beads are shorter."""
_CLOSED_MM = 0.5
"""Edges inside a bead lie nearer to each other than twice this."""
_MOST_RELIEF, _RELIEF_ODDS = 3.0, (-0.2, 0.8)
"""Logarithm of the strongest relief. A plain bead has none, a soft shadow has some: it counts for beads
only."""
_LEAST_SPREAD, _REACH_SD, _REACH, _MOST_REACH = 0.02, 12, 0.35, 1.5
"""Tones are compared within so many of the bed's standard deviations and a third of a log unit beyond: what
is farther off is no bed."""
_BINS, _SMOOTH_BINS = 18, 0.8
"""Steps from the darkest to the lightest tone, and their smoothing: half or double: last digits."""
_ANY_TONE = 0.2
"""A bead may show any tone, a rim of light or a reflection no other bead has, in this share of its cells; the
bed may not. At double 17 more beads are flagged."""
_FLOOR, _RELIEF_FLOOR = 1e-5, 1e-3
"""Least densities of tones and of relief: what was never seen is no proof. Half or double: last digits."""
_TONE_ODDS, _OWN_ODDS = (-1.3, 2.0), (-2.0, 2.0)
"""A cell's colour is never proof, least of all against a bead: the bed may show through glass."""
_KNOWN, _OWN = 0.7, 0.7
"""Weights of the map of beads and of a cell's own colour: the map detects a bead by its look, but on cells
twice as wide, and is up to 0.2 mm off. Either, at double, flags one count more."""
_NEVER = 0.05
"""The map is never surer than this. At half 4 fewer beads are flagged, at double 6 more."""
_SHADE, _SHADED = 0.6, 0.5
"""Log units of light that a shadow beside a bead may take away (at half 12 more beads are flagged, at double
it leaves the range compared), and the share of the bed that may lie in one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Appearance:
    """What each cell of a strip looks like.

    Attributes
    ----------
    log_tone : ndarray, shape (T, S, 3)
        Logarithm of the codes, times 100: an edge counts by its contrast, on black felt too.
    strength : ndarray, shape (T, S)
        How sharply `log_tone` changes.
    gradient : ndarray, shape (T, S)
        The same over the bed's own grain beside.
    tone : ndarray, shape (T, S, 3)
        Log ratio to the bed beside: light, then two of colour. A shadow changes the first alone.
    relief : ndarray, shape (T, S)
        Logarithm of the gradient near: glass has edges inside where its tone is the bed's.
    known : ndarray, shape (T, S)
        Log likelihood ratio of bead against bed, from the map of beads.
    """

    log_tone: Image
    strength: Image
    gradient: Image
    tone: Image
    relief: Image
    known: Image

    @classmethod
    def of(cls, strip: Strip, inside: Image, *, outside: Mask) -> "Appearance":
        """Look at a strip.

        `inside`, shape (T, S), is how likely each cell shows a bead; `outside`, shape (T,), is which rows
        surely show bed.
        """
        log = (_PER_CENT * np.log(strip.rgb.astype(np.float32) + 255 * _TOE)).astype(np.float32)
        strength = sharpness(log)
        gradient = (strength / _grain_beside(strength, outside)).astype(np.float32)
        # closing fills the space between edges without widening what they enclose
        near = cv2.morphologyEx(gradient, cv2.MORPH_CLOSE, disc(_CLOSED_MM / STEP_MM))
        return cls(
            log_tone=log,
            strength=strength,
            gradient=gradient,
            tone=_relative_tone(log, strip.aside_mm, outside),
            relief=np.log1p(near),
            known=_KNOWN * np.log((inside + _NEVER) / (1 - inside + _NEVER)).astype(np.float32),
        )

    def odds(self, bead: Mask, bed: Mask) -> Image:
        """Return the log likelihood ratio of bead against bed, (T, S), learnt from cells of each."""
        own = _tone_odds(self.tone, bead, bed) + _relief_odds(self.relief, bead, bed)
        return np.asarray(_OWN * np.clip(own, *_OWN_ODDS) + self.known)


def sharpness(log_tone: Image) -> Image:
    """Return how sharply a picture of logarithms of light changes, (T, S, 3) to (T, S), per cent a step."""
    per_mm = 1 / STEP_MM
    return edge_strength(log_tone, fine_cells=_FINE_MM * per_mm, coarse_cells=_COARSE_MM * per_mm)


def _relative_tone(log_tone: Image, aside_mm: FloatArray, outside: Mask) -> Image:
    """Return the log ratio of each cell to the bed beside it: light, then two of colour, (T, S, 3)."""
    log = np.asarray(cv2.GaussianBlur(log_tone, (0, 0), 1.0), np.float32) / _PER_CENT
    span = 2 * round(_LEVEL_MM / STEP_MM) + 1
    sides = []
    for side in (aside_mm < 0, aside_mm > 0):
        levels = np.ascontiguousarray(medians(log[side & outside]).T)
        sides.append([ndimage.median_filter(level, span, mode="nearest") for level in levels])
    share = (np.arange(len(aside_mm)) / (len(aside_mm) - 1))[:, None]
    red, green, blue = (
        log[..., k] - ((1 - share) * left + share * right)
        for k, (left, right) in enumerate(zip(*sides, strict=True))
    )
    # each map lies in one piece of memory: whoever takes one need not step over the others
    return np.stack([(red + green + blue) / 3, red - green, blue - green]).transpose(1, 2, 0)


def _grain_beside(gradient: Image, outside: Mask) -> FloatArray:
    """Return the bed's own gradient at each step along, shape (S,)."""
    beside = gradient[outside]
    block = round(_BLOCK_MM / STEP_MM)
    peaks = block_peaks(beside, block)
    window = round(_GRAIN_WINDOW_MM / _BLOCK_MM)
    level = np.median(grain_level(peaks, window=window), axis=0)
    steps = np.arange(gradient.shape[1])
    return np.interp(steps, (np.arange(len(level)) + 0.5) * block, level)


def _relief_odds(relief: Image, bead: Mask, bed: Mask) -> Image:
    index = np.clip((relief / _MOST_RELIEF * 2 * _BINS).astype(int), 0, 2 * _BINS - 1)
    bead_density, bed_density = (_density(index[part], (2 * _BINS,), sigma=1.0) for part in (bead, bed))
    ratio = np.log((bead_density + _RELIEF_FLOOR) / (bed_density + _RELIEF_FLOOR))
    return np.clip(ratio, *_RELIEF_ODDS).astype(np.float32)[index]


def _tone_odds(tone: Image, inside: Mask, bed: Mask) -> Image:
    """Return the clipped log likelihood ratio of bead over bed for each cell, shape (T, S)."""
    spread = [max(robust_sd(tone[..., k][bed], about=0.0), _LEAST_SPREAD) for k in range(3)]
    reach = np.minimum(_MOST_REACH, _REACH_SD * np.array(spread) + _REACH)
    bins = np.clip(((tone / reach.astype(np.float32) + 1) / 2 * _BINS).astype(np.int32), 0, _BINS - 1)
    flat = bins @ _BINS ** np.arange(2, -1, -1, dtype=np.int32)
    bead_density, bed_density = (
        _density(flat[part], (_BINS,) * 3, sigma=_SMOOTH_BINS) for part in (inside, bed)
    )
    bed_density = _shaded(bed_density, cells=_SHADE / (2 * reach[0] / _BINS))
    bead_density = (1 - _ANY_TONE) * bead_density + _ANY_TONE / bead_density.size
    ratio = np.log(bead_density / (bed_density + _FLOOR)).ravel()
    return np.clip(ratio, *_TONE_ODDS).astype(np.float32)[flat]


def _density(flat: NDArray[np.int32], shape: tuple[int, ...], *, sigma: float) -> FloatArray:
    """Return the smoothed share of cells in each bin, of that shape, of the flat indices of their bins."""
    counts = np.bincount(flat, minlength=math.prod(shape)).reshape(shape).astype(float)
    smooth = ndimage.gaussian_filter(counts, sigma, mode="nearest")
    return np.asarray(smooth / max(smooth.sum(), 1e-9))


def _shaded(density: FloatArray, *, cells: float) -> FloatArray:
    """Add the bed's tones darkened by shadow; faint shadows are the likeliest."""
    steps, bins = np.arange(0, max(2, round(2 * cells))), np.arange(_BINS)
    weights = np.exp(-steps / max(cells / 2, 0.5))
    darkened = np.zeros((_BINS, _BINS))
    np.add.at(darkened, (np.maximum(bins - steps[:, None], 0), bins), (weights / weights.sum())[:, None])
    return (1 - _SHADED) * density + _SHADED * np.tensordot(darkened, density, axes=1)
