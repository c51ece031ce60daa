"""What the pages of a sorted and of a checked lot share: photos, sizes, beads one by one."""

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from sizing.lot.bead_names import bead_list, bead_name, photo_letters
from sizing.lot.marking import Marking
from sizing.lot.sizes import COVERAGE, Mean, Sizes
from sizing.report.html.page import Cell, Drawing, Row
from sizing.report.html.plots import Dots, Range, plot_sizes
from sizing.report.html.sections import bare_mm, css
from sizing.report.html.svg import drawing
from sizing.report.text_lot import WHOLE_LOT, counted
from vision.common import flags
from vision.common.records import Lot

BEAD_HEAD = ("Bead", "Width, mm", "Length, mm")


def subject_of(lot: Lot) -> str:
    """Name a lot by its photo, or say how many there are."""
    count = len(lot.conditions)
    return lot.conditions[0].photo if count == 1 else f"{count} photos"


def lot_texts(lot: Lot) -> list[tuple[str, str]]:
    """Return for each photo of a lot its alternative text and its caption."""
    letters = photo_letters(lot)
    count = Counter(bead.photo for bead in lot.beads)
    return [
        (
            f"Photo {each.photo}: {counted(count[each.photo], 'bead')}, outlined in colours and numbered.",
            f"{letters[each.photo]}: {each.photo}, {counted(count[each.photo], 'bead')}" if letters else "",
        )
        for each in lot.conditions
    ]


def key_of(marking: Marking) -> list[tuple[str, str]]:
    """Return what a marking's colours mean."""
    return [(name, css(colour)) for name, colour in marking.legend]


def sizes_drawing(sizes: Sizes, marking: Marking, ranges: Sequence[Range], *, name: str) -> Drawing:
    """Draw sizes in the colours of the photo.

    Parameters
    ----------
    name : str, keyword-only
        `width` or `length`: what the sizes are.
    """
    dots = Dots(
        mm=sizes.mm,
        u95_mm=COVERAGE * sizes.u_mm,
        colours=[css(marking.colour_of[bead.photo, bead.number]) for bead in sizes.beads],
        hollow=np.array([bool(bead.flags) for bead in sizes.beads]),
    )
    band = " The band is what the label allows." if any(each.allowed for each in ranges) else ""
    rings = " Rings are beads to look at again." if dots.hollow.any() else ""
    return drawing(
        lambda width: plot_sizes(f"{name.capitalize()}, mm", dots, ranges, width),
        f"sizes-{name}",
        alt=f"The {name} of each bead with its doubt, from the smallest to the largest.",
        caption=f"Bars show each size's doubt.{band}{rings}",
    )


def flagged_in(lot: Lot, letters: Mapping[str, str]) -> dict[str, str]:
    """Return the names of flagged beads, or of the lot as a whole, by flag."""
    marked = {
        word: bead_list((bead for bead in lot.beads if word in bead.flags), dict(letters))
        for word in flags.DESCRIPTIONS
    }
    return marked | dict.fromkeys(lot.flags, WHOLE_LOT)


def bead_rows(lot: Lot, marking: Marking, letters: Mapping[str, str]) -> list[Row]:
    """Return a row for each bead: its name in its colour, width and length."""
    return [
        (
            Cell(
                text=bead_name(bead, dict(letters)),
                colour=css(marking.colour_of[bead.photo, bead.number]),
                tone="doubtful" if bead.flags else "",
            ),
            bare_mm(bead.min_feret_mm, bead.min_feret_u95_mm),
            bare_mm(bead.max_feret_mm, bead.max_feret_u95_mm),
        )
        for bead in lot.beads
    ]


def mean_cell(mean: Mean) -> Cell:
    """Return a mean with its doubt, and the spread of the beads."""
    return Cell(text=bare_mm(mean.mm, mean.u95_mm), more=f"spread {mean.sd_mm:.2f}")
