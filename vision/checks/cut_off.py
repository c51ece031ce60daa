"""Whether a strand goes on where the photo does not show it.

Nothing is known of beads beyond the edge of the photo, over a tag that was not read, under the card, off a
mat, under a finger or a tool, or in glare. A strand that ends nearer to one of these than a bead is long may
have lost a part there.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from vision.camera.scene import PAGE_EDGE_MM, Scene, printed_boxes
from vision.checks.glare import glare_mm
from vision.common.records import FloatArray, Mask

_NEAR = 0.5
"""In beads. Tags and the card are seen, so a strand reaches them only where it ends nearer than this to them,
or where most of what lies between shows beads: stoppers and wire may cover a tag, and often do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """What lies ahead of a strand's end, as far as one bead more would reach.

    Attributes
    ----------
    places : ndarray, shape (N, 3)
        World points in equal steps away from the end.
    shows : ndarray, shape (N,)
        How likely each shows a bead.
    """

    places: FloatArray
    shows: FloatArray

    @property
    def reached(self) -> Mask:
        """Which places beads reach, as far as can be seen, shape (N,)."""
        steps = np.arange(len(self.shows))
        mostly = np.cumsum(self.shows) / (steps + 1) > _NEAR
        return np.asarray((steps <= _NEAR * len(steps)) | mostly)


def cut_by(scene: Scene, ahead: Ahead, *, covers_mm: Sequence[FloatArray] = ()) -> Iterator[str]:
    """Yield what a strand may run out of, or into, at one of its ends.

    Parameters
    ----------
    scene, ahead
    covers_mm : sequence of ndarray, shape (N, 2)
        Outlines in world (x, y) of things that may lie over several beads. A bead that one half covers is not
        counted, so a strand may go on under any that one bead more would reach.

    Yields
    ------
    str
        `left`, `right`, `top` or `bottom`: that edge of the photo; `tags`; `sheet`; `thing`; `glare`.
    """
    seen = scene.camera.project(ahead.places)
    (x, y), half = seen[len(seen) // 2], float(np.linalg.norm(seen[-1] - seen[0])) / 2  # of a round bead
    width, height = scene.size_px
    room = {"left": x, "right": width - 1 - x, "top": y, "bottom": height - 1 - y}
    yield from (edge for edge, free in room.items() if free < half)
    reached = scene.camera.moved_along_rays(ahead.places[ahead.reached], 0.0)[:, :2]
    unread = set(scene.sheet.ids).difference(scene.tags_seen)
    hidden = printed_boxes(scene.sheet, scene.scale, tags=unread)  # where no strand is looked for
    if any(_inside(reached, low, high).any() for low, high in hidden):
        yield "tags"
    if scene.sheet.bed_mm is not None:
        low, high = np.full(2, PAGE_EDGE_MM), scene.page_mm - PAGE_EDGE_MM
        if not _inside(reached, low, high).all():
            yield "sheet"
    if any(_meets(cover, ahead.places[:, :2]) for cover in covers_mm):
        yield "thing"
    bead_mm = float(np.linalg.norm(ahead.places[-1] - ahead.places[0]))
    if (glare_mm(scene, ahead.places, bead_mm=bead_mm) < _NEAR * bead_mm).any():
        yield "glare"


def _meets(outline: FloatArray, places: FloatArray) -> bool:
    """Return whether any of several places (N, 2) lies on or within an outline (M, 2)."""
    line = outline.astype(np.float32)
    return any(cv2.pointPolygonTest(line, (float(x), float(y)), measureDist=False) >= 0 for x, y in places)


def _inside(points: FloatArray, low: FloatArray, high: FloatArray) -> Mask:
    """Return which points (N, 2) lie within a box of two corners."""
    return np.asarray(((points >= low) & (points <= high)).all(axis=1))
