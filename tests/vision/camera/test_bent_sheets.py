"""The camera of a sheet that does not lie flat: stated as poorly as it is known, or refused."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.cameras import MAT, fit, over_mat, tags_seen
from vision.common.errors import NoSheetError

CORNER_NOISE_PX = 0.05


@pytest.mark.parametrize("rise_mm", [2.0, 8.0])
def test_a_curled_sheet_is_known_poorly_or_refused(rise_mm: float) -> None:
    true = over_mat()
    tags = tags_seen(true, MAT)
    flat = np.array([MAT.corners_mm(i) for i in tags.ids])
    # a shallow cylinder about y: height 4 s t (1 - t) of a sagitta s, t from edge to edge
    share = flat[..., 0] / MAT.page_mm[0]
    lifted = np.dstack([flat, 4 * rise_mm * share * (1 - share)])
    rng = np.random.default_rng(19)
    curled = replace(tags, corners_px=true.project(lifted) + rng.normal(0, CORNER_NOISE_PX, flat.shape))
    if rise_mm > 5.0:
        with pytest.raises(NoSheetError, match="do not fit a flat sheet"):
            fit(curled)
        return
    points = np.array([[148.5, 105.0, 4.0], [90.0, 60.0, 4.0], [200.0, 150.0, 4.0]])
    seen = fit(curled)
    share = points[:, 0] / MAT.page_mm[0]
    raised = points + np.outer(4 * rise_mm * share * (1 - share), [0, 0, 1])
    for point, place in zip(points, raised, strict=True):
        ends = seen.to_plane(true.project(place + np.array([[0, -1.0, 0], [0, 1.0, 0]])), point[2])
        off = abs(float(np.linalg.norm(ends[1] - ends[0])) / 2 - 1)
        assert off < 2 * seen.rel_u(point)


@pytest.mark.parametrize("fold_deg", [4.0, 6.0, 10.0])
def test_a_corner_that_is_folded_up_is_known_poorly_or_refused(fold_deg: float) -> None:
    """The lower third rises by an angle: its tags disagree with the rest, and are not just left out."""
    true = over_mat(tilt_deg=(2.0, -1.0))
    tags = tags_seen(true, MAT)
    flat = np.array([MAT.corners_mm(i) for i in tags.ids])
    angle, crease = math.radians(fold_deg), 2 / 3 * MAT.page_mm[1]

    def bent(points: np.ndarray) -> np.ndarray:
        beyond = np.maximum(points[..., 1] - crease, 0.0)
        moved = np.dstack([points[..., :1], points[..., 1:2] - (1 - math.cos(angle)) * beyond[..., None]])
        return np.dstack([moved, math.sin(angle) * beyond[..., None]])

    noise = np.random.default_rng(20).normal(0, CORNER_NOISE_PX, flat.shape)
    seen = replace(tags, corners_px=true.project(bent(flat)) + noise)
    try:
        found = fit(seen)
    except NoSheetError:
        return
    ends = np.array([[[148.5, 160.0], [148.5, 162.0]]])
    back = found.to_plane(true.project(bent(ends) + np.array([0, 0, 4.0])), 4.0)[0]
    off = abs(float(np.linalg.norm(back[1] - back[0])) / 2 - 1)
    assert off < 2 * found.rel_u(np.array([148.5, 161.0, 4.0]))
