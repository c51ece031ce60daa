"""Parts of a strand's page: the sizes of its beads, the ways to its target, its beads one by one."""

from sizing.report.html.page import Block, Cell, Row, Table
from sizing.report.html.plots import plot_strand
from sizing.report.html.sections import css, length_cell
from sizing.report.html.svg import drawing
from sizing.report.html.ways import Way
from sizing.report.sentences.loop import COMPARED, found_said, planned_said, verdict_said
from sizing.report.sentences.phrases import bare_mm, number_runs, opening
from sizing.report.sentences.strand import GAPS_WORTH_A_WORD_MM, parts_changed, parts_left
from sizing.strand.advice import Advice
from sizing.strand.change import Option
from sizing.strand.sized import SizedStrand
from sizing.strand.spread import Spread, spread_across, spread_along
from vision.common.records import Strand, StrandBead

_MOST_NAMED = 6


def size_blocks(strand: Strand) -> list[Block]:
    """Show the strand to scale and the sizes of its beads."""
    plot = drawing(
        lambda width: plot_strand(strand, width),
        f"strand-{strand.number}",
        alt="The strand to scale, and each bead's size across and along the string with its uncertainty.",
        caption=_caption(strand),
    )
    spreads = {"Across": spread_across(strand), "Along": spread_along(strand)}
    rows: list[Row] = [_spread_row(name, spread) for name, spread in spreads.items()]
    head = ("In mm", "Mean", "Smallest", "Largest", "Spread")
    table = Table(title="Sizes of the beads", head=head, rows=rows, figures=range(1, len(head)))
    gaps_mm = strand.length_mm - strand.closed_up_mm
    lengths = _lengths(strand) if gaps_mm >= GAPS_WORTH_A_WORD_MM else []
    return [plot, table, *lengths]


def _caption(strand: Strand) -> str:
    rings = " Rings mark beads to check." if any(bead.flags for bead in strand.beads) else ""
    return f"The strand straightened, to scale. Bars show the uncertainty of each size.{rings}"


def _spread_row(name: str, spread: Spread) -> Row:
    if not spread.count:
        return (name, "not measured", "", "", "")
    mean = bare_mm(spread.mean_mm, spread.mean_u95_mm)
    return (name, mean, f"{spread.least_mm:.2f}", f"{spread.most_mm:.2f}", f"{spread.sd_mm:.2f}")


def _lengths(strand: Strand) -> list[Table]:
    rows: list[Row] = [
        ("As on the photo", length_cell(strand.length_mm, strand.length_u95_mm)),
        ("Pushed together", length_cell(strand.closed_up_mm, strand.closed_up_u95_mm)),
    ]
    return [Table(title="Length with and without gaps", rows=rows, figures=(1,))]


def compared_table(sized: SizedStrand) -> list[Block]:
    """Compare a finished piece with its plan, line by line."""
    rows: list[Row] = [
        (opening(line.name), planned_said(line), found_said(line), verdict_said(line))
        for line in sized.compared
    ]
    head = ("What", "Planned", "Found", "")
    return [Table(title=COMPARED, head=head, rows=rows, figures=(1, 2))] if rows else []


def ways(advice: Advice) -> list[Way]:
    """Return the ways to the target, the best first."""
    ranked = [
        ("nearest that keeps the pattern" if advice.finer else "nearest", advice.best),
        ("next best", advice.beyond),
        ("", advice.as_is),
        ("nearer, but breaks the pattern", advice.finer),
    ]
    return [
        Way(outcome=each, name=parts_left(each), how=_how(each), rank=rank, u95_mm=advice.u95_mm)
        for rank, each in ranked
        if each
    ]


def _how(option: Option) -> str:
    """Say in a few words what to do."""
    if option.leaves_all:
        return "as it is"
    if option.change_beads + option.change_spacers < 0:
        return f"remove {_named(option) if len(option.remove) <= _MOST_NAMED else parts_changed(option)}"
    ends = [
        f"{len(links)} at the {end} end"
        for links, end in ((option.add_left, "left"), (option.add_right, "right"))
        if links
    ]
    return f"add {' and '.join(ends)}"


def _named(option: Option) -> str:
    """Name what is removed, few beads and spacers by their numbers: `beads 19, 20 and spacer 2`."""
    removed = {"bead": option.remove_beads, "spacer": option.remove_spacers}
    named = [f"{what}{'' if len(n) == 1 else 's'} {number_runs(n)}" for what, n in removed.items() if n]
    return " and ".join(named) or parts_changed(option)


def bead_table(strand: Strand) -> tuple[tuple[str, ...], list[Row]]:
    """Return head and rows of the table of a strand's parts; what they are only where not all are beads."""
    head, rows = ("Bead", "Across, mm", "Along, mm"), [_bead_row(bead) for bead in strand.beads]
    if strand.count == len(strand.beads):
        return head, rows
    return (*head, "What"), [(*row, bead.kind) for row, bead in zip(rows, strand.beads, strict=True)]


def _bead_row(bead: StrandBead) -> Row:
    """Return a bead with its number, colour and sizes as a row of a table."""
    tone = "warning" if bead.flags else ""
    return (
        Cell(text=str(bead.number), colour=css(bead.colour_rgb), tone=tone),
        bare_mm(bead.across_mm, bead.across_u95_mm),
        bare_mm(bead.along_mm, bead.along_u95_mm),
    )
