"""The mean picture of all beads of a uniform strand: what no single bead shows, their mean does.

It has the noise and the grain of the bed averaged away, so its sides are found where a single bead's contrast
drowns; they then guide the search on every bead.
"""

import numpy as np

from vision.common.numerics import medians, robust_sd
from vision.common.records import FloatArray
from vision.strand.axis import STEP_MM
from vision.strand.evidence import sharpness
from vision.strand.sides import Sides, side_lines
from vision.strand.strip import Segment, middle_width

_ALIKE = 0.15
"""A segment takes part where its length is this near, in proportion, to the median: a bead of another kind,
let in, blurs the mean. Half or double: no difference."""
_FEWEST, _MOSTLY = 4, 0.6
"""A mean of fewer beads, or of a smaller share, shows little that one does not."""
_SAME_WIDTH = 0.05
"""Where widths scatter more, beads lie turned (cubes) or differ, and no mean outline is any one's. At half 14
fewer beads of 89 are flagged, at double 18 more."""
_MOST_GAIN = 3.0
"""The mean of N beads counts as their root, by their noise, but no more than this: outlines differ a
little."""


def expected_sides(sides: Sides, segments: list[Segment]) -> FloatArray | None:
    """Return where the sides of every step are expected from the mean of all beads.

    Returns
    -------
    ndarray, shape (2, S), or None
        Left and right side in mm, NaN outside the beads that are alike; None where too few are.
    """
    alike = _alike(segments)
    if len(alike) < max(_FEWEST, _MOSTLY * len(segments)):
        return None
    widths = np.array([middle_width(sides.width_mm, s) for s in alike])
    if robust_sd(widths / np.median(widths), about=1.0) > _SAME_WIDTH:
        return None
    typical = float(np.median([s.length_mm for s in segments]))
    mean = _mean_sides(sides, alike, phases=max(4, round(typical / STEP_MM)))
    expected = np.full((2, len(sides.width_mm)), np.nan)
    for segment in alike:
        steps = segment.steps()
        phase = np.linspace(0, len(mean[0]) - 1, steps.stop - steps.start)
        expected[:, steps] = [np.interp(phase, np.arange(len(side)), side) for side in mean]
    return expected


def _alike(segments: list[Segment]) -> list[Segment]:
    """Return the segments of about the median length."""
    typical = float(np.median([s.length_mm for s in segments]))
    return [s for s in segments if abs(s.length_mm / typical - 1) < _ALIKE]


def _mean_sides(sides: Sides, segments: list[Segment], *, phases: int) -> tuple[FloatArray, FloatArray]:
    """Return the sides of the mean of beads, in so many steps from end to end, mm, two arrays (P,)."""
    columns = np.array([_columns(s, phases) for s in segments])
    look = sides.appearance
    # median: a glint or a stain on one bead is not on the others
    tone, single, relative = (
        medians(_stacked(picture, columns)) for picture in (look.log_tone, look.strength, look.gradient)
    )
    periodic = np.concatenate([tone.astype(np.float32)] * 3, axis=1)
    strength = sharpness(periodic)
    gain = min(_MOST_GAIN, np.sqrt(len(segments)))
    scale = np.median(relative / np.maximum(single, 1e-3))
    odds = _stacked(sides.odds, columns).mean(axis=0)
    return side_lines(odds * gain, strength[:, phases : 2 * phases] * scale * gain)


def _columns(segment: Segment, phases: int) -> FloatArray:
    """Return the steps, as fractions, at the middles of so many parts of a segment, shape (P,)."""
    step = segment.length_mm / phases
    return (segment.start_mm + (np.arange(phases) + 0.5) * step) / STEP_MM


def _stacked(picture: FloatArray, columns: FloatArray) -> FloatArray:
    """Resample a (T, S[, C]) picture at fractional columns (B, P): shape (B, T, P[, C])."""
    low = np.clip(np.floor(columns).astype(int), 0, picture.shape[1] - 2)
    share = (columns - low)[None, ..., None] if picture.ndim == 3 else (columns - low)[None]
    both = (1 - share) * picture[:, low] + share * picture[:, low + 1]
    return np.moveaxis(both, 0, 1)
