"""The camera: how it maps points of the world to pixels, and back.

The world's frame is the sheet's plane: origin at the sheet's top-left corner, x right, y down, h the height
above the sheet. That frame is left-handed; internally z = -h makes it the right-handed one of OpenCV. The
camera is a pinhole with one term of radial distortion, x_d = x (1 + k1 r^2). Its picture may have been
stretched in one direction afterwards.
"""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from vision.common.records import FloatArray

FULL_FRAME_DIAGONAL_MM = 43.2666
"""Diagonal of 36 x 24 mm: the 35 mm equivalent focal length refers to it (CIPA DCG-001)."""
ROTATION, SHIFT, LOG_FOCAL, K1, AXIS = slice(3), slice(3, 6), 6, 7, slice(8, 10)
GROWTH, LOG_ASPECT = 10, 11
"""Where the parameters of a camera stand in their array."""
CROSS = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, -1.0, 0.0]])
"""Steps of 1 mm east, west, south and north of a world point, shape (4, 3)."""
_ANGLES = np.arange(8) * np.pi / 8
_DIRECTIONS = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])
"""All round by steps in which a length's change, a sine of twice the angle, is met to 8 %."""
_UNDISTORTING_STEPS = 8
"""The error shrinks by |3 k1 r^2| a step, below 0.2 for any phone: 8 steps leave a millionth of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Where a camera stood and how it maps the world to pixels.

    Attributes
    ----------
    parameters : ndarray, shape (12,)
        Rotation vector (3), translation (3, mm), logarithm of the focal length (px), k1, principal point
        (x, y, px), by how much the printed tags are larger than drawn on each side (mm), and the logarithm
        of how much wider than high a square is drawn.
    covariance : ndarray, shape (12, 12)
        Of the parameters, priors included.
    is_whole : bool
        Whether the tags agree with a picture as the camera took it, its focal length that of EXIF.
    zoom_seen : bool
        Whether they would tell a zoom to twice that focal length; straight from above they do not.

    Examples
    --------
    A camera that looks straight down from 300 mm, its focal length 1500 px, its principal point (800, 600):

    >>> parameters = np.array([0, 0, 0, -148.5, -105.0, 300.0, math.log(1500), 0, 800.0, 600.0, 0, 0])
    >>> camera = Camera(parameters=parameters, covariance=np.zeros((12, 12)))
    >>> camera.centre_mm.tolist()
    [148.5, 105.0, 300.0]
    >>> camera.px_per_mm(np.array([148.5, 105.0, 0.0]))  # 1500 px / 300 mm
    5.0
    >>> camera.project(np.array([158.5, 105.0, 0.0])).round(6).tolist()  # 10 mm to the right of its axis
    [850.0, 600.0]
    >>> camera.to_plane(np.array([850.0, 600.0]), 30.0).round(6).tolist()  # a tenth nearer to the lens
    [157.5, 105.0]
    >>> camera.moved_along_rays(np.array([158.5, 105.0, 0.0]), 30.0).round(6).tolist()
    [157.5, 105.0, 30.0]
    """

    parameters: FloatArray
    covariance: FloatArray
    is_whole: bool = True
    zoom_seen: bool = True

    @property
    def rotation(self) -> FloatArray:
        """Rotation matrix from the world (z = -h) to the camera, shape (3, 3)."""
        return np.asarray(cv2.Rodrigues(self.parameters[ROTATION])[0], dtype=float)

    @property
    def centre_mm(self) -> FloatArray:
        """Projection centre (x, y, h) in the world."""
        x, y, z = -self.rotation.T @ self.parameters[SHIFT]
        return np.array([x, y, -z])

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the sheet's normal, degrees."""
        return math.degrees(math.acos(min(1.0, abs(self.rotation[2, 2]))))

    def project(self, points_mm: FloatArray) -> FloatArray:
        """Project world points (x, y, h), shape (..., 3), to pixels, shape (..., 2)."""
        return projected(self.parameters, points_mm)

    def rays(self, points_px: FloatArray) -> FloatArray:
        """Return unit directions (x, y, h) in the world of the rays of pixels (..., 2), shape (..., 3)."""
        distorted = (points_px - self.parameters[AXIS]) / _focals_px(self.parameters)
        straight = distorted
        for _ in range(_UNDISTORTING_STEPS):
            straight = distorted / (1 + self.parameters[K1] * np.sum(straight**2, axis=-1, keepdims=True))
        direction = np.concatenate([straight, np.ones_like(straight[..., :1])], axis=-1) @ self.rotation
        direction[..., 2] *= -1
        return np.asarray(direction / np.linalg.norm(direction, axis=-1, keepdims=True))

    def to_plane(self, points_px: FloatArray, height_mm: float | FloatArray) -> FloatArray:
        """Return where the rays of pixels (..., 2) meet the plane h = `height_mm`: (x, y), shape (..., 2)."""
        rays, centre = self.rays(points_px), self.centre_mm
        reach = (height_mm - centre[2]) / rays[..., 2]
        return centre[:2] + reach[..., None] * rays[..., :2]

    def moved_along_rays(self, points_mm: FloatArray, height_mm: FloatArray | float) -> FloatArray:
        """Return world points (..., 3) moved along the rays that show them to other heights.

        Parameters
        ----------
        points_mm : ndarray, shape (..., 3)
            (x, y, h).
        height_mm : float or ndarray, shape (...)
            Where they are moved to.
        """
        centre = self.centre_mm
        share = ((centre[2] - height_mm) / (centre[2] - points_mm[..., 2]))[..., None]
        ground = centre[:2] + (points_mm[..., :2] - centre[:2]) * share
        height = np.broadcast_to(height_mm, ground.shape[:-1])
        return np.concatenate([ground, height[..., None]], axis=-1)

    def px_per_mm(self, point_mm: FloatArray) -> float:
        """Return the local image scale at a world point (x, y, h), parallel to the sheet.

        The square root of the area that two diagonals of 1 mm, east-west and south-north, span.
        """
        east, west, south, north = self.project(point_mm + CROSS / 2)
        return math.sqrt(abs(float(np.linalg.det(np.stack([east - west, south - north])))))

    def variants(self) -> list["Camera"]:
        """Return cameras displaced by one standard deviation along each principal axis of the covariance.

        The sum of the squares of a quantity's changes is its variance due to the camera: the law of
        propagation of uncertainty (JCGM 100:2008, 5.2.2) for uncorrelated inputs.
        """
        to_straight = _straightening(self.parameters)
        values, vectors = np.linalg.eigh(to_straight @ self.covariance @ to_straight.T)
        steps = vectors * np.sqrt(np.maximum(values, 0))
        straight = _straight(self.parameters)
        return [replace(self, parameters=_bent(straight + step)) for step in steps.T]

    def rel_u(self, points_mm: FloatArray) -> FloatArray:
        """Return the relative standard uncertainty of small lengths at world points, due to the camera's fit.

        The image of a cross about each point is held fixed. Cameras displaced along the principal axes of the
        covariance project it back to the same height; the changes of a length add as squares. A camera that
        may be tilted, or its picture stretched, changes lengths differently in different directions, and the
        beads of a strand share one: the direction that changes most counts.

        Parameters
        ----------
        points_mm : ndarray, shape (..., 3)
            World (x, y, h).

        Returns
        -------
        ndarray, shape (...)
        """
        pixels, heights = self.project(points_mm[..., None, :] + CROSS), points_mm[..., 2:]
        ends = np.stack([variant.to_plane(pixels, heights) for variant in self.variants()])
        # Rows east - west and south - north; the camera's own are those of `CROSS`.
        strain = (ends[..., 0::2, :] - ends[..., 1::2, :]) / 2 - np.eye(2)
        changes = np.einsum("ki,v...ij,kj->kv...", _DIRECTIONS, strain, _DIRECTIONS)
        return np.asarray(np.linalg.norm(changes, axis=1).max(axis=0))


def _straight(parameters: FloatArray) -> FloatArray:
    """Return parameters with the pixel of the sheet's origin and the log of its distance for the shift.

    Distance and focal length make up for each other: along a curve in the parameters, a line in these.
    """
    straight = parameters.copy()
    x, y, z = parameters[SHIFT]
    straight[SHIFT] = (*(_focals_px(parameters) * np.array([x, y]) / z + parameters[AXIS]), math.log(z))
    return straight


def _bent(straight: FloatArray) -> FloatArray:
    """Return the parameters of straightened ones."""
    parameters = straight.copy()
    z = math.exp(straight[SHIFT][2])
    parameters[SHIFT] = (*((straight[SHIFT][:2] - straight[AXIS]) * z / _focals_px(straight)), z)
    return parameters


def _straightening(parameters: FloatArray) -> FloatArray:
    """Return the derivatives of `_straight`, shape (12, 12)."""
    slopes = np.eye(len(parameters))
    x, y, z = parameters[SHIFT]
    wide, high = _focals_px(parameters)
    slopes[SHIFT, SHIFT] = np.array([[wide, 0, -wide * x / z], [0, high, -high * y / z], [0, 0, 1]]) / z
    origin = slice(SHIFT.start, SHIFT.start + 2)
    slopes[origin, LOG_FOCAL] = wide * x / z, high * y / z
    slopes[origin, LOG_ASPECT] = wide * x / z / 2, -high * y / z / 2
    slopes[origin, AXIS] = np.eye(2)
    return slopes


def projected(parameters: FloatArray, points_mm: FloatArray) -> FloatArray:
    """Return the pixels (..., 2) that a camera of these parameters, shape (12,), shows world points at."""
    rotation = cv2.Rodrigues(parameters[ROTATION])[0] * np.array([1.0, 1.0, -1.0])
    # one coordinate at a time: of many points, steps over the others are most of the work
    seen = points_mm @ rotation.T
    x, y, z = (seen[..., k] + shift for k, shift in enumerate(parameters[SHIFT]))
    x, y = x / z, y / z
    bend = 1 + parameters[K1] * (x * x + y * y)
    (wide, high), (left, top) = _focals_px(parameters), parameters[AXIS]
    return np.stack([wide * (x * bend) + left, high * (y * bend) + top], axis=-1)


def slopes_px(parameters: FloatArray, points_mm: FloatArray) -> FloatArray:
    """Return the derivatives of the pixels of world points (N, 3) by all parameters, (2 N, 12).

    Of the growth, which moves no point of the world, they are 0.

    Examples
    --------
    Of a camera that looks straight down from 300 mm, shifted by 1 mm to the right:

    >>> parameters = np.array([0, 0, 0, -148.5, -105.0, 300.0, math.log(1500), 0, 800.0, 600.0, 0, 0])
    >>> slopes_px(parameters, np.array([[158.5, 105.0, 0.0]]))[:, SHIFT].round(6).tolist()[0]
    [5.0, 0.0, -0.166667]
    """
    focals, (x, y) = _focals_px(parameters), parameters[AXIS]
    matrix = np.array([[focals[0], 0, x], [0, focals[1], y], [0, 0, 1.0]])
    _, slopes = cv2.projectPoints(
        points_mm * np.array([1.0, 1.0, -1.0]),
        parameters[ROTATION],
        parameters[SHIFT],
        matrix,
        np.array([parameters[K1], 0.0, 0.0, 0.0]),
    )
    by_log = slopes[:, 6:8] * focals
    by_focal, by_aspect, none = by_log.sum(axis=1), by_log @ (0.5, -0.5), np.zeros(len(slopes))
    return np.column_stack([slopes[:, :6], by_focal, slopes[:, 10], slopes[:, 8:10], none, by_aspect])


def _focals_px(parameters: FloatArray) -> FloatArray:
    """Return the focal lengths along x and y, shape (2,)."""
    half = parameters[LOG_ASPECT] / 2
    return np.exp(parameters[LOG_FOCAL] + np.array([half, -half]))


def on_plane(points_mm: FloatArray, height_mm: float) -> FloatArray:
    """Return points (..., 2) at a height, shape (..., 3)."""
    return np.concatenate([points_mm, np.full((*points_mm.shape[:-1], 1), height_mm)], axis=-1)


def focal_px_of(focal_35mm: float, size_px: tuple[int, int]) -> float:
    """Return the focal length in pixels of a 35 mm equivalent one; `size_px` is (width, height).

    Examples
    --------
    >>> round(focal_px_of(26.0, (4032, 3024)), 1)
    3028.7
    """
    return focal_35mm * math.hypot(*size_px) / FULL_FRAME_DIAGONAL_MM
