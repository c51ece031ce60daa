"""Draws photos of loose beads, measures them, and writes what the network of close-ups is taught by.

python -m tests.rendering.lots OUT_DIR --assets DIR --sheets DIR --count 4000 [--first 0 --every 1]

DIR of the sheets is that of `tests.rendering.photos`. The camera is known: what is taught is what outlines
miss, not what a camera that was not quite found adds.
"""

import argparse
import math
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.__main__ import write
from tests.rendering.arrangement import Table, arranged, loose_beads, odd_piece, try_to_lay
from tests.rendering.clutter import SMALL
from tests.rendering.development import developed
from tests.rendering.photos import Place, any_place, camera, ground_of, plan_sizes
from tests.rendering.running import draw_many, options
from tests.rendering.stage import Stage, View
from tests.rendering.things import any_bead_kind
from tests.synthetic.camera import Camera
from tests.training.bead_samples import COUNT, KINDS, TOGETHER, Laid, compared, measured
from vision.camera.scene import Scene
from vision.common.records import Photo
from vision.topview.kinds import Kind

_WIDTHS = (1512, 2016, 2016, 2800)
_CLUTTERED, _AMONG_THINGS = 0.3, 0.5
_Y_DOWN = (1.0, -1.0)
"""A drawn table has its y up, a sheet has it down."""


def table_of(place: Place, rng: np.random.Generator) -> tuple[Table, list[int]]:
    """Draw beads of a few kinds on a bed, and the kind of each; or beads as they lie about, among things."""
    half = tuple(float(v) for v in place.half)
    if rng.random() < _AMONG_THINGS:
        table = arranged(rng, half, "loose")
        return table, [0] * sum(part.kind == Kind.BEAD for part in table.parts)
    table = Table(half=half)
    if rng.random() < _CLUTTERED:
        try_to_lay(table, rng, odd_piece(SMALL))
    kinds: list[int] = []
    for kind in range(KINDS):
        before = len(table.parts)
        loose_beads(table, rng, int(rng.integers(*COUNT)) // KINDS, [any_bead_kind(rng)])
        kinds += [kind] * (len(table.parts) - before)
    return table, kinds


def seen_by(view: View, place: Place, bed_mm: float) -> Camera:
    """Return a view of the table as a camera over its sheet, on which the bed lies so high."""
    shift = np.array([*(place.middle * _Y_DOWN), bed_mm])
    return Camera(
        size_px=view.pixels,
        focal_px=view.pixels[0] / 2 / math.tan(math.radians(view.half_view)),
        origin=tuple(view.lens + shift),
        target=tuple(view.target + shift),
    )


def laid_on(table: Table, kinds: list[int], place: Place, view: View) -> Laid:
    """Return the truth of the beads of a table, on its sheet."""
    clouds = [part.mesh.points for part in table.parts if part.kind == Kind.BEAD]
    rows = [
        [*(place.middle + (cloud.min(axis=0) + cloud.max(axis=0))[:2] / 2 * _Y_DOWN), *plan_sizes(cloud)]
        for cloud in clouds
    ]

    def outline_of(number: int) -> NDArray[np.float64]:
        cloud, lens = clouds[number], np.array(view.lens)
        plan = lens[:2] + (cloud[:, :2] - lens[:2]) * lens[2] / (lens[2] - cloud[:, 2:])
        return place.middle + cv2.convexHull(plan.astype(np.float32))[:, 0] * _Y_DOWN

    return Laid(truth=np.array(rows).reshape(-1, 4), kinds=kinds, of=outline_of)


def draw(seed: int, given: argparse.Namespace) -> None:
    """Draw one table, measure its beads, and write what they are taught by."""
    rng = np.random.default_rng([seed, 53])
    place = any_place("loose", rng)
    table, kinds = table_of(place, rng)
    width = int(rng.choice(_WIDTHS))
    view, _ = camera(place, rng, (width, width * 3 // 4))
    ground = ground_of(place, given.assets, given.sheets, rng)
    half = tuple(float(v) for v in place.reach + np.abs(place.aim))
    stage = Stage(table.parts, ground, view, assets=given.assets, half=half, rng=rng)
    scene = Scene(
        photo=Photo(name="traced", rgb=developed(stage.picture(given.samples, seed), rng)),
        camera=measured(seen_by(view, place, ground.thick)),
        sheet=place.sheet,
        bed_height_mm=ground.thick,
    )
    sample = compared(scene, laid_on(table, kinds, place, view), together=rng.random() < TOGETHER)
    if sample is not None:
        write(
            given.out / f"{seed:07d}.npz",
            {name: getattr(sample, name) for name in sample.__dataclass_fields__} | {"traced": np.array([1])},
        )


def main() -> None:
    """Command line."""
    parser = options(__doc__)
    parser.add_argument("--sheets", type=Path, required=True)
    draw_many(draw, parser.parse_args())


if __name__ == "__main__":
    main()
