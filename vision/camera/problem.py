"""The least-squares problem of a resection: corners seen and projected, and what is known beforehand."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.optimize import least_squares

from vision.camera.camera import GROWTH, Camera, focal_px_of, on_plane, projected, slopes_px
from vision.camera.priors import Priors
from vision.common.errors import NoSheetError
from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.sheet.tags import PROFILES, Tags

# How wrong corners are recognised. In brackets here and below: see `vision.camera.priors`.
_AGREE_SHARE = 0.01
"""Of the photo's diagonal: corners bent by the lens stay this close to a homography, wrong tags do not; no
difference at half and at double."""
_SATURATION_SD = 4.0
"""Residuals grow linearly to about half of this and barely beyond it (4e-4, 8e-5)."""
_WRONG_TAG_PX, _WRONG_TAG_TIMES = 1.5, 4.0
"""A tag is left out if its residuals are larger than this, and than so many times the median (2e-5, 0)."""
_LIFTED_SIDES, _MOST_LIFTED = 0.5, 1
"""A tag that is misread lies anywhere. One that a bead half covers, or that is lifted with the sheet, is off
by less than half of its side. Of 63 drawn photos of flat sheets none had one left out; a mat folded by 6
degrees has two to four, and what lies beyond the fold is off by one per cent."""
_FIELD_NUMBERS = 3.0
"""What corners leave beyond their noise is as smooth as a bend, which has three numbers: where, which way and
how much. However many the corners, they do not average it out further. At 12 a third of bent sheets are off
by more than twice what is stated."""
# How the fit is computed.
_LEAST_NOISE_PX = 0.02
"""Corners of a perfect drawing scatter by this; it keeps the weights of a perfect fit finite (3e-5,
5e-5)."""
_CORNER_FACTOR = 2.3
"""A corner ends two lines: the variance of a line through evenly spread points at the end of its side is
sqrt(5.2) times that of their mean."""
_PASSES = 3
"""The first assumes 1 px of noise, the others what the one before found (2e-5, 2e-5)."""
_TYPICAL_CHANGE = np.array([0.1, 0.1, 0.1, 100, 100, 100, 0.3, 0.1, 100, 100, 0.1, 0.1])
"""Orders of magnitude of the parameters, so that one step of the fit suits all."""
_GROWTH_STEP_MM = 1e-4
"""For a central difference of the corners, which it moves by 1e-3 px."""

NOT_FLAT = (
    "the tags in this photo do not fit a flat sheet: "
    "lay it flat, whole and uncreased, and photograph it from above"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """The least-squares problem of one resection: tags, where they lie as printed, and what is known."""

    tags: Tags
    corners_mm: FloatArray
    tag_mm: float
    priors: Priors

    def world(self, growth_mm: float) -> FloatArray:
        """Return the corners on the sheet, each tag grown by `growth_mm` on every side, shape (4 N, 3)."""
        centres = self.corners_mm.mean(axis=1, keepdims=True)
        grown = centres + (self.corners_mm - centres) * (1 + 2 * growth_mm / self.tag_mm)
        return on_plane(grown.reshape(-1, 2), 0.0)

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
            raise NoSheetError(NOT_FLAT)
        matrix = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1]])
        right, down, shift = np.linalg.solve(matrix, to_px).T
        # The sheet lies before the camera, not behind it.
        factor = math.copysign(math.sqrt(np.linalg.norm(right) * np.linalg.norm(down)), shift[2])
        columns = np.stack([right / factor, down / factor], axis=1)
        left, _, across = np.linalg.svd(columns, full_matrices=False)
        first, second = (left @ across).T
        rotation = np.stack([first, second, np.cross(first, second)], axis=1)
        turn = cv2.Rodrigues(rotation)[0].ravel()
        return np.array([*turn, *(shift / factor), math.log(focal), 0.0, *centre, 0.0, 0.0])

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
        points = min(float(PROFILES), float(self.tags.sides_px.mean()))
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
        camera = Camera(parameters=parameters, covariance=np.zeros((12, 12)))
        middle = self.world(0.0).mean(axis=0)
        return math.sqrt(max(rms**2 - self.random_px**2, 0.0)) / camera.px_per_mm(middle)

    def weighted(self, parameters: FloatArray, noise_px: float) -> FloatArray:
        """Return all residuals in standard deviations, saturating ones of the corners and the priors'."""
        deviation = self.residuals_px(parameters).ravel() / noise_px
        saturated = _SATURATION_SD * np.tanh(deviation / _SATURATION_SD)
        return np.concatenate([saturated, self.priors.deviations(parameters)])

    def slopes(self, parameters: FloatArray, noise_px: float) -> FloatArray:
        """Return the derivatives of `weighted`, shape (M, 12).

        All but the growth's are exact: the saturation bends on the scale of the noise, and a combination of
        parameters that the corners hardly determine would seem determined by a difference quotient's error.
        """
        more, less = (self.world(parameters[GROWTH] + d) for d in (_GROWTH_STEP_MM, -_GROWTH_STEP_MM))
        grown = (projected(parameters, less) - projected(parameters, more)) / (2 * _GROWTH_STEP_MM)
        moves = -slopes_px(parameters, self.world(parameters[GROWTH]))
        moves[:, GROWTH] = grown.ravel()
        deviation = self.residuals_px(parameters).ravel() / noise_px
        corners = moves / noise_px * (1 - np.tanh(deviation / _SATURATION_SD) ** 2)[:, None]
        return np.concatenate([corners, self.priors.slopes])

    def fitted(self, start: FloatArray, noise_px: float) -> FloatArray:
        """Return the parameters that fit best at a given noise, shape (12,)."""
        fit = least_squares(
            self.weighted, start, jac=self.slopes, method="lm", x_scale=_TYPICAL_CHANGE, args=(noise_px,)
        )
        return np.asarray(fit.x)

    def solve(self, start: FloatArray) -> FloatArray:
        """Return the parameters that fit best, shape (12,)."""
        parameters, noise = start, 1.0
        for _ in range(_PASSES):
            parameters = self.fitted(parameters, noise)
            noise = self.spread_px(parameters)
        return parameters

    def without_wrong_tags(self, parameters: FloatArray) -> "Problem":
        """Return the problem with those tags that agree, if enough do.

        Raises
        ------
        NoSheetError
            If several of the others lie so near their places that the sheet must be bent there.
        """
        errors = self.tag_errors(parameters)
        sound = errors <= max(_WRONG_TAG_PX, _WRONG_TAG_TIMES * float(np.median(errors)))
        if sound.all() or sound.sum() < self.tags.sheet.tags_needed:
            return self
        lifted = ~sound & (errors < _LIFTED_SIDES * self.tags.sides_px.mean(axis=1))
        if lifted.sum() > _MOST_LIFTED:
            raise NoSheetError(NOT_FLAT)
        return replace(self, tags=self.tags.only(sound), corners_mm=self.corners_mm[sound])

    def information(self, parameters: FloatArray, noise_px: float) -> FloatArray:
        """Return the inverse of the covariance of the parameters, J^T J at the solution, shape (12, 12)."""
        jacobian = self.slopes(parameters, noise_px)
        return np.asarray(jacobian.T @ jacobian)
