"""Where on the sheet a thing of known size lies, to about a millimetre.

On the top view the edges of all directions are weighed against the grain of the ground. The place, turn and
size for which every side of the outline lies on edges is the thing's. What is printed on it matters little,
and so does how strong its edges are.
"""

import math
from dataclasses import replace

import cv2
import numpy as np

from vision.camera.scene import Scene
from vision.common.errors import PhotoError
from vision.common.records import FloatArray, Mask
from vision.reference.objects import Reference
from vision.reference.outline import Outline, Pose, outline_of
from vision.topview.orthophoto import Orthophoto, orthophoto

SIZE_RATIOS = np.arange(0.965, 1.09, 0.012)
"""Of a thing's nominal size in the sheet's nominal millimetres: sheets print at 0.92 to 1.035."""
_DIRECTIONS = 24
_TURN_STEP = math.radians(2.0)
_CELLS_PER_MM = {True: 2.0, False: 1.0}
"""For coins, for cards: a cell is about a fortieth of the thing."""
_FINEST = 4.0
_GRAIN_TIMES = 4.0
"""An edge this many times as steep as the median of the top view counts half."""
_TAG_MARGIN_MM = 2.0
_STRIDE = 2


def detect(scene: Scene, thing: Reference) -> list[Pose]:
    """Return where a thing may lie, to about a millimetre, a degree and 1 % of its size, the likeliest first.

    Of each size the best place is returned: print on a card may make up a smaller one.

    Raises
    ------
    PhotoError
        If the photo shows too little of the sheet.
    """
    per_mm = _CELLS_PER_MM[thing.is_round]
    top = orthophoto(scene, finest_cells_per_mm=_FINEST)
    edges = _edges(scene, top, per_mm=per_mm)
    found = [_best_of_size(edges, thing, ratio=ratio, per_mm=per_mm) for ratio in SIZE_RATIOS]
    likely = sorted((each for each in found if each[0] > 0), key=lambda each: -each[0])
    if not likely:
        raise PhotoError(f"the photo shows too little of the sheet for a {thing.title}: take the whole sheet")
    shift = np.array(top.origin_mm) + 0.5 / per_mm - 0.5 / top.cells_per_mm
    return [replace(pose, centre_mm=tuple((shift + pose.centre_mm).tolist())) for _, pose in likely]


def _best_of_size(edges: FloatArray, thing: Reference, *, ratio: float, per_mm: float) -> tuple[float, Pose]:
    """Return the best score of a size, 0 if it has no room, and its pose on the cells' own plane."""
    size = tuple(s * float(ratio) for s in thing.size_mm)
    best = 0.0, Pose(centre_mm=(0.0, 0.0), turn=0.0, size_mm=size)
    for turn in [0.0] if thing.is_round else np.arange(0, math.pi, _TURN_STEP):
        pose = Pose(centre_mm=(0.0, 0.0), turn=float(turn), size_mm=size)
        score, (x, y) = _best_place(edges, outline_of(thing, pose, spacing_mm=4 / per_mm), per_mm=per_mm)
        if score > best[0]:
            best = score, replace(pose, centre_mm=(x / per_mm, y / per_mm))
    return best


def _edges(scene: Scene, top: Orthophoto, *, per_mm: float) -> FloatArray:
    """Return how clear an edge of each direction is, 0 to 1, shape (D, H, W)."""
    shrink = per_mm / top.cells_per_mm
    small = cv2.resize(top.rgb, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA).astype(np.float32)
    smooth = cv2.GaussianBlur(small, (0, 0), 0.7)
    dx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3)
    dy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3)
    usable = _usable(scene, top, per_mm=per_mm, shape=small.shape[:2])
    clear = []
    for k in range(_DIRECTIONS):
        angle = k * math.pi / _DIRECTIONS
        slope = np.linalg.norm(dx * math.cos(angle) + dy * math.sin(angle), axis=2)
        grain = _GRAIN_TIMES * float(np.median(slope[usable])) + 1e-6
        clear.append(cv2.dilate(np.where(usable, slope / (slope + grain), 0), np.ones((3, 3))))
    return np.array(clear, dtype=np.float32)


def _usable(scene: Scene, top: Orthophoto, *, per_mm: float, shape: tuple[int, int]) -> Mask:
    """Return which cells show ground, and neither a tag that was read nor the border of the photo."""
    shrink = per_mm / top.cells_per_mm
    seen = cv2.resize(top.seen.astype(np.uint8), shape[::-1], interpolation=cv2.INTER_NEAREST)
    seen = cv2.erode(seen, np.ones((3, 3)), borderValue=0)
    for tag_id in scene.tags_seen:
        corners = scene.sheet.corners_mm(tag_id)[[0, 2]] * scene.scale
        low, high = corners + np.array([[-_TAG_MARGIN_MM], [_TAG_MARGIN_MM]])
        cells = [(top.to_cells(p) + 0.5) * shrink - 0.5 for p in (low, high)]
        (x0, y0), (x1, y1) = (np.rint(np.maximum(c, 0)).astype(int) for c in cells)
        seen[y0 : y1 + 1, x0 : x1 + 1] = 0
    return np.asarray(seen > 0)


def _best_place(edges: FloatArray, outline: Outline, *, per_mm: float) -> tuple[float, tuple[int, int]]:
    """Return how well all sides of an outline about (0, 0) lie on edges at its best place, and that cell."""
    steps = np.rint(outline.points_mm * per_mm).astype(int)
    angle = np.arctan2(outline.normals[:, 1], outline.normals[:, 0])
    direction = np.rint(angle / math.pi * _DIRECTIONS).astype(int) % _DIRECTIONS
    reach = np.abs(steps).max(axis=0)
    rows, columns = edges.shape[1:]
    if rows <= 2 * reach[1] or columns <= 2 * reach[0]:
        return 0.0, (0, 0)
    total = np.zeros((outline.side.max() + 1, *edges[0, ::_STRIDE, ::_STRIDE].shape), np.float32)
    total = total[:, : -(-(rows - 2 * reach[1]) // _STRIDE), : -(-(columns - 2 * reach[0]) // _STRIDE)]
    for (x, y), d, side in zip(steps, direction, outline.side, strict=True):
        left, upper = reach[0] + x, reach[1] + y
        total[side] += edges[
            d, upper : upper + rows - 2 * reach[1] : _STRIDE, left : left + columns - 2 * reach[0] : _STRIDE
        ]
    share = total / np.bincount(outline.side)[:, None, None]
    score = share.min(axis=0) + share.mean(axis=0)
    row, column = np.unravel_index(int(score.argmax()), score.shape)
    place = (int(column) * _STRIDE + int(reach[0]), int(row) * _STRIDE + int(reach[1]))
    return float(score[row, column]), place
