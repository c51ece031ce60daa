"""The conditions of a photo, drawn from a seed, and the beads of its lot."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TypeVar

import numpy as np

from tests.synthetic.ground import BEDS
from tests.synthetic.layout import Bead
from tests.synthetic.looks import GOLD, LOOKS, SILVER
from tests.synthetic.render import Sensor
from tests.synthetic.shapes import SHAPES, make, recipe

T = TypeVar("T")
MODES = ("rod", "wire", "loose")
FAULTS = ("none", "none", "none", "none", "mixed", "slack", "hidden-tags")
SIZES_PX = ((2016, 1512), (3000, 2250), (4032, 3024))
PAINTS = (
    (0.72, 0.07, 0.07), (0.05, 0.14, 0.5), (0.02, 0.32, 0.18), (0.7, 0.55, 0.09), (0.42, 0.1, 0.42),
    (0.2, 0.5, 0.55), (0.58, 0.28, 0.05), (0.8, 0.5, 0.55), (0.03, 0.03, 0.04), (0.33, 0.35, 0.38),
    (0.82, 0.78, 0.7), (0.12, 0.2, 0.08),
)  # fmt: skip
PEARLS = ((0.8, 0.74, 0.68), (0.75, 0.75, 0.76), (0.3, 0.31, 0.36), (0.72, 0.55, 0.5), (0.2, 0.22, 0.2))


@dataclass(frozen=True, kw_only=True)
class Scene:
    """Everything that decides a photo. `plan` draws one from a seed; `dataclasses.replace` alters it."""

    seed: int
    mode: str = "rod"
    sheet: str = "mat-a4"
    shape: str = "round"
    look: str = "gloss"
    bed: str = "white"
    fault: str = "none"
    nominal_mm: float = 6.0
    count: int = 30
    size_px: tuple[int, int] = (2016, 1512)
    focal_35mm: float = 26.0
    exif: bool = True
    k1: float = 0.0
    print_scale: float = 1.0
    tilt_deg: float = 4.0
    spread: float = 0.006
    colours: int = 1
    nosheet: bool = False
    sensor: Sensor = field(default_factory=Sensor)


def _pick(rng: np.random.Generator, options: Sequence[T]) -> T:
    return options[rng.integers(len(options))]


def plan(seed: int, **fixed: object) -> Scene:
    """Draw the conditions of a careful maker's photo from a seed; `fixed` fields are kept as given."""
    rng = np.random.default_rng([seed, 1])
    pick = partial(_pick, rng)
    sheet, mode = pick(("mat-a4", "mat-letter", "card")), pick(MODES)
    shape, look, bed = pick(SHAPES), pick(LOOKS), pick(tuple(BEDS))
    focal = pick((24.0, 26.0, 26.0, 28.0, 50.0, 77.0))
    size = pick(SIZES_PX)
    sensor = Sensor(
        blur_px=float(rng.uniform(0.5, 0.7)),
        noise=float(rng.uniform(0.7, 1.8)),
        sharpen=float(pick((0.0, 0.4, 0.8))),
        exposure=float(rng.uniform(0.85, 1.06)),
        jpeg=int(pick((80, 88, 92, 95))),
    )
    drawn = {
        "mode": mode, "sheet": sheet, "shape": shape, "look": look, "bed": bed, "fault": pick(FAULTS),
        "nominal_mm": float(pick((3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0)) + pick((-0.3, 0.0, 0.25, 0.4))),
        "count": int(rng.integers(9, 60)), "size_px": size, "focal_35mm": focal, "exif": rng.random() < 0.8,
        "k1": float(rng.normal(0, 0.01) * (rng.random() < 0.4)),
        "print_scale": float(pick((1.0, 1.0, 1.004, 0.97))),
        "tilt_deg": float(rng.uniform(0, 9)), "spread": float(pick((0.004, 0.008, 0.015))),
        "colours": int(pick((1, 1, 2, 3))), "sensor": sensor,
    }  # fmt: skip
    scene = Scene(seed=seed, **{**drawn, **fixed})
    return replace(scene, fault="none") if scene.mode == "loose" and scene.fault == "slack" else scene


def harden(scene: Scene) -> Scene:
    """Spoil a careful photo: steep view, poor light or a shaken hand."""
    rng = np.random.default_rng([scene.seed, 3])
    fault = _pick(rng, ("dim", "blur", "mixed", "slack", "hidden-tags"))
    sensor = scene.sensor
    if fault == "dim":
        sensor = replace(sensor, noise=4.5, exposure=float(rng.uniform(0.35, 0.6)))
    if fault == "blur":
        sensor = replace(sensor, blur_px=float(rng.uniform(1.3, 2.2)))
    return replace(scene, fault=fault, sensor=sensor, tilt_deg=float(rng.uniform(10, 25)))


def scenes(count: int, seed: int, *, tier: str = "core", **fixed: object) -> Iterator[tuple[str, Scene]]:
    """Names and scenes of a validation set, which goes through modes, shapes, looks, beds and sizes in turn.

    Steps that share no factor with the number of choices keep the same ones from coming together each time.
    """
    beds = tuple(BEDS)
    for k in range(count):
        i, m = divmod(k, 3)
        turn = {
            "mode": MODES[m],
            "shape": SHAPES[(i + 3 * m) % 8],
            "look": LOOKS[(5 * i + 2 * m + i // 8) % 8],
            "bed": beds[(2 * i + m + i // 5) % 5],
            "size_px": SIZES_PX[2] if k % 16 == 15 else SIZES_PX[(i + m) % 2],
        }
        if tier == "core" and turn["look"] in ("clear", "tinted") and turn["bed"] == "black-felt":
            turn["bed"] = "white"  # glass on black is almost invisible; a careful maker avoids it
        scene = plan(seed * 1000 + k, **{**turn, **fixed})
        if tier == "hard":
            scene = harden(scene)
        yield f"{tier}-{scene.mode}-{seed}-{k:03}", scene


def _palette(scene: Scene, rng: np.random.Generator) -> list[tuple[float, float, float]]:
    options = {"pearl": PEARLS, "metal": (SILVER, GOLD, (0.8, 0.5, 0.4)), "clear": ((0.97, 0.97, 0.97),)}
    options["frosted"] = ((0.93, 0.93, 0.93), *PAINTS[:7])
    choice = options.get(scene.look, PAINTS)
    order = rng.permutation(len(choice))[: scene.colours]
    return [choice[i] for i in order]


def make_beads(scene: Scene, rng: np.random.Generator) -> list[Bead]:
    """Beads of one lot, or of several sizes where mixed."""
    proportions = recipe(scene.shape, rng)
    palette = _palette(scene, rng)
    if scene.look == "tinted":
        palette = [tuple(0.25 + 0.75 * np.array(c) / max(c)) for c in palette]
    hole = float(np.clip(rng.uniform(0.13, 0.22) * scene.nominal_mm, 0.5, 2.0))
    beads = []
    for k in range(scene.count):
        size = scene.nominal_mm * float(np.clip(rng.normal(1, scene.spread), 0.96, 1.04))
        if scene.fault == "mixed":
            size *= float(rng.choice([0.7, 0.85, 1.0, 1.2]))
        solid = make(scene.shape, size, hole=min(hole, 0.3 * size), proportions=proportions)
        shade = float(rng.uniform(0.93, 1.05))
        colour = tuple(
            float(v) for v in np.clip(np.array(palette[rng.integers(len(palette))]) * shade, 0, 0.98)
        )
        seed = scene.seed * 1000 + k
        bead = Bead(solid=solid, size=size, look=scene.look, colour=colour, seed=seed, shape=scene.shape)
        beads.append(bead)
    return beads
