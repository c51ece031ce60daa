"""The outermost line of each bead's side, to a fraction of a pixel.

Near its outline a picture is the bed's light on one side, the bead's on the other, each changing
about linearly (a shadow, a rounding limb), with a step between, all blurred by the lens: blur acts on
light, so the model is built in linear light. For each place the step could have, the rest is linear
least squares; the place that leaves the smallest residual is the edge. A steepest gradient would
do for a plain step only: a round bead's limb darkens and pulls it inwards.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.special import ndtr

from vision.camera.camera import Camera
from vision.camera.scene import TYPICAL_BLUR_PX
from vision.common.records import FloatArray, Mask, Photo
from vision.image.gradient import edge_strength
from vision.image.sampling import light_at
from vision.strand.axis import STEP_MM
from vision.strand.segment import Segment
from vision.strand.sides import Flanks, log_tone
from vision.strand.strip import Strip

_OUT_MM, _IN_MM = 0.4, 0.4
_REACH_MM = 0.16
_FINE_MM = 0.02
_PRIOR_MM = 0.07
"""Standard deviation of the coarse side about the true one."""
_CREST_MM = 0.15
"""The crest of a side is what lies no further inside than this."""
_LOOK_IN_MM, _LOOK_OUT_MM = 0.5, 0.7
_CLEAR, _CLEAR_SHARE = 2.5, 0.45
"""A peak is an edge where it is this many times the bed's, and this share of the strongest."""
_INWARDS_MM = 0.2
"""Standard deviation of how far inside its side a rim may lie: farther in, a sharp edge is rather one of
a facet, a coating or a reflection."""
_OWN_MM = 0.12
_GABLE = 0.6
_FAINT_MM, _FAINT_RATIO = 0.5, 4.0
_WRONG_SHARE = 0.2
_IN_MIRROR_MM, _MIRROR_U_MM = 0.1, 0.06
_CODE_NOISE = 1.5 / 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Rim:
    """The outermost line of one side of one bead.

    Attributes
    ----------
    aside_mm : float
        Distance of the line from the axis, in its plane; left negative.
    along_mm : float
        Where along the axis the side is outermost.
    u_mm : float
        Standard uncertainty from the picture's noise and the fit.
    clarity : float
        Share of the picture's variation across the edge that the step explains, 0 to 1.
    """

    aside_mm: float
    along_mm: float
    u_mm: float
    clarity: float


def bead_rims(
    photo: Photo,
    camera: Camera,
    strip: Strip,
    flanks: Flanks,
    segments: list[Segment],
    *,
    height_mm: float,
    blur_px: float = TYPICAL_BLUR_PX,
) -> list[tuple[Rim, Rim]]:
    """Find the left and right rim of every segment.

    Where a bead mirrors the bed, its side is its faint outline already, and the sharper line inside is not
    looked at.
    """
    axis = strip.axis
    strength = edge_strength(log_tone(strip), fine_cells=1.0, coarse_cells=3.5)
    per_mm = camera.px_per_mm(np.array([*axis.points_mm[len(axis.points_mm) // 2], height_mm]))
    offsets = np.arange(-_IN_MM - _REACH_MM, _OUT_MM + _REACH_MM + 1e-9, max(_FINE_MM, 0.4 / per_mm))
    found = []
    for sign, side in ((-1.0, flanks.left_mm), (1.0, flanks.right_mm)):
        crests = [Crest.of(sign * side, segment) for segment in segments]
        rims = []
        mirrors = np.array([bool(np.median(flanks.mirroring[crest.columns])) for crest in crests])
        places, doubts = _outermost(strength, crests, sign, mirrors)
        for crest, outermost, doubt, mirror in zip(crests, places, doubts, mirrors, strict=True):
            aside = sign * (crest.line_mm[:, None] + outermost + offsets[None])
            along = np.broadcast_to(crest.columns[:, None] * STEP_MM, aside.shape)
            points = axis.at(along, aside)
            pixels = camera.project(np.dstack([points, np.full(aside.shape, height_mm)]))
            used = offsets > (-_IN_MIRROR_MM - _REACH_MM if mirror else -np.inf)
            step, u, clarity = _locate_step(
                light_at(photo, pixels)[:, used], offsets[used], blur_mm=blur_px / per_mm
            )
            rims.append(
                Rim(
                    aside_mm=float(sign * (crest.top_mm + outermost + step)),
                    along_mm=crest.at_mm,
                    u_mm=float(np.hypot(u, doubt)),
                    clarity=clarity,
                )
            )
        found.append(rims)
    return list(zip(*found, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Crest:
    """The stretch of a side about its outermost place.

    Attributes
    ----------
    columns : ndarray of int, shape (C,)
        Steps along the string.
    line_mm : ndarray, shape (C,)
        The side, smoothed, outwards positive.
    top_mm, at_mm : float
        How far out it reaches, and where along the string.
    """

    columns: NDArray[np.intp]
    line_mm: FloatArray
    top_mm: float
    at_mm: float

    @classmethod
    def of(cls, outward_mm: FloatArray, segment: Segment) -> "Crest":
        """Find the crest of a side, outwards positive, of shape (S,), within a segment."""
        first = round((segment.start_mm + 0.1 * segment.length_mm) / STEP_MM)
        last = round((segment.end_mm - 0.1 * segment.length_mm) / STEP_MM) + 1
        first, last = max(0, first), min(len(outward_mm), max(last, first + 3))
        columns = np.arange(first, last)
        line = ndimage.gaussian_filter1d(
            ndimage.median_filter(outward_mm[first:last], 5, mode="nearest"), 1.2, mode="nearest"
        )
        top = int(np.argmax(line))
        low = high = top
        while low > 0 and line[low - 1] > line[top] - _CREST_MM:
            low -= 1
        while high < len(line) - 1 and line[high + 1] > line[top] - _CREST_MM:
            high += 1
        near = slice(low, high + 1)
        # a straight side between two steps of the strip flickers between them, and its top is no top
        flat = np.ptp(line[near]) <= STEP_MM
        return cls(
            columns=columns[near],
            line_mm=line[near],
            top_mm=float(line[near].mean()) if flat else _apex(outward_mm[first:last], line, top),
            at_mm=float(columns[near].mean() * STEP_MM),
        )


def _apex(outward: FloatArray, line: FloatArray, top: int) -> float:
    """Return the height of a side's top: that of the smooth line, or where two straight flanks meet.

    Smoothing takes the tip off a bicone; where a gable fits clearly better than an arch, the gable's
    ridge is the top.
    """
    reach = max(3, len(outward) // 4)
    near = np.arange(max(0, top - reach), min(len(outward), top + reach + 1))
    y = outward[near]
    arch = np.polynomial.Polynomial.fit(near, y, 2)
    arch_misfit = float(np.sum((y - arch(near)) ** 2))
    best_misfit, ridge = np.inf, float(line[top])
    for peak in top + np.arange(-3, 3.5, 0.5):
        design = np.column_stack([np.ones(len(near)), -np.abs(near - peak)])
        (height, slope), *_ = np.linalg.lstsq(design, y, rcond=None)
        misfit = float(np.sum((y - design @ (height, slope)) ** 2))
        if misfit < best_misfit and slope * reach > 2 * _CREST_MM:
            best_misfit, ridge = misfit, float(height)
    return ridge if best_misfit < _GABLE * arch_misfit else float(line[top])


def _outermost(
    strength: FloatArray, crests: list[Crest], sign: float, mirrors: Mask
) -> tuple[FloatArray, FloatArray]:
    """Return for each crest how far outside its line the outermost sharp edge runs, and its doubt, mm.

    All beads together show which of several edges is the outermost one; each then has its own place.
    The doubt: an edge hardly sharper than the bed's grain may be no edge, and where two are clear
    the wrong one may have been taken.
    """
    offsets = np.arange(-_LOOK_IN_MM, _LOOK_OUT_MM + 1e-9, STEP_MM / 2)
    middle = len(strength) // 2
    profiles = np.empty((len(crests), len(offsets)))
    for k, crest in enumerate(crests):
        rows = middle + sign * (crest.line_mm[None] + offsets[:, None]) / STEP_MM
        columns = np.broadcast_to(crest.columns[None], rows.shape)
        profiles[k] = ndimage.map_coordinates(strength, [rows, columns], order=1, mode="nearest").mean(axis=1)
    outside = np.median(profiles[:, offsets > _LOOK_OUT_MM - 0.25], axis=1, keepdims=True)
    relative = profiles / np.maximum(outside, np.median(outside) / 2 + 1e-3)
    if mirrors.all():
        return np.zeros(len(crests)), np.full(len(crests), _MIRROR_U_MM)
    rather_inside = np.exp(-0.5 * (np.minimum(offsets, 0) / _INWARDS_MM) ** 2)
    common, wrong = _outermost_peak(offsets, np.mean(relative[~mirrors], axis=0) * rather_inside)
    pull = np.exp(-0.5 * ((offsets - common) / _OWN_MM) ** 2)
    best = np.argmax(relative * pull, axis=1)
    height = np.take_along_axis(relative, best[:, None], axis=1)[:, 0]
    doubt = np.hypot(wrong, _FAINT_MM * np.exp(-height / _FAINT_RATIO))
    return np.where(mirrors, 0.0, offsets[best]), np.where(mirrors, _MIRROR_U_MM, doubt)


def _outermost_peak(offsets: FloatArray, profile: FloatArray) -> tuple[float, float]:
    """Return the place of the outermost clear peak, and the doubt that another one was the right one."""
    inner = profile[1:-1]
    peaks = np.flatnonzero((inner >= profile[:-2]) & (inner > profile[2:])) + 1
    clear = peaks[profile[peaks] > max(_CLEAR, _CLEAR_SHARE * profile.max())]
    if not len(clear):
        return 0.0, 0.0
    place, height = float(offsets[clear[-1]]), float(profile[clear[-1]])
    others = np.abs(offsets[peaks[profile[peaks] > _CLEAR_SHARE * height]] - place)
    others = others[others > 0.1]
    return place, _WRONG_SHARE * float(others.min()) if len(others) else 0.0


def _locate_step(light: FloatArray, offsets: FloatArray, *, blur_mm: float) -> tuple[float, float, float]:
    """Return place, standard uncertainty and clarity of the step in profiles (N, K, 3), outwards last."""
    profile = light.mean(axis=0)
    steps = np.arange(-_REACH_MM, _REACH_MM + 1e-9, _FINE_MM)
    basis = _basis(offsets, steps, blur_mm)  # (E, K, 5)
    # equal noise in codes means unequal noise in light: dark places weigh more
    weight = 1.0 / (_CODE_NOISE * 2.2 * np.maximum(profile, 0.002) ** (1.2 / 2.2))  # (K, 3)
    residual = np.zeros(len(steps))
    plain = 0.0
    for c in range(3):
        design = basis * weight[:, c, None]
        target = profile[:, c] * weight[:, c]
        normal = np.einsum("ekp,ekq->epq", design, design) + 1e-6 * np.eye(basis.shape[2])
        right = np.einsum("ekp,k->ep", design, target)
        fit = np.linalg.solve(normal, right[..., None])[..., 0]
        residual += np.sum((target - np.einsum("ekp,ep->ek", design, fit)) ** 2, axis=1)
        quadratic = np.vander(offsets, 4) * weight[:, c, None]
        plain += float(np.linalg.lstsq(quadratic, target, rcond=None)[1].sum())
    independent = 3 * len(offsets) / 4
    cost = independent / 2 * np.log(residual + 1e-6) + 0.5 * (steps / _PRIOR_MM) ** 2
    best = int(np.argmin(cost))
    near = np.arange(max(0, best - 2), min(len(steps), best + 3))
    fit = np.polyfit(steps[near], cost[near], 2)
    at = (
        float(np.clip(-fit[1] / (2 * fit[0]), steps[near[0]], steps[near[-1]]))
        if fit[0] > 0
        else float(steps[best])
    )
    spread = np.exp(-(cost - cost.min()))
    spread /= spread.sum()
    u = float(np.sqrt(np.sum(spread * (steps - at) ** 2) + (_FINE_MM / 4) ** 2))
    return at, u, float(np.clip(1 - residual[best] / max(plain, 1e-9), 0, 1))


def _basis(offsets: FloatArray, steps: FloatArray, blur: float) -> FloatArray:
    """Bed level and slope, bead step, limb and ramp, blurred, for an edge at each place: (E, K, 5).

    The limb: the slant of a round bead's surface changes with the square root of the depth inside its
    outline, and so does whatever its light depends on.
    """
    inwards = steps[:, None] - offsets[None]
    fine = np.arange(-6 * blur, np.ptp(offsets) + np.ptp(steps) + 6 * blur, blur / 8)
    kernel = blur / (fine[1] - fine[0])
    limb = ndimage.gaussian_filter1d(np.sqrt(np.maximum(fine, 0)), kernel)
    step = ndtr(inwards / blur)
    ramp = inwards * step + blur * np.exp(-0.5 * (inwards / blur) ** 2) / np.sqrt(2 * np.pi)
    level = np.ones_like(step)
    return np.stack(
        [level, np.broadcast_to(offsets, step.shape), step, np.interp(inwards, fine, limb), ramp], axis=-1
    )
