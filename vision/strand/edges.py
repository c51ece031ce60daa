"""The outermost line of each bead's side, to a fraction of a pixel.

Near its outline a picture is the bed's light on one side, the bead's on the other, each changing
about linearly (a shadow, a rounding limb), with a step between, all blurred by the lens: blur acts on
light, so the model is built in linear light. For each place the step could have, the rest is linear
least squares; the place that leaves the smallest residual is the edge. A steepest gradient would
do for a plain step only: a round bead's limb darkens and pulls it inwards.
"""

from dataclasses import dataclass, fields, replace

import numpy as np
from scipy import ndimage
from scipy.special import ndtr

from vision.common.numerics import peaks
from vision.common.records import FloatArray, Photo
from vision.image.sampling import light_at
from vision.strand.axis import STEP_MM
from vision.strand.sides import Crest, Sides, profiles
from vision.strand.strip import Segment, StringPlane, Strip

_OUT_MM, _IN_MM = 0.4, 0.4
"""What the model of an edge is fitted to: farther out lie neighbours and shadow, farther in facets. The
second, at half, flags 56 more beads of 89; the first, at double, 42 more."""
_REACH_MM, _FINE_MM, _STEP_PX = 0.16, 0.02, 0.4
"""How far from the outermost sharp edge a rim is looked for (at half 29 more beads are flagged), how finely,
and how finely the photo is sampled: more than twice a pixel (sampling theorem)."""
_STEPS_MM = np.arange(-_REACH_MM, _REACH_MM + 1e-9, _FINE_MM)
_PRIOR_MM = 0.07
"""Standard deviation of the outermost sharp edge about the rim. At half 12 more beads are flagged."""
_LOOK_IN_MM, _LOOK_OUT_MM, _BED_MM = 0.5, 0.7, 0.25
"""How far about a side sharp edges are looked for; the end of it is bed. Half or double: last digits."""
_CLEAR, _CLEAR_SHARE = 2.5, 0.45
"""A peak is an edge where it is this many times the bed's (at half and at double 5 beads more are flagged),
and this share of the strongest (no difference)."""
_INWARDS_MM = 0.2
"""Standard deviation of how far inside its side a rim may lie: farther in, a sharp edge is rather one of a
facet, a coating or a reflection. At half 5 more beads are flagged, at double 3 fewer."""
_OWN_MM = 0.12
"""Standard deviation of a bead's outermost edge about that of all. At double 7 fewer beads are flagged."""
_FAINT_MM, _FAINT_RATIO = 0.5, 4.0
"""Uncertainty of an edge as sharp as the bed, and what sharpness makes it e times less. Half or double: last
digits."""
_WRONG_SHARE, _APART_MM = 0.2, 0.1
"""One time in 25 another clear edge, if it lies farther off than this, is the right one."""
_CODE_NOISE, _GAMMA, _DARKEST = 1.5 / 255, 2.2, 0.002
"""Noise of a phone picture as a share of full scale, about which light sRGB codes are a power of (IEC
61966-2-1), and the light below which noise is no smaller."""
_INDEPENDENT = 4
"""So many samples of a profile are one independent one: they lie closer together than the blur is wide."""
_RIDGE = 1e-6
"""Keeps the fit to a flat profile solvable."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rims:
    """The outermost line of either side of each bead; every array has shape (B, 2), left then right.

    Attributes
    ----------
    aside_mm : ndarray
        Distance of the line from the axis, in its plane; left negative.
    along_mm : ndarray
        Where along the axis the side is outermost.
    u_mm : ndarray
        Standard uncertainty from the picture's noise and the fit.
    clarity : ndarray
        Share of the picture's variation across the edge that the step explains, 0 to 1.
    """

    aside_mm: FloatArray
    along_mm: FloatArray
    u_mm: FloatArray
    clarity: FloatArray

    def of(self, which: slice) -> "Rims":
        """Return the rims of some of the beads."""
        return Rims(**{field.name: getattr(self, field.name)[which] for field in fields(self)})

    @property
    def middle_mm(self) -> FloatArray:
        """Distance of the middle between the two lines from the axis, shape (B,)."""
        return (self.aside_mm[:, 0] + self.aside_mm[:, 1]) / 2


def bead_rims(photo: Photo, strip: Strip, *, sides: Sides, segments: list[Segment], blur_px: float) -> Rims:
    """Locate the left and the right rim of every segment."""
    per_mm, found = strip.plane.px_per_mm, []
    offsets = np.arange(-_IN_MM - _REACH_MM, _OUT_MM + _REACH_MM + 1e-9, max(_FINE_MM, _STEP_PX / per_mm))
    basis = _basis(offsets, blur_px / per_mm)
    for crests in sides.crests(segments):
        outermost, u_outermost = _outermost(strip.strength, crests)
        lights = (
            _light_across(photo, strip.plane, crest=crest, outermost_mm=out, offsets_mm=offsets)
            for crest, out in zip(crests, outermost, strict=True)
        )
        step, u, clarity = np.array([_locate_step(each, offsets, basis=basis) for each in lights]).T
        sign, top, along = np.array([(crest.sign, crest.top_mm, crest.at_mm) for crest in crests]).T
        found.append((sign * (top + outermost + step), along, np.hypot(u, u_outermost), clarity))
    aside, along, u, clarity = np.stack(found, axis=-1)
    return Rims(aside_mm=aside, along_mm=along, u_mm=u, clarity=clarity)


def moved_to_edges(sides: Sides, segments: list[Segment], *, strip: Strip) -> Sides:
    """Return the sides with each bead's moved to its outermost sharp edge near by."""
    lines = np.stack([-sides.left_mm, sides.right_mm])
    for line, crests in zip(lines, sides.crests(segments), strict=True):
        outermost, _ = _outermost(strip.strength, crests)
        for segment, out in zip(segments, outermost, strict=True):
            line[segment.steps()] += out
    return replace(sides, left_mm=-lines[0], right_mm=lines[1])


def _light_across(
    photo: Photo, plane: StringPlane, *, crest: Crest, outermost_mm: float, offsets_mm: FloatArray
) -> FloatArray:
    """Return the mean light (K, 3) along a crest at offsets (K,) outwards from its outermost edge."""
    aside = crest.sign * (crest.line_mm[:, None] + outermost_mm + offsets_mm)
    along = np.broadcast_to(crest.columns[:, None] * STEP_MM, aside.shape)
    return np.asarray(light_at(photo, plane.camera.project(plane.at(along, aside))).mean(axis=0))


def _outermost(strength: FloatArray, crests: list[Crest]) -> tuple[FloatArray, FloatArray]:
    """Return for each crest how far outside its line the outermost sharp edge runs, and its u, mm.

    All beads together show which of several edges is the outermost one; each then has its own place.
    An edge barely sharper than the bed's grain may be no edge, and where two are clear the wrong one may have
    been taken: the uncertainty covers that.
    """
    offsets = np.arange(-_LOOK_IN_MM, _LOOK_OUT_MM + 1e-9, STEP_MM / 2)
    across = profiles(strength, crests, offsets)
    outside = np.median(across[:, offsets > _LOOK_OUT_MM - _BED_MM], axis=1, keepdims=True)
    relative = across / np.maximum(outside, np.median(outside) / 2 + 1e-3)
    rather_inside = np.exp(-0.5 * (np.minimum(offsets, 0) / _INWARDS_MM) ** 2)
    common, wrong = _outermost_peak(offsets, np.mean(relative, axis=0) * rather_inside)
    pull = np.exp(-0.5 * ((offsets - common) / _OWN_MM) ** 2)
    best = np.argmax(relative * pull, axis=1)
    height = np.take_along_axis(relative, best[:, None], axis=1)[:, 0]
    u = np.hypot(wrong, _FAINT_MM * np.exp(-height / _FAINT_RATIO))
    return offsets[best], u


def _outermost_peak(offsets: FloatArray, profile: FloatArray) -> tuple[float, float]:
    """Return the place of the outermost clear peak, and the u of taking it for the right one, mm."""
    found = np.flatnonzero(peaks(profile))
    clear = found[profile[found] > max(_CLEAR, _CLEAR_SHARE * profile.max())]
    if not len(clear):
        return 0.0, 0.0
    place, height = float(offsets[clear[-1]]), float(profile[clear[-1]])
    others = np.abs(offsets[found[profile[found] > _CLEAR_SHARE * height]] - place)
    others = others[others > _APART_MM]
    return place, _WRONG_SHARE * float(others.min()) if len(others) else 0.0


def _locate_step(
    profile: FloatArray, offsets: FloatArray, *, basis: FloatArray
) -> tuple[float, float, float]:
    """Return place, standard uncertainty and clarity of the step in a profile of light outwards, (K, 3)."""
    misfit, plain = _misfits(profile, offsets, basis)
    independent = 3 * len(offsets) / _INDEPENDENT
    cost = independent / 2 * np.log(misfit + _RIDGE) + 0.5 * (_STEPS_MM / _PRIOR_MM) ** 2
    at = _lowest(_STEPS_MM, cost)
    spread = np.exp(-(cost - cost.min()))
    spread /= spread.sum()
    u = float(np.sqrt(np.sum(spread * (_STEPS_MM - at) ** 2) + (_FINE_MM / 4) ** 2))
    return at, u, float(np.clip(1 - misfit[np.argmin(cost)] / max(plain, 1e-9), 0, 1))


def _misfits(profile: FloatArray, offsets: FloatArray, basis: FloatArray) -> tuple[FloatArray, float]:
    """Return the weighted squared misfit with the step at each place, shape (E,), and that without a step.

    Linear least squares of each colour; without a step the light is a cubic in the distance.
    """
    # equal noise in codes means unequal noise in light: dark places weigh more
    weight = 1.0 / (_CODE_NOISE * _GAMMA * np.maximum(profile, _DARKEST) ** (1 - 1 / _GAMMA))
    target = (profile * weight).T[:, None, :, None]
    design = basis * weight.T[:, None, :, None]  # (3, E, K, 5)
    across = design.swapaxes(2, 3)
    fit = np.linalg.solve(across @ design + _RIDGE * np.eye(basis.shape[2]), across @ target)
    misfit = np.sum((target - design @ fit) ** 2, axis=(0, 2, 3))
    cubic = np.linalg.qr(np.vander(offsets, 4) * weight.T[..., None])[0][:, None]
    plain = np.sum((target - cubic @ (cubic.swapaxes(2, 3) @ target)) ** 2)
    return misfit, float(plain)


def _lowest(at: FloatArray, cost: FloatArray) -> float:
    """Return where a parabola through the least of the costs (N,) and its neighbours is lowest."""
    best = int(np.argmin(cost))
    near = np.arange(max(0, best - 2), min(len(at), best + 3))
    curve, slope, _ = np.polyfit(at[near], cost[near], 2)
    if curve <= 0:
        return float(at[best])
    return float(np.clip(-slope / (2 * curve), at[near[0]], at[near[-1]]))


def _basis(offsets: FloatArray, blur: float) -> FloatArray:
    """Return bed level and slope, bead step, limb and ramp, blurred, for an edge at each place: (E, K, 5).

    The limb: the slant of a round bead's surface changes with the square root of the depth inside its
    outline, and so does whatever its light depends on.
    """
    inwards = _STEPS_MM[:, None] - offsets[None]
    fine = np.arange(-6 * blur, np.ptp(offsets) + 2 * _REACH_MM + 6 * blur, blur / 8)
    kernel = blur / (fine[1] - fine[0])
    limb = ndimage.gaussian_filter1d(np.sqrt(np.maximum(fine, 0)), kernel)
    step = ndtr(inwards / blur)
    ramp = inwards * step + blur * np.exp(-0.5 * (inwards / blur) ** 2) / np.sqrt(2 * np.pi)
    level = np.ones_like(step)
    return np.stack(
        [level, np.broadcast_to(offsets, step.shape), step, np.interp(inwards, fine, limb), ramp], axis=-1
    )
