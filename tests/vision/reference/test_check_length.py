"""The check length of drawn sheets, measured by cards and coins of known size on them."""

from dataclasses import replace

import numpy as np
import pytest

from tests.synthetic.references import DrawnThings, Thing, draw_things
from tests.synthetic.scene import plan
from vision.check_length import measure_check_length
from vision.common.errors import PhotoError
from vision.reference.objects import REFERENCES

SIZE_PX = (2016, 1512)
SMALL_PX = (1600, 1200)
CARD_REL, COIN_REL = 0.0015, 0.005
"""Of drawn photos, things of their nominal size: a card within 0.15 %, a coin within 0.5 %."""
COVERAGE = 2.0
"""k of the expanded uncertainty (JCGM 100:2008)."""
WHITE, BLACK, GREY, BLUE = (0.82, 0.81, 0.79), (0.03, 0.03, 0.04), (0.45, 0.45, 0.46), (0.2, 0.25, 0.5)
BAND = ((np.array([(-42.8, -20.0), (42.8, -20.0), (42.8, -8.0), (-42.8, -8.0)]), (0.7, 0.55, 0.1)),)


def drawn(
    sheet: str, print_scale: float, things: list[Thing], *, seed: int, **conditions: object
) -> DrawnThings:
    usual = {"tilt_deg": 6.0, "exif": True, "size_px": SIZE_PX, "bed": "white"}
    scene = plan(
        seed,
        mode="loose",
        count=0,
        sheet=sheet,
        print_scale=print_scale,
        fault="none",
        focal_35mm=26.0,
        **{**usual, **conditions},
    )
    return draw_things(scene, things)


def card(colour: tuple[float, float, float] = BLUE, **changes: object) -> Thing:
    return replace(Thing(at_mm=(140.0, 102.0), turn_deg=8.0, colour=colour), **changes)


def coin(name: str, **changes: object) -> Thing:
    known = REFERENCES[name]
    usual = Thing(
        size_mm=known.size_mm,
        thickness_mm=known.thickness_mm,
        at_mm=(130.0, 95.0),
        colour=(0.35, 0.28, 0.2),
    )
    return replace(usual, **changes)


CARDS = [
    ("mat-a4", 0.96, card(), {}),
    ("mat-letter", 1.01, card(BLACK, prints=BAND), {"exif": False, "tilt_deg": 3.0}),
    ("mat-a4", 0.965, card(WHITE), {"tilt_deg": 10.0}),
    ("mat-letter", 0.985, card(GREY, side=(0.85, 0.85, 0.85), turn_deg=92.0), {"bed": "grey"}),
    ("card", 1.015, card(BLUE, at_mm=(50.0, -42.0)), {"tilt_deg": 12.0}),
]
COINS = [
    ("euro-2", "mat-a4", 0.97, coin("euro-2"), {"tilt_deg": 9.0}),
    ("us-25c", "mat-letter", 1.0, coin("us-25c"), {}),
]


@pytest.mark.parametrize(
    ("sheet", "print_scale", "thing", "conditions"), CARDS, ids=[f"{c[0]}-{c[1]}" for c in CARDS]
)
def test_a_card_measures_the_printed_row_of_tags(
    sheet: str, print_scale: float, thing: Thing, conditions: dict[str, object]
) -> None:
    """ISO/IEC 7810 ID-1: 85.60 x 53.98 mm, 0.76 mm thick."""
    photo = drawn(sheet, print_scale, [thing], seed=21, **conditions)
    found = measure_check_length(photo.photo, REFERENCES["card"])
    assert found.sheet_name == sheet
    assert found.scale == pytest.approx(print_scale, rel=CARD_REL)
    assert found.length_mm == pytest.approx(photo.check_length_mm, abs=COVERAGE * found.u_mm)
    assert found.u_mm < CARD_REL * found.length_mm
    assert found.questioned == (abs(print_scale - 1) > 0.02)


def test_a_page_fitted_to_the_paper_is_to_be_printed_again() -> None:
    photo = drawn("mat-a4", 0.94, [card()], seed=21)
    with pytest.raises(PhotoError, match=r"6\.\d % less than the 273 mm .* print the sheet again at 100 %"):
        measure_check_length(photo.photo, REFERENCES["card"])


@pytest.mark.parametrize(
    ("name", "sheet", "print_scale", "thing", "conditions"), COINS, ids=[c[0] for c in COINS]
)
def test_a_coin_does_less_exactly(
    name: str, sheet: str, print_scale: float, thing: Thing, conditions: dict[str, object]
) -> None:
    """Mint of the United States: 24.26 x 1.75 mm; Council Regulation (EC) 975/98: 25.75 x 2.20 mm."""
    photo = drawn(sheet, print_scale, [thing], seed=25, **conditions)
    found = measure_check_length(photo.photo, REFERENCES[name])
    assert found.scale == pytest.approx(print_scale, rel=COIN_REL)
    assert found.length_mm == pytest.approx(photo.check_length_mm, abs=COVERAGE * found.u_mm)


def test_uncertainty_has_one_part_for_each_cause() -> None:
    photo = drawn("mat-a4", 1.0, [card()], seed=24, size_px=SMALL_PX)
    found = measure_check_length(photo.photo, REFERENCES["card"])
    parts = [getattr(found.budget, part) for part in found.budget.__slots__]
    assert found.u_mm / found.length_mm == pytest.approx(np.sqrt(np.sum(np.square(parts))))
    # rectangular half-widths over sqrt 3 (JCGM 100:2008, 4.3.7): at best both dimensions together
    assert 0.03e-2 < found.budget.tolerance < 0.125 / 85.6 / np.sqrt(3)


@pytest.mark.parametrize(
    ("things", "name", "message"),
    [
        ([], "card", "no plastic card shows whole|lies over the tags|times as long as wide"),
        ([card(size_mm=(85.0, 55.0))], "card", "times as long as wide|no plastic card shows whole"),
        ([card(at_mm=(140.0, 40.0))], "card", "lies over the tags|no plastic card shows whole"),
        (
            [card(), Thing(size_mm=(60.0, 40.0), at_mm=(185.0, 95.0), thickness_mm=1.5, colour=WHITE)],
            "card",
            "no plastic card shows whole|times as long as wide",
        ),
        ([coin("euro-2")], "us-5c", "no US 5 cent coin shows whole|do not show clearly"),
    ],
    ids=["empty", "another-size", "over-tags", "covered", "another-coin"],
)
def test_what_cannot_measure_is_refused_in_one_line(things: list[Thing], name: str, message: str) -> None:
    photo = drawn("mat-a4", 1.0, things, seed=22, size_px=SMALL_PX)
    with pytest.raises(PhotoError, match=message) as caught:
        measure_check_length(photo.photo, REFERENCES[name])
    assert "\n" not in str(caught.value)


def test_a_coin_that_is_only_a_speck_is_refused() -> None:
    photo = drawn("mat-a4", 1.0, [coin("us-10c")], seed=26, size_px=(800, 600))
    with pytest.raises(PhotoError, match="pixels wide in this photo: go nearer"):
        measure_check_length(photo.photo, REFERENCES["us-10c"])
