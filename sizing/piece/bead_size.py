"""Reads the size of a bead as the trade writes it: `7mm`, `6x4mm`, `7.0-7.5mm`, `8/0`."""

from collections.abc import Iterable, Iterator

from sizing.base.units import format_mm, parse_length
from sizing.lot.label import StatedSize, parse_label
from sizing.lot.notation import take_apart
from sizing.piece.parts import BeadPart

SIZES_MM = (0.5, 100.0)
"""Beads are larger than the finest seed beads (0.7 mm) and smaller than this: common practice, no source."""

# Length of a seed bead along the string, as a share of its thickness: a trade chart has 10 beads of 6/0,
# 3.3 mm thick, in an inch, and 13 of 8/0, 2.5 mm thick, which is 0.77 and 0.78.
_SEED_LENGTH_SHARE = 0.775


def read_bead(text: str) -> BeadPart:
    """Read the size of a bead.

    Of two sizes the first lies along the string. The trade has no rule: it writes the larger first, be it the
    length of an oval or the diameter of a rondelle. A seed-bead number or a class is a range of sizes; its
    middle is taken, and half of it as the uncertainty that all these beads share.

    Raises
    ------
    ValueError, SizingError
        The text is not such a size; the message is one line.

    Examples
    --------
    >>> rondelle, seed = read_bead("4x6mm"), read_bead("8/0")
    >>> rondelle.along_mm, rondelle.across_mm
    (4.0, 6.0)
    >>> round(seed.along_mm, 2), round(seed.across_mm, 2), round(seed.across_mm * seed.rel_u95, 2)
    (2.17, 2.8, 0.3)
    """
    tidy, written = " ".join(text.split()), take_apart(text)
    if written.kind in {"numbered", "class"}:
        [size] = parse_label(tidy).stated
        share = _SEED_LENGTH_SHARE if written.kind == "numbered" else 1.0
        return _in_range(size, name=tidy, length_share=share)
    if len(written.sizes) > 2:
        raise ValueError(f"it has {len(written.sizes)} sizes: give length and thickness, as 4x6mm")
    sizes = [parse_length(each) for each in written.sizes]
    for size_mm in sizes:
        check_size(size_mm)
    return BeadPart(along_mm=sizes[0], across_mm=sizes[-1])


def check_size(size_mm: float) -> None:
    """Refuse a size that no bead has.

    Raises
    ------
    ValueError
    """
    least, most = SIZES_MM
    if not least <= size_mm <= most:
        size = format_mm(size_mm, decimals=2 if size_mm < 1 else 1)
        raise ValueError(f"a bead of {size} is not between {least:g} and {most:g} mm: check its unit")


def size_remarks(beads: Iterable[BeadPart]) -> Iterator[str]:
    """Say how the sizes of typed beads are read, where they can be read in another way."""
    for bead in dict.fromkeys(beads):
        along, across = (f"{round(size, 2):g}" for size in (bead.along_mm, bead.across_mm))
        if bead.rel_u95:
            long, thick = (_range(size_mm, bead.rel_u95) for size_mm in (bead.along_mm, bead.across_mm))
            sizes = f"{long} mm" if along == across else f"about {long} mm long and {thick} mm thick"
            yield f"{bead.name} beads are {sizes}: measure yours for a closer answer."
        elif along != across:
            yield (
                f"{along}x{across} mm is read as {along} mm along the string and {across} mm thick; for the "
                f"other way write {across}x{along}mm."
            )


def _in_range(size: StatedSize, *, name: str, length_share: float) -> BeadPart:
    return BeadPart(
        name=name,
        along_mm=length_share * size.nominal_mm,
        across_mm=size.nominal_mm,
        rel_u95=(size.high_mm - size.low_mm) / 2 / size.nominal_mm,
    )


def _range(size_mm: float, rel_u95: float) -> str:
    return " to ".join(f"{size_mm * (1 + sign * rel_u95):.1f}" for sign in (-1, 1))
