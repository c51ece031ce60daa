"""Camera resection: from the corners of the tags to a camera with its covariance.

A focal length from EXIF is a prior, not a fact: phones round it. Ink spreads, and so does a blurred edge, so
every tag may be larger than drawn by one common amount; that amount is fitted too.
"""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.optimize import least_squares

from vision.camera.camera import AXIS, GROWTH, K1, LOG_FOCAL, Camera, focal_px_of, projected
from vision.common.errors import NoSheetError
from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.sheet.tags import Tags

# Priors: what is known of phones and printers beforehand, as standard deviations. In brackets here and
# below: by how much the scale at a bead changes at half and at double, at worst of 11 drawn photos; 1e-2 is
# a bead in a hundred.
_EXIF_LOG_SD = 0.02
"""Phones round the equivalent focal length to whole millimetres: 26 +- 0.5 is 2 % (7e-5, 2e-4)."""
_UNKNOWN_FOCAL_35MM, _UNKNOWN_LOG_SD = 28.0, 0.35
"""Where EXIF has no focal length: two deviations reach from 14 to 56 mm, ultra-wide to twofold zoom. With a
median of 14 mm 2 of 28 strands are no longer known to 1 mm."""
_K1_SD = 0.03
"""Phones straighten their pictures: at the corners, r = 0.7, this bends by 1.5 % (6e-5, 3e-6)."""
_AXIS_SD = 0.004
"""Of the photo's diagonal: how far the optical axis may lie from the middle of the picture (1e-4, 6e-5)."""
_SPREAD_SD_MM = 0.05
"""Ink spreads by about a dot of a home printer, 0.04 mm (1e-4, 8e-5)."""
_START_FOCALS_35MM = (26.0, 35.0, 50.0, 80.0)
"""Starts of the fit where EXIF has no focal length: main lens to threefold zoom."""

# How wrong corners are recognised.
_AGREE_SHARE = 0.01
"""Of the photo's diagonal: corners bent by the lens stay this close to a homography, wrong tags do not; no
difference at half and at double."""
_SATURATION_SD = 4.0
"""Residuals grow linearly to about half of this and barely beyond it (4e-4, 8e-5)."""
_WRONG_TAG_PX, _WRONG_TAG_TIMES = 1.5, 4.0
"""A tag is left out if its residuals are larger than this, and than so many times the median (2e-5, 0)."""
_FLAT_SHARE = 0.004
"""Of the photo's diagonal: the sheet is not flat if the residuals are larger, root mean square; 0.4 mm on a
sheet that fills 100 mm. No difference at half and at double."""
_NOT_FLAT = (
    "the tags in this photo do not fit a flat sheet: "
    "lay it flat, whole and uncreased, and photograph it from above"
)

# How the fit is computed.
_LEAST_NOISE_PX = 0.02
"""Corners of a perfect drawing scatter by this; it keeps the weights of a perfect fit finite (3e-5,
5e-5)."""
_PASSES = 3
"""The first assumes 1 px of noise, the others the noise that the one before found (2e-5, 2e-5)."""
_TYPICAL_CHANGE = np.array([0.1, 0.1, 0.1, 100, 100, 100, 0.3, 0.1, 100, 100, 0.1])
"""Orders of magnitude of the parameters, so that one step of the fit suits all."""
_SLOPE_STEPS = np.array([1e-5, 1e-5, 1e-5, 1e-2, 1e-2, 1e-2, 1e-5, 1e-5, 1e-2, 1e-2, 1e-4])
"""Steps of the parameters for central differences of the corners, which they move by 1e-3 to 1e-1 px."""


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
    problem = _Problem(tags=tags, scale=scale, size_px=size_px, focal_35mm=focal_35mm)
    starts = _START_FOCALS_35MM if focal_35mm is None else (focal_35mm,)
    best, _ = min((problem.solve(problem.start(f)) for f in starts), key=lambda fit: fit[1])
    errors = problem.tag_errors(best)
    sound = errors <= max(_WRONG_TAG_PX, _WRONG_TAG_TIMES * float(np.median(errors)))
    if not sound.all() and sound.sum() >= tags.sheet.tags_needed:
        problem = replace(problem, tags=tags.only(sound))
        best, _ = problem.solve(best)
        errors = problem.tag_errors(best)
    if not np.sqrt(np.mean(errors**2)) < _FLAT_SHARE * math.hypot(*size_px):
        raise NoSheetError(_NOT_FLAT)
    return Camera(parameters=best, covariance=problem.covariance(best))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Problem:
    """The least-squares problem of one resection: see `resect` for its fields."""

    tags: Tags
    scale: float
    size_px: tuple[int, int]
    focal_35mm: float | None

    @property
    def middle_px(self) -> FloatArray:
        """The middle of the picture, (x, y)."""
        return (np.array(self.size_px) - 1) / 2

    def world(self, growth_mm: float) -> FloatArray:
        """Return the corners on the sheet, each tag grown by `growth_mm` on every side, shape (4 N, 3)."""
        sheet = self.tags.sheet
        corners = np.array([sheet.corners_mm(i) for i in self.tags.ids]) * self.scale
        centres = corners.mean(axis=1, keepdims=True)
        grown = centres + (corners - centres) * (1 + 2 * growth_mm / (sheet.tag_mm * self.scale))
        flat = grown.reshape(-1, 2)
        return np.column_stack([flat, np.zeros(len(flat))])

    def start(self, focal_35mm: float) -> FloatArray:
        """Return parameters for a given focal length, from the homography on which most corners agree.

        Its columns are those of the camera's matrix times r1, r2 and the shift, all times one factor: Zhang
        (2000), A flexible new technique for camera calibration, 3.1.
        """
        focal, centre = focal_px_of(focal_35mm, self.size_px), self.middle_px
        world, seen = self.world(0.0), self.tags.corners_px.reshape(-1, 2)
        play_px = _AGREE_SHARE * math.hypot(*self.size_px)
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

    def priors(self, parameters: FloatArray) -> FloatArray:
        """Return the deviations from what is known beforehand, in standard deviations, shape (5,)."""
        known = self.focal_35mm is not None
        expected = math.log(focal_px_of(self.focal_35mm or _UNKNOWN_FOCAL_35MM, self.size_px))
        off_axis = (parameters[AXIS] - self.middle_px) / (_AXIS_SD * math.hypot(*self.size_px))
        return np.array(
            [
                (parameters[LOG_FOCAL] - expected) / (_EXIF_LOG_SD if known else _UNKNOWN_LOG_SD),
                parameters[K1] / _K1_SD,
                *off_axis,
                parameters[GROWTH] / _SPREAD_SD_MM,
            ]
        )

    def residuals_px(self, parameters: FloatArray) -> FloatArray:
        """Return the corners seen minus projected, shape (4 N, 2)."""
        return self.tags.corners_px.reshape(-1, 2) - projected(parameters, self.world(parameters[GROWTH]))

    def tag_errors(self, parameters: FloatArray) -> FloatArray:
        """Return the root mean square residual of each tag's corners, px, shape (N,)."""
        squares = np.sum(self.residuals_px(parameters) ** 2, axis=1).reshape(-1, 4)
        return np.sqrt(squares.mean(axis=1))

    def noise_px(self, parameters: FloatArray) -> float:
        """Return the robust standard deviation of one coordinate of a corner."""
        return max(_LEAST_NOISE_PX, robust_sd(self.residuals_px(parameters), about=0.0))

    def weighted(self, parameters: FloatArray, noise_px: float) -> FloatArray:
        """Return all residuals in standard deviations, saturating ones of the corners and the priors'."""
        deviation = self.residuals_px(parameters).ravel() / noise_px
        return np.concatenate([_saturated(deviation), self.priors(parameters)])

    def slopes(self, parameters: FloatArray, noise_px: float) -> FloatArray:
        """Return the derivatives of `weighted`, shape (M, 11).

        Those of the saturation are exact: it bends on the scale of the noise, and a combination of
        parameters that the corners hardly determine would seem determined by a difference quotient's error.
        """
        steps = np.diag(_SLOPE_STEPS)
        ends = [(self.residuals_px(parameters + d), self.residuals_px(parameters - d)) for d in steps]
        moves = np.stack([(after - before).ravel() for after, before in ends], axis=1) / (2 * _SLOPE_STEPS)
        deviation = self.residuals_px(parameters).ravel() / noise_px
        corners = moves / noise_px * (1 - np.tanh(deviation / _SATURATION_SD) ** 2)[:, None]
        priors = [self.priors(parameters + d) - self.priors(parameters - d) for d in steps]
        return np.concatenate([corners, np.stack(priors, axis=1) / (2 * _SLOPE_STEPS)])

    def solve(self, start: FloatArray) -> tuple[FloatArray, float]:
        """Return the parameters that fit best and what they cost, half the sum of the squares."""
        parameters, cost, noise = start, math.inf, 1.0
        for _ in range(_PASSES):
            fit = least_squares(
                self.weighted, parameters, jac=self.slopes, x_scale=_TYPICAL_CHANGE, args=(noise,)
            )
            parameters, cost, noise = fit.x, float(fit.cost), self.noise_px(fit.x)
        return parameters, cost

    def covariance(self, parameters: FloatArray) -> FloatArray:
        """Return the covariance of the parameters, the inverse of J^T J at the solution, shape (11, 11)."""
        jacobian = self.slopes(parameters, self.noise_px(parameters))
        covariance: FloatArray = np.linalg.inv(jacobian.T @ jacobian)
        return covariance


def _saturated(deviation: FloatArray) -> FloatArray:
    """Return residuals that grow linearly to about two standard deviations and barely beyond five."""
    limited: FloatArray = _SATURATION_SD * np.tanh(deviation / _SATURATION_SD)
    return limited
