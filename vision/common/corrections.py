"""What the maker puts right about a measured photo."""

import math
from dataclasses import dataclass
from typing import Literal

Action = Literal[
    "no bead", "spacer", "cover", "stopper", "bead", "one bead", "two beads", "size", "bead here"
]
"""What the maker says of beads that a photo was read to show, or of a place on it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """One thing that the maker puts right about a measured photo.

    Attributes
    ----------
    action : str
        `no bead`, `spacer`, `cover`, `stopper`: it counts as none; `bead`: it is one indeed; `one bead`:
        these are one; `two beads`: it is two; `size`: a caliper reads this on it; `bead here`: one was
        missed there.
    numbers : tuple of int
        The beads that it is about, by their numbers on the uncorrected photo; none for a missed one.
    photo : str
        Name of the photo, where a lot has several; else empty.
    px : tuple of float or None
        (x, y) on the upright full-size photo of what was missed, or is no bead.
    size_mm, size_u95_mm : float
        What the caliper reads, and its expanded uncertainty; NaN for other actions.
    shown_mm, shown_u95_mm : float
        What the photo shows in its place; NaN where it was not measured, and for other actions.
    """

    action: Action
    numbers: tuple[int, ...] = ()
    photo: str = ""
    px: tuple[float, float] | None = None
    size_mm: float = math.nan
    size_u95_mm: float = math.nan
    shown_mm: float = math.nan
    shown_u95_mm: float = math.nan

    @property
    def contradicted(self) -> bool:
        """Whether caliper and photo differ by more than both uncertainties explain (ISO 13528:2015, 9.7)."""
        return abs(self.size_mm - self.shown_mm) > math.hypot(self.size_u95_mm, self.shown_u95_mm)

    def is_about(self, was: tuple[int, ...] | None) -> bool:
        """Return whether it put a bead of its photo right that had these numbers; none if it was added."""
        return was == () if self.action == "bead here" else bool(set(self.numbers) & set(was or ()))
