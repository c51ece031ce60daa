"""Girths of people, against figures of the same surveys that the module does not hold."""

from statistics import NormalDist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.piece.anthropometry import BODIES, PERCENTS, SEXES, girth_at, share_between

TABLE_MM = 1e-9
SKEW = 0.07  # girths are a little skewed, so a normal curve is off by this much
bodies, sexes = st.sampled_from(BODIES), st.sampled_from(SEXES)


@pytest.mark.parametrize(
    ("body", "sex", "mean_mm", "sd_mm"),
    [
        ("wrist", "women", 154.79, 7.83),
        ("wrist", "men", 175.92, 8.96),
        ("ankle", "women", 215.74, 14.89),
        ("ankle", "men", 229.34, 14.65),
        ("neck", "women", 329.80, 19.22),
        ("neck", "men", 397.65, 25.78),
    ],
)
def test_shares_agree_with_the_survey_s_mean_and_spread(
    body: str, sex: str, mean_mm: float, sd_mm: float
) -> None:
    # ANSUR II means and standard deviations, computed from the public raw rows.
    survey = NormalDist(mean_mm, sd_mm)
    for low, high in ((-1, 1), (-2, 0), (0, 2), (-0.5, 1.5)):
        expected = NormalDist().cdf(high) - NormalDist().cdf(low)
        found = share_between(body, sex, mean_mm + low * sd_mm, mean_mm + high * sd_mm)
        assert found == pytest.approx(expected, abs=SKEW)
    assert girth_at(body, sex, 50) == pytest.approx(survey.mean, abs=0.2 * sd_mm)


def test_another_survey_s_wrists_are_near() -> None:
    # Heinz et al., J. Statistics Education 11(2) 2003: women 150.6 mm, men 171.9 mm on average.
    assert girth_at("wrist", "women", 50) == pytest.approx(150.6, abs=5)
    assert girth_at("wrist", "men", 50) == pytest.approx(171.9, abs=5)


def test_percentiles_are_the_published_ones() -> None:
    # ANSUR II, computed from the public raw rows.
    assert [girth_at("wrist", "women", p) for p in PERCENTS] == pytest.approx(
        [142.2, 150, 154, 160, 168], abs=TABLE_MM
    )
    assert [girth_at("neck", "men", p) for p in PERCENTS] == pytest.approx(
        [360, 379.2, 395, 413.8, 443], abs=TABLE_MM
    )


@given(bodies, sexes, st.floats(1, 99), st.floats(1, 99))
@settings(deadline=None)
def test_girth_and_share_undo_each_other(body: str, sex: str, one: float, other: float) -> None:
    low, high = sorted((one, other))
    share = share_between(body, sex, girth_at(body, sex, low), girth_at(body, sex, high))
    assert share == pytest.approx((high - low) / 100, abs=1e-9)


@given(bodies, sexes, st.floats(50, 600), st.floats(0, 300))
@settings(deadline=None)
def test_a_share_is_a_share(body: str, sex: str, low_mm: float, width_mm: float) -> None:
    assert 0 <= share_between(body, sex, low_mm, low_mm + width_mm) <= 1
    assert share_between(body, sex, low_mm + width_mm, low_mm) <= 1e-12
