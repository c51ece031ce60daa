"""What the networks see of a drawn scene, with the truth: the bed from above, and strings straightened."""

from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.arrangement import Strung, Table
from tests.rendering.courses import STEP
from vision.topview.kinds import STRUNG, Kind

if TYPE_CHECKING:  # what draws needs a path tracer; what is learnt from the picture does not
    from tests.rendering.stage import Stage

CELLS_PER_MM = 5.0
ACROSS_CELLS = 56
"""Cells across the widest parts of a straightened string; training scales them up and down."""
MOST_CELLS_PER_MM = 10.0
REACH = 2.3
"""Half the width of a straightened string, over the width of its widest parts."""
_FINE_TOP, _FINE_STRIP = 2, 3  # rays of a cell, each way
_EXTEND_MM = 30.0
_COURSE_MM = 0.1
_MIDDLE = 0.15  # of the width, to either side of the string: says what lies on it
_THICKEST = 97
_ABOUT = 6  # cells of bed about a piece that it is compared with
_FAINT = 3.0  # CIE L*a*b* steps, of 8 bits
_MOST_HIDDEN = 0.5
HIDDEN = 254  # code of a cell whose piece nobody could make out: nothing is learnt there
UNKNOWN = 255  # of a cell that shows no strung part, and nothing more is known of it

Layers = dict[str, NDArray]


def top_view(stage: "Stage", table: Table, codes: NDArray[np.uint8]) -> Layers:
    """Resample a picture onto the bed and say what each cell shows.

    `rgb` (H, W, 3); `owner`: piece of most of a strung cell, 0 elsewhere; `kind`; `inside`: share of a cell
    that shows a strung part; `depth`: how far inside its piece, both 0 to 255.
    """
    rgb = _resampled(
        codes, _cells(table.half, 1), stage.to_pixels(), per_mm=CELLS_PER_MM, codes_per_mm=_sharp(stage)
    )
    at = _cells(table.half, _FINE_TOP)
    part = stage.met(np.c_[at.reshape(-1, 2), np.zeros(at.size // 2)]).reshape(at.shape[:2])
    kinds = np.array([*(p.kind for p in table.parts), Kind.BED], np.uint8)[part]
    owners = np.array([*(p.owner for p in table.parts), 0], np.uint8)[part]
    inside = cv2.resize(
        np.isin(kinds, STRUNG).astype(np.float32), rgb.shape[1::-1], interpolation=cv2.INTER_AREA
    )
    middle = slice(0, None, _FINE_TOP), slice(0, None, _FINE_TOP)
    owner = np.where((inside >= 0.5) & np.isin(kinds[middle], STRUNG), owners[middle], 0).astype(np.uint8)
    share = np.rint(inside * 255).astype(np.uint8)
    return {"rgb": rgb, "owner": owner, "kind": kinds[middle], "inside": share, "depth": depths(owner)}


def depths(owner: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return how far each cell lies from its piece's outline, over the deepest of that piece, 0 to 255."""
    out = np.zeros(owner.shape, np.float32)
    for number in np.unique(owner[owner > 0]):
        rows, columns = np.nonzero(owner == number)
        box = slice(rows.min(), rows.max() + 1), slice(columns.min(), columns.max() + 1)
        mine = np.pad(owner[box] == number, 1).astype(np.uint8)
        deep = cv2.distanceTransform(mine, cv2.DIST_L2, 5)[1:-1, 1:-1]
        out[box] = np.maximum(out[box], deep / deep.max())
    return np.rint(255 * out).astype(np.uint8)


def veiled(layers: Layers) -> Layers | None:
    """Return a view with every piece that nobody could make out marked as hidden; None where most are.

    A piece shows if it differs from the bed beside it, in any channel, by more than that varies: the median
    deviation there or of the whole bed, whichever is less. A shadow varies the one, uneven light the other,
    and neither hides a piece.
    """
    lab = cv2.cvtColor(layers["rgb"], cv2.COLOR_RGB2LAB).astype(np.float32)
    kind, owner = layers["kind"].copy(), layers["owner"]
    numbers = np.unique(owner[owner > 0])
    bed = np.isin(layers["kind"], (Kind.BED, UNKNOWN))
    whole = _variation(lab[bed])
    hidden = [number for number in numbers if _is_faint(owner == number, bed, lab, whole)]
    kind[np.isin(owner, hidden)] = HIDDEN
    return None if len(hidden) > _MOST_HIDDEN * len(numbers) else {**layers, "kind": kind}


def _is_faint(
    piece: NDArray[np.bool_], bed: NDArray[np.bool_], lab: NDArray[np.float32], whole: NDArray[np.float32]
) -> bool:
    rows, columns = np.nonzero(piece)
    box = (
        slice(max(rows.min() - _ABOUT, 0), rows.max() + _ABOUT),
        slice(max(columns.min() - _ABOUT, 0), columns.max() + _ABOUT),
    )
    if not bed[box].any():
        return False
    beside = lab[box][bed[box]]
    apart = np.abs(np.percentile(lab[piece], (15, 50, 85), axis=0) - np.median(beside, axis=0)).max(axis=0)
    return bool((apart < _FAINT + 2 * np.minimum(_variation(beside), whole)).all())


def _variation(lab: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the median deviation of colours (N, 3) from their median, shape (3,)."""
    return np.median(np.abs(lab - np.median(lab, axis=0)), axis=0)


def straightened(stage: "Stage", table: Table, string: Strung, codes: NDArray[np.uint8]) -> Layers | None:
    """Resample a picture along a string; None where less than half of it is in the picture.

    `rgb` (T, S, 3), `inside` (T, S) of the string's own parts; `kinds` (S,): what lies on the string; `slant`
    (2, S): tangent of the line of sight, along and aside; `beads` (B, 2): columns where parts begin and end;
    `bead_kinds`, `across` (B,): in cells as they appear; `stoppers` (K, 2); `width_cells`: the widest parts.
    """
    lens = np.array(stage.view.lens)
    height = float(np.median(string.heights))
    wide = float(np.percentile(string.across, _THICKEST))
    per_mm = min(MOST_CELLS_PER_MM, ACROSS_CELLS / wide)
    course, spans, stoppers = _seen_course(string, lens, height)
    shown = course[:: max(1, int(1 / per_mm / _COURSE_MM))]
    at = stage.to_pixels(height) @ np.c_[shown, np.ones(len(shown))].T
    at = (at[:2] / at[2]).T
    if np.mean(((at > 0) & (at < codes.shape[1::-1])).all(axis=1)) < 0.5:
        return None
    grid, along, normals = _grid(course, per_mm, round(REACH * wide * per_mm), fine=1)
    rgb = _resampled(codes, grid, stage.to_pixels(height), per_mm=per_mm, codes_per_mm=_sharp(stage))
    fine = _grid(course, per_mm, round(REACH * wide * per_mm), fine=_FINE_STRIP)[0]
    part = stage.met(np.c_[fine.reshape(-1, 2), np.full(fine.size // 2, height)]).reshape(fine.shape[:2])
    owners = np.array([*(p.owner for p in table.parts), 0])[part]
    kinds = np.array([*(p.kind for p in table.parts), Kind.BED], np.uint8)[part]
    own = np.isin(kinds, STRUNG) & np.isin(owners, string.owners) & (owners > 0)
    inside = cv2.resize(own.astype(np.float32), rgb.shape[1::-1], interpolation=cv2.INTER_AREA)
    middle = slice(_FINE_STRIP // 2, None, _FINE_STRIP)
    aside = np.abs(np.arange(len(rgb)) - (len(rgb) - 1) / 2) < max(_MIDDLE * wide * per_mm, 1.0)
    nearer = (lens[2] - height) / (lens[2] - string.heights)
    off = (lens[:2] - course[along]) / (lens[2] - height)
    way = np.gradient(course, axis=0)[along] / _COURSE_MM
    slant = np.stack([(off * way).sum(axis=1), (off * normals).sum(axis=1)]).astype(np.float32)
    return {
        "rgb": rgb,
        "inside": np.rint(inside * 255).astype(np.uint8),
        "kinds": _on_string(kinds[middle, middle][aside], own[middle, middle][aside]),
        "slant": slant,
        "beads": (spans * per_mm).astype(np.float32),
        "bead_kinds": string.kinds.astype(np.uint8),
        "across": (string.across * nearer * per_mm).astype(np.float32),
        "stoppers": (stoppers * per_mm).astype(np.float32),
        "width_cells": np.float32(wide * per_mm),
    }


def _on_string(kinds: NDArray[np.uint8], own: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Return what lies on the string at each column, by middle rows (R, S): a part, else what hides it."""
    out = np.zeros(kinds.shape[1], np.uint8)
    for kind in (Kind.STRING, Kind.OTHER, Kind.CHAIN, Kind.FINDING, Kind.STOPPER):
        out[(kinds == kind).any(axis=0)] = kind
    for kind in STRUNG:
        out[((kinds == kind) & own).mean(axis=0) > 0.5] = kind
    return out


def _seen_course(
    string: Strung, lens: NDArray[np.float64], height: float
) -> tuple[NDArray, NDArray, NDArray]:
    """Return a string as seen in a level plane, in even steps, (N, 2), and spans and stoppers on it, mm."""
    course, spans, stoppers = string.course, string.spans, string.stoppers
    travel = np.arange(len(course)) * STEP
    if string.closed:
        lap = travel[-1] + STEP
        course, travel = np.tile(course, (3, 1)), np.concatenate([travel - lap, travel, travel + lap])
    keep = (travel > spans.min() - _EXTEND_MM) & (travel < spans.max() + _EXTEND_MM)
    course, travel = course[keep], travel[keep]
    order = np.argsort(spans.mean(axis=1))
    z = np.interp(travel, spans.mean(axis=1)[order], string.heights[order])
    share = ((lens[2] - height) / (lens[2] - z))[:, None]
    seen = lens[:2] + (course - lens[:2]) * share
    walked = np.r_[0, np.cumsum(np.hypot(*np.diff(seen, axis=0).T))]
    even = np.arange(0, walked[-1], _COURSE_MM)
    points = np.stack([np.interp(even, walked, column) for column in seen.T], axis=1)
    return points, np.interp(spans, travel, walked), np.interp(stoppers, travel, walked)


def _grid(course: NDArray, per_mm: float, reach: int, *, fine: int) -> tuple[NDArray, NDArray, NDArray]:
    """Return world places (rows, columns, 2) about a course, and its points and normals at the columns."""
    columns = int((len(course) - 1) * _COURSE_MM * per_mm)
    along = (np.arange(columns * fine) - (fine - 1) / 2) / per_mm / fine / _COURSE_MM
    aside = (np.arange((2 * reach + 1) * fine) - ((2 * reach + 1) * fine - 1) / 2) / per_mm / fine
    way = np.gradient(course, axis=0) / _COURSE_MM
    nearest = np.clip(np.rint(along).astype(int), 0, len(course) - 1)
    normals = np.stack([-way[nearest, 1], way[nearest, 0]], axis=1)
    middle = np.stack([np.interp(along, np.arange(len(course)), column) for column in course.T], axis=1)
    return middle[None] + aside[:, None, None] * normals[None], nearest, normals


def _cells(half: tuple[float, float], fine: int) -> NDArray[np.float64]:
    """Return the world places of all cells of the top view, or `fine` x `fine` points of each, (H, W, 2)."""
    step = 1 / CELLS_PER_MM / fine
    x = np.arange(-half[0] + step / 2, half[0], step)
    y = np.arange(half[1] - step / 2, -half[1], -step)
    return np.stack(np.meshgrid(x, y), axis=-1)


def _sharp(stage: "Stage") -> float:
    """Return how many pixels of the picture a millimetre of the bed is, about its middle."""
    to = stage.to_pixels()
    a, b = (to @ (x, 0, 1) for x in (-5.0, 5.0))
    return float(np.hypot(*(a[:2] / a[2] - b[:2] / b[2]))) / 10


def _resampled(
    codes: NDArray[np.uint8],
    places: NDArray[np.float64],
    to_pixels: NDArray,
    *,
    per_mm: float,
    codes_per_mm: float,
) -> NDArray[np.uint8]:
    """Resample a picture at world places (H, W, 2); averaged first where cells are larger than pixels."""
    shrink = codes_per_mm / per_mm
    source = cv2.GaussianBlur(codes, (0, 0), 0.45 * shrink) if shrink > 1.2 else codes
    at = places @ to_pixels[:, :2].T + to_pixels[:, 2]
    at = (at[..., :2] / at[..., 2:]).astype(np.float32)
    return cv2.remap(source, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
