"""A length that remembers how it was typed, so that answers and saved files can keep its unit."""

from typing import Self


class TypedMm(float):
    """A length in mm that remembers how it was typed; what is computed from it is a plain number.

    Attributes
    ----------
    typed : str
        On one line; it reads as the same length again.
    in_inches : bool
        Whether it was typed in inches or feet.
    """

    __slots__ = ("in_inches", "typed")
    typed: str
    in_inches: bool

    def __new__(cls, value_mm: float, *, typed: str = "", in_inches: bool = False) -> Self:
        """Make a length that was typed."""
        length = super().__new__(cls, value_mm)
        length.typed = typed
        length.in_inches = in_inches
        return length


def is_in_inches(value_mm: float | None) -> bool:
    """Return whether a length was typed in inches or feet.

    Examples
    --------
    >>> is_in_inches(TypedMm(165.1, typed="6 1/2 in", in_inches=True)), is_in_inches(165.1)
    (True, False)
    """
    return isinstance(value_mm, TypedMm) and value_mm.in_inches
