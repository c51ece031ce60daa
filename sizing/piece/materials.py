"""Densities of the materials that beads are made of."""

import difflib

# g/cm3.
# Stones: Britannica, table of gemstones; International Gem Society, tables of specific gravity. Where they
# give a narrow range, its middle.
# Organic: coral 2.60 to 2.70, jet 1.30 to 1.32, pearl 2.6 to 2.85 (tables of organic gems); shell as pearl,
# which is made of the same.
# Metals: silver 10.49, copper 8.96, steel 7.9, brass 8.4 to 8.7 (handbook tables); sterling silver by mixing
# 925 parts of silver and 75 of copper; gold alloys as a jeweler's table gives them for yellow gold.
# Acrylic: 1.19 (ASTM D792). Ebony: 1.1 to 1.2 (tables of woods).
_QUARTZ, _CHALCEDONY, _SHELL = 2.65, 2.60, 2.7
_METALS = {
    "silver": 10.49,
    "fine silver": 10.49,
    "sterling silver": 10.36,
    "14k gold": 13.07,
    "18k gold": 15.58,
    "copper": 8.96,
    "brass": 8.5,
    "stainless steel": 7.9,
}
_DENSITIES = {
    **dict.fromkeys(
        ("quartz", "rock crystal", "rose quartz", "smoky quartz", "amethyst", "citrine"), _QUARTZ
    ),
    **dict.fromkeys(("tiger eye", "tigers eye", "aventurine"), _QUARTZ),
    **dict.fromkeys(("agate", "chalcedony", "carnelian", "onyx", "jasper"), _CHALCEDONY),
    "hematite": 5.2,
    "jadeite": 3.3,
    "nephrite": 3.0,
    "lapis": 2.8,
    "lapis lazuli": 2.8,
    "turquoise": 2.7,
    "amazonite": 2.57,
    "moonstone": 2.6,
    "labradorite": 2.65,
    "aquamarine": 2.7,
    **dict.fromkeys(("pearl", "mother of pearl", "shell"), _SHELL),
    "amber": 1.08,
    "coral": 2.65,
    "jet": 1.31,
    "ebony": 1.15,
    "soda lime glass": 2.49,
    "lead glass": 3.0,
    "acrylic": 1.19,
    **_METALS,
}
# What these names cover differs by a tenth and more: the kinds that are known instead.
_VARIOUS = {
    "glass": ("soda-lime glass", "lead glass"),
    "crystal": ("rock crystal", "lead glass"),
    "jade": ("jadeite", "nephrite"),
    "gold": ("14k gold", "18k gold"),
    "metal": ("sterling silver", "copper", "brass", "stainless steel"),
    "wood": ("ebony",),
    "resin": ("acrylic",),
    "plastic": ("acrylic",),
    **dict.fromkeys(("garnet", "opal", "bone", "horn", "ceramic", "clay", "porcelain"), ()),
}


def density_of(material: str) -> float | None:
    """Return the density of a material in g/cm3; None where its name is not known, or covers too much.

    Examples
    --------
    >>> density_of("rose quartz"), density_of("Mother-of-pearl"), density_of("wood")
    (2.65, 2.7, None)
    """
    return _DENSITIES.get(_tidy(material))


def is_metal(material: str) -> bool:
    """Return whether beads of a material may well be hollow."""
    return _tidy(material) in _METALS


def varies(material: str) -> bool:
    """Return whether a name covers materials that differ in density."""
    return _tidy(material) in _VARIOUS


def instead_of(material: str) -> tuple[str, ...]:
    """Return names of known density for one that has none: its kinds, or those spelled similarly.

    Examples
    --------
    >>> instead_of("jade"), instead_of("rose quarts"), instead_of("moon cheese")
    (('jadeite', 'nephrite'), ('rose quartz',), ())
    """
    tidy = _tidy(material)
    if tidy in _VARIOUS:
        return _VARIOUS[tidy]
    return tuple(difflib.get_close_matches(tidy, _DENSITIES, n=1, cutoff=0.8))


def _tidy(material: str) -> str:
    return " ".join(material.lower().replace("-", " ").replace("'", "").split())
