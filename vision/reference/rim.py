"""From a rough pose to the upper rim of a thing: which edges are its own, and where exactly they lie."""

from dataclasses import dataclass

import numpy as np

from vision.camera.camera import on_plane
from vision.camera.scene import Scene
from vision.common.records import FloatArray
from vision.reference.agreement import Agreement, agree
from vision.reference.edge_fit import (
    INSIDE_PX,
    OUTSIDE_PX,
    SEARCH_PX,
    STEP_PX,
    RimProfiles,
    rim_offsets_px,
    side_offsets_px,
)
from vision.reference.objects import Reference
from vision.reference.outline import Outline, OutlineFit, Pose, outline_of
from vision.reference.sharpening import PlainLight, Sharpening, plain_light
from vision.reference.steps import candidates

_SPACING_MM, _GROUP = 0.25, 8
"""Of profiles; the mean of 2 mm of an edge is what a place is read off from."""
_ROUGH_MM, _ROUGH_STEP_PX, _ROUGH_PASSES = 4.0, 0.5, 2
_NEAR_MM, _NEAR_PX = 0.08, 0.75
_INWARDS_MM, _OUTWARDS_MM, _SIDE_STEP_PX = {True: 0.35, False: 0.6}, 0.15, 0.2
"""Where a side may lie beside the steepest edges: the steepest part of a soft shadow lies outside the rim.
A coin (True) may have a raised border from 0.6 mm inside its rim on."""
_FINE_PASSES = 3
_USUAL_SCALE = 0.985
"""Of a printed sheet, before anything was measured: exact or fitted to the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rim:
    """The upper rim of a thing as found in a photo.

    Attributes
    ----------
    pose : Pose
        Of the fitted outline.
    outline : Outline
        Where the rim was fitted, G points.
    fit : OutlineFit
        The last one.
    height_mm : float
        Of the rim above the sheet, in the sheet's nominal millimetres.
    px_per_mm : float
    """

    pose: Pose
    outline: Outline
    fit: OutlineFit
    height_mm: float
    px_per_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RimFinder:
    """What finding a rim needs: the photo with its camera, its sharpening, and the thing."""

    scene: Scene
    sharpening: Sharpening
    thing: Reference

    def light_about(self, pose: Pose) -> PlainLight:
        """Return the light about a thing, its sharpening undone."""
        outline = outline_of(self.thing, pose, spacing_mm=2.0)
        reach = outline.points_mm + (_ROUGH_MM + 1) * outline.normals
        return plain_light(self.scene, self.sharpening, self.scene.camera.project(on_plane(reach, 0.0)))

    def profiles(
        self, light: PlainLight, outline: Outline, *, offsets_mm: FloatArray, height_mm: float
    ) -> FloatArray:
        """Return linear light on profiles across an outline, the mean of every `_GROUP` neighbours.

        Parameters
        ----------
        light : PlainLight
        outline : Outline
            Of N points, on the plane of the upper face; N is a multiple of `_GROUP` on each side.
        offsets_mm : ndarray, shape (S,)
            Along the outwards normal, on the plane of the upper face.
        height_mm : float
            Of that plane above the sheet.

        Returns
        -------
        ndarray, shape (G, S, 3)
        """
        across = outline.points_mm[:, None] + offsets_mm[None, :, None] * outline.normals[:, None]
        seen = light.at(self.scene.camera.project(on_plane(across, height_mm)))
        return np.asarray(seen.reshape(-1, _GROUP, *seen.shape[1:]).mean(axis=1))

    def own_edges(self, pose: Pose, light: PlainLight) -> tuple[Pose, Agreement]:
        """Return the pose whose outline the edges agree on, and how well they do."""
        height = self.thing.thickness_mm / _USUAL_SCALE
        for _ in range(_ROUGH_PASSES):
            per_mm = self.scene.camera.px_per_mm(np.array([*pose.centre_mm, height]))
            outline = outline_of(self.thing, pose, spacing_mm=_SPACING_MM, group=_GROUP)
            offsets = np.arange(-_ROUGH_MM, _ROUGH_MM, _ROUGH_STEP_PX / per_mm)
            light_across = self.profiles(light, outline, offsets_mm=offsets, height_mm=height)
            agreement = agree(
                outline.thinned(_GROUP),
                candidates(light_across, offsets, px_per_mm=per_mm),
                pose=pose,
                thing=self.thing,
                near_mm=max(_NEAR_MM, _NEAR_PX / per_mm),
            )
            pose = pose.moved(agreement.change)
        return pose, agreement

    def rim(self, pose: Pose, light: PlainLight) -> Rim:
        """Return the rim near the edges that agree: side by side first, then profile by profile."""
        rim = self._nearer(pose, light, whole_sides=True)
        for _ in range(_FINE_PASSES):
            rim = self._nearer(rim.pose, light, whole_sides=False)
        return rim

    def _nearer(self, pose: Pose, light: PlainLight, *, whole_sides: bool) -> Rim:
        scale = float(np.mean(np.array(self.thing.size_mm) / np.array(pose.size_mm)))  # of the print
        height = self.thing.thickness_mm / scale
        per_mm = self.scene.camera.px_per_mm(np.array([*pose.centre_mm, height]))
        outline = outline_of(self.thing, pose, spacing_mm=_SPACING_MM, group=_GROUP)
        thin = outline.thinned(_GROUP)
        low, high = -SEARCH_PX, SEARCH_PX
        if whole_sides:
            low, high = -_INWARDS_MM[self.thing.is_round] * per_mm, _OUTWARDS_MM * per_mm
        offsets_px = np.arange(low - INSIDE_PX, high + OUTSIDE_PX + 1e-9, STEP_PX)
        seen = RimProfiles(
            light=self.profiles(light, outline, offsets_mm=offsets_px / per_mm, height_mm=height),
            offsets_px=offsets_px,
            shown_px=thin.shown_side_mm(self.scene.camera, thickness_mm=height) * per_mm,
            blur_px=self.sharpening.blur_px,
        )
        if not whole_sides:
            where, u = rim_offsets_px(seen)
        else:
            where = side_offsets_px(seen, thin.side, np.arange(low, high, _SIDE_STEP_PX))
            u = np.ones(len(where))
        fit = thin.fitted(where / per_mm, u / per_mm)
        return Rim(pose=pose.moved(fit.change), outline=thin, fit=fit, height_mm=height, px_per_mm=per_mm)
