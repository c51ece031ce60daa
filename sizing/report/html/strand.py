"""A measured strand as a page."""

import math

from sizing.base.units import format_inches, format_mm
from sizing.report.html.page import Cell, Fact, Lines, Page, Picture, Row, Section, Table, render
from sizing.report.html.plots import plot_strand
from sizing.report.html.sections import (
    bead_section,
    caution_section,
    condition_section,
    css,
    flag_section,
    length_cell,
    photo_section,
    trust_section,
)
from sizing.report.html.svg import drawing
from sizing.report.html.ways import Way, ways_section
from sizing.report.sentences.conditions import scale_warnings
from sizing.report.sentences.count import COUNT_UNSURE, count_notes, count_said, cut_notes, length_said
from sizing.report.sentences.flagged import strand_flagged
from sizing.report.sentences.phrases import bare_mm, counted, number_runs, opening
from sizing.report.sentences.strand import GAPS_WORTH_A_WORD_MM, strand_headline, strand_notes
from sizing.report.sentences.trust import strand_trust
from sizing.strand.advice import Advice
from sizing.strand.change import Option
from sizing.strand.size_pattern import find_pattern
from sizing.strand.spread import Spread, spread_across, spread_along
from vision.common.records import Strand, StrandBead
from vision.marks.annotate import FLAGGED, MEASURED

_MOST_NAMED = 6


def strand_page(strand: Strand, advice: Advice | None, *, picture: Picture) -> str:
    """Return a strand as one HTML document, what to do first."""
    sections = [
        photo_section([picture], _key(strand)),
        _count_section(strand),
        _size_section(strand),
        *([ways_section(advice.target, _ways(advice))] if advice and not advice.cut_by else []),
        flag_section(strand_flagged(strand)),
        bead_section(("Bead", "Across, mm", "Along, mm"), [_bead_row(bead) for bead in strand.beads]),
        condition_section([strand.conditions], {}),
        caution_section(),
        trust_section(strand_trust()),
    ]
    return render(
        Page(
            kind="Strand",
            subject=strand.conditions.photo,
            headline=strand_headline(advice) if advice else _headline(strand),
            notes=strand_notes(advice) if advice else (),
            facts=_facts(strand, advice),
            sections=sections,
            warnings=scale_warnings([strand.conditions]),
        )
    )


def strand_alt(strand: Strand) -> str:
    """Describe the annotated photo for readers who cannot see it."""
    flagged = sum(bool(bead.flags) for bead in strand.beads)
    doubtful = f"; {flagged} of them are flagged" if flagged else ""
    beads = f"{counted(len(strand.beads), 'bead')}, outlined and numbered along the string"
    return f"The strand on its scale sheet: {beads}{doubtful}."


def _headline(strand: Strand) -> str:
    return f"{opening(count_said(strand))}, strung length {length_said(strand)}."


def _count_section(strand: Strand) -> Section:
    lines = [*cut_notes(strand.cut_by), *count_notes(strand)]
    return Section(title=COUNT_UNSURE, blocks=[Lines(lines=lines)] if lines else [])


def _facts(strand: Strand, advice: Advice | None) -> list[Fact]:
    facts = [
        Fact(label="Beads", value=_one_of(strand.counts), more=_or_more(strand) or _order(strand)),
        _size_fact(strand),
        _length_fact(strand),
    ]
    if not advice or not math.isclose(*strand.lengths_mm):
        return facts
    as_is, best = advice.as_is.finished_mm, advice.best.finished_mm
    facts.append(Fact(label="Finished as it is", value=format_mm(as_is), more=format_inches(as_is)))
    if advice.change_beads:
        name = f"Finished with {advice.best.count}"
        facts.append(Fact(label=name, value=format_mm(best), more=format_inches(best)))
    return facts


def _length_fact(strand: Strand) -> Fact:
    label, (least, most) = "Strung length", strand.lengths_mm
    if math.isclose(least, most):
        value = format_mm(strand.length_mm, strand.length_u95_mm)
        return Fact(label=label, value=value, more=format_inches(strand.length_mm))
    if strand.cut_by:
        return Fact(label=label, value=format_mm(least), more=_or_more(strand))
    return Fact(label=label, value=f"{bare_mm(least)} to {format_mm(most)}", more=format_inches(least))


def _one_of(counts: tuple[float, float]) -> str:
    """Return the fewest beads, and the most where that is known to be another number."""
    least, most = counts
    return f"{least:.0f}" if least == most or math.isinf(most) else f"{least:.0f} to {most:.0f}"


def _or_more(strand: Strand) -> str:
    return "or more: the photo does not show all" if strand.cut_by else ""


def _order(strand: Strand) -> str:
    """Name the order of the beads in a few words."""
    pattern = find_pattern(strand.beads, scale_rel_u=strand.conditions.scale_rel_u)
    if pattern.uniform:
        return "all of one size" if not pattern.odd else f"of one size except for {len(pattern.odd)}"
    if pattern.repeat:
        return f"a repeat of {pattern.repeat} beads"
    return "the same from both ends" if pattern.symmetric else "mixed sizes"


def _size_fact(strand: Strand) -> Fact:
    across, along = spread_across(strand), spread_along(strand)
    if find_pattern(strand.beads, scale_rel_u=strand.conditions.scale_rel_u).uniform:
        return Fact(
            label="Size across",
            value=format_mm(across.mean_mm, across.mean_u95_mm),
            more=f"{format_mm(along.mean_mm, decimals=2)} along the string",
        )
    value = f"{bare_mm(across.least_mm)}\N{EN DASH}{format_mm(across.most_mm)}"
    return Fact(label="Sizes across", value=value)


def _size_section(strand: Strand) -> Section:
    plot = drawing(
        lambda width: plot_strand(strand, width),
        "strand",
        alt="The strand to scale, and each bead's size across and along the string with its uncertainty.",
        caption=_caption(strand),
    )
    spreads = {"Across": spread_across(strand), "Along": spread_along(strand)}
    rows: list[Row] = [_spread_row(name, spread) for name, spread in spreads.items()]
    head = ("In mm", "Mean", "Smallest", "Largest", "Spread")
    table = Table(title="Sizes of the beads", head=head, rows=rows, figures=range(1, len(head)))
    gaps_mm = strand.length_mm - strand.closed_up_mm
    lengths = _lengths(strand) if gaps_mm >= GAPS_WORTH_A_WORD_MM else []
    return Section(title="Sizes", blocks=[plot, table, *lengths])


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


def _ways(advice: Advice) -> list[Way]:
    options = [advice.best, advice.beyond, advice.as_is, advice.finer]
    return [Way(outcome=each, how=_how(each), u95_mm=advice.u95_mm) for each in options if each]


def _how(option: Option) -> str:
    """Say in a few words what to do."""
    if option.change_beads == 0:
        return "as it is"
    if option.change_beads < 0:
        named = 0 < len(option.remove) <= _MOST_NAMED
        many = "s" if len(option.remove) > 1 else ""
        return (
            f"remove bead{many} {number_runs(option.remove)}" if named else f"remove {-option.change_beads}"
        )
    ends = [
        f"{len(links)} at the {end} end"
        for links, end in ((option.add_left, "left"), (option.add_right, "right"))
        if links
    ]
    return f"add {' and '.join(ends)}"


def _key(strand: Strand) -> list[tuple[str, str]]:
    flagged = sum(bool(bead.flags) for bead in strand.beads)
    if not flagged:
        return []
    return [("measured", css(MEASURED)), (f"to check: {flagged}", css(FLAGGED))]


def _bead_row(bead: StrandBead) -> Row:
    tone = "warning" if bead.flags else ""
    return (
        Cell(text=str(bead.number), colour=css(bead.colour_rgb), tone=tone),
        bare_mm(bead.across_mm, bead.across_u95_mm),
        bare_mm(bead.along_mm, bead.along_u95_mm),
    )
