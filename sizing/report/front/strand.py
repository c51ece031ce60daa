"""What stands first about measured strands."""

import math
from collections.abc import Sequence

from sizing.base.units import format_mm, format_pair
from sizing.report.front.front import Fact, Front, length_fact
from sizing.report.sentences.conditions import scale_warnings
from sizing.report.sentences.count import count_said, least_mm, length_said
from sizing.report.sentences.loop import fit_headline, loop_said, pendant_said
from sizing.report.sentences.phrases import bare_mm, opening
from sizing.report.sentences.several import (
    assumptions_said,
    changes_said,
    nest_said,
    notes_of,
    place_said,
    refused_said,
    strands_said,
)
from sizing.report.sentences.strand import parts_left, strand_headline
from sizing.strand.size_pattern import find_pattern
from sizing.strand.sized import SizedStrand
from sizing.strand.spread import spread_across, spread_along
from vision.common.records import Strand


def strand_front(sized: Sequence[SizedStrand]) -> Front:
    """Return what stands first about the strands of one photo, what to do before all."""
    strands = [each.strand for each in sized]
    conditions, several = strands[0].conditions, len(sized) > 1
    return Front(
        kind="Strands" if several else "Closed loop" if strands[0].loop else "Strand",
        subject=conditions.photo,
        headline=f"{strands_said(strands)}." if several else _headline(sized[0]),
        notes=[
            *refused_said(strands),
            *(_notes_of_all(sized) if several else notes_of(sized[0], of=1)),
        ],
        facts=() if several else strand_facts(sized[0]),
        warnings=scale_warnings([conditions]),
    )


def _notes_of_all(sized: Sequence[SizedStrand]) -> list[str]:
    changes = [said for said in [changes_said(sized)] if said]
    return [*map(_one_of_several, sized), *changes, *nest_said(sized), *assumptions_said(sized)]


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
    placed = place_said(sized)
    should_be = f" It should be strung {placed}." if placed else ""
    return f"Strand {sized.strand.number}: {_headline(sized)}{should_be}"


def strand_facts(sized: SizedStrand) -> list[Fact]:
    """Return the large figures of one strand."""
    strand, advice = sized.strand, sized.advice
    facts = [
        Fact(label="Beads", value=_one_of(strand.counts), more=_or_more(strand) or _order(strand)),
        _size_fact(strand),
        _length_fact(strand),
        *_loop_facts(strand),
        *_place_facts(sized),
    ]
    if not advice or not math.isclose(*strand.lengths_mm):
        return facts
    facts.append(length_fact("Finished as it is", advice.as_is.finished_mm))
    if not advice.best.leaves_all:
        name = f"Finished with {parts_left(advice.best)}"
        facts.append(length_fact(name, advice.best.finished_mm))
    return facts


def _loop_facts(strand: Strand) -> list[Fact]:
    """Return what a closed strand measures all round and inside."""
    loop = strand.loop
    if loop is None:
        return []
    facts = [
        length_fact("All round", loop.around_mm, loop.around_u95_mm),
        length_fact("Inside", loop.inner_girth_mm, loop.inner_girth_u95_mm),
        length_fact("Clasp", loop.clasp_mm),
    ]
    if loop.pendant and loop.extender_mm is not None:
        value, _ = format_pair(loop.extender_mm)
        facts.append(Fact(label="Extender", value=value, more=pendant_said(loop.pendant)))
    return facts


def _place_facts(sized: SizedStrand) -> list[Fact]:
    """Return how long a strand should be that lies among others."""
    wanted, _, how = place_said(sized).partition(", ")
    if not how:
        return []
    return [Fact(label="Should be strung", value=wanted, more=how)]


def _length_fact(strand: Strand) -> Fact:
    label, (least, most) = "Strung length", strand.lengths_mm
    if math.isclose(least, most):
        return length_fact(label, strand.length_mm, strand.length_u95_mm)
    if strand.cut_by:
        return Fact(label=label, value=format_pair(least_mm(strand))[0], more=_or_more(strand))
    u95_mm = strand.measuring_u95_mm[0]
    lows, highs = format_pair(least, u95_mm), format_pair(most, u95_mm)
    first, second = (f"{_bare(low)} to {high}" for low, high in zip(lows, highs, strict=True))
    return Fact(label=label, value=first, more=second)


def _bare(length: str) -> str:
    """Leave out a length's unit, and its uncertainty, which it shares with the one named after it."""
    return length.partition(" ±")[0].removesuffix(" mm").removesuffix(" in")


def _one_of(counts: tuple[float, float]) -> str:
    """Return the fewest beads, and the most where that is known to be another number."""
    least, most = counts
    return f"{least:.0f}" if least == most or math.isinf(most) else f"{least:.0f} to {most:.0f}"


def _or_more(strand: Strand) -> str:
    return "or more: the photo does not show all" if strand.cut_by else ""


def _order(strand: Strand) -> str:
    """Name the order of the beads in a few words."""
    pattern = find_pattern(strand.of_kind("bead"), scale_rel_u=strand.conditions.scale_rel_u)
    if pattern.uniform:
        return "all of one size" if not pattern.odd else f"of one size except for {len(pattern.odd)}"
    if pattern.repeat:
        return f"a repeat of {pattern.repeat} beads"
    return "the same from both ends" if pattern.symmetric else "mixed sizes"


def _size_fact(strand: Strand) -> Fact:
    across, along = spread_across(strand), spread_along(strand)
    if find_pattern(strand.of_kind("bead"), scale_rel_u=strand.conditions.scale_rel_u).uniform:
        return Fact(
            label="Size across",
            value=format_mm(across.mean_mm, across.mean_u95_mm),
            more=f"{format_mm(along.mean_mm, decimals=2)} along the string",
        )
    least, most = bare_mm(across.least_mm), bare_mm(across.most_mm)
    value = format_mm(across.most_mm)
    if least == most:
        return Fact(label="Size across", value=value)
    return Fact(label="Sizes across", value=f"{least}\N{EN DASH}{value}")
