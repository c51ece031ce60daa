"""Camera resection: from tag corners to a full camera, with covariance.

World frame: the sheet's plane with its origin at the sheet's top-left corner, x right, y down, and
h the height above the sheet (so the frame is left-handed; inside, z = -h restores OpenCV's). Camera:
pinhole with one radial term, x_d = x (1 + k1 r^2). A focal length from EXIF is a prior, not a fact:
phones round it. Printed ink spreads, and so does a blurred edge, so every tag may be larger than
drawn by one common amount, which is fitted too.
"""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from vision.common.errors import NoSheetError
from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.sheet.tags import Tags

FULL_FRAME_DIAGONAL_MM = 43.2666
"""Diagonal of 36 x 24 mm: the 35 mm equivalent focal length refers to it (CIPA DCG-001)."""

_EXIF_LOG_SD = 0.02
"""Phones round the equivalent focal length to whole millimetres: 26 +- 0.5 is 2 %."""
_UNKNOWN_FOCAL_35MM, _UNKNOWN_LOG_SD = 28.0, 0.35
_K1_SD = 0.03
_PRINCIPAL_SD = 0.004
"""Of the photo's diagonal: how far the optical axis may lie from the middle of the picture."""
_SPREAD_SD_MM = 0.05
_START_FOCALS_35MM = (26.0, 35.0, 50.0, 80.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Where the camera stood and how it maps the world to pixels.

    Attributes
    ----------
    parameters : ndarray, shape (11,)
        Rotation vector (3), translation (3, mm), log focal length (px), k1, principal point
        (x, y, px), growth of the tags on each side (mm).
    covariance : ndarray, shape (11, 11)
        Of the parameters, priors included.
    """

    parameters: FloatArray
    covariance: FloatArray

    @property
    def rotation(self) -> FloatArray:
        """Rotation matrix from the world (z = -h) to the camera, shape (3, 3)."""
        return np.asarray(cv2.Rodrigues(self.parameters[:3])[0], dtype=float)

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return math.exp(self.parameters[6])

    @property
    def centre_mm(self) -> FloatArray:
        """Projection centre (x, y, h) in the world."""
        x, y, z = -self.rotation.T @ self.parameters[3:6]
        return np.array([x, y, -z])

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the sheet's normal, degrees."""
        return math.degrees(math.acos(min(1.0, abs(self.rotation[2, 2]))))

    def project(self, points_mm: FloatArray) -> FloatArray:
        """Project world points, shape (..., 3), (x, y, h), to pixels, shape (..., 2)."""
        return _project(self.parameters, points_mm)

    def rays(self, points_px: FloatArray) -> FloatArray:
        """Return unit directions (..., 3) in the world (x, y, h) of the rays seen at pixels (..., 2)."""
        k1, focal = self.parameters[7], self.focal_px
        distorted = (points_px - self.parameters[8:10]) / focal
        straight = distorted
        for _ in range(8):  # a fixed point; contracts by |3 k1 r^2|, below 0.2 for any phone
            straight = distorted / (1 + k1 * np.sum(straight**2, axis=-1, keepdims=True))
        direction = np.concatenate([straight, np.ones_like(straight[..., :1])], axis=-1) @ self.rotation
        direction[..., 2] *= -1
        unit: FloatArray = direction / np.linalg.norm(direction, axis=-1, keepdims=True)
        return unit

    def to_plane(self, points_px: FloatArray, height_mm: float | FloatArray) -> FloatArray:
        """Return where the rays of pixels (..., 2) meet the plane h = height_mm: (x, y), shape (..., 2)."""
        rays, centre = self.rays(points_px), self.centre_mm
        reach = (height_mm - centre[2]) / rays[..., 2]
        return centre[:2] + reach[..., None] * rays[..., :2]

    def moved_along_rays(self, points_mm: FloatArray, height_mm: FloatArray | float) -> FloatArray:
        """Return world points (..., 3) moved along the rays that see them to other heights.

        Parameters
        ----------
        points_mm : ndarray, shape (..., 3)
            (x, y, h).
        height_mm : float or ndarray, shape (...)
            Where they go to.
        """
        centre = self.centre_mm
        share = ((centre[2] - height_mm) / (centre[2] - points_mm[..., 2]))[..., None]
        ground = centre[:2] + (points_mm[..., :2] - centre[:2]) * share
        height = np.broadcast_to(height_mm, ground.shape[:-1])
        return np.concatenate([ground, height[..., None]], axis=-1)

    def px_per_mm(self, point_mm: FloatArray) -> float:
        """Return the local image scale at a world point (x, y, h), parallel to the sheet."""
        step = np.array([[0.5, 0, 0], [-0.5, 0, 0], [0, 0.5, 0], [0, -0.5, 0]])
        east, west, south, north = self.project(point_mm + step)
        return math.sqrt(abs(float(np.linalg.det(np.stack([east - west, south - north])))))

    def variants(self) -> list["Camera"]:
        """Return cameras displaced by one standard deviation along each principal axis of the covariance.

        A quantity's variance from the camera is the sum of the squares of its changes (JCGM 101, 7).
        """
        values, vectors = np.linalg.eigh(self.covariance)
        steps = vectors * np.sqrt(np.maximum(values, 0))
        return [replace(self, parameters=self.parameters + step) for step in steps.T]


def _project(parameters: FloatArray, points_mm: FloatArray) -> FloatArray:
    rotation = cv2.Rodrigues(parameters[:3])[0]
    world = points_mm * np.array([1.0, 1.0, -1.0])
    seen = world @ rotation.T + parameters[3:6]
    straight = seen[..., :2] / seen[..., 2:]
    bent = straight * (1 + parameters[7] * np.sum(straight**2, axis=-1, keepdims=True))
    pixels: FloatArray = math.exp(parameters[6]) * bent + parameters[8:10]
    return pixels


def focal_px_of(focal_35mm: float, size_px: tuple[int, int]) -> float:
    """Return the focal length in pixels of a 35 mm equivalent one; `size_px` is (width, height)."""
    return focal_35mm * math.hypot(*size_px) / FULL_FRAME_DIAGONAL_MM


def resect(
    tags: Tags, *, check_length_mm: float, size_px: tuple[int, int], focal_35mm: float | None
) -> Camera:
    """Find the camera from tag corners by robust least squares with priors.

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
        The corners seen fit no camera.
    """
    scale = check_length_mm / tags.sheet.check_length_mm
    problem = _Problem(tags=tags, scale=scale, size_px=size_px, focal_35mm=focal_35mm)
    fits = [problem.solve(problem.start(f)) for f in _start_focals(focal_35mm)]
    best, _ = min(fits, key=lambda fit: fit[1])
    errors = problem.tag_errors(best)
    limit = max(1.5, 4 * float(np.median(errors)))
    if (errors > limit).any() and (errors <= limit).sum() >= tags.sheet.tags_needed:
        problem = replace(problem, tags=_keep(tags, errors <= limit))
        best, _ = problem.solve(best)
        errors = problem.tag_errors(best)
    rms = float(np.sqrt(np.mean(errors**2)))
    if not rms < 0.004 * math.hypot(*size_px):
        raise NoSheetError(
            "the tags seen do not fit a flat sheet: "
            "lay it flat, whole and uncreased, and photograph it from above"
        )
    return Camera(parameters=best, covariance=problem.covariance(best))


def _start_focals(focal_35mm: float | None) -> tuple[float, ...]:
    return _START_FOCALS_35MM if focal_35mm is None else (focal_35mm,)


def _keep(tags: Tags, good: NDArray[np.bool_]) -> Tags:
    ids = tuple(i for i, kept in zip(tags.ids, good, strict=True) if kept)
    return replace(tags, ids=ids, corners_px=tags.corners_px[good], corners_u_px=tags.corners_u_px[good])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Problem:
    """The least-squares problem of one resection."""

    tags: Tags
    scale: float
    size_px: tuple[int, int]
    focal_35mm: float | None

    def world(self, growth_mm: float) -> FloatArray:
        """Corners on the sheet, shape (4 N, 3), each tag grown by `growth_mm` on every side."""
        sheet = self.tags.sheet
        corners = np.array([sheet.corners_mm(i) for i in self.tags.ids]) * self.scale
        centres = corners.mean(axis=1, keepdims=True)
        grown = centres + (corners - centres) * (1 + 2 * growth_mm / (sheet.tag_mm * self.scale))
        flat = grown.reshape(-1, 2)
        return np.column_stack([flat, np.zeros(len(flat))])

    def start(self, focal_35mm: float) -> FloatArray:
        """Pose for a given focal length, from the corners that agree on one homography."""
        focal, centre = focal_px_of(focal_35mm, self.size_px), (np.array(self.size_px) - 1) / 2
        world, seen = self.world(0.0), self.tags.corners_px.reshape(-1, 2)
        # corners bent by the lens stay within 1 % of the diagonal of a homography; wrong tags do not
        _, inlier = cv2.findHomography(world[:, :2], seen, cv2.RANSAC, 0.01 * math.hypot(*self.size_px))
        agree = inlier.ravel() > 0 if inlier is not None else np.ones(len(seen), dtype=bool)
        matrix = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1]])
        found, turn, shift = cv2.solvePnP(
            world[agree], seen[agree], matrix, np.zeros(4), flags=cv2.SOLVEPNP_IPPE
        )
        if not found:
            raise NoSheetError("the tags seen do not fit a flat sheet: lay it flat and whole in the picture")
        return np.array([*turn.ravel(), *shift.ravel(), math.log(focal), 0.0, *centre, 0.0])

    def priors(self, parameters: FloatArray) -> FloatArray:
        """Deviations from what is known beforehand, in standard deviations, shape (5,)."""
        known = self.focal_35mm is not None
        expected = math.log(focal_px_of(self.focal_35mm or _UNKNOWN_FOCAL_35MM, self.size_px))
        centre = (np.array(self.size_px) - 1) / 2
        off_axis = (parameters[8:10] - centre) / (_PRINCIPAL_SD * math.hypot(*self.size_px))
        return np.array(
            [
                (parameters[6] - expected) / (_EXIF_LOG_SD if known else _UNKNOWN_LOG_SD),
                parameters[7] / _K1_SD,
                *off_axis,
                parameters[10] / _SPREAD_SD_MM,
            ]
        )

    def misfit(self, parameters: FloatArray) -> FloatArray:
        """Corners seen minus projected, px, shape (4 N, 2)."""
        return self.tags.corners_px.reshape(-1, 2) - _project(parameters, self.world(parameters[10]))

    def tag_errors(self, parameters: FloatArray) -> FloatArray:
        """Root mean square misfit of each tag's corners, px, shape (N,)."""
        squares = np.sum(self.misfit(parameters) ** 2, axis=1).reshape(-1, 4)
        return np.sqrt(squares.mean(axis=1))

    def noise_px(self, parameters: FloatArray) -> float:
        """Robust standard deviation of one corner coordinate, at least the 0.02 px of a perfect print."""
        return max(0.02, robust_sd(self.misfit(parameters), about=0.0))

    def solve(self, start: FloatArray) -> tuple[FloatArray, float]:
        """Two passes, the second with the noise that the first found; returns parameters and cost."""
        parameters, cost, noise = start, math.inf, 1.0
        step = np.array([0.1, 0.1, 0.1, 100, 100, 100, 0.3, 0.1, 100, 100, 0.1])
        for _ in range(3):
            fit = least_squares(
                lambda p, s=noise: np.concatenate([_saturated(self.misfit(p).ravel() / s), self.priors(p)]),
                parameters,
                x_scale=step,
            )
            parameters, cost, noise = fit.x, float(fit.cost), self.noise_px(fit.x)
        return parameters, cost

    def covariance(self, parameters: FloatArray) -> FloatArray:
        """Covariance of the parameters at the solution, JCGM 102 (Gauss-Markov), shape (11, 11)."""
        noise = self.noise_px(parameters)

        def weighted(p: FloatArray) -> FloatArray:
            return np.concatenate([_saturated(self.misfit(p).ravel() / noise), self.priors(p)])

        steps = np.array([1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-3, 1e-6, 1e-6, 1e-3, 1e-3, 1e-5])
        slopes = [
            (weighted(parameters + d) - weighted(parameters - d)) / (2 * s)
            for s, d in zip(steps, np.diag(steps), strict=True)
        ]
        jacobian = np.stack(slopes, axis=1)
        covariance: FloatArray = np.linalg.inv(jacobian.T @ jacobian)
        return covariance


def _saturated(deviation: FloatArray) -> FloatArray:
    """Saturating residual: linear to about two standard deviations, flat beyond five."""
    width = 4.0
    limited: FloatArray = width * np.tanh(deviation / width)
    return limited
