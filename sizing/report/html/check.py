"""A lot checked against its label, as a page."""

from collections.abc import Mapping, Sequence

from sizing.base.units import format_mm
from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.conformity import (
    CONFORMING,
    GUARD_FACTOR,
    NOT_CONFORMING,
    UNDECIDED,
    Axis,
    Conformity,
    Decision,
)
from sizing.lot.label import Label
from sizing.lot.marking import Marking
from sizing.lot.palette import DECISION_COLOURS
from sizing.lot.sizes import unmeasured
from sizing.report.html.lot_sections import (
    BEAD_HEAD,
    bead_rows,
    flagged_in,
    key_of,
    mean_cell,
    sizes_drawing,
    subject_of,
)
from sizing.report.html.page import Cell, Fact, Page, Picture, Row, Section, Table, render
from sizing.report.html.plots import Range
from sizing.report.html.sections import (
    bead_section,
    caution_section,
    condition_section,
    css,
    doubt_section,
    opening,
    photo_section,
)
from sizing.report.text_check import check_headline, check_notes
from vision.common.records import Lot

_OUTCOMES: tuple[tuple[Decision, str], ...] = (
    (CONFORMING, "within the limits"),
    (UNDECIDED, "too near a limit to tell"),
    (NOT_CONFORMING, "outside the limits"),
)


def check_page(
    lot: Lot, label: Label, conformity: Conformity, *, marking: Marking, pictures: Sequence[Picture]
) -> str:
    """Return a lot's conformity to its label as one HTML document, the verdict first."""
    letters = photo_letters(lot)
    sections = [
        photo_section(pictures, key_of(marking)),
        _size_section(conformity, marking),
        Section(
            title="Decided", blocks=[_outcome_table(lot, conformity, letters), _rule_table(label, conformity)]
        ),
        doubt_section(flagged_in(lot, letters)),
        bead_section(BEAD_HEAD, bead_rows(lot, marking, letters)),
        condition_section(lot.conditions, letters),
        caution_section(),
    ]
    return render(
        Page(
            kind="Label",
            subject=subject_of(lot),
            headline=check_headline(lot, label, conformity),
            notes=check_notes(lot, label, conformity),
            facts=_facts(lot, label, conformity),
            sections=sections,
        )
    )


def _facts(lot: Lot, label: Label, conformity: Conformity) -> list[Fact]:
    low, high = (100 * share for share in conformity.share_outside)
    means = [
        Fact(
            label=f"Mean {axis.dimension}",
            value=format_mm(axis.mean.mm, axis.mean.u95_mm),
            more=f"label {axis.stated.low_mm:g} to {axis.stated.high_mm:g} mm",
        )
        for axis in conformity.axes
        if len(axis.sizes)
    ]
    undecided = conformity.count(UNDECIDED)
    return [
        Fact(label="Label", value=label.text, more=label.basis),
        Fact(label="Beads", value=str(len(lot.beads))),
        *means,
        Fact(
            label="Within",
            value=str(conformity.count(CONFORMING)),
            more=f"{undecided} undecided" if undecided else "",
        ),
        Fact(
            label="Outside",
            value=str(conformity.count(NOT_CONFORMING)),
            more=f"{low:.0f} to {high:.0f} % of the stock",
        ),
    ]


def _size_section(conformity: Conformity, marking: Marking) -> Section:
    """Draw the sizes over what the label allows, once for each size it states."""
    drawn = [
        sizes_drawing(axis.sizes, marking, _allowed(axis), name=axis.dimension)
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
    head = ("Size", "Label allows, mm", "Mean, mm", "Off the label")
    table = Table(title="Sizes against the label", head=head, rows=rows, figures=(1, 2, 3))
    return Section(title="Sizes", blocks=[*drawn, table] if rows else [])


def _allowed(axis: Axis) -> list[Range]:
    stated = axis.stated
    name = f"{stated.low_mm:g}\N{EN DASH}{stated.high_mm:g} mm"
    return [Range(name=name, low_mm=stated.low_mm, high_mm=stated.high_mm, allowed=True)]


def _outcome_table(lot: Lot, conformity: Conformity, letters: Mapping[str, str]) -> Table:
    """Say which beads were decided how."""
    decided = list(zip(conformity.beads, conformity.decisions, strict=True))
    groups = [
        (
            Cell(text=opening(outcome), more=word, colour=css(DECISION_COLOURS[outcome])),
            [bead for bead, each in decided if each == outcome],
        )
        for outcome, word in _OUTCOMES
    ]
    groups.append((Cell(text="Not measured"), list(unmeasured(lot))))
    rows: list[Row] = [
        (name, str(len(beads)), bead_list(beads, dict(letters))) for name, beads in groups if beads
    ]
    return Table(title="Beads by decision", head=("Outcome", "Beads", "Numbers"), rows=rows)


def _rule_table(label: Label, conformity: Conformity) -> Table:
    """Say by what rule."""
    rows: list[Row] = [
        ("Limits", label.basis),
        ("Read as", conformity.reading),
        ("Rule", f"ISO 14253-1, with a guard band of {GUARD_FACTOR} u at each limit"),
    ]
    return Table(title="How it was decided", rows=rows)
