"""Camera resection: from the corners of the tags to a camera with its covariance.

A focal length from EXIF is a prior, not a fact: phones round it. Ink spreads, and so does a blurred edge, so
every tag may be larger than drawn by one common amount; that amount is fitted too.
"""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.optimize import least_squares

from vision.camera.camera import GROWTH, LOG_FOCAL, SHIFT, Camera, focal_px_of, projected, slopes_px
from vision.camera.priors import Priors, readings
from vision.common.errors import NoSheetError
from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.sheet.tags import PROFILES, Tags

_START_FOCALS_35MM = (26.0, 35.0, 50.0, 80.0)
"""Starts of the fit where EXIF has no focal length: main lens to threefold zoom."""

# How wrong corners are recognised. In brackets here and below: see `vision.camera.priors`.
_AGREE_SHARE = 0.01
"""Of the photo's diagonal: corners bent by the lens stay this close to a homography, wrong tags do not; no
difference at half and at double."""
_SATURATION_SD = 4.0
"""Residuals grow linearly to about half of this and barely beyond it (4e-4, 8e-5)."""
_WRONG_TAG_PX, _WRONG_TAG_TIMES = 1.5, 4.0
"""A tag is left out if its residuals are larger than this, and than so many times the median (2e-5, 0)."""
_FLAT_MM = 0.2
"""The sheet is not flat, or the picture is stretched, if the corners lie farther from where a flat sheet has
them, root mean square, beyond their noise. Printers place tags within 0.1 mm (common practice, no source);
drawn photos leave 0.02 mm; a mat folded by 4 degrees leaves 0.2 mm and is off by half a per cent."""
_FIELD_NUMBERS = 3.0
"""What corners leave beyond their noise is as smooth as a bend, which has three numbers: where, which way and
how much. However many the corners, they do not average it out further. At 12 a third of bent sheets are off
by more than twice what is stated."""
_NOT_FLAT = (
    "the tags in this photo do not fit a flat sheet: "
    "lay it flat, whole and uncreased, and photograph it from above"
)

# How the fit is computed.
_LEAST_NOISE_PX = 0.02
"""Corners of a perfect drawing scatter by this; it keeps the weights of a perfect fit finite (3e-5,
5e-5)."""
_CORNER_FACTOR = 2.3
"""A corner ends two lines: the variance of a line through evenly spread points at the end of its side is
sqrt(5.2) times that of their mean."""
_PASSES = 3
"""The first assumes 1 px of noise, the others what the one before found (2e-5, 2e-5)."""
_TYPICAL_CHANGE = np.array([0.1, 0.1, 0.1, 100, 100, 100, 0.3, 0.1, 100, 100, 0.1])
"""Orders of magnitude of the parameters, so that one step of the fit suits all."""
_GROWTH_STEP_MM = 1e-4
"""For a central difference of the corners, which it moves by 1e-3 px."""


def resect(
    tags: Tags, *, check_length_mm: float, size_px: tuple[int, int], focal_35mm: float | None
) -> Camera:
    """Fit the camera to the corners of the tags by robust least squares with priors.

    Parameters
    ----------
    tags : Tags
    check_length_mm : float
        What the maker's ruler reads on the printed sheet; every length of the sheet scales with it.
    size_px : tuple of int
        (width, height) of the photo.
    focal_35mm : float or None
        35 mm equivalent focal length from EXIF.

    Raises
    ------
    NoSheetError
        If no camera fits the corners.
    """
    scale = check_length_mm / tags.sheet.check_length_mm
    known = readings(size_px, focal_35mm)
    printed = np.array([tags.sheet.corners_mm(i) for i in tags.ids]) * scale
    problem = _Problem(tags=tags, corners_mm=printed, tag_mm=tags.sheet.tag_mm * scale, priors=known[0][0])
    starts = _START_FOCALS_35MM if focal_35mm is None else (focal_35mm,)
    found, _ = min((problem.solve(problem.start(f, size_px)) for f in starts), key=lambda fit: fit[1])
    problem = problem.without_wrong_tags(found)
    fits = []
    for priors, share in known:
        problem = replace(problem, priors=priors)
        found, _ = problem.solve(found)
        fits.append(_Fit(problem=problem, parameters=found, share=share))
    # The last knows least beforehand, so that what it leaves is not its priors' fault.
    before_lens = all(fit.parameters[SHIFT][2] > 0 for fit in fits)
    if not (before_lens and problem.misfit_mm(found) < _FLAT_MM):
        raise NoSheetError(_NOT_FLAT)
    noise = problem.noise_px(found)
    return _judged([fit.at(noise) for fit in fits], noise)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """A problem, the parameters that fit best, and how probable the problem's priors are beforehand."""

    problem: "_Problem"
    parameters: FloatArray
    share: float

    def at(self, noise_px: float) -> "_Fit":
        """Return what fits best at a given noise."""
        return replace(self, parameters=self.problem.fitted(self.parameters, noise_px)[0])

    def log_evidence(self, noise_px: float) -> float:
        """Return the logarithm of how probable the corners are, but for what all priors have in common.

        By Laplace's method: MacKay (2003), Information theory, inference, and learning algorithms, 28.1.
        """
        problem, parameters = self.problem, self.parameters
        cost = 0.5 * float(np.sum(problem.weighted(parameters, noise_px) ** 2))
        sign, detail = np.linalg.slogdet(problem.information(parameters, noise_px))
        if sign <= 0:  # not one corner agrees, so none tells where the camera stood
            return -math.inf
        return -0.5 * float(detail) - cost - float(np.log(problem.priors.sd).sum())

    def covariance_about(self, best: FloatArray, noise_px: float) -> FloatArray:
        """Return the second moments of the parameters about those of another fit, shape (11, 11).

        The covariance, and the square of how far this fit's focal length lies from the other's. All else
        follows a focal length in the direction in which the corners hardly tell them apart.
        """
        covariance = np.linalg.inv(self.problem.information(best, noise_px))
        ridge = covariance[:, LOG_FOCAL] / covariance[LOG_FOCAL, LOG_FOCAL]
        away = float(self.parameters[LOG_FOCAL] - best[LOG_FOCAL])
        return np.asarray(covariance + away**2 * np.outer(ridge, ridge))


def _judged(fits: list[_Fit], noise_px: float) -> Camera:
    """Return the camera of the most probable fit; its covariance is that of all, by their probabilities."""
    logs = [math.log(fit.share) + fit.log_evidence(noise_px) if fit.share else -math.inf for fit in fits]
    weights = np.exp(np.array(logs) - max(logs))
    shares = weights / weights.sum()
    best = fits[int(np.argmax(shares))].parameters
    covariances = [
        share * fit.covariance_about(best, noise_px)
        for fit, share in zip(fits, shares, strict=True)
        if share > 0
    ]
    return Camera(parameters=best, covariance=np.sum(covariances, axis=0), is_whole=not np.argmax(shares))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Problem:
    """The least-squares problem of one resection: tags, where they lie as printed, and what is known."""

    tags: Tags
    corners_mm: FloatArray
    tag_mm: float
    priors: Priors

    def world(self, growth_mm: float) -> FloatArray:
        """Return the corners on the sheet, each tag grown by `growth_mm` on every side, shape (4 N, 3)."""
        centres = self.corners_mm.mean(axis=1, keepdims=True)
        grown = centres + (self.corners_mm - centres) * (1 + 2 * growth_mm / self.tag_mm)
        flat = grown.reshape(-1, 2)
        return np.column_stack([flat, np.zeros(len(flat))])

    def start(self, focal_35mm: float, size_px: tuple[int, int]) -> FloatArray:
        """Return parameters for a given focal length, from the homography on which most corners agree.

        Its columns are those of the camera's matrix times r1, r2 and the shift, all times one factor: Zhang
        (2000), A flexible new technique for camera calibration, 3.1.
        """
        focal, centre = focal_px_of(focal_35mm, size_px), (np.array(size_px) - 1) / 2
        world, seen = self.world(0.0), self.tags.corners_px.reshape(-1, 2)
        play_px = _AGREE_SHARE * math.hypot(*size_px)
        to_px, _ = cv2.findHomography(world[:, :2], seen, cv2.RANSAC, play_px)
        if to_px is None or not np.isfinite(to_px).all():
            raise NoSheetError(_NOT_FLAT)
        matrix = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1]])
        right, down, shift = np.linalg.solve(matrix, to_px).T
        # The sheet lies before the camera, not behind it.
        factor = math.copysign(math.sqrt(np.linalg.norm(right) * np.linalg.norm(down)), shift[2])
        columns = np.stack([right / factor, down / factor], axis=1)
        left, _, across = np.linalg.svd(columns, full_matrices=False)
        first, second = (left @ across).T
        rotation = np.stack([first, second, np.cross(first, second)], axis=1)
        turn = cv2.Rodrigues(rotation)[0].ravel()
        return np.array([*turn, *(shift / factor), math.log(focal), 0.0, *centre, 0.0])

    def residuals_px(self, parameters: FloatArray) -> FloatArray:
        """Return the corners seen minus projected, shape (4 N, 2)."""
        return self.tags.corners_px.reshape(-1, 2) - projected(parameters, self.world(parameters[GROWTH]))

    def tag_errors(self, parameters: FloatArray) -> FloatArray:
        """Return the root mean square residual of each tag's corners, px, shape (N,)."""
        squares = np.sum(self.residuals_px(parameters) ** 2, axis=1).reshape(-1, 4)
        return np.sqrt(squares.mean(axis=1))

    @property
    def random_px(self) -> float:
        """Standard deviation of one coordinate of a corner by the edges' scatter: a point a pixel counts."""
        sides = np.roll(self.tags.corners_px, -1, axis=1) - self.tags.corners_px
        points = min(float(PROFILES), float(np.linalg.norm(sides, axis=2).mean()))
        return max(
            _LEAST_NOISE_PX, float(np.median(self.tags.corners_u_px)) * _CORNER_FACTOR / math.sqrt(points)
        )

    def spread_px(self, parameters: FloatArray) -> float:
        """Return the robust standard deviation of the residuals of one coordinate of a corner."""
        return max(_LEAST_NOISE_PX, robust_sd(self.residuals_px(parameters), about=0.0))

    def noise_px(self, parameters: FloatArray) -> float:
        """Return the standard deviation of one coordinate of a corner, enlarged for what corners share."""
        spread = self.spread_px(parameters)
        random = min(self.random_px, spread)
        shared2 = spread**2 - random**2
        return math.sqrt(random**2 + shared2 * max(1.0, self.tags.corners_px.size / _FIELD_NUMBERS))

    def misfit_mm(self, parameters: FloatArray) -> float:
        """Return the root mean square misfit of a coordinate of a corner on the sheet, beyond its noise."""
        rms = math.sqrt(float(np.mean(self.residuals_px(parameters) ** 2)))
        camera = Camera(parameters=parameters, covariance=np.zeros((11, 11)))
        middle = self.world(0.0).mean(axis=0)
        return math.sqrt(max(rms**2 - self.random_px**2, 0.0)) / camera.px_per_mm(middle)

    def weighted(self, parameters: FloatArray, noise_px: float) -> FloatArray:
        """Return all residuals in standard deviations, saturating ones of the corners and the priors'."""
        deviation = self.residuals_px(parameters).ravel() / noise_px
        return np.concatenate([_saturated(deviation), self.priors.deviations(parameters)])

    def slopes(self, parameters: FloatArray, noise_px: float) -> FloatArray:
        """Return the derivatives of `weighted`, shape (M, 11).

        All but the growth's are exact: the saturation bends on the scale of the noise, and a combination of
        parameters that the corners hardly determine would seem determined by a difference quotient's error.
        """
        moves = -slopes_px(parameters, self.world(parameters[GROWTH]))
        more, less = (self.world(parameters[GROWTH] + d) for d in (_GROWTH_STEP_MM, -_GROWTH_STEP_MM))
        grown = projected(parameters, less) - projected(parameters, more)
        moves = np.column_stack([moves, grown.ravel() / (2 * _GROWTH_STEP_MM)])
        deviation = self.residuals_px(parameters).ravel() / noise_px
        corners = moves / noise_px * (1 - np.tanh(deviation / _SATURATION_SD) ** 2)[:, None]
        return np.concatenate([corners, self.priors.slopes])

    def fitted(self, start: FloatArray, noise_px: float) -> tuple[FloatArray, float]:
        """Return the parameters that fit best at a given noise, and what they cost."""
        fit = least_squares(
            self.weighted,
            start,
            jac=self.slopes,
            method="lm",
            x_scale=_TYPICAL_CHANGE,
            args=(noise_px,),
        )
        return fit.x, float(fit.cost)

    def solve(self, start: FloatArray) -> tuple[FloatArray, float]:
        """Return the parameters that fit best and what they cost, half the sum of the squares."""
        parameters, cost, noise = start, math.inf, 1.0
        for _ in range(_PASSES):
            parameters, cost = self.fitted(parameters, noise)
            noise = self.spread_px(parameters)
        return parameters, cost

    def without_wrong_tags(self, parameters: FloatArray) -> "_Problem":
        """Return the problem with those tags that agree, if enough do."""
        errors = self.tag_errors(parameters)
        sound = errors <= max(_WRONG_TAG_PX, _WRONG_TAG_TIMES * float(np.median(errors)))
        if sound.sum() < self.tags.sheet.tags_needed:
            return self
        return replace(self, tags=self.tags.only(sound), corners_mm=self.corners_mm[sound])

    def information(self, parameters: FloatArray, noise_px: float) -> FloatArray:
        """Return the inverse of the covariance of the parameters, J^T J at the solution, shape (11, 11)."""
        jacobian = self.slopes(parameters, noise_px)
        information: FloatArray = jacobian.T @ jacobian
        return information


def _saturated(deviation: FloatArray) -> FloatArray:
    """Return residuals that grow linearly to about two standard deviations and barely beyond five."""
    limited: FloatArray = _SATURATION_SD * np.tanh(deviation / _SATURATION_SD)
    return limited
