"""The scale of a print from a thing of known size that lies on it, or one line that says why not."""

import numpy as np

from vision.camera.camera import on_plane
from vision.camera.scene import Scene
from vision.common.errors import PhotoError
from vision.reference.agreement import Agreement
from vision.reference.budget import ScaleBudget, scale_with_budget
from vision.reference.detection import detect
from vision.reference.objects import Reference
from vision.reference.outline import Pose, outline_of
from vision.reference.rim import RimFinder
from vision.reference.sharpening import PlainLight, sharpening_of
from vision.sheet.tags import Tags

_LEAST_PX = 90.0
"""Across the thing: an edge is good to a tenth of a pixel, and 0.2 px of 90 are 0.2 %."""
_LARGEST_BEND = 0.01
"""By how much the proportions of a card may be off: tolerances and edges make 0.4 %."""
_LARGEST_U = 0.003
"""Of the scale, standard: beyond it, the wrong edge may have been taken (set on drawn photos of coins)."""
_TRIES = 6
"""Of the sizes that a thing may have, the likeliest ones."""
_MARGIN_PX = 3.0
_TAG_MARGIN_MM = 1.0


def print_scale(scene: Scene, tags: Tags, thing: Reference) -> tuple[float, ScaleBudget]:
    """Return the scale of a print, printed size over nominal size, by a thing that lies on it.

    Parameters
    ----------
    scene : Scene
        Its camera fitted to the sheet's nominal size.
    tags : Tags
    thing : Reference

    Raises
    ------
    PhotoError
        With one line that says what was found and what to do.
    """
    finder = RimFinder(scene=scene, sharpening=sharpening_of(scene.photo, tags), thing=thing)
    pose, agreement, light = _own_edges(finder, detect(scene, thing)[:_TRIES])
    _check_place(scene, thing, pose)
    if not agreement.whole:
        raise PhotoError(
            f"no {thing.title} shows whole on the sheet: lay it flat on the empty sheet, clear of the tags, "
            "nothing over it and no glare on its edges"
        )
    rim = finder.rim(pose, light)
    _check_shape(thing, rim.pose)
    scale, budget = scale_with_budget(scene, thing, rim)
    _check_uncertainty(thing, budget)
    return scale, budget


def _own_edges(finder: RimFinder, rough: list[Pose]) -> tuple[Pose, Agreement, PlainLight]:
    """Return the first pose that is the thing's own or the best, how far edges agree, and the light there."""
    found = []
    for start in rough:
        light = finder.light_about(start)
        pose, agreement = finder.own_edges(start, light)
        found.append((pose, agreement, light))
        if agreement.whole and agreement.alike:
            break
    return max(found, key=lambda each: (each[1].whole, each[1].alike))


def _check_place(scene: Scene, thing: Reference, pose: Pose) -> None:
    outline = outline_of(thing, pose, spacing_mm=2.0)
    seen = scene.camera.project(on_plane(outline.points_mm, thing.thickness_mm))
    if not ((seen > _MARGIN_PX) & (seen < np.array(scene.size_px) - 1 - _MARGIN_PX)).all():
        raise PhotoError(f"the {thing.title} runs out of the photo: take the whole of it and the sheet")
    if _over_tags(scene, pose):
        raise PhotoError(f"the {thing.title} lies over the tags of the sheet: move it clear of them")
    across = min(thing.size_mm) * scene.camera.px_per_mm(np.array([*pose.centre_mm, 0.0]))
    if across < _LEAST_PX:
        raise PhotoError(
            f"the {thing.title} is only {across:.0f} pixels wide in this photo: go nearer, or use the "
            "camera's full resolution"
        )


def _over_tags(scene: Scene, pose: Pose) -> bool:
    """Return whether a tag of the sheet, seen or not, lies under the thing."""
    corners = np.concatenate([scene.sheet.corners_mm(i) for i in scene.sheet.ids])
    own = pose.own_frame(corners)
    if len(pose.size_mm) == 1:
        return bool((np.hypot(*own.T) < pose.size_mm[0] / 2 + _TAG_MARGIN_MM).any())
    return bool((np.abs(own) < np.array(pose.size_mm) / 2 + _TAG_MARGIN_MM).all(axis=1).any())


def _check_shape(thing: Reference, pose: Pose) -> None:
    ratio = np.array(pose.size_mm) / np.array(thing.size_mm)
    if ratio.max() / ratio.min() - 1 > _LARGEST_BEND:
        width, height = thing.size_mm
        raise PhotoError(
            f"what lies on the sheet is {pose.size_mm[0] / pose.size_mm[1]:.3f} times as long as wide, "
            f"a {thing.title} {width / height:.3f} times: use one of {width:.2f} x {height:.2f} mm, flat"
        )


def _check_uncertainty(thing: Reference, budget: ScaleBudget) -> None:
    if budget.combined > _LARGEST_U:
        raise PhotoError(
            f"the edges of the {thing.title} do not show clearly enough (the scale would be uncertain by "
            f"{200 * budget.combined:.1f} %): use one of another colour than the paper, in light from all "
            "sides, and photograph it from straight above"
        )
