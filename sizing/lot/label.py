"""Reads labels as the trade writes them: `8mm`, `7.0-7.5mm`, `6x4mm`, `11/0`.

The kind of label decides the limits: a plain size is sold within a tolerance, a class ends at the two
sizes that name it, a numbered seed-bead size covers a range.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sizing.base.errors import SizingError
from sizing.base.units import parse_length
from sizing.lot.notation import Kind, take_apart

DEFAULT_TOLERANCE_MM = 0.5
"""Gem rounds as sold: strands sold as 8 mm span 7.5 to 8.4 mm (common practice, no source)."""

_NUMBERED_MM = {"6/0": 3.3, "8/0": 2.5, "11/0": 1.8, "15/0": 1.3}
"""Numbered (aught) sizes of seed beads, from a trade chart."""
_NUMBERED_SPREAD_MM = 0.6
"""A second trade chart has numbered sizes up to this much larger."""
_EXAMPLES = "8mm, 7.0-7.5mm, 6x4mm or 11/0"


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedSize:
    """One size on a label.

    Attributes
    ----------
    nominal_mm : float
        The number on the label; the middle of a range.
    low_mm, high_mm : float
        Limits of the sizes that it allows, both included.
    """

    nominal_mm: float
    low_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What a label says.

    Attributes
    ----------
    text : str
        As typed, on one line.
    kind : str
        `size` (8mm), `class` (7.0-7.5mm), `pair` (6x4mm), `numbered` (11/0).
    stated : tuple of StatedSize
        One size; two for a pair, the larger first.
    basis : str
        Where the limits come from, as a phrase.
    """

    text: str
    kind: Kind
    stated: tuple[StatedSize, ...]
    basis: str


def parse_label(text: str, *, tolerance_mm: float | None = None) -> Label:
    """Read a label and the limits that it sets.

    Parameters
    ----------
    tolerance_mm : float or None, keyword-only
        Allowed beyond each end of the stated size; None for what is usual for that kind of label.

    Raises
    ------
    SizingError
        The text is not a label; the message is one line.

    Examples
    --------
    >>> parse_label("8mm").stated
    (StatedSize(nominal_mm=8.0, low_mm=7.5, high_mm=8.5),)
    >>> parse_label("7.0-7.5mm").stated
    (StatedSize(nominal_mm=7.25, low_mm=7.0, high_mm=7.5),)
    """
    shown = " ".join(text.split())
    written = take_apart(text)
    if written.kind == "numbered":
        return _numbered(shown, *written.sizes, tolerance_mm=tolerance_mm)
    if written.kind == "class":
        return _class(shown, written.sizes, tolerance_mm=tolerance_mm)
    if len(written.sizes) > 2:
        raise SizingError(
            f"label {shown!r} has {len(written.sizes)} sizes, but a photo from above shows two: leave one out"
        )
    return _plain(shown, written.sizes, tolerance_mm=tolerance_mm)


def _plain(shown: str, typed: Sequence[str], *, tolerance_mm: float | None) -> Label:
    """Read a plain size or a pair."""
    sizes = sorted((_length(each, shown) for each in typed), reverse=True)
    tolerance = DEFAULT_TOLERANCE_MM if tolerance_mm is None else tolerance_mm
    usual = tolerance_mm is None
    basis = f"±{tolerance:g} mm, as {'gem rounds are usually sold' if usual else 'asked'}"
    stated = tuple(_widened(size, size, by_mm=tolerance) for size in sizes)
    return Label(text=shown, kind="pair" if len(stated) == 2 else "size", stated=stated, basis=basis)


def _class(shown: str, ends: Sequence[str], *, tolerance_mm: float | None) -> Label:
    """Read a class named by both its ends (CIBJO Pearl Book, as reported)."""
    low, high = sorted(_length(end, shown) for end in ends)
    if low == high:
        raise SizingError(f"label {shown!r} has the same size twice: write it like 7.0-7.5mm, or 7mm")
    basis = _with_tolerance("the two ends on the label", tolerance_mm)
    return Label(
        text=shown, kind="class", stated=(_widened(low, high, by_mm=tolerance_mm or 0.0),), basis=basis
    )


def _numbered(shown: str, name: str, *, tolerance_mm: float | None) -> Label:
    """Read a numbered seed-bead size, which every manufacturer interprets differently."""
    if name not in _NUMBERED_MM:
        known = ", ".join(_NUMBERED_MM)
        raise SizingError(f"label {shown!r} is not one of {known}: give the size in mm instead")
    low = _NUMBERED_MM[name]
    stated = _widened(low, low + _NUMBERED_SPREAD_MM, by_mm=tolerance_mm or 0.0)
    basis = _with_tolerance("the range in which manufacturers differ on numbered sizes", tolerance_mm)
    return Label(text=shown, kind="numbered", stated=(stated,), basis=basis)


def _with_tolerance(basis: str, tolerance_mm: float | None) -> str:
    """Add to a phrase about limits that a tolerance widened them."""
    return f"{basis}, ±{tolerance_mm:g} mm as asked" if tolerance_mm else basis


def _widened(low_mm: float, high_mm: float, *, by_mm: float) -> StatedSize:
    """Return a range of sizes with a tolerance added at both ends."""
    return StatedSize(
        nominal_mm=(low_mm + high_mm) / 2,
        low_mm=max(low_mm - by_mm, 0.0),
        high_mm=high_mm + by_mm,
    )


def _length(typed: str, shown: str) -> float:
    """Read one length of a label, in mm."""
    try:
        return parse_length(typed)
    except ValueError as error:
        reason = str(error).rpartition(": ")[0]  # what follows it tells how to write a length, not a label
        raise SizingError(f"label {shown!r} cannot be read, {reason}: write it like {_EXAMPLES}") from error
