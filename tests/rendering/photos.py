"""Draws whole photos of tables on a printed sheet, and their truth: to measure the program by, not to teach.

python -m tests.rendering.photos OUT_DIR --assets DIR --sheets DIR --count 60 [--first 0 --every 1]

DIR of the sheets holds each page as `NAME.png`, as `python -m sizing sheet` writes it.
"""

import argparse
import json
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.rendering.arrangement import Strung, Table, arranged
from tests.rendering.courses import STEP, strung_length
from tests.rendering.development import developed
from tests.rendering.grounds import BEDS, MARGIN_MM, PER_MM, Ground, surface
from tests.rendering.running import draw_many, options
from tests.rendering.stage import Stage, View, any_view
from tests.rendering.views import HIDDEN, top_view, veiled
from vision.sheet.geometry import SHEETS, Sheet
from vision.topview.kinds import STRUNG, Kind

PIXELS = (2800, 2100)
_DOTS_PER_MM, _THREADS_PER_MM = 10.0, 8.0  # of the printed sheet, and of a cloth
_FULL_FRAME_MM = 43.27  # diagonal of 36 x 24 mm
_FOCAL_35 = 0xA405  # FocalLengthIn35mmFilm (Exif 3.0)
_SORTS = {"rod": "strand", "wire": "strand", "loose": "loose", "loop": "loop", "multi": "several"}
_SHARES = (0.26, 0.26, 0.26, 0.12, 0.1)
_BESIDE_CARD = (190.0, 130.0)  # clear table, mm
_EDGE_MM = 4.0
_TRIES = 60
_LEAST, _UNEVEN, _BENT_MM = 4, 0.05, 2.0  # beads; share of the length; off the chord
_AIMED, _HIDDEN = 64, 0.5  # rays to a part, and the most of them that may meet another thing first


@dataclass(frozen=True, kw_only=True)
class Place:
    """The sheet about the bed, mm: the bed's middle on the sheet, half of it, what the camera takes in."""

    sheet: Sheet
    middle: NDArray[np.float64]
    half: NDArray[np.float64]
    reach: NDArray[np.float64]
    aim: tuple[float, float]


def any_place(mode: str, rng: np.random.Generator) -> Place:
    """Draw a sheet, and where the bed lies: on a mat, or on the table below a card."""
    name = str(rng.choice([n for n in SHEETS if mode != "rod" or n != "card"]))
    sheet = SHEETS[name]
    if sheet.bed_mm is not None:
        bed = np.array(sheet.bed_mm)
        middle, size = (bed[:2] + bed[2:]) / 2, bed[2:] - bed[:2]
        return Place(
            sheet=sheet,
            middle=middle,
            half=np.floor(size / 2 - _EDGE_MM),
            reach=np.array(sheet.page_mm) / 2 + 5,
            aim=(0.0, 0.0),
        )
    return Place(
        sheet=sheet,
        middle=np.array([rng.uniform(20, 80), 155.0]),
        half=np.floor(np.array(_BESIDE_CARD) / 2 - _EDGE_MM),
        reach=np.array([108.0, 138.0]),
        aim=(0.0, 30.0),
    )


def any_table(mode: str, place: Place, rng: np.random.Generator) -> Table:
    """Draw a table that shows what the mode says, all of it on the bed.

    Raises
    ------
    ValueError
        If none of many does.
    """
    for _ in range(_TRIES):
        table = arranged(rng, tuple(float(v) for v in place.half), _SORTS[mode])
        if _suits(table, mode, place.half):
            return table
    raise ValueError("nothing suitable was drawn")


def _suits(table: Table, mode: str, half: NDArray[np.float64]) -> bool:
    number = {"loose": 0, "rod": 1, "wire": 1, "loop": 1, "multi": max(len(table.strings), 2)}[mode]
    if len(table.strings) != number:
        return False
    if mode == "loose":
        return sum(part.kind == Kind.BEAD for part in table.parts) >= _LEAST
    return all(_lies_well(string, mode, half) for string in table.strings)


def _lies_well(string: Strung, mode: str, half: NDArray[np.float64]) -> bool:
    course = string.course
    chord, off = course[-1] - course[0], course - course[0]
    away = np.abs(chord[0] * off[:, 1] - chord[1] * off[:, 0]).max() / max(float(np.hypot(*chord)), 1e-9)
    plain = string.closed or bool((string.kinds == Kind.BEAD).all())
    bent = mode not in ("rod", "wire") or (away > _BENT_MM) == (mode == "wire")
    return bool((np.abs(course) < half + 2).all()) and len(string.spans) >= _LEAST and plain and bent


def camera(place: Place, rng: np.random.Generator, pixels: tuple[int, int] = PIXELS) -> tuple[View, int]:
    """Draw a phone's view of the sheet, and its focal length as the phone writes it: whole mm, 35 mm film."""
    wide = max(place.reach[0], place.reach[1] * pixels[0] / pixels[1])
    view = any_view((float(wide), 0.0), rng)
    frame = pixels[0] / 2 * _FULL_FRAME_MM / math.hypot(*pixels)
    f35 = math.floor(frame / math.tan(math.radians(view.half_view)))
    x, y = place.aim
    return replace(
        view,
        lens=(view.lens[0] + x, view.lens[1] + y, view.lens[2]),
        target=(x, y, 0.0),
        half_view=math.degrees(math.atan(frame / f35)),
        pixels=pixels,
    ), f35


def ground_of(place: Place, assets: Path, sheets: Path, rng: np.random.Generator) -> Ground:
    """Draw the table with the sheet on it, and perhaps a cloth on the bed."""
    whole = place.reach + np.abs(place.aim) + MARGIN_MM
    below = surface(assets, tuple(int(v) for v in 2 * whole * PER_MM), rng)
    times = _DOTS_PER_MM / PER_MM
    below = cv2.resize(below, None, fx=times, fy=times, interpolation=cv2.INTER_LINEAR)
    _lay_sheet(below, place, whole, sheets, paper=float(rng.uniform(0.65, 0.9)))
    covered = rng.random() < (0.6 if place.sheet.bed_mm else 0.75)
    x, y = place.half + _EDGE_MM
    inset = rng.uniform(1, 3, 4)
    cloth = (-x + inset[0], -y + inset[1], x - inset[2], y - inset[3])
    threads = tuple(int(v) for v in 2 * whole * _THREADS_PER_MM)
    return Ground(
        below=below,
        bed=surface(assets, threads, rng, kinds=BEDS, plain=0.3, per_mm=_THREADS_PER_MM),
        cloth=tuple(float(v) for v in cloth) if covered else None,
        thick=round(float(rng.uniform(0.4, 2.0)), 2) if covered else 0.0,
    )


def _lay_sheet(
    table: NDArray[np.float32], place: Place, whole: NDArray[np.float64], sheets: Path, *, paper: float
) -> None:
    """Lay the printed page on a picture of the table, whose rows run as the sheet's y does."""
    page = cv2.imread(str(sheets / f"{place.sheet.name}.png"), cv2.IMREAD_GRAYSCALE).astype(np.float32) / 255
    scale = np.array(place.sheet.page_mm) * _DOTS_PER_MM / page.shape[::-1]
    corner = (whole - place.middle) * _DOTS_PER_MM + 0.5 * (scale - 1)
    to = np.array([[scale[0], 0, corner[0]], [0, scale[1], corner[1]]])
    size = table.shape[1::-1]
    soft = cv2.GaussianBlur(page, (0, 0), 0.45 / scale[0])  # dots are larger on the table's picture
    light = cv2.warpAffine(soft, to, size, flags=cv2.INTER_LINEAR)
    on = cv2.warpAffine(np.ones_like(soft), to, size, flags=cv2.INTER_NEAREST) > 0
    ink = 0.04
    table[on] = (ink + (paper - ink) * np.clip(light[on], 0, 1) ** 2.2)[:, None]


def _pixels(stage: Stage, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where points (N, 3) are seen, shape (N, 2)."""
    seen = np.array([stage.to_pixels(float(z)) @ (x, y, 1) for x, y, z in points])
    return seen[:, :2] / seen[:, 2:]


def _of_string(stage: Stage, string: Strung) -> dict[str, Any]:
    """Return the truth of a strand: its parts in order, its length, closed up too."""
    travel = np.arange(len(string.course)) * STEP
    at = np.stack([np.interp(string.spans.mean(axis=1), travel, c) for c in string.course.T], axis=1)
    along = np.ptp(string.spans, axis=1)
    rows = zip(string.across, along, string.kinds, _pixels(stage, np.c_[at, string.heights]), strict=True)
    return {
        "strand_mm": strung_length(string.course, string.spans),
        "closed_up_mm": float(along.sum()),
        "beads": [
            {
                "across_mm": float(wide),
                "along_mm": float(long),
                "design_mm": float(min(wide, long)),
                "kind": Kind(kind).name.lower(),
                "px": px.tolist(),
            }
            for wide, long, kind, px in rows
        ],
    }


def _of_loose(stage: Stage, table: Table) -> list[dict[str, Any]]:
    """Return the truth of loose beads: largest and smallest width as seen from above."""
    rows = []
    for points in (part.mesh.points for part in table.parts if part.kind == Kind.BEAD):
        largest, smallest = plan_sizes(points)
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        rows.append(
            {
                "max_feret_mm": largest,
                "min_feret_mm": smallest,
                "design_mm": smallest,
                "kind": "bead",
                "px": _pixels(stage, middle[None])[0].tolist(),
            }
        )
    return rows


def plan_sizes(points: NDArray[np.float64]) -> tuple[float, float]:
    """Return the largest and the smallest width of points (N, 3) as seen from straight above."""
    turns = np.linspace(0, np.pi, 361)[:-1]
    ways = np.stack([np.cos(turns), np.sin(turns)])
    widths = np.ptp(cv2.convexHull(points[:, :2].astype(np.float32))[:, 0] @ ways, axis=0)
    return float(widths.max()), float(widths.min())


def truth_of(stage: Stage, table: Table, mode: str) -> dict[str, Any]:
    """Return what of a photo's truth concerns beads and strands."""
    if mode == "loose":
        return {"beads": _of_loose(stage, table)}
    strands = [_of_string(stage, string) for string in table.strings]
    if mode == "multi":
        beads = [{**bead, "strand": k} for k, one in enumerate(strands) for bead in one["beads"]]
        return {"strands": strands, "beads": beads}
    out = {**strands[0], "strands": []}
    along = np.array([bead["along_mm"] for bead in out["beads"]])
    out["shape"] = "baroque" if np.std(along) > _UNEVEN * np.mean(along) else "round"
    if mode == "loop":
        string = table.strings[0]
        around = len(string.course) * STEP - float(np.ptp(string.spans)) + out["strand_mm"]
        girth = around - math.pi * float(np.average(string.across, weights=along))
        out["loop"] = {"axis_mm": around, "inner_girth_mm": girth}
    return out


def all_show(stage: Stage, table: Table) -> bool:
    """Whether nothing hides half of a strung part or bead: nobody can count what lies under a tool."""
    counted = np.array([k for k, part in enumerate(table.parts) if part.kind in STRUNG])
    rng = np.random.default_rng(len(counted))
    aims = [rng.choice(table.parts[k].mesh.points, _AIMED) for k in counted]
    met = stage.met(np.concatenate(aims)).reshape(-1, _AIMED)
    # its own string shows in the hole, and hides nothing
    hides = np.array([*(part.kind != Kind.STRING for part in table.parts), False])[met]
    return bool(((hides & (met != counted[:, None])).mean(axis=1) <= _HIDDEN).all())


def draw(seed: int, given: argparse.Namespace) -> None:
    """Draw one photo and write it with its truth, unless a bead is hidden or cannot be made out."""
    rng = np.random.default_rng([seed, 47])
    mode = str(rng.choice(list(_SORTS), p=_SHARES))
    place = any_place(mode, rng)
    table = any_table(mode, place, rng)
    view, f35 = camera(place, rng)
    ground = ground_of(place, given.assets, given.sheets, rng)
    half = tuple(float(v) for v in place.reach + np.abs(place.aim))
    stage = Stage(table.parts, ground, view, assets=given.assets, half=half, rng=rng)
    if not all_show(stage, table):
        return
    passes = [stage.picture(16, 1000 * seed + k) for k in range(given.samples // 16)]
    codes = developed(np.mean(passes, axis=0).astype(np.float32), rng)
    seen = veiled(top_view(stage, table, codes))
    if seen is None or (seen["kind"] == HIDDEN).any():
        return
    truth = {
        "name": f"traced-{mode}-{seed:04d}",
        "tier": "field",
        "mode": mode,
        "sheet": place.sheet.name,
        "fault": "none",
        "bed": "cloth" if ground.cloth else "sheet",
        "bed_height_mm": ground.thick,
        "print_scale": 1.0,
        "focal_px": f35 / _FULL_FRAME_MM * math.hypot(*PIXELS),
        "height_mm": view.lens[2],
        "look": "-",
        "shape": "-",
        **truth_of(stage, table, mode),
    }
    exif = Image.Exif()
    exif.get_ifd(0x8769)[_FOCAL_35] = f35
    given.out.mkdir(parents=True, exist_ok=True)
    Image.fromarray(codes).save(given.out / f"{truth['name']}.jpg", quality=92, exif=exif)
    (given.out / f"{truth['name']}.json").write_text(json.dumps(truth))


def main() -> None:
    """Command line."""
    parser = options(__doc__)
    parser.add_argument("--sheets", type=Path, required=True)
    parser.set_defaults(samples=128)
    draw_many(draw, parser.parse_args())


if __name__ == "__main__":
    main()
