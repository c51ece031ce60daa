"""Where glare may hide a bead: light has burnt out a patch of the picture as wide as one.

In it neither a bead nor the joint of two is seen. Highlights are narrower than the bead that they lie on.
"""

import cv2
import numpy as np

from vision.camera.scene import Scene
from vision.common.records import FloatArray

_FULL = 0.98
"""Of the largest value of every colour: what is as bright has lost its form. On 28 drawn
photos white paper is darker; at most 0.3 % of them, highlights, are as bright."""
_EXPOSED = 0.25
"""Share of a picture that is burnt out where it is exposed for dark beads: then paper is, and hides none."""
_CELLS_PER_MM = 4.0
"""Of the map of burnt places: the smallest bead, 1.5 mm, is 6 cells wide."""


def glare_mm(scene: Scene, places_mm: FloatArray, *, bead_mm: float) -> FloatArray:
    """Return how far places are from the nearest patch of glare that is as wide as a bead, shape (N,), mm.

    Infinite where there is none in the photo.

    Parameters
    ----------
    scene : Scene
    places_mm : ndarray, shape (N, 3)
        World points.
    bead_mm : float
        Size of a bead.
    """
    px_per_mm = scene.camera.px_per_mm(places_mm[len(places_mm) // 2])
    ratio = min(1.0, _CELLS_PER_MM / px_per_mm)
    picture = cv2.resize(scene.photo.rgb, None, fx=ratio, fy=ratio, interpolation=cv2.INTER_NEAREST)
    cells = cv2.inRange(picture, (_FULL * 255,) * 3, (255,) * 3)
    reach = bead_mm * px_per_mm * ratio / 2
    # the largest square in such a patch is looked for first, as it takes no map of distances
    side = 2 * int(reach / 2**0.5) + 1
    if cells.mean() > _EXPOSED * 255 or not cv2.erode(cells, np.ones((side, side), np.uint8)).any():
        return np.full(len(places_mm), np.inf)
    within = cv2.distanceTransform(cells, cv2.DIST_L2, cv2.DIST_MASK_PRECISE) > reach
    if not within.any():
        return np.full(len(places_mm), np.inf)
    away = cv2.distanceTransform((~within).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE) - reach
    at = np.rint((scene.camera.project(places_mm) + 0.5) * ratio - 0.5).astype(int)
    x, y = np.clip(at, 0, np.array(cells.shape[::-1]) - 1).T
    return np.asarray(np.maximum(away[y, x], 0) / (px_per_mm * ratio), dtype=float)
