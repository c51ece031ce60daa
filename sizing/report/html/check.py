"""A lot checked against its label, as a page."""

from collections.abc import Sequence

from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.conformity import OUTCOMES, Axis, Conformity
from sizing.lot.marking import Marking
from sizing.lot.palette import DECISION_COLOURS, UNMEASURED
from sizing.lot.sizes import unmeasured
from sizing.report.front.check import check_front
from sizing.report.html.lot_sections import (
    BEAD_HEAD,
    bead_rows,
    mean_cell,
    sizes_drawing,
)
from sizing.report.html.page import Cell, Page, Picture, Row, Section, Table, render
from sizing.report.html.plots import Range
from sizing.report.html.sections import (
    bead_section,
    caution_section,
    condition_section,
    correction_section,
    css,
    flag_section,
    photo_section,
    trust_section,
)
from sizing.report.sentences.check import CheckedLot
from sizing.report.sentences.corrections import lot_corrections
from sizing.report.sentences.flagged import lot_flagged
from sizing.report.sentences.phrases import opening
from sizing.report.sentences.trust import check_trust


def check_page(checked: CheckedLot, *, marking: Marking, pictures: Sequence[Picture]) -> str:
    """Return whether a lot is what its label says as one HTML document, the verdict first."""
    lot, letters = checked.lot, photo_letters(checked.lot)
    sections = [
        photo_section(pictures, _key(checked)),
        _size_section(checked.conformity, marking),
        Section(title="Bead by bead", blocks=[_outcome_table(checked), _label_table(checked)]),
        correction_section(lot_corrections(lot)),
        flag_section(lot_flagged(lot)),
        bead_section(BEAD_HEAD, bead_rows(lot, marking)),
        condition_section(lot.conditions, letters),
        caution_section(),
        trust_section(check_trust()),
    ]
    return render(Page(front=check_front(checked), sections=sections))


def _key(checked: CheckedLot) -> list[tuple[str, str]]:
    """Return what the colours on the photo mean, in a maker's words."""
    counts = [
        (words, css(DECISION_COLOURS[decision]), checked.conformity.count(decision))
        for decision, words in OUTCOMES.items()
    ]
    counts.append(("not measured", css(UNMEASURED), len(unmeasured(checked.lot))))
    return [(f"{words}: {count}", colour) for words, colour, count in counts if count]


def _size_section(conformity: Conformity, marking: Marking) -> Section:
    """Draw the sizes over the limits of the label, once for each size that it states."""
    drawn = [
        sizes_drawing(axis.sizes, marking, ranges=_allowed(axis), name=axis.dimension)
        for axis in conformity.axes
        if len(axis.sizes)
    ]
    rows: list[Row] = [
        (
            opening(axis.dimension),
            f"{axis.stated.low_mm:g} to {axis.stated.high_mm:g}",
            mean_cell(axis.mean),
            f"{100 * axis.relative_difference:+.1f} %".replace("-", "\N{MINUS SIGN}"),
        )
        for axis in conformity.axes
        if len(axis.sizes)
    ]
    head = ("Size", "Label allows, mm", "Mean, mm", "Compared with the label")
    table = Table(title="Sizes against the label", head=head, rows=rows, figures=(1, 2, 3))
    return Section(title="Sizes", blocks=[*drawn, table] if rows else [])


def _allowed(axis: Axis) -> list[Range]:
    stated = axis.stated
    name = f"{stated.low_mm:g}\N{EN DASH}{stated.high_mm:g} mm"
    return [Range(name=name, low_mm=stated.low_mm, high_mm=stated.high_mm, allowed=True)]


def _outcome_table(checked: CheckedLot) -> Table:
    """Return which beads are within the limits, and which are not."""
    conformity, letters = checked.conformity, photo_letters(checked.lot)
    decided = list(zip(conformity.beads, conformity.decisions, strict=True))
    groups = [
        (
            Cell(text=opening(words), colour=css(DECISION_COLOURS[decision])),
            [bead for bead, each in decided if each == decision],
        )
        for decision, words in OUTCOMES.items()
    ]
    groups.append((Cell(text="Not measured"), list(unmeasured(checked.lot))))
    rows: list[Row] = [(name, str(len(beads)), bead_list(beads, letters)) for name, beads in groups if beads]
    head = ("Against the label", "Beads", "Bead numbers")
    return Table(title="Beads within and outside the limits", head=head, rows=rows)


def _label_table(checked: CheckedLot) -> Table:
    """Return how the label was read."""
    rows: list[Row] = [("Limits", checked.label.basis), ("Read as", checked.conformity.reading)]
    return Table(title="How the label was read", rows=rows)
