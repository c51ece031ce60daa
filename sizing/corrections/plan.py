"""A list of corrections, checked against the beads that a photo was read to show."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sizing.base.errors import CorrectionError
from sizing.base.units import format_mm
from sizing.corrections.caliper import check_reading
from vision.common.corrections import Correction

_LEAST_MM, _MOST_MM = 0.5, 100.0
"""No bead is smaller or larger: catches a mistyped unit (common practice, no source)."""

Key = tuple[str, int]
"""A bead of an uncorrected photo: the photo's name where there are several, and its number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionPlan:
    """Corrections of which none contradicts another.

    Attributes
    ----------
    of_bead : dict
        The correction that names a bead, by the bead.
    missed : tuple of Correction
        Beads that were missed, from the top of the photo down: in an order that the list does not decide.
    """

    of_bead: dict[Key, Correction]
    missed: tuple[Correction, ...]

    def action(self, key: Key) -> str:
        """Return what is said of a bead; empty where nothing is."""
        return self.of_bead[key].action if key in self.of_bead else ""


def each_bead(corrections: Iterable[Correction]) -> list[Correction]:
    """Return corrections that are about one bead each, or about those that are one."""
    out: list[Correction] = []
    for each in corrections:
        one = each.action in {"one bead", "bead here"}
        out += [each] if one else [replace(each, numbers=(number,)) for number in each.numbers]
    return out


def plan_of(corrections: Sequence[Correction], known: Iterable[Key]) -> CorrectionPlan:
    """Check corrections against each other and the beads that there are.

    Raises
    ------
    CorrectionError
        A bead is named that is not there, or two things are said of one.
    """
    there, of_bead = set(known), dict[Key, Correction]()
    for correction in corrections:
        _check_form(correction)
        for number in correction.numbers:
            key = (correction.photo, number)
            if key not in there:
                raise CorrectionError(
                    f"there is no bead {_named(key)}: give a number as on the marked photo, "
                    f"{_named(min(there))} to {_named(max(there))}"
                )
            if key in of_bead:
                raise CorrectionError(f"bead {_named(key)} is named twice: say one thing of each bead")
            of_bead[key] = correction
    missed = [each for each in corrections if each.action == "bead here"]
    if len({(each.photo, each.px) for each in missed}) < len(missed):
        raise CorrectionError("the same place is given twice for a missed bead: give each place once")
    return CorrectionPlan(of_bead=of_bead, missed=tuple(sorted(missed, key=_place)))


def check_places(corrections: Iterable[Correction], sizes_px: Mapping[str, tuple[int, int]]) -> None:
    """Refuse missed beads outside their photo.

    Parameters
    ----------
    sizes_px : mapping
        (width, height) of each upright photo by its name; of a single photo by the empty name.

    Raises
    ------
    CorrectionError
    """
    for correction in corrections:
        width, height = sizes_px[correction.photo]
        x, y = correction.px or (0.0, 0.0)
        if correction.action == "bead here" and not (0 <= x < width and 0 <= y < height):
            raise CorrectionError(
                f"the place {x:.0f},{y:.0f} lies outside the photo, which is {width} x {height} pixels: give "
                "the middle of a bead on it"
            )


def _check_form(correction: Correction) -> None:
    """Refuse what cannot be meant."""
    numbers, action = correction.numbers, correction.action
    if action == "bead here" and correction.px is None:
        raise CorrectionError("a missed bead needs its place on the photo")
    if action == "one bead" and len(numbers) < 2:
        raise CorrectionError("one bead was read as several: give the numbers of two or more that are one")
    if action == "size" and not _LEAST_MM <= correction.size_mm <= _MOST_MM:
        raise CorrectionError(f"a bead of {format_mm(correction.size_mm)} is out of reason: check its unit")
    if action == "size":
        check_reading(correction, bead=_named((correction.photo, numbers[0])))


def _named(key: Key) -> str:
    photo, number = key
    return f"{number} of {photo}" if photo else f"{number}"


def _place(correction: Correction) -> tuple[str, float, float]:
    x, y = correction.px or (0.0, 0.0)
    return correction.photo, y, x
