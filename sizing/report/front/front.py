"""The records that the beginning of a report is made of."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from sizing.base.units import format_pair


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One of the few figures that stand large at the top.

    Attributes
    ----------
    label, value : str
        The value's first number is set large, its unit and uncertainty beside it.
    more : str
        A quieter line below.
    """

    label: str
    value: str
    more: str = ""

    @property
    def large_and_small(self) -> tuple[str, str]:
        """The value's first number, with its fraction of an inch, and the rest.

        Examples
        --------
        >>> Fact(label="Inside", value="7 11/16 in").large_and_small
        ('7 11/16', 'in')
        >>> Fact(label="Inside", value="195.3 ± 0.4 mm").large_and_small
        ('195.3', '± 0.4 mm')
        """
        number = re.match(r"\S*(?: \d+/\d+)?", self.value)
        large = number[0] if number else ""
        return large, self.value.removeprefix(large).strip()


def length_fact(label: str, value_mm: float, u95_mm: float | None = None, *, further: str = "") -> Fact:
    """Return a length as a figure, in the other unit below it; `further` is what follows there."""
    first, second = format_pair(value_mm, u95_mm)
    return Fact(label=label, value=first, more=second + further)


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """The beginning of a report.

    Attributes
    ----------
    kind : str
        What the report is about: `Strand`, `Strands`, `Closed loop`, `Lot`, `Label`, `Plan`.
    subject : str
        Name of the photo or the piece.
    headline : str
        What to do, in one sentence.
    notes : sequence of str
        What to know about it.
    facts : sequence of Fact
    warnings : sequence of str
        What to check before anything else; stands above the headline.
    """

    kind: str
    subject: str
    headline: str
    notes: Sequence[str]
    facts: Sequence[Fact]
    warnings: Sequence[str] = ()
