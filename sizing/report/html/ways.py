"""Numbers of beads compared with a target, on a page: what each gives, and how far off that is."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from matplotlib.figure import Figure

from sizing.base.target import Target, TargetKind
from sizing.base.units import format_mm
from sizing.report.html.page import Cell, Row, Section, Table
from sizing.report.html.sections import length_cell, signed_mm
from sizing.report.html.svg import ACCENT, LINE, QUIET, drawing, stacked

_ROW_PT, _LABEL_PT = 24.0, 62.0
_MARGIN = 0.12


class Outcome(Protocol):
    """What a number of beads gives."""

    @property
    def count(self) -> int:
        """Number of beads."""

    @property
    def strung_mm(self) -> float:
        """Length of the beads."""

    @property
    def finished_mm(self) -> float:
        """Length of the piece."""

    @property
    def inner_girth_mm(self) -> float:
        """Inside length of the closed piece."""

    @property
    def miss_mm(self) -> float:
        """How much it is over (+) or under (-) the target."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to a target.

    Attributes
    ----------
    outcome : Outcome
    name : str
        What is strung then: `16 beads`.
    rank : str
        How it compares with the others: `nearest`.
    how : str
        What to do: `remove 1 bead`.
    u95_mm : float
        Expanded uncertainty of what it gives.
    """

    outcome: Outcome
    name: str
    rank: str = ""
    how: str = ""
    u95_mm: float = 0.0


def ways_section(target: Target, ways: Sequence[Way], *, name: str = "ways") -> Section:
    """Compare ways to a target, of which the first is the best; equal ones are shown once.

    `name` is that of the drawing, of which there is one of each name on a page.
    """
    shown = list({(way.outcome.count, way.how): way for way in reversed(ways)}.values())
    shown.sort(key=lambda way: way.outcome.count)
    rows: list[Row] = [_row(target, way, best=way.outcome is ways[0].outcome) for way in shown]
    inside = ["Inside"] if target.findings_mm else []
    head = ["Beads", "Strung", "Finished", *inside, "Over or under, mm"]
    table = Table(title="Compared with the target", head=head, rows=rows, figures=range(1, len(head)))
    misses = (f"{way.name} {signed_mm(way.outcome.miss_mm)}" for way in shown)
    picture = drawing(
        lambda width: plot_ways(target, shown, best=ways[0], width_pt=width),
        name,
        alt=f"Over or under the target: {', '.join(misses)}.",
    )
    return Section(title="Compared with the target", blocks=[picture, table])


def plot_ways(target: Target, ways: Sequence[Way], *, best: Way, width_pt: float) -> Figure:
    """Draw what each way gives on one scale, the target as a line across."""
    figure, [axes] = stacked(width_pt, (_ROW_PT * len(ways),), left_pt=_LABEL_PT, right_pt=12, below_pt=30)
    aim_mm = target.aim_mm
    reached = [aim_mm + way.outcome.miss_mm for way in ways]
    low = min(aim_mm, *(mm - way.u95_mm for mm, way in zip(reached, ways, strict=True)))
    high = max(aim_mm, *(mm + way.u95_mm for mm, way in zip(reached, ways, strict=True)))
    room = _MARGIN * (high - low) or 1.0
    axes.set_xlim(low - room, high + room)
    axes.set_ylim(len(ways) - 0.5, -0.5)
    axes.axvline(aim_mm, color=ACCENT, linewidth=1.2)
    axes.annotate(
        f"target {format_mm(aim_mm)}",
        (aim_mm, 1),
        (0, 5),
        ("data", "axes fraction"),
        "offset points",
        color=ACCENT,
        ha="center",
    )
    for y, (way, mm) in enumerate(zip(ways, reached, strict=True)):
        chosen = way is best
        axes.plot([aim_mm, mm], [y, y], color=LINE, linewidth=2, zorder=1)
        axes.plot([mm - way.u95_mm, mm + way.u95_mm], [y, y], color=QUIET, linewidth=4, alpha=0.4, zorder=2)
        axes.scatter([mm], [y], s=34 if chosen else 24, c=ACCENT if chosen else QUIET, zorder=3)
    axes.set_yticks(range(len(ways)), [way.name.replace(", ", ",\n") for way in ways])
    axes.tick_params(axis="y", pad=6)
    axes.set_xlabel(f"{_measured(target)}, mm")
    return figure


def _measured(target: Target) -> str:
    return "Inside length" if target.kind is TargetKind.GIRTH else target.kind.capitalize()


def _row(target: Target, way: Way, *, best: bool) -> Row:
    outcome = way.outcome
    off = signed_mm(outcome.miss_mm).removesuffix(" mm")
    return (
        Cell(text=way.name, more=way.how),
        length_cell(outcome.strung_mm),
        length_cell(outcome.finished_mm),
        *([length_cell(outcome.inner_girth_mm)] if target.findings_mm else []),
        Cell(text=off, more=way.rank, tone="good" if best else ""),
    )
