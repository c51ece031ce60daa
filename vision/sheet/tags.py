"""Finds the tags of a printed sheet, and their corners to a few hundredths of a pixel.

The detector's own corners are off by up to a pixel (at 5 px/mm a 20 mm tag reads up to 1 % short), so only
its identities are kept. Each side of a tag's black square is located again: on many short profiles across
it, in linear light, half way between the black and the white beside it. A robust line is fitted to the points
of each side, and the corners are where neighbouring lines meet.
"""

from dataclasses import dataclass, replace
from functools import partial
from operator import itemgetter

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.common.errors import NoSheetError
from vision.common.numerics import quarter_turn
from vision.common.records import FloatArray, ImageArray, Mask, Photo
from vision.common.robust import Loss, reweighted
from vision.image.light import LUMINANCE, to_linear
from vision.image.sampling import sample
from vision.sheet.geometry import SHEETS, TAG_FAMILY, TAG_MODULES, Sheet

_SEARCH_WIDTH_PX = 1600
"""Tags are detected on a photo of this width, where a module of a mat that fills it is 10 px wide. At half
a count is flagged that need not be; at double it takes 4 times as long."""
_LARGEST_SEARCH_PX = 6000
"""Width for the second search: 27 megapixels of noise take 0.8 GB. At half, photos of 12 megapixels lose by
it; at double it takes 2.9 GB."""
_SOUND_PX, _SOUND_TIMES = 1.0, 4.0
"""A tag is covered in part if its edge points scatter by more than this, and by so many times the median.
No difference at half and at double."""

# The profiles across a side. In brackets: by how much scale changes at half and at double, at worst of 11
# drawn photos; a bead in a hundred is 1e-2.
PROFILES, _STEPS = 28, 21
"""How many, and points on each (2e-4 and 1e-4; 8e-4 and 2e-4)."""
_SIDE_SHARE = (0.08, 0.92)
"""Where on a side: clear of its ends, where the blur of the corner bends the edge (2e-4, 6e-4)."""
_REACH_MODULES = 0.45
"""To either side, within the black border and the quiet zone of one module (2e-4, 1e-3)."""
_PLATEAU = 5
"""Points at either end that give black and white (3e-5, 2e-4)."""

# The lines through the edge points.
_REWEIGHTINGS = 6
"""After three the lines still move: (6e-5, 1e-5)."""
_LOSS = Loss(inward=2.0, outward=2.0, power=2, least_spread=1e-3)
"""Two standard deviations quarter a point's weight (9e-5, 1e-4; the least spread, pixels: 3e-6, 3e-6)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tags:
    """The tags of one sheet in a photo.

    Attributes
    ----------
    sheet : Sheet
    ids : tuple of int
    corners_px : ndarray, shape (N, 4, 2)
        (x, y), in the order of `Sheet.corners_mm`.
    corners_u_px : ndarray, shape (N,)
        Standard deviation of the edge points about their lines, on the worst side of each tag.
    """

    sheet: Sheet
    ids: tuple[int, ...]
    corners_px: FloatArray
    corners_u_px: FloatArray

    @property
    def sides_px(self) -> FloatArray:
        """Lengths of the four sides of each tag, shape (N, 4)."""
        return np.asarray(np.linalg.norm(np.roll(self.corners_px, -1, axis=1) - self.corners_px, axis=2))

    def only(self, chosen: Mask) -> "Tags":
        """Return the tags that a mask, shape (N,), chooses."""
        ids = tuple(i for i, kept in zip(self.ids, chosen, strict=True) if kept)
        return replace(
            self, ids=ids, corners_px=self.corners_px[chosen], corners_u_px=self.corners_u_px[chosen]
        )


def find_tags(photo: Photo) -> Tags:
    """Find the tags of that sheet of which most are in the photo.

    Raises
    ------
    NoSheetError
        If fewer tags can be read than the sheet needs for a trustworthy camera.
    """
    ids, corners = _detect(photo.rgb)
    sheet = max(SHEETS.values(), key=lambda s: sum(i in s.ids for i in ids))
    mine = [k for k, i in enumerate(ids) if i in sheet.ids]
    if len(mine) < sheet.tags_needed:
        raise NoSheetError(_too_few(len(mine), sheet))
    refined, scatter = _refine(photo.rgb, corners[mine])
    tags = Tags(sheet=sheet, ids=tuple(ids[k] for k in mine), corners_px=refined, corners_u_px=scatter)
    tags = tags.only(np.isfinite(scatter))
    if len(tags.ids) < sheet.tags_needed:
        raise NoSheetError(_too_few(len(tags.ids), sheet))
    scatter = tags.corners_u_px
    sound = scatter < np.maximum(_SOUND_PX, _SOUND_TIMES * np.median(scatter))
    return tags.only(sound) if sound.sum() >= sheet.tags_needed else tags


def _too_few(seen: int, sheet: Sheet) -> str:
    if seen == 0:
        return (
            "no scale sheet found: lay the printed sheet flat beside or under the beads, whole in the picture"
        )
    return (
        f"only {seen} tag{'s' if seen > 1 else ''} of the sheet {sheet.name} can be read, "
        f"{sheet.tags_needed} are needed: uncover the tags, avoid glare on them and hold the phone still"
    )


def _detect(rgb: ImageArray) -> tuple[list[int], FloatArray]:
    """Return ids and rough corners, shape (N, 4, 2), in full-size pixels; only ids that occur once."""
    grey = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    for width_px in (_SEARCH_WIDTH_PX, _LARGEST_SEARCH_PX):  # the second, a slow one, for tags far away
        ratio = min(1.0, width_px / max(grey.shape))
        small = cv2.resize(grey, None, fx=ratio, fy=ratio, interpolation=cv2.INTER_AREA)
        found_ids, found_corners = _detect_on(np.asarray(small, dtype=np.uint8))
        if found_ids or ratio == 1.0:
            break
    # a pixel centre at i in the small image lies at (i + 1/2) / ratio - 1/2 in the large one
    corners = (found_corners + 0.5) / ratio - 0.5
    once = {tag_id: k for k, tag_id in enumerate(found_ids) if found_ids.count(tag_id) == 1}
    return list(once), corners[list(once.values())]


def _detect_on(grey: ImageArray) -> tuple[list[int], FloatArray]:
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, ids, _ = cv2.aruco.ArucoDetector(TAG_FAMILY, settings).detectMarkers(grey)
    if len(corners) == 0:  # ids are then None
        return [], np.empty((0, 4, 2))
    return [int(i) for i in ids.ravel()], np.array(corners, dtype=float).reshape(-1, 4, 2)


def _refine(rgb: ImageArray, corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the corners (N, 4, 2) where lines through sub-pixel edge points meet, and scatter (N,)."""
    light = _light_near(rgb, corners)
    for _ in range(2):  # the second pass samples square to the edges that the first found
        lines, scatter = _edge_lines(light, corners)
        corners = np.stack([_meet(lines[:, k - 1], lines[:, k]) for k in range(4)], axis=1)
    return corners, scatter


def _light_near(rgb: ImageArray, corners: FloatArray) -> NDArray[np.float32]:
    """Return linear luminance, computed only about the tags, two modules beyond them; elsewhere 0."""
    light = np.zeros(rgb.shape[:2], dtype=np.float32)
    for tag in corners:
        margin = 2 / TAG_MODULES * np.ptp(tag, axis=0).max() + 4
        x0, y0 = np.maximum(np.floor(tag.min(axis=0) - margin).astype(int), 0)
        x1, y1 = np.ceil(tag.max(axis=0) + margin).astype(int)
        light[y0:y1, x0:x1] = to_linear(rgb[y0:y1, x0:x1]) @ LUMINANCE
    return light


def _edge_lines(light: NDArray[np.float32], corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the lines (nx, ny, d), nx x + ny y = d, of each tag's sides, (N, 4, 3), and scatter (N,)."""
    length = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    reach = _REACH_MODULES * length / TAG_MODULES
    offsets = np.linspace(-1, 1, _STEPS) * reach[..., None]
    across = partial(across_sides, corners, share=_SIDE_SHARE, count=PROFILES)
    at = _half_way(sample(light, across(offsets[:, :, None]), cubic=True), offsets)
    lines, scatter = _robust_lines(across(at[..., None])[..., 0, :])
    return lines, scatter.max(axis=1)


def across_sides(
    corners_px: FloatArray, offsets_px: FloatArray, *, share: tuple[float, float], count: int
) -> FloatArray:
    """Return points on profiles across the sides of tags, shape (..., 4, P, S, 2).

    Parameters
    ----------
    corners_px : ndarray, shape (..., 4, 2)
    offsets_px : ndarray, shape (S,), (..., 4, 1, S) or (..., 4, P, S)
        From a side, outwards: from the black inside to the white outside.
    share : tuple of float
        Where on a side the first profile lies, and the last.
    count : int
        Profiles across each side, P.
    """
    sides = np.roll(corners_px, -1, axis=-2) - corners_px
    outwards = -quarter_turn(sides) / np.linalg.norm(sides, axis=-1, keepdims=True)
    feet = corners_px[..., None, :] + np.linspace(*share, count)[:, None] * sides[..., None, :]
    return np.asarray(feet[..., None, :] + offsets_px[..., None] * outwards[..., None, None, :])


def _half_way(profile: FloatArray, offsets: FloatArray) -> FloatArray:
    """Return the offset at which each profile crosses half way from black to white, (N, 4, P)."""
    black = np.median(profile[..., :_PLATEAU].mean(axis=3), axis=2)[..., None, None]
    white = np.median(profile[..., -_PLATEAU:].mean(axis=3), axis=2)[..., None, None]
    level = (profile - black) / np.maximum(white - black, 1e-6) - 0.5
    rises = (level[..., :-1] < 0) & (level[..., 1:] >= 0)
    first = np.argmax(rises, axis=3)[..., None]
    below, above = (np.take_along_axis(level, first + k, axis=3)[..., 0] for k in (0, 1))
    step = offsets[..., 1] - offsets[..., 0]
    climb = np.where(above > below, above - below, 1.0)  # a profile may rise nowhere
    where = offsets[..., :1] + (first[..., 0] - below / climb) * step[..., None]
    return np.where(rises.any(axis=3), where, np.nan)


def _robust_lines(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fit lines by reweighted total least squares to points (..., P, 2), which may hold NaN.

    Returns
    -------
    lines : ndarray, shape (..., 3)
        Unit normal and distance; NaN where fewer than a third of the points are known.
    spread : ndarray, shape (...)
        Standard deviation of the points across the line; infinite where too few are known.
    """
    known: Mask = np.asarray(np.isfinite(points).all(axis=-1))
    enough = known.sum(axis=-1) >= PROFILES // 3
    known[~enough] = True
    points = np.where(known[..., None] & enough[..., None, None], points, 0.0)
    lines, apart = reweighted(
        partial(_weighted_lines, points), itemgetter(1), losses=(_LOSS,) * _REWEIGHTINGS, used=known
    )
    spread = _LOSS.spread(np.where(known, apart, np.nan))
    return np.where(enough[..., None], lines, np.nan), np.where(enough, spread, np.inf)


def _weighted_lines(points: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the lines (..., 3) nearest to weighted points (..., P, 2), and their distances (..., P)."""
    share = weight / weight.sum(axis=-1, keepdims=True)
    centre = (share[..., None] * points).sum(axis=-2)
    apart = points - centre[..., None, :]
    x, y = apart[..., 0], apart[..., 1]
    # the direction in which the points scatter least: an eigenvector of their 2 x 2 covariance
    turn = 0.5 * np.arctan2((2 * share * x * y).sum(axis=-1), (share * (x * x - y * y)).sum(axis=-1))
    normal = np.stack([-np.sin(turn), np.cos(turn)], axis=-1)
    lines = np.concatenate([normal, (normal * centre).sum(axis=-1, keepdims=True)], axis=-1)
    return lines, (apart * normal[..., None, :]).sum(axis=-1)


def _meet(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the points, shape (N, 2), where lines (N, 3) cross; NaN where a line is."""
    matrix = np.stack([one[:, :2], other[:, :2]], axis=1)
    right = np.stack([one[:, 2], other[:, 2]], axis=1)[..., None]
    bad = ~np.isfinite(matrix).all(axis=(1, 2))
    matrix[bad], right[bad] = np.eye(2), np.nan
    return np.asarray(np.linalg.solve(matrix, right)[..., 0], dtype=float)
