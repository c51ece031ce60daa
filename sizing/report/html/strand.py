"""Measured strands as a page."""

import math
from collections.abc import Sequence

from sizing.base.units import format_inches, format_mm
from sizing.report.html.page import Block, Fact, Lines, Page, Picture, Section, Terms, render
from sizing.report.html.sections import (
    bead_section,
    caution_section,
    condition_section,
    css,
    flag_section,
    photo_section,
    trust_section,
)
from sizing.report.html.strand_sections import bead_row, size_blocks, ways
from sizing.report.html.ways import ways_section
from sizing.report.sentences.conditions import scale_warnings
from sizing.report.sentences.count import COUNT_UNSURE, count_notes, count_said, cut_notes, length_said
from sizing.report.sentences.flagged import strand_flagged
from sizing.report.sentences.loop import fit_headline, fit_notes, loop_said
from sizing.report.sentences.phrases import bare_mm, counted, opening
from sizing.report.sentences.several import strand_name, strands_said
from sizing.report.sentences.strand import strand_headline, strand_notes
from sizing.report.sentences.trust import strand_trust
from sizing.strand.size_pattern import find_pattern
from sizing.strand.sized import SizedStrand
from sizing.strand.spread import spread_across, spread_along
from vision.common.records import Strand
from vision.marks.annotate import FLAGGED, MEASURED


def strand_page(sized: Sequence[SizedStrand], *, picture: Picture) -> str:
    """Return strands as one HTML document, what to do first."""
    strands = [each.strand for each in sized]
    conditions, several = strands[0].conditions, len(sized) > 1
    sections = [
        photo_section([picture], _key(strands)),
        *([_strand_section(each, of=len(sized)) for each in sized] if several else _sections(sized[0])),
        flag_section(strand_flagged(strands)),
        *(_bead_section(strand, several=several) for strand in strands),
        condition_section([conditions], {}),
        caution_section(),
        trust_section(strand_trust()),
    ]
    return render(
        Page(
            kind="Strands" if several else "Closed loop" if strands[0].loop else "Strand",
            subject=conditions.photo,
            headline=f"{strands_said(strands)}." if several else _headline(sized[0]),
            notes=[_one_of_several(each) for each in sized] if several else _notes(sized[0]),
            facts=() if several else _facts(sized[0]),
            sections=sections,
            warnings=scale_warnings([conditions]),
        )
    )


def strand_alt(sized: Sequence[SizedStrand]) -> str:
    """Describe the annotated photo for readers who cannot see it."""
    beads = [bead for each in sized for bead in each.strand.beads]
    flagged = sum(bool(bead.flags) for bead in beads)
    doubtful = f"; {flagged} of them are flagged" if flagged else ""
    what = "The strand on its" if len(sized) == 1 else f"{len(sized)} strands on their"
    marked = f"{counted(len(beads), 'bead')}, outlined and numbered along the string"
    return f"{what} scale sheet: {marked}{doubtful}."


def _sections(sized: SizedStrand) -> list[Section]:
    """Return what there is to say of a strand that is alone on its photo."""
    return [
        Section(title=COUNT_UNSURE, blocks=_doubts(sized.strand)),
        Section(title="Sizes", blocks=size_blocks(sized.strand)),
        *_ways_sections(sized),
    ]


def _strand_section(sized: SizedStrand, *, of: int) -> Section:
    """Return what there is to say of one of several strands."""
    facts, notes, doubts = Terms(facts=_facts(sized)), _lines(_notes(sized)), _doubts(sized.strand)
    compared = [block for section in _ways_sections(sized) for block in section.blocks]
    return Section(
        title=strand_name(sized.strand, of),
        blocks=[facts, *notes, *doubts, *size_blocks(sized.strand), *compared],
    )


def _ways_sections(sized: SizedStrand) -> list[Section]:
    advice = sized.advice
    if advice is None or advice.cut_by:
        return []
    return [ways_section(advice.target, ways(advice), name=f"ways-{sized.strand.number}")]


def _headline(sized: SizedStrand) -> str:
    """Say what to do with a strand, or what it measures."""
    strand = sized.strand
    if sized.advice:
        return strand_headline(sized.advice)
    if sized.fit:
        return fit_headline(sized.fit)
    if strand.loop:
        return f"{loop_said(strand, strand.loop)}."
    return f"{opening(count_said(strand))}, strung length {length_said(strand)}."


def _one_of_several(sized: SizedStrand) -> str:
    return f"Strand {sized.strand.number}: {_headline(sized)}"


def _notes(sized: SizedStrand) -> list[str]:
    if sized.fit:
        return fit_notes(sized.fit)
    return strand_notes(sized.advice) if sized.advice else []


def _doubts(strand: Strand) -> list[Block]:
    return _lines([*cut_notes(strand.cut_by), *count_notes(strand)])


def _lines(lines: Sequence[str]) -> list[Block]:
    return [Lines(lines=lines)] if lines else []


def _bead_section(strand: Strand, *, several: bool) -> Section:
    rows = [bead_row(bead) for bead in strand.beads]
    whose = f" of strand {strand.number}" if several else ""
    return bead_section(("Bead", "Across, mm", "Along, mm"), rows, whose=whose)


def _facts(sized: SizedStrand) -> list[Fact]:
    strand, advice = sized.strand, sized.advice
    facts = [
        Fact(label="Beads", value=_one_of(strand.counts), more=_or_more(strand) or _order(strand)),
        _size_fact(strand),
        _length_fact(strand),
        *_loop_facts(strand),
    ]
    if not advice or not math.isclose(*strand.lengths_mm):
        return facts
    as_is, best = advice.as_is.finished_mm, advice.best.finished_mm
    facts.append(Fact(label="Finished as it is", value=format_mm(as_is), more=format_inches(as_is)))
    if advice.change_beads:
        name = f"Finished with {advice.best.count}"
        facts.append(Fact(label=name, value=format_mm(best), more=format_inches(best)))
    return facts


def _loop_facts(strand: Strand) -> list[Fact]:
    """Return what a closed strand measures all round and inside."""
    loop = strand.loop
    if loop is None:
        return []
    lengths = {
        "All round": (loop.around_mm, loop.around_u95_mm),
        "Inside": (loop.inner_girth_mm, loop.inner_girth_u95_mm),
    }
    return [
        Fact(label=label, value=format_mm(mm, u95_mm), more=format_inches(mm))
        for label, (mm, u95_mm) in lengths.items()
    ]


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


def _key(strands: Sequence[Strand]) -> list[tuple[str, str]]:
    flagged = sum(bool(bead.flags) for strand in strands for bead in strand.beads)
    if not flagged:
        return []
    return [("measured", css(MEASURED)), (f"to check: {flagged}", css(FLAGGED))]
