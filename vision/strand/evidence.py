"""How strongly each cell of a straightened strand speaks for bead, for bed, or for the edge between them.

Colour alone does not divide bead from bed: a shadow darkens the bed, glass lets it shine through. So each
cell's colour, relative to the bed beside, is compared with samples of both, the bed shaded or not; the relief
(edges inside a bead) and the map of beads are added. All three are logarithms of likelihood ratios.
"""

from dataclasses import dataclass

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

FINE_MM, COARSE_MM = 0.1, 0.35
"""Scales of an edge and of what changes more slowly, which is shadow."""
_LOG_UNIT = 100.0
_TOE = 30.0
"""Codes added before taking logarithms: black is never quite black, and its noise is not contrast."""
_GRAIN_WINDOW_MM = 25.0
_BLOCK = 5
_BINS = 18
_ANY_TONE = 0.2
_FLOOR = 1e-5
_KNOWN, _OWN = 0.7, 0.7
"""Weights of what the network makes of a cell and of its own colour: the network knows a bead by its look,
but draws it on cells twice as wide, and is up to 0.2 mm off."""
_NEVER = 0.05
"""It is never surer than this."""
_SHADE_DEPTH = 0.6
"""Log units of light that a shadow beside a bead may take away."""


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
    def of(cls, strip: Strip, inside: Image, outside: Mask) -> "Appearance":
        """Look at a strip.

        `inside`, shape (T, S), is how likely each cell shows a bead; `outside`, shape (T,), tells which rows
        surely show bed.
        """
        log = _log_tone(strip)
        strength = edge_strength(log, fine_cells=FINE_MM / STEP_MM, coarse_cells=COARSE_MM / STEP_MM)
        gradient = (strength / _grain_beside(strength, outside)).astype(np.float32)
        return cls(
            log_tone=log,
            strength=strength,
            gradient=gradient,
            tone=_relative_tone(log, strip.aside_mm, outside),
            relief=_relief(gradient),
            known=_KNOWN * np.log((inside + _NEVER) / (1 - inside + _NEVER)).astype(np.float32),
        )

    def odds(self, bead: Mask, bed: Mask) -> Image:
        """Return the log likelihood ratio of bead against bed, (T, S), learnt from cells of each."""
        own = _tone_odds(self.tone, bead, bed) + _relief_odds(self.relief, bead, bed)
        return np.asarray(_OWN * np.clip(own, -2.0, 2.0) + self.known)


def _log_tone(strip: Strip) -> Image:
    return (_LOG_UNIT * np.log(strip.rgb.astype(np.float32) + _TOE)).astype(np.float32)


def _relative_tone(log_tone: Image, aside_mm: FloatArray, outside: Mask) -> Image:
    """Return the log ratio of each cell to the bed beside it: light, then two of colour, (T, S, 3)."""
    log = cv2.GaussianBlur(log_tone, (0, 0), 1.0) / _LOG_UNIT
    span = 2 * round(3.0 / STEP_MM) + 1
    sides = []
    for side in (aside_mm < 0, aside_mm > 0):
        level = np.median(log[side & outside], axis=0)
        sides.append(ndimage.median_filter(level, size=(span, 1), mode="nearest"))
    share = (np.arange(len(aside_mm)) / (len(aside_mm) - 1))[:, None, None]
    ratio = log - ((1 - share) * sides[0] + share * sides[1])
    light = ratio.mean(axis=2)
    return np.dstack([light, ratio[..., 0] - ratio[..., 1], ratio[..., 2] - ratio[..., 1]])


def _grain_beside(gradient: Image, outside: Mask) -> FloatArray:
    """Return the bed's own gradient at each step along, shape (S,)."""
    beside = gradient[outside]
    peaks = block_peaks(beside, _BLOCK)
    window = round(_GRAIN_WINDOW_MM / STEP_MM / _BLOCK)
    level = np.median(grain_level(peaks, window=window), axis=0)
    steps = np.arange(gradient.shape[1])
    return np.interp(steps, (np.arange(len(level)) + 0.5) * _BLOCK, level)


def _relief(gradient: Image) -> Image:
    """Return the log of the gradient near each cell."""
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


def _tone_odds(tone: Image, inside: Mask, bed: Mask) -> Image:
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
