"""Girths of people, against figures of surveys that the module does not hold."""

from statistics import NormalDist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.piece.anthropometry import BODIES, SEXES, girth_at, share_between

ROUNDING = 1e-9
SKEW = 0.07  # of all adults: girths are a little skewed, so a normal curve is off by this much
MEDIAN_SHARE = 0.2  # of the standard deviation: the median of a skewed distribution is this near its mean
SURVEYS_MM = 5.0  # two surveys of other people differ by this much
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
        low_mm, high_mm = mean_mm + low * sd_mm, mean_mm + high * sd_mm
        expected = survey.cdf(high_mm) - survey.cdf(low_mm)
        share = share_between(body, sex, low_mm=low_mm, high_mm=high_mm)
        assert share == pytest.approx(expected, abs=SKEW)
    assert girth_at(body, sex, percent=50) == pytest.approx(mean_mm, abs=MEDIAN_SHARE * sd_mm)


def test_another_survey_s_wrists_are_near() -> None:
    # Heinz et al., J. Statistics Education 11(2) 2003: women 150.6 mm, men 171.9 mm on average.
    assert girth_at("wrist", "women", percent=50) == pytest.approx(150.6, abs=SURVEYS_MM)
    assert girth_at("wrist", "men", percent=50) == pytest.approx(171.9, abs=SURVEYS_MM)


@given(bodies, sexes, st.floats(1, 99), st.floats(1, 99))
@settings(deadline=None)
def test_girth_and_share_undo_each_other(body: str, sex: str, one: float, other: float) -> None:
    low, high = sorted((one, other))
    low_mm, high_mm = (girth_at(body, sex, percent=percent) for percent in (low, high))
    share = share_between(body, sex, low_mm=low_mm, high_mm=high_mm)
    assert share == pytest.approx((high - low) / 100, abs=ROUNDING)


@given(bodies, sexes, st.floats(50, 600), st.floats(0, 300))
@settings(deadline=None)
def test_shares_of_neighbouring_ranges_add_up(body: str, sex: str, low_mm: float, width_mm: float) -> None:
    middle_mm, high_mm = low_mm + width_mm, low_mm + 2 * width_mm
    parts = [
        share_between(body, sex, low_mm=low_mm, high_mm=middle_mm),
        share_between(body, sex, low_mm=middle_mm, high_mm=high_mm),
    ]
    assert min(parts) >= 0
    assert sum(parts) == pytest.approx(share_between(body, sex, low_mm=low_mm, high_mm=high_mm), abs=ROUNDING)
    assert sum(parts) <= 1
