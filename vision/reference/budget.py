"""What the scale of a print owes to edges, light, camera, and the thing itself (JCGM 100:2008)."""

import math
from dataclasses import dataclass, fields, replace

import numpy as np

from vision.camera.camera import on_plane
from vision.camera.scene import Scene
from vision.common.records import FloatArray
from vision.reference.objects import Reference
from vision.reference.rim import Rim

_LIGHT_PX = 0.12
"""How far light and lens may move every edge of a thing outwards or inwards alike (set on drawn photos)."""
_SMALL = 0.05
"""Of a standard deviation: the step that slopes are taken over."""
_BESIDE_HALF_MM = 0.15
"""What lies beside a small sheet lies lower than its print by the paper (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleBudget:
    """Relative standard uncertainties of the scale of a print.

    Attributes
    ----------
    edges : float
        Where the edges lie in the photo.
    light : float
        What moves all edges alike.
    tolerance : float
        Of the thing's size.
    thickness : float
        Of the thing, and how high it lies.
    camera : float
        Of the camera's place and lens.
    agreement : float
        By how much width and height disagree.
    """

    edges: float
    light: float
    tolerance: float
    thickness: float
    camera: float
    agreement: float

    @property
    def combined(self) -> float:
        """The root of the sum of the squares (5.1.2)."""
        return math.hypot(*(getattr(self, field.name) for field in fields(self)))


def scale_with_budget(scene: Scene, thing: Reference, rim: Rim) -> tuple[float, ScaleBudget]:
    """Return the scale of the print, true over nominal, and its uncertainties.

    Width and height each give a scale; they are weighed by what edges and tolerances leave uncertain.
    """
    size, true = np.array(rim.pose.size_mm), np.array(thing.size_mm)
    number = len(size)
    scales = np.log(true / size)
    edges = rim.fit.covariance[-number:, -number:] / np.outer(size, size)
    light = 2 * _LIGHT_PX / rim.px_per_mm / size
    tolerance = np.array(thing.size_half_mm) / math.sqrt(3) / true
    weight = 1 / (np.diag(edges) + light**2 + tolerance**2)
    weight /= weight.sum()
    mean = float(weight @ scales)
    above = float(scene.camera.centre_mm[2])
    beside = 0.0 if scene.sheet.bed_mm else _BESIDE_HALF_MM
    return math.exp(mean), ScaleBudget(
        edges=math.sqrt(weight @ edges @ weight),
        light=float(weight @ light),
        tolerance=float(np.linalg.norm(weight * tolerance)),
        thickness=math.hypot(thing.thickness_half_mm, beside) / math.sqrt(3) / above,
        camera=_camera_rel_u(scene, rim, weight),
        agreement=math.sqrt(float(weight @ (scales - mean) ** 2)),
    )


def _camera_rel_u(scene: Scene, rim: Rim, weight: FloatArray) -> float:
    """Return how much the size depends on the camera: the rim is laid out anew by displaced cameras."""
    seen = scene.camera.project(on_plane(rim.outline.points_mm, rim.height_mm))
    size = np.array(rim.pose.size_mm)
    changes = []
    # A whole standard deviation of an unknown focal length bends the sheet. The law of propagation
    # asks for slopes, so the steps are small.
    near = replace(scene.camera, covariance=scene.camera.covariance * _SMALL**2)
    for variant in near.variants():
        apart = variant.to_plane(seen, rim.height_mm) - rim.outline.points_mm
        change = rim.fit.solve @ np.sum(apart * rim.outline.normals, axis=1)
        changes.append(float(weight @ (change[-len(size) :] / size)))
    return float(np.linalg.norm(changes)) / _SMALL
