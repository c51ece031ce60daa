"""What stands first about a lot that was checked against its label."""

from sizing.base.units import format_mm
from sizing.lot.conformity import CONFORMING, NOT_CONFORMING, UNDECIDED, Axis
from sizing.lot.sizes import mean_of
from sizing.report.front.front import Fact, Front
from sizing.report.front.lot import subject_of
from sizing.report.sentences.check import CheckedLot, check_headline, check_notes
from sizing.report.sentences.conditions import scale_warnings
from sizing.report.sentences.phrases import bare_mm, opening


def check_front(checked: CheckedLot) -> Front:
    """Return what stands first about a checked lot, the verdict before all."""
    return Front(
        kind="Label",
        subject=subject_of(checked.lot),
        headline=check_headline(checked),
        notes=check_notes(checked),
        facts=_facts(checked),
        warnings=scale_warnings(checked.lot.conditions),
    )


def _facts(checked: CheckedLot) -> list[Fact]:
    label, conformity = checked.label, checked.conformity
    means = [_size_fact(axis) for axis in conformity.axes if len(axis.sizes)]
    undecided = conformity.count(UNDECIDED)
    return [
        Fact(label="Label", value=label.text, more=label.basis),
        Fact(label="Beads", value=str(len(checked.lot.beads))),
        *means,
        Fact(
            label="Within the limits",
            value=str(conformity.count(CONFORMING)),
            more=f"{undecided} too close to decide" if undecided else "",
        ),
        Fact(label="Outside the limits", value=str(conformity.count(NOT_CONFORMING))),
    ]


def _size_fact(axis: Axis) -> Fact:
    more = f"label {axis.stated.low_mm:g} to {axis.stated.high_mm:g} mm"
    if len(axis.groups) == 1:
        return Fact(
            label=f"Mean {axis.dimension}", value=format_mm(axis.mean.mm, axis.mean.u95_mm), more=more
        )
    least, most = (mean_of(axis.groups[k]).mm for k in (0, -1))
    value = f"{bare_mm(least)}\N{EN DASH}{format_mm(most)}"
    return Fact(label=f"{opening(axis.dimension)} of {len(axis.groups)} sizes", value=value, more=more)
