"""The fitted camera against the true one, OpenCV, and its stated uncertainty; and with misplaced tags."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.helpers.cameras import (
    FOCAL_35MM,
    FOCAL_PX,
    MAT,
    OVER_MAT,
    SIZE_PX,
    camera_at,
    fit,
    over_mat,
    tags_seen,
)
from vision.camera.camera import LOG_FOCAL, Camera, focal_px_of
from vision.camera.resection import resect
from vision.common.errors import NoSheetError
from vision.sheet.geometry import SHEETS, Sheet

CARD = SHEETS["card"]
CORNER_NOISE_PX = 0.05

EXACT_FIT_MM = 0.02
"""Priors pull a little even where corners are exact."""
STRETCH_LOG = 2e-3
"""How well a stretch is known: a thirtieth of a millimetre over a bead of 16 mm."""
SPOILT_MM = 0.15
"""What wrong tags may shift a point of the bed by; a bead is sized over a hundredth of that."""


def on_bed(x: float = 0.0, y: float = 0.0) -> np.ndarray:
    """Points at the middle height of beads all over the A4 mat's bed, (N, 3)."""
    xs, ys = np.meshgrid(np.linspace(40, 257, 5), np.linspace(40, 170, 4))
    return np.column_stack([xs.ravel() + x, ys.ravel() + y, np.full(20, 4.0)])


def shift_mm(found: Camera, true: Camera, points: np.ndarray) -> float:
    """Return the largest error of points projected by the true camera and back by the fitted one."""
    back = found.to_plane(true.project(points), points[:, 2])
    return float(np.linalg.norm(back - points[:, :2], axis=1).max())


@pytest.mark.parametrize("sheet", list(SHEETS.values()), ids=list(SHEETS))
def test_exact_corners_give_the_camera_back(sheet: Sheet) -> None:
    x, y = sheet.centres_mm.mean(axis=0)
    true = camera_at(x, y, 260.0, focal_px=FOCAL_PX, tilt_deg=(5.0, 3.0), k1=0.01)
    found = fit(tags_seen(true, sheet))
    points = np.array([[x - 30, y - 20, 4.0], [x + 30, y, 4.0], [x, y + 25, 4.0]])
    assert shift_mm(found, true, points) < EXACT_FIT_MM


@pytest.mark.parametrize(("tilt_deg", "seen"), [((0.2, -0.3), False), ((6.0, -4.0), True)])
def test_a_zoom_would_be_seen_unless_the_view_is_level(tilt_deg: tuple[float, float], seen: bool) -> None:  # noqa: FBT001
    true = over_mat(tilt_deg=tilt_deg)
    tags = tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(5))
    assert fit(tags).zoom_seen == seen
    zoomed = fit(tags, focal_35mm=FOCAL_35MM / 2)
    assert zoomed.is_whole != seen  # what is seen is not taken for a picture of the lens that EXIF states


def test_pose_agrees_with_opencv() -> None:
    true = over_mat()
    tags = tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(3))
    found = fit(tags)
    world = np.array([MAT.corners_mm(i) for i in tags.ids]).reshape(-1, 2)
    matrix = np.array([[FOCAL_PX, 0, 799.5], [0, FOCAL_PX, 599.5], [0, 0, 1]])
    _, turn, shift = cv2.solvePnP(
        np.column_stack([world, np.zeros(len(world))]), tags.corners_px.reshape(-1, 2), matrix, np.zeros(4)
    )
    # OpenCV is given the exact focal length and axis, which we fit
    assert found.parameters[:3] == pytest.approx(turn.ravel(), abs=0.004)
    assert found.parameters[3:6] == pytest.approx(shift.ravel(), abs=1.0)


def test_every_length_scales_with_the_check_length() -> None:
    true = over_mat()
    found = fit(tags_seen(true, MAT, scale=0.97), scale=0.97)
    assert shift_mm(found, true, on_bed()) < EXACT_FIT_MM


def test_ink_that_spreads_is_found_out() -> None:
    true = over_mat(growth_mm=0.06)
    found = fit(tags_seen(true, MAT))
    assert found.parameters[10] == pytest.approx(0.06, abs=0.005)
    assert shift_mm(found, true, on_bed()) < EXACT_FIT_MM


@pytest.mark.parametrize(("k1", "offset_px"), [(0.03, 0.0), (-0.04, 0.0), (0.0, 8.0)])
def test_lens_distortion_and_axis_are_found(k1: float, offset_px: float) -> None:
    true = over_mat(k1=k1)
    moved = true.parameters.copy()
    moved[8:10] += offset_px
    true = replace(true, parameters=moved)
    found = fit(tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(4)))
    assert found.parameters[7] == pytest.approx(k1, abs=0.003)
    assert shift_mm(found, true, on_bed()) < 0.05


@pytest.mark.parametrize("focal_35mm", [24.0, 28.0, 50.0, 77.0])
def test_focal_length_is_estimated_where_the_photo_does_not_tell(focal_35mm: float) -> None:
    focal = focal_px_of(focal_35mm, SIZE_PX)
    true = camera_at(148.5, 105.0, 260.0 * focal / FOCAL_PX, focal_px=focal, tilt_deg=(12.0, 9.0))
    found = fit(tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(5)), focal_35mm=None)
    # whatever the trade-off of distance and focal length: what lies on the bed is right
    assert shift_mm(found, true, on_bed()) < 0.1
    assert math.exp(found.parameters[LOG_FOCAL]) == pytest.approx(focal, rel=0.03)


def test_from_wherever_a_photo_is_taken_a_focal_length_that_it_does_not_tell_is_found() -> None:
    """One of the focal lengths that a fit starts from may lead astray, or behind the sheet: others do not."""
    rng = np.random.default_rng(3)
    for _ in range(80):
        focal = focal_px_of(float(rng.choice([24, 26, 28, 35, 50, 77])), SIZE_PX)
        far = rng.uniform(230, 380) * focal / FOCAL_PX
        true = camera_at(
            *(rng.uniform(-30, 30, 2) + OVER_MAT[:2]),
            far,
            focal_px=focal,
            tilt_deg=tuple(rng.uniform(-24, 24, 2)),
            turn_deg=rng.uniform(-180, 180),
        )
        found = fit(tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=rng), focal_35mm=None)
        assert shift_mm(found, true, on_bed()) < 0.3


@pytest.mark.parametrize("ids", [(0, 8, 17), (3, 13, 20), (0, 1, 2)])
def test_three_tags_of_the_mat_are_enough(ids: tuple[int, ...]) -> None:
    true = over_mat()
    tags = tags_seen(true, MAT, ids=ids, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(6))
    found = fit(tags)
    x, y = MAT.centres_mm[list(ids)].mean(axis=0)
    bead = np.array([x, y + 10.0, 4.0])
    assert shift_mm(found, true, bead[None]) < 0.3
    assert found.px_per_mm(bead) == pytest.approx(true.px_per_mm(bead), rel=0.005)


@pytest.mark.parametrize("ids", [(80, 85), (80, 82), (82, 83)])
def test_two_tags_of_the_card_are_enough(ids: tuple[int, ...]) -> None:
    true = camera_at(50.0, 0.0, 260.0, focal_px=FOCAL_PX, tilt_deg=(4.0, 2.0))
    tags = tags_seen(true, CARD, ids=ids, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(7))
    found = fit(tags)
    beside = np.array([50.0, -15.0, 4.0])
    assert found.px_per_mm(beside) == pytest.approx(true.px_per_mm(beside), rel=0.01)


@pytest.mark.parametrize("offset_px", [(4.0, 0.0), (0.0, -25.0), (150.0, 90.0)])
@pytest.mark.parametrize("sheet", [MAT, CARD], ids=["mat", "card"])
def test_one_misplaced_tag_does_not_spoil_the_fit(sheet: Sheet, offset_px: tuple[float, float]) -> None:
    x, y = sheet.centres_mm.mean(axis=0)
    true = camera_at(x, y, 260.0, focal_px=FOCAL_PX, tilt_deg=(6.0, -4.0))
    tags = tags_seen(true, sheet, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(8))
    corners = tags.corners_px.copy()
    corners[2] += offset_px
    found = fit(replace(tags, corners_px=corners))
    points = np.array([[x - 25, y - 20, 4.0], [x + 30, y, 4.0], [x, y + 25, 4.0]])
    assert shift_mm(found, true, points) < SPOILT_MM


def test_three_misplaced_tags_of_the_mat_do_not_spoil_the_fit() -> None:
    true = over_mat()
    tags = tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(9))
    corners = tags.corners_px.copy()
    corners[[4, 12, 19]] += np.array([[60.0, 0.0], [0.0, -80.0], [30.0, 30.0]])[:, None]
    assert shift_mm(fit(replace(tags, corners_px=corners)), true, on_bed()) < SPOILT_MM


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 180.0])
@pytest.mark.parametrize("sheet", list(SHEETS.values()), ids=list(SHEETS))
@pytest.mark.parametrize("focal_35mm", [FOCAL_35MM, None])
def test_an_exactly_level_view_is_no_special_case(
    sheet: Sheet, turn_deg: float, focal_35mm: float | None
) -> None:
    x, y = sheet.centres_mm.mean(axis=0)
    true = camera_at(x, y, 300.0, focal_px=FOCAL_PX, turn_deg=turn_deg)
    found = fit(tags_seen(true, sheet), focal_35mm=focal_35mm)
    points = np.array([[x - 25, y - 20, 0.0], [x + 30, y, 0.0], [x, y + 25, 0.0]])
    assert shift_mm(found, true, points) < EXACT_FIT_MM
    # level, so distance and focal length are not told apart, but their ratio is
    assert found.centre_mm[2] / math.exp(found.parameters[LOG_FOCAL]) == pytest.approx(
        300.0 / FOCAL_PX, rel=1e-3
    )


def test_corners_that_fit_no_flat_sheet_are_refused() -> None:
    tags = tags_seen(over_mat(), MAT)
    jumble = np.random.default_rng(10).uniform(0, 1200, tags.corners_px.shape)
    with pytest.raises(NoSheetError, match="do not fit a flat sheet"):
        fit(replace(tags, corners_px=jumble))


@pytest.mark.parametrize("seed", [6, 9, 10, 17, 37])  # four of them reach behind the lens
def test_whatever_the_corners_a_camera_is_known_or_refused(seed: int) -> None:
    """Corners of an oblique view, pulled about: the sheet's origin may come to lie behind the lens."""
    rng = np.random.default_rng(seed)
    tags = tags_seen(over_mat(), MAT, ids=list(MAT.ids)[8:16])
    pulled = np.eye(3) + rng.normal(0, 1, (3, 3)) * (0.3, 0.3, 3e-3)
    corners = np.dstack([tags.corners_px, np.ones(tags.corners_px.shape[:2])]) @ pulled
    spoilt = replace(tags, corners_px=corners[..., :2] / corners[..., 2:])
    try:
        found = fit(spoilt)
    except NoSheetError:
        return
    assert found.parameters[5] > 0
    assert np.isfinite(found.rel_u(np.array([148.5, 105.0, 4.0])))


def seen_scale_error(found: Camera, true: Camera) -> float:
    """By how much a length at the middle of the bed, 4 mm above it, is off, over its stated u95."""
    bead = np.array([148.5, 105.0, 4.0])
    ends = found.to_plane(true.project(bead + np.array([[-1.0, 0, 0], [1.0, 0, 0]])), bead[2])
    return abs(float(np.linalg.norm(ends[1] - ends[0])) / 2 - 1) / (2 * found.rel_u(bead))


@pytest.mark.parametrize("cut_px", [(500.0, 0.0), (300.0, 200.0)])
def test_a_part_of_a_picture_is_told_by_its_shape(cut_px: tuple[float, float]) -> None:
    """Cut off at the left and the top; EXIF keeps its focal length, whose pixels are counted in the whole."""
    true = over_mat()
    tags = tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(15))
    moved = true.parameters.copy()
    moved[8:10] -= cut_px
    width, height = np.subtract(SIZE_PX, cut_px).astype(int)
    corners = tags.corners_px - np.array(cut_px)
    seen = replace(tags, corners_px=corners).only((corners > 0).all(axis=(1, 2)))
    found = resect(seen, check_length_mm=273.0, size_px=(int(width), int(height)), focal_35mm=FOCAL_35MM)
    assert not found.is_whole
    assert seen_scale_error(found, replace(true, parameters=moved)) < 1.0


@pytest.mark.parametrize("times", [0.5, 1.4, 2.0])
def test_tags_judge_a_focal_length_of_exif(times: float) -> None:
    """A view aslant shows how far away its parts are, and so the focal length; 1.4 is a digital zoom's."""
    true = over_mat(tilt_deg=(20.0, -12.0))
    tags = tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(16))
    assert fit(tags).is_whole
    found = fit(tags, focal_35mm=FOCAL_35MM / times)
    assert not found.is_whole
    assert seen_scale_error(found, true) < 1.0


def test_a_level_view_cannot_tell_a_zoom_and_says_so() -> None:
    """Level, the focal length of EXIF stands; what is stated allows for a zoom of 1.2."""
    true = over_mat(tilt_deg=(1.0, -0.5))
    tags = tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(17))
    found = fit(tags, focal_35mm=FOCAL_35MM / 1.2)
    assert found.is_whole
    assert seen_scale_error(found, true) < 1.0


@pytest.mark.parametrize("turn_deg", [0.0, 5.0])
@pytest.mark.parametrize("times", [0.7, 1.4])
def test_a_nearly_level_view_that_half_believes_exif_says_so(times: float, turn_deg: float) -> None:
    """Whichever of two focal lengths is the likelier, the other is part of what is stated."""
    true = over_mat(tilt_deg=(2.0, -1.0), turn_deg=turn_deg)
    tags = tags_seen(true, MAT, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(19))
    assert seen_scale_error(fit(tags, focal_35mm=times * FOCAL_35MM), true) < 2.0


@pytest.mark.parametrize("stretch", [(1.03, 1.0), (1.0, 1.03)])
@pytest.mark.parametrize("tilt_deg", [(0.5, 0.0), (6.0, -4.0), (3.0, -8.0)])
@pytest.mark.parametrize("ids", [None, (0, 3, 7, 10, 13, 17)], ids=["all tags", "six tags"])
def test_a_stretched_picture_is_seen_to_be_one(
    stretch: tuple[float, float], tilt_deg: tuple[float, float], ids: tuple[int, ...] | None
) -> None:
    """The tags tell how much wider than high squares are drawn; sizes are right in either direction."""
    true = over_mat(tilt_deg=tilt_deg)
    tags = tags_seen(true, MAT, ids=ids, noise_px=CORNER_NOISE_PX, rng=np.random.default_rng(18))
    seen = replace(tags, corners_px=tags.corners_px * np.array(stretch))
    size_px = tuple(np.round(np.array(SIZE_PX) * stretch).astype(int).tolist())
    found = resect(seen, check_length_mm=273.0, size_px=size_px, focal_35mm=FOCAL_35MM)
    assert not found.is_whole
    assert found.parameters[11] == pytest.approx(math.log(stretch[0] / stretch[1]), abs=STRETCH_LOG)
    bead = np.array([148.5, 105.0, 4.0])
    for step in np.eye(3)[:2]:
        seen = true.project(bead + np.outer([-1.0, 1.0], step)) * np.array(stretch)
        off = abs(float(np.linalg.norm(np.diff(found.to_plane(seen, bead[2]), axis=0))) / 2 - 1)
        assert off < 2 * found.rel_u(bead)


def drawn_from_priors(sheet: Sheet, rng: np.random.Generator, focal_sd: float = 0.02) -> Camera:
    """Return a camera whose lens and ink are drawn from the priors of the fit."""
    x, y = sheet.centres_mm.mean(axis=0)
    true = camera_at(
        x,
        y,
        260.0,
        focal_px=FOCAL_PX * math.exp(rng.normal(0, focal_sd)),
        tilt_deg=(6.0, -4.0),
        k1=rng.normal(0, 0.03),
        growth_mm=rng.normal(0, 0.05),
    )
    parameters = true.parameters.copy()
    parameters[8:10] += rng.normal(0, 0.004 * math.hypot(*SIZE_PX), 2)
    return replace(true, parameters=parameters)


@pytest.mark.parametrize("sheet", [MAT, CARD], ids=["mat", "card"])
def test_stated_uncertainty_is_the_actual_scatter(sheet: Sheet) -> None:
    """Errors over their stated standard uncertainties scatter by one, for truths drawn from the priors."""
    rng = np.random.default_rng(11)
    ratios = []
    for _ in range(40):
        true = drawn_from_priors(sheet, rng)
        found = fit(tags_seen(true, sheet, noise_px=0.1, rng=rng))
        heights = [v.centre_mm[2] - found.centre_mm[2] for v in found.variants()]
        miss = found.parameters - true.parameters
        stated = np.sqrt(np.diag(found.covariance))
        height = (found.centre_mm[2] - true.centre_mm[2]) / np.linalg.norm(heights)
        ratios.append([height, *(miss / stated)[[6, 7, 10]]])
    # a standard deviation from 40 draws is itself known to 1 / sqrt(80) = 11 %; three of these either way
    scatter = np.sqrt(np.mean(np.square(ratios), axis=0))
    assert (scatter > 0.67).all()
    assert (scatter < 1.33).all()


def test_stated_uncertainty_of_an_unknown_focal_length_is_its_scatter_where_corners_are_sharp() -> None:
    """Corner noise of 0.03 px: what corners hardly determine must not seem determined."""
    rng = np.random.default_rng(14)
    ratios = []
    for _ in range(30):
        true = drawn_from_priors(MAT, rng, focal_sd=0.2)
        found = fit(tags_seen(true, MAT, noise_px=0.03, rng=rng), focal_35mm=None)
        miss = found.parameters - true.parameters
        ratios.append((miss / np.sqrt(np.diag(found.covariance)))[[6, 8, 9]])
    # a standard deviation from 30 draws is itself known to 13 %; three of these either way
    scatter = np.sqrt(np.mean(np.square(ratios), axis=0))
    assert (scatter > 0.6).all()
    assert (scatter < 1.4).all()


def test_stated_uncertainty_of_scale_covers_the_errors_of_beads_beside_the_card() -> None:
    rng = np.random.default_rng(12)
    bead = np.array([50.0, -15.0, 4.0])
    ratios = []
    for _ in range(40):
        true = drawn_from_priors(CARD, rng)
        found = fit(tags_seen(true, CARD, noise_px=0.1, rng=rng))
        ends = found.to_plane(true.project(bead + np.array([[-1.0, 0, 0], [1.0, 0, 0]])), bead[2])
        across = found.to_plane(true.project(bead + np.array([[0, -1.0, 0], [0, 1.0, 0]])), bead[2])
        lengths = np.linalg.svd(np.concatenate([np.diff(ends, axis=0), np.diff(across, axis=0)]) / 2)[1]
        ratios.append(np.abs(lengths - 1).max() / found.rel_u(bead))
    assert 0.67 < np.sqrt(np.mean(np.square(ratios))) < 1.33


def test_variants_carry_the_covariance() -> None:
    camera = fit(tags_seen(over_mat(), MAT, noise_px=0.1, rng=np.random.default_rng(13)))
    # so small that distance and focal length go together along a straight line
    small = replace(camera, covariance=camera.covariance * 1e-8)
    steps = np.array([v.parameters - small.parameters for v in small.variants()])
    assert steps.T @ steps == pytest.approx(small.covariance, rel=1e-3, abs=1e-16)
