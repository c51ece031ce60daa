"""Measured strands as a page."""

from collections.abc import Sequence

from sizing.report.front.strand import strand_facts, strand_front
from sizing.report.html.page import Block, Lines, Page, Picture, Section, Terms, render
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
from sizing.report.html.strand_sections import bead_table, compared_table, size_blocks, ways
from sizing.report.html.ways import ways_section
from sizing.report.sentences.corrections import corrections_said
from sizing.report.sentences.count import COUNT_UNSURE, count_notes, cut_notes, parts_said
from sizing.report.sentences.flagged import strand_flagged
from sizing.report.sentences.loop import COMPARED
from sizing.report.sentences.several import notes_of, others_said, strand_name
from sizing.report.sentences.trust import strand_trust
from sizing.strand.sized import SizedStrand
from vision.common.records import Strand
from vision.marks.colours import FLAGGED, MEASURED, UNCOUNTED


def strand_page(sized: Sequence[SizedStrand], *, picture: Picture) -> str:
    """Return strands as one HTML document, what to do first."""
    strands = [each.strand for each in sized]
    conditions, several = strands[0].conditions, len(sized) > 1
    sections = [
        photo_section([picture], _key(strands)),
        *([_strand_section(each, of=len(sized)) for each in sized] if several else _sections(sized[0])),
        correction_section(corrections_said(strands[0].corrections)),
        flag_section(strand_flagged(strands)),
        *(_bead_section(strand, several=several) for strand in strands),
        condition_section([conditions], {}),
        caution_section(),
        trust_section(strand_trust()),
    ]
    return render(Page(front=strand_front(sized), sections=sections))


def strand_alt(sized: Sequence[SizedStrand]) -> str:
    """Describe the annotated photo for readers who cannot see it."""
    beads = [bead for each in sized for bead in each.strand.beads]
    flagged = sum(bool(bead.flags) for bead in beads)
    doubtful = f"; {flagged} of them are flagged" if flagged else ""
    what = "The strand on its" if len(sized) == 1 else f"{len(sized)} strands on their"
    marked = f"{', '.join(parts_said(beads))}, outlined and numbered along the string"
    return f"{what} scale sheet: {marked}{doubtful}."


def _sections(sized: SizedStrand) -> list[Section]:
    """Return what there is to say of a strand that is alone on its photo."""
    return [
        Section(title=COUNT_UNSURE, blocks=_doubts(sized.strand)),
        Section(title="Sizes", blocks=size_blocks(sized.strand)),
        *_ways_sections(sized),
        Section(title=COMPARED, blocks=compared_table(sized)),
    ]


def _strand_section(sized: SizedStrand, *, of: int) -> Section:
    """Return what there is to say of one of several strands."""
    facts, notes = Terms(facts=strand_facts(sized)), _lines(notes_of(sized, of=of))
    compared = [block for section in _ways_sections(sized) for block in section.blocks]
    return Section(
        title=strand_name(sized.strand, of),
        blocks=[
            facts,
            *notes,
            *_doubts(sized.strand),
            *size_blocks(sized.strand),
            *compared,
            *compared_table(sized),
        ],
    )


def _ways_sections(sized: SizedStrand) -> list[Section]:
    advice = sized.advice
    if advice is None or advice.cut_by:
        return []
    return [ways_section(advice.target, ways(advice), name=f"ways-{sized.strand.number}")]


def _doubts(strand: Strand) -> list[Block]:
    return _lines([*cut_notes(strand.cut_by), *count_notes(strand)])


def _lines(lines: Sequence[str]) -> list[Block]:
    return [Lines(lines=lines)] if lines else []


def _bead_section(strand: Strand, *, several: bool) -> Section:
    head, rows = bead_table(strand)
    return bead_section(head, rows, whose=f" of strand {strand.number}" if several else "")


def _key(strands: Sequence[Strand]) -> list[tuple[str, str]]:
    flagged = sum(bool(bead.flags) for strand in strands for bead in strand.beads)
    to_check = [(f"to check: {flagged}", css(FLAGGED))] if flagged else []
    aside = others_said(strands[0].others)
    not_counted = [(aside[0].lower() + aside[1:].rstrip("."), css(UNCOUNTED))] if aside else []
    return [("measured", css(MEASURED)), *to_check, *not_counted] if to_check or not_counted else []
