"""A measured strand as a page."""

from sizing.base.units import format_inches, format_length, format_mm
from sizing.report.advice import headline, notes
from sizing.report.html.page import Cell, Fact, Page, Picture, Row, Section, Table, render
from sizing.report.html.plots import plot_strand
from sizing.report.html.sections import (
    bare_mm,
    bead_section,
    caution_section,
    condition_section,
    css,
    doubt_section,
    length_cell,
    photo_section,
)
from sizing.report.html.svg import drawing
from sizing.report.html.ways import Way, ways_section
from sizing.strand.advice import Advice
from sizing.strand.change import Option
from sizing.strand.size_pattern import find_pattern
from sizing.strand.spread import Spread, spread_across, spread_along
from vision.common import flags
from vision.common.records import Strand, StrandBead
from vision.marks.annotate import DOUBTFUL, SOUND

_MOST_NAMED = 6
_GAPS_WORTH_A_ROW_MM = 0.5


def strand_page(strand: Strand, advice: Advice | None, picture: Picture) -> str:
    """Return a strand as one HTML document: what to do, the photo, sizes, ways, conditions, cautions."""
    sections = [
        photo_section([picture], _key(strand)),
        _size_section(strand),
        *([ways_section(advice.target, _ways(advice))] if advice else []),
        doubt_section(_flagged(strand)),
        bead_section(("Bead", "Across, mm", "Along, mm"), [_bead_row(bead) for bead in strand.beads]),
        condition_section([strand.conditions], {}),
        caution_section(),
    ]
    return render(
        Page(
            kind="Strand",
            subject=strand.conditions.photo,
            headline=headline(advice) if advice else _headline(strand),
            notes=notes(advice) if advice else (),
            facts=_facts(strand, advice),
            sections=sections,
        )
    )


def strand_alt(strand: Strand) -> str:
    """Describe the annotated photo for who cannot see it."""
    flagged = sum(bool(bead.flags) for bead in strand.beads)
    doubtful = f"; {flagged} of them are marked as doubtful" if flagged else ""
    beads = f"{len(strand.beads)} beads outlined and numbered along the string"
    return f"The strand on its scale sheet: {beads}{doubtful}."


def _headline(strand: Strand) -> str:
    count = len(strand.beads)
    length = format_length(strand.length_mm, strand.length_u95_mm)
    return f"{count} bead{'' if count == 1 else 's'}, {length} strung."


def _facts(strand: Strand, advice: Advice | None) -> list[Fact]:
    facts = [
        Fact(label="Beads", value=str(len(strand.beads)), more=_order(strand)),
        _size_fact(strand),
        Fact(
            label="Strung length",
            value=format_mm(strand.length_mm, strand.length_u95_mm),
            more=format_inches(strand.length_mm),
        ),
    ]
    if not advice:
        return facts
    as_is, best = advice.as_is.finished_mm, advice.best.finished_mm
    facts.append(Fact(label="Finished as it is", value=format_mm(as_is), more=format_inches(as_is)))
    if advice.change_beads:
        name = f"Finished with {advice.best.count}"
        facts.append(Fact(label=name, value=format_mm(best), more=format_inches(best)))
    return facts


def _order(strand: Strand) -> str:
    """Name the order of the beads in a few words."""
    pattern = find_pattern(strand.beads)
    if pattern.uniform:
        return "all of one size" if not pattern.odd else f"of one size but for {len(pattern.odd)}"
    if pattern.repeat:
        return f"a repeat of {pattern.repeat}"
    return "symmetric" if pattern.symmetric else "mixed sizes"


def _size_fact(strand: Strand) -> Fact:
    across, along = spread_across(strand), spread_along(strand)
    if find_pattern(strand.beads).uniform:
        return Fact(
            label="Size across",
            value=format_mm(across.mean_mm, across.mean_u95_mm),
            more=f"{format_mm(along.mean_mm, decimals=2)} along the string",
        )
    least = format_mm(across.least_mm).removesuffix(" mm")
    return Fact(label="Sizes across", value=f"{least}\N{EN DASH}{format_mm(across.most_mm)}")


def _size_section(strand: Strand) -> Section:
    plot = drawing(
        lambda width: plot_strand(strand, width),
        "strand",
        alt="The strand drawn to scale, and each bead's size across and along the string with its doubt.",
        caption=_caption(strand),
    )
    spreads = {"Across": spread_across(strand), "Along": spread_along(strand)}
    rows: list[Row] = [_spread_row(name, spread) for name, spread in spreads.items()]
    head = ("In mm", "Mean", "Smallest", "Largest", "Spread")
    table = Table(title="Sizes of the beads", head=head, rows=rows, figures=range(1, len(head)))
    gaps_mm = strand.length_mm - strand.closed_up_mm
    lengths = _lengths(strand) if gaps_mm >= _GAPS_WORTH_A_ROW_MM else []
    return Section(title="Sizes", blocks=[plot, table, *lengths])


def _caption(strand: Strand) -> str:
    rings = " Rings are beads to look at again." if any(bead.flags for bead in strand.beads) else ""
    return f"The strand pulled straight, to scale. Bars show each size's doubt.{rings}"


def _spread_row(name: str, spread: Spread) -> Row:
    if not spread.count:
        return (name, "not measured", "", "", "")
    mean = format_mm(spread.mean_mm, spread.mean_u95_mm).removesuffix(" mm")
    return (name, mean, f"{spread.least_mm:.2f}", f"{spread.most_mm:.2f}", f"{spread.sd_mm:.2f}")


def _lengths(strand: Strand) -> list[Table]:
    rows: list[Row] = [
        ("As photographed", length_cell(strand.length_mm, strand.length_u95_mm)),
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
        numbers = ", ".join(map(str, option.remove)) if 0 < len(option.remove) <= _MOST_NAMED else ""
        many = "s" if len(option.remove) > 1 else ""
        return f"remove number{many} {numbers}" if numbers else f"remove {-option.change_beads}"
    ends = [
        f"{len(links)} {end}"
        for links, end in ((option.add_left, "left"), (option.add_right, "right"))
        if links
    ]
    return f"add {' and '.join(ends)}"


def _key(strand: Strand) -> list[tuple[str, str]]:
    flagged = sum(bool(bead.flags) for bead in strand.beads)
    if not flagged:
        return []
    return [("measured", css(SOUND)), (f"look at again: {flagged}", css(DOUBTFUL))]


def _flagged(strand: Strand) -> dict[str, str]:
    """Return the numbers of flagged beads by flag."""
    marked = {}
    for word in flags.DESCRIPTIONS:
        numbers = [str(bead.number) for bead in strand.beads if word in bead.flags]
        whole = ["the strand as a whole"] if word in strand.flags and not numbers else []
        every = len(numbers) == len(strand.beads) and len(numbers) > 1
        marked[word] = "all" if every else ", ".join([*numbers, *whole])
    return marked


def _bead_row(bead: StrandBead) -> Row:
    tone = "doubtful" if bead.flags else ""
    return (
        Cell(text=str(bead.number), colour=css(bead.colour_rgb), tone=tone),
        bare_mm(bead.across_mm, bead.across_u95_mm),
        bare_mm(bead.along_mm, bead.along_u95_mm),
    )
