"""Outlines of beads where a sharper line is none: the horizon in a polished bead.

Seen from straight above, a mirroring round shows what lies at twice the slant of its surface: beyond 45
degrees of slant, which is beyond 0.71 of its radius, no longer the sky but the bed (law of reflection).
The sharp line that looks like its outline is then the horizon, and the outline itself a faint step
farther out, by the same share of the width on both sides and on every such bead. It is found by averaging
along the crest of each side and taking out what the bed's own slow shading explains.
"""

from dataclasses import replace

import numpy as np
from scipy import ndimage

from vision.common.records import FloatArray
from vision.image.gradient import Image
from vision.strand.axis import STEP_MM
from vision.strand.sides import Crest, Sides, profiles
from vision.strand.strip import Segment, Strip

_SHARES = np.arange(0.10, 0.62, 0.02)
"""Places looked at: distance from the line seen over the half width seen."""
_NEAREST, _FARTHEST = 0.17, 0.5
"""Where the outline may lie: 1 / 0.71 - 1 = 0.41 for level things, less where the horizon is hidden."""
_SMOOTH_SHARES = 0.7
"""Smoothing of the step over the places looked at."""
_CLEAR = 4.0
"""Step over its noise, on both sides, that a bead must show by itself. At half p95 of sizes goes from 0.27 to
0.31 mm, as sides seen whole are moved out; no difference at double."""
_FEWEST, _LEAST, _AGREE = 3, 0.2, 0.06
"""So many beads, and this share of all, must agree so well. The last, at double, flags 3 more beads."""
_FINE_MM, _SIGMA_MM = 0.05, 0.08
"""Sampling and smoothing of a profile, finer than the step of the strip. The second, at double, flags 5
more."""
_BEYOND_MM, _FAR_MM = 1.2, 0.3
"""How far beyond the places looked at the bed's own changes are taken. At double 8 more are flagged."""
_SHADING_MM = (0.2, 0.55)
"""Distance outside at which the bed's shading goes on and an edge, of two sigma, no longer does."""
_LEAST_NOISE = 1e-4
"""Per cent of the light: a drawn bed without any noise must not divide by zero."""


def moved_to_outlines(sides: Sides, segments: list[Segment], *, strip: Strip) -> Sides:
    """Return the sides with those of beads that mirror the bed moved out to their outlines."""
    if len(segments) < _FEWEST:
        return sides
    moved = np.zeros(len(sides.width_mm))
    both = sides.crests(segments)
    tops = np.array([[crest.top_mm for crest in crests] for crests in both])
    half = np.maximum(tops.mean(axis=0), STEP_MM)
    fainter = np.minimum(*(_step_over_noise(strip.log_tone, crests, half) for crests in both))
    lengths = [segment.length_mm for segment in segments]
    share = _mirrored_share(fainter, np.column_stack([half, lengths]))
    for segment, out in zip(segments, share, strict=True):
        steps = segment.steps()
        moved[steps] = out * sides.width_mm[steps] / 2
    return replace(sides, left_mm=sides.left_mm - moved, right_mm=sides.right_mm + moved, moved_mm=moved)


def _mirrored_share(step: FloatArray, sizes_mm: FloatArray) -> FloatArray:
    """Return for each bead how far outside the line seen its outline lies, over the half width; else 0.

    What does not show it clearly, but is seen as wide as those that do, and is as long, is of their polish:
    seen whole it would be as much wider.

    Parameters
    ----------
    step : ndarray, shape (B, F)
        Step over its noise at each of `_SHARES`, the fainter of both sides.
    sizes_mm : ndarray, shape (B, 2)
        Half the width seen, and the length.
    """
    smooth = ndimage.gaussian_filter1d(step, _SMOOTH_SHARES, axis=1)
    inner = smooth[:, 1:-1]
    peak = (inner >= smooth[:, :-2]) & (inner > smooth[:, 2:])
    possible = (_SHARES[1:-1] >= _NEAREST) & (_SHARES[1:-1] <= _FARTHEST)
    height = np.where(peak & possible, inner, 0.0)
    best, strength = _SHARES[1 + height.argmax(axis=1)], height.max(axis=1)
    clear = strength > _CLEAR
    fewest = max(_FEWEST, _LEAST * len(step))
    if clear.sum() < fewest:
        return np.zeros(len(step))
    common = float(np.median(best[clear]))
    clear &= np.abs(best - common) < _AGREE
    if clear.sum() < fewest:
        return np.zeros(len(step))
    common = float(np.median(best[clear]))
    off = np.abs(np.log(sizes_mm / np.median(sizes_mm[clear], axis=0)))
    # seen whole it would be wider by all of the step: half of it divides the two
    alike = (off < np.log1p(common) * np.array([0.5, 1.0])).all(axis=1)
    return np.where(clear, best, np.where(alike, common, 0.0))


def _step_over_noise(tone: Image, crests: list[Crest], reaches: FloatArray) -> FloatArray:
    """Return the step over its noise at each share of each bead on one side, shape (B, F)."""
    offsets = [np.arange(-4 * _FINE_MM, reach * _SHARES[-1] + _BEYOND_MM, _FINE_MM) for reach in reaches]
    channels = [profiles(tone[..., channel], crests, offsets) for channel in range(3)]
    seen, bed = [], []
    for profile, at, reach in zip(zip(*channels, strict=True), offsets, reaches, strict=True):
        rate = _unshaded_rate(np.array(profile))
        seen.append([np.interp(_SHARES * reach, at, channel) for channel in rate])
        bed.append(rate[:, at > reach * _SHARES[-1] + _FAR_MM])
    noise = np.sqrt(np.mean(np.concatenate(bed, axis=1) ** 2, axis=1)) + _LEAST_NOISE
    return np.asarray(np.sqrt(np.mean((np.array(seen) / noise[None, :, None]) ** 2, axis=1)))


def _unshaded_rate(profile: FloatArray) -> FloatArray:
    """Return the rate of change across a crest less that of the bed just outside, of and to (3, K)."""
    rate = ndimage.gaussian_filter1d(profile, _SIGMA_MM / _FINE_MM, axis=1, order=1)
    near, far = (round(mm / _FINE_MM) for mm in _SHADING_MM)
    padded = np.hstack([rate, np.repeat(rate[:, -1:], far, axis=1)])
    windows = np.lib.stride_tricks.sliding_window_view(padded, far - near + 1, axis=1)
    return np.asarray(rate - windows.mean(axis=2)[:, near : near + rate.shape[1]])
