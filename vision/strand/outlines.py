"""Outlines of beads where a sharper line is none: the horizon in a polished bead, the edge of a hard shadow.

Seen from straight above, a mirroring round shows what lies at twice the slant of its surface: beyond 45
degrees of slant, which is beyond 0.71 of its radius, no longer the sky but the bed (law of reflection).
The sharp line that looks like its outline is then the horizon, and the outline itself a faint step
farther out, by the same share of the width on both sides and on every such bead. It is found by averaging
along the crest of each side and taking out what the bed's own slow shading explains.

Light from one side lays a band of shadow along the beads, whose edge is as sharp as an outline. It lies on
one side only, it is dark and even, for nothing shines in it, and it has the colour of the bed, darker.
Where it ends the bead's own outline follows: the mirror image of the outline on the lit side, for a bead
lies symmetric about its string. A dark bead has no such edge inside its outline, one that mirrors its
surroundings has it on both sides.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from vision.common.numerics import medians
from vision.common.records import FloatArray, Mask
from vision.image.gradient import Image
from vision.strand.axis import STEP_MM
from vision.strand.sides import Crest, Sides, profiles
from vision.strand.strip import Segment

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
_MOST = 0.5
"""Where more than half of the beads show it, all are of one polish; of neighbours, all lie in one light."""
_FINE_MM, _SIGMA_MM = 0.05, 0.08
"""Sampling and smoothing of a profile, finer than the step of the strip. The second, at double, flags 5
more."""
_BEYOND_MM, _FAR_MM = 1.2, 0.3
"""How far beyond the places looked at the bed's own changes are taken. At double 8 more are flagged."""
_SHADING_MM = (0.2, 0.55)
"""Distance outside at which the bed's shading goes on and an edge, of two sigma, no longer does."""
_LEAST_NOISE = 1e-4
"""Per cent of the light: a drawn bed without any noise must not divide by zero."""
_PENUMBRA_MM = 0.3
"""Blur of the edges on either side of a shadow; a shadow of no more than two is all blur."""
_BROADEST = 1 / 3
"""Of the width seen; what reaches farther was never taken for a part of the strand."""
_DARK = 0.45
"""Log units of codes that a hard shadow takes at least: two thirds of the light, of which codes are the 2.2th
root."""
_EVEN = 0.3
"""Share of that within which it is even."""
_COLOUR = 0.25
"""Log units by which its colour differs from the bed's at most: the sky is bluer than the sun."""
_SHADOW_CLEAR = 2.0
"""Sharpness of the outline over that of the shadow's middle."""
_NEAR = 3
"""Beads to either side that show together what a single one may hide."""
_SHADOWS_AGREE = 0.25
"""Share by which shadows over widths differ, of beads of several shapes in one light."""


def moved_to_outlines(sides: Sides, segments: list[Segment]) -> Sides:
    """Return the sides with those of beads that mirror the bed moved out to their outlines."""
    if len(segments) < _FEWEST:
        return sides
    moved = np.zeros(len(sides.width_mm))
    share = _mirrored_share(_both_sides(sides, segments))
    for segment, out in zip(segments, share, strict=True):
        steps = segment.steps()
        moved[steps] = out * sides.width_mm[steps] / 2
    return replace(
        sides, left_mm=sides.left_mm - moved, right_mm=sides.right_mm + moved, moved_mm=np.tile(moved, (2, 1))
    )


def _mirrored_share(step: FloatArray) -> FloatArray:
    """Return for each bead how far outside the line seen its outline lies, over the half width; else 0.

    Parameters
    ----------
    step : ndarray, shape (B, F)
        Step over its noise at each of `_SHARES`.
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
    if clear.mean() > _MOST:
        return np.where(clear, best, float(np.median(best[clear])))
    return np.where(clear, best, 0.0)


def _both_sides(sides: Sides, segments: list[Segment]) -> FloatArray:
    """Return the step over its noise at each share of each bead, the fainter of its sides, shape (B, F)."""
    both = sides.crests(segments)
    half = np.array([(left.top_mm + right.top_mm) / 2 for left, right in zip(*both, strict=True)])
    reaches = np.maximum(half, STEP_MM)
    return np.minimum(*(_step_over_noise(sides.appearance.log_tone, crests, reaches) for crests in both))


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


def moved_off_shadows(sides: Sides, segments: list[Segment]) -> Sides:
    """Return the sides with those that run along the edge of a shadow moved to the beads' outlines."""
    both = sides.crests(segments)
    looks = [_Look.of(sides, *crests) for crests in (both, both[::-1])]
    found = np.array([_broad(*pair) for pair in (looks, looks[::-1])])
    share = np.array([_agreed(broad) for broad in found / looks[0].width_mm])
    share[:, (share > 0).all(axis=0)] = 0.0
    return _moved(sides, segments, broad_mm=share * looks[0].width_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """What one side looks like inside its line, from the innermost place looked at to the line.

    Attributes
    ----------
    inside_mm : ndarray, shape (K,)
        How far inside the line.
    width_mm : ndarray, shape (B,)
        Of each bead as seen, its shadow included.
    strength, tone : ndarray, shape (B, K) and (B, K, 3)
        Along the line: how sharply the picture changes, and its tone against the bed's.
    outline : ndarray, shape (B, K)
        How sharply the picture changes along the mirror image of the other side's line.
    """

    inside_mm: FloatArray
    width_mm: FloatArray
    strength: FloatArray
    tone: FloatArray
    outline: FloatArray

    @classmethod
    def of(cls, sides: Sides, own: list[Crest], other: list[Crest]) -> "_Look":
        """Look inside the crests of one side, along their lines and along those of the other side."""
        width = np.array([mine.top_mm + theirs.top_mm for mine, theirs in zip(own, other, strict=True)])
        inside = STEP_MM / 2 * np.arange(round(2 * _BROADEST * width.max() / STEP_MM))[::-1]
        look = sides.appearance
        mirrored = [
            replace(theirs, sign=mine.sign, line_mm=theirs.line_mm - theirs.top_mm + mine.top_mm)
            for mine, theirs in zip(own, other, strict=True)
        ]
        tone = [_profiles(look.tone[..., channel], own, inside) for channel in range(3)]
        return cls(
            inside_mm=inside,
            width_mm=width,
            strength=_profiles(look.strength, own, inside),
            tone=np.stack(tone, axis=-1),
            outline=_profiles(look.strength, mirrored, inside),
        )


def _profiles(picture: Image, crests: list[Crest], inside_mm: FloatArray) -> FloatArray:
    """Return a picture (T, S) so far inside each crest, the median of neighbouring beads, shape (B, K)."""
    single = np.array(profiles(picture, crests, [-inside_mm] * len(crests)))
    near = (slice(max(k - _NEAR, 0), k + _NEAR + 1) for k in range(len(crests)))
    return np.array([medians(single[window]) for window in near])


def _broad(look: _Look, other: _Look) -> FloatArray:
    """Return how broad a shadow seems to be on one side of each bead, 0 where none shows, shape (B,)."""
    inside = look.inside_mm
    broad = np.zeros(len(look.width_mm))
    best = np.full(len(broad), _SHADOW_CLEAR)
    for k in np.flatnonzero(inside[1:-1] > 2 * _PENUMBRA_MM + STEP_MM / 2) + 1:
        band = (inside < inside[k] - _PENUMBRA_MM) & (inside > _PENUMBRA_MM)
        shaded = _is_shade(look.tone[:, band], _DARK) & ~_is_shade(other.tone[:, band], _DARK / 2)
        edge = look.outline[:, k]
        peak = (edge >= look.outline[:, k - 1]) & (edge >= look.outline[:, k + 1])
        clear = edge / np.maximum(look.strength[:, band].min(axis=1), 1.0)
        on = peak & shaded & (clear > best) & (inside[k] < _BROADEST * look.width_mm)
        broad[on], best[on] = inside[k], clear[on]
    return broad


def _is_shade(tone: FloatArray, dark: float) -> Mask:
    """Return where tones (B, K, 3) are those of a bed that lies in a shadow so dark, shape (B,)."""
    taken = -np.median(tone[..., 0], axis=1)
    even = np.ptp(tone[..., 0], axis=1) < _EVEN * taken
    return np.asarray((taken > dark) & even & (np.abs(tone[..., 1:]) < _COLOUR).all(axis=(1, 2)))


def _agreed(share: FloatArray) -> FloatArray:
    """Return the shadow over the width of each bead (B,), 0 where most neighbours do not agree with it."""
    out = np.zeros(len(share))
    for k in np.flatnonzero(share):
        near = share[max(k - _NEAR, 0) : k + _NEAR + 1]
        if (np.abs(near / share[k] - 1) < _SHADOWS_AGREE).sum() > _MOST * (2 * _NEAR + 1):
            out[k] = share[k]
    return out


def _moved(sides: Sides, segments: list[Segment], *, broad_mm: FloatArray) -> Sides:
    """Return the sides, moved in by a shadow's breadth at each bead, shape (2, B)."""
    if not broad_mm.any():
        return sides
    seen = np.stack([-sides.left_mm, sides.right_mm])
    tops = np.array([[crest.top_mm for crest in crests] for crests in sides.crests(segments)])
    found = seen.copy()
    for side, k in np.argwhere(broad_mm > 0):
        steps = segments[k].steps()
        found[side, steps] = seen[1 - side, steps] + tops[side, k] - tops[1 - side, k] - broad_mm[side, k]
    moved = sides.moved_mm + found - seen
    return replace(sides, left_mm=-found[0], right_mm=found[1], moved_mm=moved)
