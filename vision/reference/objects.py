"""The things whose sizes are known: an ID-1 card and common coins.

Sizes and thicknesses are nominal. A half-width is what a genuine thing may differ by: a rectangular
distribution (JCGM 100:2008, 4.3.7).
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A flat thing of known size.

    Attributes
    ----------
    name : str
        What a maker types.
    title : str
        What a report calls it.
    size_mm : tuple of float
        (width, height) of a card, (diameter,) of a coin.
    size_half_mm : tuple of float
        Half-width of each.
    thickness_mm, thickness_half_mm : float
    corner_mm : float
        Radius of a card's corners.

    Examples
    --------
    >>> REFERENCES["card"].size_mm, REFERENCES["card"].is_round
    ((85.6, 53.98), False)
    """

    name: str
    title: str
    size_mm: tuple[float, ...]
    size_half_mm: tuple[float, ...]
    thickness_mm: float
    thickness_half_mm: float
    corner_mm: float = 0.0

    @property
    def is_round(self) -> bool:
        """Whether it is a coin."""
        return len(self.size_mm) == 1


_COIN_HALF_MM = 0.05
"""Struck coins differ by about this, worn ones too (common practice, no source)."""


def _coin(name: str, title: str, *, diameter_mm: float, thickness_mm: float) -> Reference:
    return Reference(
        name=name,
        title=title,
        size_mm=(diameter_mm,),
        size_half_mm=(_COIN_HALF_MM,),
        thickness_mm=thickness_mm,
        thickness_half_mm=0.1,  # rims wear and differ from mint to mint (common practice, no source)
    )


# Card: ISO/IEC 7810, ID-1: 85.47 to 85.72 by 53.92 to 54.03, 0.68 to 0.84 thick, corners 3.18. Coins: US
# Mint; Council Regulation (EC) 975/98. The 20-cent coin has notches and is left out.
REFERENCES: dict[str, Reference] = {
    thing.name: thing
    for thing in (
        Reference(
            name="card",
            title="plastic card",
            size_mm=(85.60, 53.98),
            size_half_mm=(0.125, 0.055),
            thickness_mm=0.76,
            thickness_half_mm=0.08,
            corner_mm=3.18,
        ),
        _coin("us-1c", "US 1 cent coin", diameter_mm=19.05, thickness_mm=1.52),
        _coin("us-5c", "US 5 cent coin", diameter_mm=21.21, thickness_mm=1.95),
        _coin("us-10c", "US 10 cent coin", diameter_mm=17.91, thickness_mm=1.35),
        _coin("us-25c", "US 25 cent coin", diameter_mm=24.26, thickness_mm=1.75),
        _coin("euro-1c", "1 euro cent coin", diameter_mm=16.25, thickness_mm=1.67),
        _coin("euro-2c", "2 euro cent coin", diameter_mm=18.75, thickness_mm=1.67),
        _coin("euro-5c", "5 euro cent coin", diameter_mm=21.25, thickness_mm=1.67),
        _coin("euro-10c", "10 euro cent coin", diameter_mm=19.75, thickness_mm=1.93),
        _coin("euro-50c", "50 euro cent coin", diameter_mm=24.25, thickness_mm=2.38),
        _coin("euro-1", "1 euro coin", diameter_mm=23.25, thickness_mm=2.33),
        _coin("euro-2", "2 euro coin", diameter_mm=25.75, thickness_mm=2.20),
    )
}
