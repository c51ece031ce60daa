"""Densities of the trade's materials, against published ones."""

import pytest

from sizing.piece.materials import density_of, instead_of, is_metal, varies

LAST_DIGIT = 0.005


@pytest.mark.parametrize(
    ("material", "low", "high"),
    [
        # Britannica, table of gemstones: quartz 2.65, of which rose quartz is one; nephrite 3.0 to 3.4.
        ("rose quartz", 2.65, 2.65),
        ("nephrite", 3.0, 3.4),
        ("aquamarine", 2.68, 2.71),
        # Tables of organic gems.
        ("coral", 2.60, 2.70),
        ("jet", 1.30, 1.32),
        ("mother-of-pearl", 2.60, 2.85),
        ("shell", 2.60, 2.85),
        # Tables of woods and of metals.
        ("ebony", 1.1, 1.2),
        ("brass", 8.4, 8.7),
        ("silver", 10.4, 10.6),
        ("copper", 8.8, 9.0),
        ("Stainless steel", 7.7, 8.0),
    ],
)
def test_published_densities(material: str, low: float, high: float) -> None:
    density = density_of(material)
    assert density is not None
    assert low <= density <= high


def test_sterling_silver_is_a_mixture_by_volume() -> None:
    # 925 parts of silver (10.49 g/cm3) and 75 of copper (8.96) by weight.
    assert density_of("sterling silver") == pytest.approx(1 / (0.925 / 10.49 + 0.075 / 8.96), abs=LAST_DIGIT)
    assert is_metal("Sterling Silver")
    assert not is_metal("quartz")


@pytest.mark.parametrize("material", ["wood", "resin", "glass", "gold", "jade"])
def test_names_of_many_densities_are_asked_for(material: str) -> None:
    assert density_of(material) is None
    assert varies(material)
    assert all(density_of(each) for each in instead_of(material))


def test_a_slip_of_the_keyboard_is_answered_by_the_nearest_name() -> None:
    assert instead_of("rose quarts") == ("rose quartz",)
    assert instead_of("driftwood") == ()
