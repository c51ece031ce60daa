"""The outline of a card or a coin that lies on the sheet: points on it, how it moves, its fit to a rim.

A small change of place, turn or size moves each point of the outline along its normal by an amount that is
linear in the change. All fits use this one linear model.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vision.camera.camera import Camera
from vision.common.records import FloatArray
from vision.common.robust import Loss, reweighted
from vision.reference.objects import Reference

_CLEAR_OF_CORNERS = 1.4
"""Straight sides are used from this many corner radii on: the corner's blur reaches a little further."""
_LEAST_POINTS = 3
"""On a side."""
_ARCS = 4
"""A coin's rim counts as this many sides."""
_LOSSES = (Loss(inward=2.0, outward=2.0, power=2, least_spread=1e-3),) * 8
"""One for each time that the rim is fitted anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """Where a thing lies and how large it is, in the sheet's nominal millimetres.

    Attributes
    ----------
    centre_mm : tuple of float
        (x, y) on the plane of its upper face.
    turn : float
        Radians from the sheet's x axis to its width, towards y.
    size_mm : tuple of float
        (width, height) or (diameter,).
    """

    centre_mm: tuple[float, float]
    turn: float
    size_mm: tuple[float, ...]

    def own_frame(self, points_mm: FloatArray) -> FloatArray:
        """Return points (N, 2) of the sheet as seen from the thing: along its width, along its height."""
        return np.asarray((points_mm - np.array(self.centre_mm)) @ _spin(self.turn).T)

    def moved(self, change: FloatArray) -> "Pose":
        """Return the pose after a change, in the order of `Outline.slopes`."""
        x, y = np.add(self.centre_mm, change[:2])
        turned = len(self.size_mm) > 1
        size = tuple(float(s) for s in np.add(self.size_mm, change[2 + turned :]))
        turn = self.turn + float(change[2]) if turned else self.turn
        return replace(self, centre_mm=(float(x), float(y)), turn=turn, size_mm=size)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineFit:
    """A least-squares fit of an outline to points on the rim.

    Attributes
    ----------
    change : ndarray, shape (K,)
        Of the outline, in the order of `Outline.slopes`.
    covariance : ndarray, shape (K, K)
        From what the profiles of a side share, and from their scatter.
    solve : ndarray, shape (K, N)
        Gives the change from offsets.
    """

    change: FloatArray
    covariance: FloatArray
    solve: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """Points on an outline, evenly spaced.

    Attributes
    ----------
    points_mm, normals : ndarray, shape (N, 2)
        (x, y) on the sheet's plane; unit normals outwards.
    side : ndarray of int, shape (N,)
        The side of a card, 0 to 3, opposite ones two apart; the quarter of a coin.
    slopes : ndarray, shape (N, K)
        How far each point moves along its normal with x, y, (turn,) and the sizes.
    """

    points_mm: FloatArray
    normals: FloatArray
    side: NDArray[np.intp]
    slopes: FloatArray

    def thinned(self, group: int) -> "Outline":
        """Return the means of every `group` neighbours."""
        return Outline(
            points_mm=self.points_mm.reshape(-1, group, 2).mean(axis=1),
            normals=self.normals.reshape(-1, group, 2).mean(axis=1),
            side=self.side[::group],
            slopes=self.slopes.reshape(-1, group, self.slopes.shape[1]).mean(axis=1),
        )

    def shown_side_mm(self, camera: Camera, *, thickness_mm: float) -> FloatArray:
        """Return how wide the upright side shows outside the upper rim, shape (N,), mm on the upper plane.

        Where the camera stands outside the line through a point along the outline, that of the upper face, it
        sees the upright side below the rim, down to the sheet. Elsewhere the upper rim hides it, and what
        shows is 0.
        """
        centre = camera.centre_mm
        outside = np.sum((centre[:2] - self.points_mm) * self.normals, axis=1)
        return np.maximum(outside, 0) * thickness_mm / centre[2]

    def fitted(self, offsets_mm: FloatArray, u_mm: FloatArray) -> OutlineFit:
        """Fit the outline to the rim of a thing robustly.

        Parameters
        ----------
        offsets_mm, u_mm : ndarray, shape (N,)
            Of the rim along the normals, and standard uncertainties, which the profiles of a side share.
        """

        def fit(weights: FloatArray) -> FloatArray:
            root = np.sqrt(weights) / u_mm
            return np.linalg.pinv(root[:, None] * self.slopes) * root

        def apart(solve: FloatArray) -> FloatArray:
            return (offsets_mm - self.slopes @ (solve @ offsets_mm)) / u_mm

        solve = reweighted(fit, apart, losses=_LOSSES, used=np.ones(len(u_mm), dtype=bool))
        spread = _LOSSES[-1].spread(apart(solve))
        side_u = np.array([np.median(u_mm[self.side == k]) for k in range(self.side.max() + 1)])
        member = self.side[:, None] == np.arange(len(side_u))
        common = solve @ (member * side_u)
        scatter = solve * (spread * u_mm)
        covariance = common @ common.T + scatter @ scatter.T
        return OutlineFit(change=solve @ offsets_mm, covariance=covariance, solve=solve)


def outline_of(thing: Reference, pose: Pose, *, spacing_mm: float, group: int = 1) -> Outline:
    """Return points on the outline of a thing, the rounded corners of a card left out.

    Each side has a multiple of `group` points.

    Examples
    --------
    >>> from vision.reference.objects import REFERENCES
    >>> pose = Pose(centre_mm=(150.0, 100.0), turn=0.0, size_mm=(85.6, 53.98))
    >>> outline = outline_of(REFERENCES["card"], pose, spacing_mm=2.0)
    >>> outline.points_mm[0].round(2).tolist(), outline.slopes.shape[1]
    ([192.8, 77.46], 5)
    """
    if thing.is_round:
        return _rim(pose, spacing_mm=spacing_mm, group=group)
    return _rectangle(thing, pose, spacing_mm=spacing_mm, group=group)


def _rim(pose: Pose, *, spacing_mm: float, group: int) -> Outline:
    [diameter] = pose.size_mm
    number = _ARCS * _multiple(math.pi * diameter / spacing_mm / _ARCS, group)
    angle = np.arange(number) * 2 * math.pi / number
    normals = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return Outline(
        points_mm=np.array(pose.centre_mm) + diameter / 2 * normals,
        normals=normals,
        side=np.arange(number) * _ARCS // number,
        slopes=np.column_stack([normals, np.full(number, 0.5)]),
    )


def _rectangle(thing: Reference, pose: Pose, *, spacing_mm: float, group: int) -> Outline:
    half = np.array(pose.size_mm) / 2
    inset = _CLEAR_OF_CORNERS * thing.corner_mm
    points, normals, side = [], [], []
    for k, (axis, sign) in enumerate(((0, 1), (1, 1), (0, -1), (1, -1))):
        reach = half[1 - axis] - inset
        along = np.linspace(-reach, reach, _multiple(2 * reach / spacing_mm, group))
        outwards = np.zeros(2)
        outwards[axis] = sign
        points.append(np.outer(along, outwards[::-1] * (1 if axis == 0 else -1)) + half[axis] * outwards)
        normals.append(np.tile(outwards, (len(along), 1)))
        side.append(np.full(len(along), k))
    own, out = np.vstack(points), np.vstack(normals)
    turning = own[:, 0] * out[:, 1] - own[:, 1] * out[:, 0]
    spin = _spin(pose.turn)
    return Outline(
        points_mm=own @ spin + np.array(pose.centre_mm),
        normals=out @ spin,
        side=np.concatenate(side),
        slopes=np.column_stack([out @ spin, turning, np.abs(out) / 2]),
    )


def _multiple(number: float, group: int) -> int:
    return group * max(round(number / group), -(-_LEAST_POINTS // group))


def _spin(turn: float) -> FloatArray:
    """Return the matrix that turns row vectors from x towards y."""
    return np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
