"""The edge of a shaded, blurred, perhaps glossy rim is found where it is."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from vision.lot.edge_model import OFFSETS_PX, blur_u_px, edge_shifts, smooth_shifts, unit_px

TOLERANCE_PX = 0.12
FINISH_UNSURE_PX = 0.2
"""Where matt and glossy explain the light about as well, the edge is taken between them."""
ARCS = 40


def limbs(shift: float, *, radius: float, blur: float, gloss: bool, bed: float = 0.6) -> np.ndarray:
    """Return noisy profiles of a sphere's rim that lies at `shift`, shape (ARCS, K, 3).

    Lambert's cosine inside; with Fresnel's mirror of the bed, in full and not in Schlick's form (n 1.5).
    """
    x = np.arange(-25, 25, 0.02)
    depth = np.clip((shift - x) / radius, 0, 1)
    cosine = np.sqrt(depth * (2 - depth))
    bead = 0.05 + 0.3 * cosine
    if gloss:
        refracted = np.sqrt(1 - (1 - cosine**2) / 1.5**2)
        across = ((cosine - 1.5 * refracted) / (cosine + 1.5 * refracted)) ** 2
        along = ((refracted - 1.5 * cosine) / (refracted + 1.5 * cosine)) ** 2
        mirror = (across + along) / 2
        bead = bead * (1 - mirror) + bed * mirror
    light = gaussian_filter1d(np.where(x < shift, bead, bed), blur / 0.02, mode="nearest")
    profile = np.interp(OFFSETS_PX, x, light)[None, :, None] * np.array([1.0, 0.9, 0.8])
    return profile + np.random.default_rng(3).normal(0, 0.002, (ARCS, len(OFFSETS_PX), 3))


@pytest.mark.parametrize("gloss", [False, True])
@pytest.mark.parametrize(("shift", "blur"), [(0.0, 0.8), (0.7, 1.0), (-0.6, 1.3)])
def test_limb_is_found(shift: float, blur: float, *, gloss: bool) -> None:
    places, gain, _ = edge_shifts(limbs(shift, radius=32.0, blur=blur, gloss=gloss), np.full(ARCS, 32.0))
    assert np.median(places) == pytest.approx(shift, abs=TOLERANCE_PX)
    assert (gain > 1).all()


@pytest.mark.parametrize("gloss", [False, True])
@pytest.mark.parametrize("blur", [2.6, 5.2])
def test_limb_is_found_in_a_blurred_photo(blur: float, *, gloss: bool) -> None:
    """Sampled in larger units a blurred limb is a sharp one: the edge is as uncertain in these."""
    times = blur / 0.65
    unit = unit_px(times)
    arcs = limbs(0.7 / unit, radius=64.0 / unit, blur=blur / unit, gloss=gloss)
    places, _, common_u_px = edge_shifts(arcs, np.full(ARCS, 64.0 / unit), blur_times=times / unit)
    assert unit * np.median(places) == pytest.approx(0.7, abs=unit * TOLERANCE_PX)
    assert unit * common_u_px >= 0.13 * times


def test_blur_adds_what_makes_an_edge_as_many_times_as_uncertain() -> None:
    assert np.hypot(blur_u_px(1.0), 0.13) == pytest.approx(0.13)
    assert np.hypot(blur_u_px(5.0), 0.13) == pytest.approx(5 * 0.13)


def test_half_way_alone_would_be_wrong() -> None:
    # the reason for the model: a matt ball on a dark bed is half way down well inside its edge
    arcs = limbs(0.0, radius=32.0, blur=1.0, gloss=False, bed=0.02)
    profile = arcs.mean(axis=(0, 2))
    half = np.interp(-(profile[0] + profile[-1]) / 2, -profile, OFFSETS_PX)
    assert half < -0.5
    places = edge_shifts(arcs, np.full(ARCS, 32.0))[0]
    assert np.median(places) == pytest.approx(0, abs=FINISH_UNSURE_PX)


def test_unclear_arcs_follow_the_others() -> None:
    shift = np.array([0.3, 0.3, 0.3, 1.9, 0.3, 0.3])
    gain = np.array([5.0, 5.0, 5.0, 1.0, 5.0, 5.0])
    even = smooth_shifts(shift, gain, np.ones((1, 6), dtype=bool))
    assert even == pytest.approx(0.3, abs=0.02)
