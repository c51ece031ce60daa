"""All beads of a uniform strand laid over each other: what no single bead shows, their mean does.

The mean picture has the noise and the grain of the bed averaged away, so its sides are found where a
single bead's contrast drowns; they then guide the search on every bead.
"""

import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.image.gradient import edge_strength
from vision.strand.axis import STEP_MM
from vision.strand.segment import Segment, middle_width
from vision.strand.sides import Flanks, log_tone, sides_of
from vision.strand.strip import Strip

_ALIKE = 0.15
"""A segment takes part where its length is this near, in proportion, to the median."""
_SAME_WIDTH = 0.05
"""Where widths scatter more, beads lie turned (cubes) or differ, and no mean outline is any one's."""
_FEWEST = 4


def folded_sides(strip: Strip, flanks: Flanks, segments: list[Segment]) -> FloatArray | None:
    """Return where the sides of every step are expected from all beads together.

    Returns
    -------
    ndarray, shape (2, S), or None
        Left and right side in mm, NaN outside the beads that are alike; None where too few are.
    """
    lengths = np.array([s.length_mm for s in segments])
    typical = float(np.median(lengths))
    alike = [s for s, length in zip(segments, lengths, strict=True) if abs(length / typical - 1) < _ALIKE]
    if len(alike) < max(_FEWEST, 0.6 * len(segments)):
        return None
    widths = np.array([middle_width(flanks.width_mm, s) for s in alike])
    if robust_sd(widths / np.median(widths), about=1.0) > _SAME_WIDTH:
        return None
    phases = max(4, round(typical / STEP_MM))
    columns = np.array([_columns(s, phases) for s in alike])
    tone = _stacked(log_tone(strip), columns)
    odds = _stacked(flanks.odds, columns).mean(axis=0)
    # median: a glint or a stain on one bead is not on the others
    mean_tone = np.median(tone, axis=0).astype(np.float32)
    wide = np.concatenate([mean_tone] * 3, axis=1)
    strength = edge_strength(wide, fine_cells=1.0, coarse_cells=3.5)[:, phases : 2 * phases]
    single = np.median(
        _stacked(edge_strength(log_tone(strip), fine_cells=1.0, coarse_cells=3.5), columns), axis=0
    )
    scale = np.median(_stacked(flanks.gradient, columns), axis=0) / np.maximum(single, 1e-3)
    gain = min(3.0, np.sqrt(len(alike)))
    left, right = sides_of(odds * gain, strength * np.median(scale) * gain)
    guide = np.full((2, strip.rgb.shape[1]), np.nan)
    for segment in alike:
        first = max(round(segment.start_mm / STEP_MM), 0)
        last = min(round(segment.end_mm / STEP_MM), guide.shape[1])
        phase = np.linspace(0, phases - 1, max(last - first, 0))
        for k, side in enumerate((left, right)):
            guide[k, first:last] = np.interp(phase, np.arange(phases), side)
    return guide


def _columns(segment: Segment, phases: int) -> FloatArray:
    step = segment.length_mm / phases
    return (segment.start_mm + (np.arange(phases) + 0.5) * step) / STEP_MM


def _stacked(picture: FloatArray, columns: FloatArray) -> FloatArray:
    """Resample a (T, S[, C]) picture at fractional columns (B, K): shape (B, T, K[, C])."""
    low = np.clip(np.floor(columns).astype(int), 0, picture.shape[1] - 2)
    share = (columns - low)[None, ..., None] if picture.ndim == 3 else (columns - low)[None]
    both = (1 - share) * picture[:, low] + share * picture[:, low + 1]
    return np.moveaxis(both, 0, 1)
