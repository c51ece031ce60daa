"""Draws phone photographs of a printed scale sheet with beads of exactly known geometry.

A small ray caster. The tests take its photos as truth; its command line makes sets for validation::

    python -m tests.synthetic.photos OUT_DIR --count 40 --seed 7 [--tier hard] [--mode rod] ...

It writes NAME.jpg and NAME.json (camera, beads, lengths; all mm, sheet coordinates, y down).
"""

import argparse
import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image as PilImage

from tests.synthetic.camera import Array, Camera
from tests.synthetic.ground import BEDS, Ground, ground_for
from tests.synthetic.layout import Bead, Layout
from tests.synthetic.light import Room
from tests.synthetic.looks import LOOKS, Body
from tests.synthetic.looped import finished, on_loop, round_course
from tests.synthetic.loose import loose
from tests.synthetic.render import cast_shadow, expose, render
from tests.synthetic.scene import FAULTS, MODES, Scene, make_beads, plan, scenes
from tests.synthetic.shapes import SHAPES, tube
from tests.synthetic.strung import curve, on_rod, on_wire
from vision.sheet.geometry import SHEETS

__all__ = ["Drawn", "Scene", "aim", "area_of", "covers_of", "draw", "fitting", "plan", "save", "scenes"]


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A drawn photo: sRGB pixels, its truth, and the camera that took it."""

    rgb: NDArray[np.uint8]
    truth: dict
    camera: Camera
    bodies: tuple[Body, ...]


def draw(scene: Scene) -> Drawn:
    """Draw a scene."""
    rng = np.random.default_rng([scene.seed, 2])
    room = Room.random(rng)
    ground = ground_for(scene.sheet, scene.bed, scene.print_scale, room=room, rng=rng)
    ground.page_shown = not scene.nosheet
    layout = _lay_out(scene, ground, rng)
    camera = aim(scene, rng)
    covers = covers_of(scene, rng)
    bodies = (*layout.bodies, *(body for _, body in covers))
    if bodies:
        ground.shadow = cast_shadow(bodies, ground, rng)
    rgb = expose(render(camera, ground, bodies), scene.sensor, rng)
    truth = _truth(scene, layout, camera, [tag for tag, _ in covers])
    truth["bed_height_mm"] = ground.bed_z
    return Drawn(rgb=rgb, truth=truth, camera=camera, bodies=bodies)


def area_of(scene: Scene) -> tuple[float, float, float, float]:
    """Return the area in which beads may lie: left, top, right, bottom, sheet mm."""
    bed = SHEETS[scene.sheet].bed_mm
    if bed is None:
        return (-42.0, -84.0, 142.0, -13.0)
    left, top, right, bottom = (v * scene.print_scale for v in bed)
    return (left + 3, top + 3, right - 3, bottom - 3)


def fitting(beads: list[Bead], gaps: Array, room_mm: float) -> int:
    """Return how many of the beads fit in a length."""
    ends = np.cumsum([bead.solid.length for bead in beads]) + np.r_[0.0, np.cumsum(gaps)]
    return max(int(np.searchsorted(ends, room_mm)), 1)


def _lay_out(scene: Scene, ground: Ground, rng: np.random.Generator) -> Layout:
    if not scene.count:
        return Layout()
    area, beads = area_of(scene), make_beads(scene, rng)
    slack = rng.exponential(0.35 * scene.nominal_mm, len(beads) - 1) * (rng.random(len(beads) - 1) < 0.35)
    gaps = slack if scene.fault == "slack" else np.zeros(len(beads) - 1)
    if scene.mode == "loose":
        return loose(beads, area=area, bed_z=ground.bed_z, clump=rng.uniform(0, 0.7), rng=rng)
    if scene.mode == "loop":
        piece, middle = finished(beads, rng), np.array([(area[0] + area[2]) / 2, (area[1] + area[3]) / 2])
        course = round_course(piece.length, middle + rng.uniform(-8, 8, 2), rng)
        return on_loop(piece, course=course, bed_z=ground.bed_z, rng=rng)
    if scene.mode == "rod":
        number = fitting(beads, gaps, 0.82 * (area[2] - area[0]))
        middle = np.array([(area[0] + area[2]) / 2, (area[1] + area[3]) / 2]) + rng.uniform(-6, 6, 2) * (1, 2)
        angle = float(np.radians(rng.uniform(-8, 8)))
        kept = beads[:number], gaps[: number - 1]
        return on_rod(*kept, middle=middle, angle=angle, bed_z=ground.bed_z, rng=rng)
    inset = scene.nominal_mm + 3
    course = curve((area[0] + inset, area[1] + inset, area[2] - inset, area[3] - inset), rng)
    return on_wire(beads, gaps, course=course, bed_z=ground.bed_z, rng=rng)


def aim(scene: Scene, rng: np.random.Generator) -> Camera:
    """Hold the phone so that sheet and beads are in view."""
    focal_px = Camera.focal_from_35mm(scene.focal_35mm, scene.size_px)
    sheet = SHEETS[scene.sheet]
    left, top, right, bottom = (0.0, 0.0, *sheet.page_mm) if sheet.bed_mm else (-47.0, -90.0, 147.0, 72.0)
    middle = np.array([(left + right) / 2, (top + bottom) / 2]) + rng.uniform(-4, 4, 2)
    height = 1.13 * focal_px * max((right - left) / scene.size_px[0], (bottom - top) / scene.size_px[1])
    height *= 1 + 0.009 * scene.tilt_deg
    tilt, heading = np.radians(scene.tilt_deg), rng.uniform(0, 2 * np.pi)
    below = middle + height * np.tan(tilt) * np.array([np.cos(heading), np.sin(heading)])
    roll = np.radians(rng.uniform(-5, 5))
    return Camera(
        size_px=scene.size_px,
        focal_px=focal_px,
        origin=(float(below[0]), float(-below[1]), float(height)),
        target=(float(middle[0]), float(-middle[1]), 0.0),
        up=(float(np.sin(roll)), float(np.cos(roll)), 0.0),
        k1=scene.k1,
    )


def covers_of(scene: Scene, rng: np.random.Generator) -> list[tuple[int, Body]]:
    """Return red counters that hide some of the tags, each with the number of its tag."""
    if scene.fault != "hidden-tags":
        return []
    sheet = SHEETS[scene.sheet]
    hidden = rng.permutation(len(sheet.ids))[: 8 if sheet.bed_mm else 2]
    upright = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    covers = []
    for k in hidden:
        x, y = sheet.centres_mm[k] * scene.print_scale + rng.uniform(-2, 2, 2)
        solid = replace(tube(0.62 * sheet.tag_mm, 3.0), half_axis=2.4, power=2.6)
        body = Body(
            solid=solid, turn=upright, centre=np.array([x, -y, 1.5]), look="gloss", colour=(0.6, 0.08, 0.07)
        )
        covers.append((int(sheet.ids[k]), body))
    return covers


def _truth(scene: Scene, layout: Layout, camera: Camera, covers: list[int]) -> dict:
    """Return the record beside the photo."""
    if layout.truth:
        centres = np.array([[*np.multiply(row["xy"], (1, -1)), row["z"]] for row in layout.truth])
        for row, px in zip(layout.truth, camera.project(centres), strict=True):
            row["px"] = [float(v) for v in px]
    known = {
        k: getattr(scene, k) for k in ("seed", "mode", "sheet", "shape", "look", "bed", "fault", "nominal_mm")
    }
    known |= {k: getattr(scene, k) for k in ("nosheet", "exif", "k1", "print_scale", "tilt_deg")}
    known |= asdict(scene.sensor)
    known |= {"res": list(scene.size_px), "f35_mm": scene.focal_35mm, "focal_px": camera.focal_px}
    known |= {k: list(getattr(camera, k)) for k in ("origin", "target", "up")}
    heights = [row["z"] for row in layout.truth]
    known |= {"aperture_mm": 0.0, "focus_z": float(np.median(heights)) if heights else 0.0}
    known["colour"] = list(layout.bodies[0].colour) if layout.bodies else [0.0, 0.0, 0.0]
    known |= {"height_mm": camera.distance_mm, "covers": covers, "beads": layout.truth}
    if scene.mode != "loose":
        known |= {"strand_mm": layout.strand_mm, "closed_up_mm": layout.closed_up_mm}
    if layout.loop:
        known["loop"] = layout.loop
    return known


def save(drawn: Drawn, folder: Path, *, name: str, tier: str = "core") -> Path:
    """Write NAME.jpg (with its focal length in EXIF, or without) and NAME.json; return the photo's path."""
    exif = PilImage.Exif()
    if drawn.truth["exif"]:
        exif.get_ifd(0x8769)[0xA405] = int(drawn.truth["f35_mm"])
    path = folder / f"{name}.jpg"
    PilImage.fromarray(drawn.rgb).save(path, quality=drawn.truth["jpeg"], exif=exif)
    truth = {**drawn.truth, "name": name, "tier": tier}
    path.with_suffix(".json").write_text(json.dumps(truth, indent=1))
    return path


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--seed", type=int, default=7)
    for name, options in (
        ("mode", (*MODES, "loop")),
        ("shape", SHAPES),
        ("look", LOOKS),
        ("bed", tuple(BEDS)),
        ("sheet", tuple(SHEETS)),
        ("fault", tuple(sorted(set(FAULTS)))),
        ("tier", ("core", "hard")),
    ):
        parser.add_argument(f"--{name}", choices=options)
    parser.add_argument("--size-px", type=int, nargs=2, help="width and height of every photo")
    given = {k: v for k, v in vars(parser.parse_args()).items() if v is not None}
    folder, count, seed = (given.pop(k) for k in ("folder", "count", "seed"))
    if "size_px" in given:
        given["size_px"] = tuple(given["size_px"])
    folder.mkdir(parents=True, exist_ok=True)
    for name, scene in scenes(count, seed, **given):
        print(save(draw(scene), folder, name=name, tier=name.split("-")[0]))


if __name__ == "__main__":
    main()
