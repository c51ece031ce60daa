"""What the maker put right, a sentence each."""

from collections.abc import Mapping, Sequence

from sizing.base.units import format_mm
from sizing.lot.bead_names import photo_letters
from sizing.report.sentences.phrases import number_runs
from vision.common.corrections import Correction
from vision.common.records import Lot

CORRECTED_BY_HAND = "Put right by hand"
_ARE = {
    "no bead": ("is no bead", "are no beads"),
    "spacer": ("is a spacer", "are spacers"),
    "cover": ("is a crimp or its cover", "are crimps or their covers"),
    "stopper": ("is a stopper", "are stoppers"),
    "bead": ("is a bead", "are beads"),
    "one bead": ("is one", "are one"),
    "two beads": ("is two", "are each two"),
}


def corrections_said(corrections: Sequence[Correction], photos: Mapping[str, str] | None = None) -> list[str]:
    """Say each correction, and which numbers these are; nothing where nothing was corrected.

    Parameters
    ----------
    corrections : sequence of Correction
    photos : mapping, optional
        The letter of each photo of a lot, where there are several.

    Examples
    --------
    >>> corrections_said([Correction(action="no bead", numbers=(1, 29))])[0]
    'Beads 1, 29 are no beads.'
    """
    lines = [correction_said(each, (photos or {}).get(each.photo, "")) for each in corrections]
    numbered = any(each.numbers for each in corrections)
    return [*lines, "These are the numbers before: the beads were then numbered anew."] if numbered else lines


def correction_said(correction: Correction, letter: str = "") -> str:
    """Say one correction as a sentence; `letter` is that of its photo."""
    if correction.action == "bead here":
        x, y = correction.px or (0.0, 0.0)
        return f"A bead was missed{f' on photo {letter}' if letter else ''} at {x:.0f}, {y:.0f}."
    which = _named(correction.numbers, letter)
    if correction.action == "size":
        is_ = "is" if len(correction.numbers) == 1 else "are"
        return f"{which} {is_} {_read(correction)} by a caliper{_but(correction)}."
    one, many = _ARE[correction.action]
    return f"{which} {one if len(correction.numbers) == 1 else many}."


def lot_corrections(lot: Lot) -> list[str]:
    """Say what was put right on the photos of a lot."""
    return corrections_said(lot.corrections, photo_letters(lot))


def _named(numbers: Sequence[int], letter: str) -> str:
    listed = ", ".join(f"{letter}{number}" for number in numbers) if letter else number_runs(sorted(numbers))
    return f"Bead{'' if len(numbers) == 1 else 's'} {listed}"


def _read(correction: Correction) -> str:
    return format_mm(correction.size_mm, correction.size_u95_mm)


def _but(correction: Correction) -> str:
    """Say what the photo shows, where the caliper cannot be right as well."""
    if not correction.contradicted:
        return ""
    shown = format_mm(correction.shown_mm, correction.shown_u95_mm)
    return f", but {shown} on the photo: one of the two is wrong. Read it again, on the bead of this number"
