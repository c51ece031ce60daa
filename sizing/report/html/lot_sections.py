"""Parts that the pages of a sorted and of a checked lot share: photos, sizes, beads one by one."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from sizing.lot.bead_names import bead_name, photo_letters
from sizing.lot.marking import Marking
from sizing.lot.sizes import Mean, Sizes
from sizing.report.html.page import Cell, Drawing, Row
from sizing.report.html.plots import Dots, Range, SizePlot, plot_sizes
from sizing.report.html.sections import css
from sizing.report.html.svg import drawing
from sizing.report.sentences.phrases import bare_mm, counted
from vision.common.numerics import COVERAGE_FACTOR
from vision.common.records import Lot

BEAD_HEAD = ("Bead", "Width, mm", "Length, mm")


def lot_texts(lot: Lot) -> list[tuple[str, str]]:
    """Return the alternative text and the caption of each photo of a lot."""
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
    """Return what the colours of a marking mean."""
    return [(name, css(colour)) for name, colour in marking.legend]


def sizes_drawing(sizes: Sizes, marking: Marking, *, ranges: Sequence[Range], name: str) -> Drawing:
    """Draw sizes in the colours of the photo.

    Parameters
    ----------
    ranges : sequence of Range, keyword-only
    name : str, keyword-only
        Which size it is: `width` or `length`.
    """
    dots = Dots(
        mm=sizes.mm,
        u95_mm=COVERAGE_FACTOR * sizes.u_mm,
        colours=[css(marking.colour_of[bead.photo, bead.number]) for bead in sizes.beads],
        hollow=np.array([bool(bead.flags) for bead in sizes.beads]),
    )
    band = " The band shows the limits of the label." if any(each.allowed for each in ranges) else ""
    rings = " Rings mark beads to check." if dots.hollow.any() else ""
    plot = SizePlot(title=f"{name.capitalize()}, mm", dots=dots, ranges=ranges)
    return drawing(
        lambda width: plot_sizes(plot, width),
        f"sizes-{name}",
        alt=f"The {name} of each bead with its uncertainty, from the smallest to the largest.",
        caption=f"Bars show the uncertainty of each size.{band}{rings}",
    )


def bead_rows(lot: Lot, marking: Marking) -> list[Row]:
    """Return a row for each bead: its name in its colour, width and length."""
    letters = photo_letters(lot)
    return [
        (
            Cell(
                text=bead_name(bead, letters),
                colour=css(marking.colour_of[bead.photo, bead.number]),
                tone="warning" if bead.flags else "",
            ),
            bare_mm(bead.min_feret_mm, bead.min_feret_u95_mm),
            bare_mm(bead.max_feret_mm, bead.max_feret_u95_mm),
        )
        for bead in lot.beads
    ]


def mean_cell(mean: Mean) -> Cell:
    """Return a mean with its uncertainty, and the spread of the beads."""
    return Cell(text=bare_mm(mean.mm, mean.u95_mm), more=f"spread {mean.sd_mm:.2f}")
