"""Other tests take the drawn photographs as truth; these tests check them against outside sources."""

import json
import math
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.synthetic import photos as synthetic
from tests.synthetic import render as rendering
from tests.synthetic.camera import Camera
from tests.synthetic.ground import ground_for
from tests.synthetic.layout import standing
from tests.synthetic.light import Room
from tests.synthetic.looks import Body
from tests.synthetic.render import render
from tests.synthetic.shapes import SHAPES, cube, make, recipe, revolved, tube
from tests.synthetic.solids import ferets, span
from vision.sheet.geometry import SHEETS

SMALL_PX = (1008, 756)
CORNER_STEPS = 3
"""A grid of rays may miss the sharp corners of a bicone by so many of its steps."""


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(20)


# Two rows of truth that came with photographs by an independent path tracer (lens with and without
# distortion): camera, then a bead at sheet (x, y), height z, and the pixel that shows it.
RENDERED_ELSEWHERE = [
    (
        Camera(
            size_px=(2016, 1512),
            focal_px=1397.844494487577,
            origin=(146.97263099714317, -107.9819541183914, 226.82427964536867),
            target=(139.3025345717856, -106.0958912369002, 0.0),
            up=(0.011748708995410915, 0.9999309815366965, 0.0),
        ),
        ((81.15448676784763, 56.426424367257255), 2.636045017399044),
        (645.047914586829, 453.4538323854674),
    ),
    (
        Camera(
            size_px=(4032, 3024),
            focal_px=5824.352060364906,
            origin=(150.02208805018526, -99.52355093999458, 469.1062555428355),
            target=(147.90796376327128, -100.80353307687484, 0.0),
            up=(-0.058355542842643084, 0.9982958632687708, 0.0),
            k1=-0.02361515893454521,
        ),
        ((211.56173170209394, 45.24701986904931), 3.120530848181946),
        (2850.208318658115, 864.7218510473939),
    ),
]


@pytest.mark.parametrize(("camera", "bead", "px"), RENDERED_ELSEWHERE)
def test_projection_agrees_with_an_independent_renderer(camera: Camera, bead: tuple, px: tuple) -> None:
    (x, y), z = bead
    assert camera.project(np.array([[x, -y, z]]))[0] == pytest.approx(px, abs=1e-3)


@pytest.mark.parametrize("k1", [0.0, -0.03, 0.02])
def test_ray_through_a_pixel_leads_back_to_it(k1: float) -> None:
    camera = Camera(
        size_px=(640, 480), focal_px=500.0, origin=(10, 20, 300), target=(5, 7, 0), up=(0.1, 1, 0), k1=k1
    )
    x, y = np.meshgrid([0.0, 100.5, 639.0], [0.0, 333.25, 479.0])
    points = np.array(camera.origin) + 123.0 * camera.rays(x, y).reshape(-1, 3)
    assert camera.project(points) == pytest.approx(np.c_[x.ravel(), y.ravel()], abs=1e-6)


@pytest.mark.parametrize("aside_mm", [0.0, 100.0])
def test_sphere_on_the_sheet_covers_the_ellipse_of_the_closed_form(aside_mm: float) -> None:
    # Dandelin 1822: short axis d sqrt(H / (H - d)), long / short = sqrt(1 + X^2 / (H (H - d)))
    height, d = 300.0, 10.0
    short = d * math.sqrt(height / (height - d))
    long = short * math.sqrt(1 + aside_mm**2 / (height * (height - d)))
    step = 0.02
    x, y = np.meshgrid(np.arange(-7, 9, step), np.arange(-7, 7, step))
    lens = np.array([-aside_mm, 0.0, height - d / 2])  # from the sphere's centre
    rays = np.stack([x, y, np.full_like(x, -d / 2)], axis=-1).reshape(-1, 3) - lens
    near, far = revolved(d, d, hole=0.0).interval(np.broadcast_to(lens, rays.shape), rays)
    area_mm2 = np.count_nonzero(far > near) * step**2
    assert area_mm2 == pytest.approx(math.pi / 4 * short * long, rel=3e-4)


def test_drilled_round_strings_shorter() -> None:
    # sqrt(d^2 - h^2): an 8 mm round with a 1.0 mm hole measures 7.9373 along it
    assert revolved(8.0, 8.0, hole=1.0).length == pytest.approx(7.9373, abs=5e-5)


def test_plan_sizes_of_plain_solids() -> None:
    lying = standing(np.array([1.0, 0.0, 0.0]), 0.3)
    assert ferets(tube(3.0, 4.0), lying) == pytest.approx((5.0, 3.0), abs=1e-4)  # 3-4-5 triangle
    sharp = cube(6.0, hole=1.0, chamfer=0.0)
    flat = standing(np.array([1.0, 0.0, 0.0]), 0.0)
    assert ferets(sharp, flat) == pytest.approx((6.0 * math.sqrt(2), 6.0), abs=1e-9)
    on_edge = standing(np.array([1.0, 0.0, 0.0]), np.pi / 4)
    assert span(sharp, np.array([0.0, 1.0, 0.0]) @ on_edge) == pytest.approx(6.0 * math.sqrt(2), abs=1e-9)


@pytest.mark.parametrize("shape", SHAPES)
def test_rays_meet_a_solid_where_its_caliper_sizes_say(shape: str, rng: np.random.Generator) -> None:
    solid = make(shape, 6.0, hole=1.0, proportions=recipe(shape, rng))
    turn = standing(np.array([0.6, 0.8, 0.0]), 0.7)
    step = 0.02
    x, y = np.meshgrid(np.arange(-7.5, 7.5, step), np.arange(-7.5, 7.5, step))
    above = np.stack([x.ravel(), y.ravel(), np.full(x.size, 50.0)], axis=1) @ turn
    down = np.broadcast_to(np.array([0.0, 0.0, -1.0]) @ turn, above.shape)
    near, far = solid.interval(above, down)
    met = far > near
    seen = np.stack([x.ravel(), y.ravel()], axis=1)[met]
    for direction in ([0.6, 0.8, 0.0], [-0.8, 0.6, 0.0]):
        extent = np.ptp(seen @ direction[:2])
        assert extent == pytest.approx(span(solid, np.array(direction) @ turn), abs=CORNER_STEPS * step)
    # a convex solid lies behind the tangent plane of every point that a ray meets
    met &= np.arange(len(met)) % 31 == 0
    points = above[met] + near[met, None] * down[met]
    normals = solid.normals(points)
    assert np.sum(normals * points, axis=1) == pytest.approx(solid.support(normals), abs=1e-4)


@pytest.mark.parametrize("sheet", list(SHEETS))
def test_tags_are_drawn_where_the_camera_projects_them(sheet: str) -> None:
    scene = synthetic.plan(
        11, sheet=sheet, mode="loose", count=0, size_px=(1400, 1050), fault="none", k1=0.01, print_scale=0.97
    )
    drawn = synthetic.draw(scene)
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    detector = cv2.aruco.ArucoDetector(dictionary, parameters)
    corners, ids, _ = detector.detectMarkers(cv2.cvtColor(drawn.rgb, cv2.COLOR_RGB2GRAY))
    assert sorted(ids.ravel()) == list(SHEETS[sheet].ids)
    off = []
    for tag_id, quad in zip(ids.ravel(), corners, strict=True):
        xy = SHEETS[sheet].corners_mm(int(tag_id)) * 0.97
        expected = drawn.camera.project(np.c_[xy[:, 0], -xy[:, 1], np.zeros(4)])
        off.append((quad[0] - expected).mean(axis=0))
    # OpenCV's refined corners lie a little inside the true ones, evenly: a tag's centre is good to 0.1 px
    assert np.abs(off).max() < 0.15
    assert np.abs(np.mean(off, axis=0)).max() < 0.03


def test_sphere_covers_the_pixels_of_the_closed_form(
    rng: np.random.Generator, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cone of half angle a about a direction t off axis cuts the image plane in an ellipse."""
    camera = Camera(
        size_px=(400, 300), focal_px=900.0, origin=(10.0, -70.0, 150.0), target=(0.0, -60.0, 0.0), k1=0.0
    )
    room = Room.random(rng)
    ground = ground_for("mat-a4", "white", 1.0, room=room, rng=rng)
    ground.page_shown, ground.table = False, "bed"
    ground.table_colour[:] = 0.82
    ball = revolved(9.0, 9.0, hole=0.0)
    body = Body(
        solid=ball, turn=np.eye(3), centre=np.array([20.0, -65.0, 4.5]), look="opaque", colour=(0, 0, 0)
    )
    # even black paint reflects the room near its outline; what is counted here reflects nothing
    monkeypatch.setattr(rendering, "shade", lambda hits, _: np.zeros_like(hits.rays))
    covered = render(camera, ground, [body]).mean(axis=2) < 0.5 * render(camera, ground, []).mean(axis=2)
    to_ball = body.centre - camera.origin
    sin2 = (4.5 / np.linalg.norm(to_ball)) ** 2
    cos2 = (camera.axes[2] @ to_ball / np.linalg.norm(to_ball)) ** 2
    area_px = np.pi * camera.focal_px**2 * sin2 * np.sqrt(1 - sin2) / (cos2 - sin2) ** 1.5
    assert np.count_nonzero(covered) == pytest.approx(area_px, rel=2e-3)


@pytest.mark.parametrize("mode", ["rod", "wire", "loose"])
def test_dark_beads_are_drawn_where_the_truth_says(mode: str) -> None:
    scene = synthetic.plan(
        5, mode=mode, sheet="mat-a4", shape="round", look="opaque", bed="white", count=7, nominal_mm=9.0,
        size_px=SMALL_PX, focal_35mm=26.0, fault="none", k1=0.0, colours=1,
    )  # fmt: skip
    drawn = synthetic.draw(scene)
    assert drawn.rgb.shape == (756, 1008, 3)
    mean_mm = drawn.camera.focal_px / drawn.camera.distance_mm
    white = np.percentile(drawn.rgb.min(axis=2), 90)
    for row in drawn.truth["beads"]:
        x, y = (round(v) for v in row["px"])
        reach = int(0.3 * row["design_mm"] * mean_mm)
        inside = drawn.rgb[y - reach : y + reach + 1, x - reach : x + reach + 1].min(axis=2)
        assert np.median(inside) < white - 40


def test_lengths_add_up_along_the_string() -> None:
    scene = synthetic.plan(3, mode="wire", shape="oval", fault="slack", count=20, size_px=(320, 240))
    truth = synthetic.draw(scene).truth
    along = [row["along_mm"] for row in truth["beads"]]
    centres = np.array([row["xy"] for row in truth["beads"]])
    apart = np.hypot(*np.diff(centres, axis=0).T)
    assert truth["closed_up_mm"] == pytest.approx(sum(along))
    # centres stand half a length, a gap and half a length apart
    assert truth["strand_mm"] == pytest.approx(apart.sum() + (along[0] + along[-1]) / 2, abs=1e-4)
    assert truth["strand_mm"] > truth["closed_up_mm"] + 1.0


def test_loose_beads_do_not_overlap() -> None:
    truth = synthetic.draw(synthetic.plan(8, mode="loose", shape="round", count=40, size_px=(320, 240))).truth
    at, size = (np.array([row[key] for row in truth["beads"]]) for key in ("xy", "max_feret_mm"))
    apart = np.linalg.norm(at[:, None] - at[None], axis=2)
    room = apart - (size[:, None] + size[None]) / 2
    assert room[np.triu_indices(len(at), 1)].min() > -0.05  # outlines are 40-sided when pushed together


@pytest.mark.parametrize("exif", [True, False])
def test_saved_photo_carries_focal_length_and_truth(tmp_path: Path, *, exif: bool) -> None:
    scene = synthetic.plan(4, size_px=(320, 240), focal_35mm=27.0, exif=exif, count=3)
    path = synthetic.save(synthetic.draw(scene), tmp_path, name="core-x")
    with Image.open(path) as photo:
        assert photo.size == (320, 240)
        assert photo.getexif().get_ifd(0x8769).get(0xA405) == (27 if exif else None)
    truth = json.loads((tmp_path / "core-x.json").read_text())
    assert truth["name"] == "core-x"
    assert truth["focal_px"] == pytest.approx(27.0 * 400.0 / 43.2666)


def test_same_seed_draws_the_same_photo() -> None:
    scene = synthetic.plan(6, size_px=(320, 240), count=5)
    assert np.array_equal(synthetic.draw(scene).rgb, synthetic.draw(scene).rgb)
