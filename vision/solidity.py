"""How the beads of a lot are built: how high their widest points stand, judged from all of them."""

from dataclasses import dataclass

import numpy as np

from vision.feret import DIRECTIONS, Section, smallest
from vision.records import FloatArray

_HEIGHTS = (0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 1.0)
_PRIOR = (0.04, 0.05, 0.05, 0.06, 0.1, 0.1, 0.6)
_PRISMATIC = 0.075
_LONG = 1.2
_BEVEL = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """Sizes of all beads of a lot under what is known of their build.

    Attributes
    ----------
    widths, widths_u : ndarray, shape (B, DIRECTIONS)
        Caliper sizes and their standard uncertainty from the build's doubt, mm.
    half_height : ndarray, shape (B,)
    flat : bool
    kind : str
    """

    widths: FloatArray
    widths_u: FloatArray
    half_height: FloatArray
    flat: bool
    kind: str


def judge_build(sections: list[Section], *, flat: bool | None) -> Build:
    """Weigh the ways beads can be built by what the camera sees of them."""
    prism = [_solve(s, 1.0, 0.0) for s in sections]
    rect = np.array([_rectness(w) for w, _ in prism])
    if flat is not True and np.median(rect) > _PRISMATIC:
        aspect = np.median([_aspect(w) for w, _ in prism])
        if aspect > _LONG:
            return _single([_solve_tube(s) for s in sections], "tube")
        return _weigh(sections, 0.0, flat, "prism")
    return _weigh(sections, 1.0, flat, "round")


def _weigh(sections, round_part, flat, kind) -> Build:
    heights, prior = np.array(_HEIGHTS), np.array(_PRIOR)
    if flat is True:
        prior = np.where(heights < 0.3, 1.0, 0.0)
    if flat is False:
        prior = np.where(heights >= 0.5, prior, 0.0)
    solved = [[_solve(s, h, 0.0 if h < 0.25 else round_part) for s in sections] for h in heights]
    widths = np.array([[w for w, _ in row] for row in solved])
    halves = np.array([[b for _, b in row] for row in solved])
    radial = np.array([_radial(s) for s in sections])
    evidence = np.array([_evidence(w, radial) for w in widths])
    weight = prior * np.exp(evidence - evidence[prior > 0].max())
    weight /= weight.sum()
    mean = np.einsum("h,hbd->bd", weight, widths)
    var = np.einsum("h,hbd->bd", weight, (widths - mean) ** 2)
    return Build(
        widths=mean,
        widths_u=np.sqrt(var),
        half_height=weight @ halves,
        flat=bool(weight[heights < 0.4].sum() > 0.5),
        kind=kind + str(weight.round(2)),
    )


def _single(solved, kind) -> Build:
    widths = np.array([w for w, _ in solved])
    return Build(
        widths=widths, widths_u=0 * widths, half_height=np.array([b for _, b in solved]), flat=False, kind=kind
    )


def _solve(section: Section, height: float, round_part: float) -> tuple[FloatArray, float]:
    half = 0.0
    for _ in range(4):
        widths = section.widths(half, round_part=round_part, bevel=_BEVEL if round_part == 0 and height > 0.25 else 0.0)
        half = height * smallest(widths) / 2
    return widths, half


def _solve_tube(section: Section) -> tuple[FloatArray, float]:
    widths, half = _solve(section, 1.0, 0.0)
    angle = np.arange(DIRECTIONS) * np.pi / DIRECTIONS
    for _ in range(4):
        across = float(angle[int(np.argmin(widths))])
        sine = np.abs(np.cos(angle - across))
        q = np.clip(half * sine / (widths / 2), 0, 1)
        widths = section.widths(half, round_part=q)
        half = smallest(widths) / 2
    return widths, half


def _rectness(widths: FloatArray) -> float:
    """Return the share of the fourth harmonic that has a rectangle's phase: 0.133 for any, 0 for round."""
    wave = np.fft.rfft(widths) / len(widths)
    # the axis: the best of the phases of the fourth harmonic itself
    return float(2 * np.abs(wave[2]) / np.abs(wave[0]))


def _aspect(widths: FloatArray) -> float:
    k = int(np.argmin(widths))
    return float(widths[(k + DIRECTIONS // 2) % DIRECTIONS] / widths[k])


def _radial(section: Section) -> tuple[int, float]:
    """Return the index of the direction away from the camera's foot, and how far, in camera heights."""
    middle = section.middle(0.0)
    angle = np.arctan2(middle[DIRECTIONS // 2], middle[0]) % np.pi
    far = float(np.hypot(middle[DIRECTIONS // 2], middle[0])) / section.above_mm
    return int(round(angle / np.pi * DIRECTIONS)) % DIRECTIONS, far


def _evidence(widths: FloatArray, radial) -> float:
    """Log-likelihood that elongations show no preference for the direction away from the camera."""
    rows = np.arange(len(widths))
    first = radial[:, 0].astype(int)
    at = [widths[rows, (first + k * DIRECTIONS // 4) % DIRECTIONS] for k in range(4)]
    mean = widths.mean(axis=1)
    along, diagonal = (at[0] - at[2]) / mean, (at[1] - at[3]) / mean
    scatter = np.hypot(0.006, 1.4826 * np.median(np.abs(diagonal)))
    return float(-0.5 * np.sum(np.minimum((along / scatter) ** 2, 12.0)))
