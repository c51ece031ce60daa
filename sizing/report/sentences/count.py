"""How many beads a strand has and how long it is, where the photo leaves that open."""

import math
from collections.abc import Sequence

from sizing.base.units import format_length
from sizing.report.sentences.phrases import counted, number_runs, opening
from sizing.strand.advice import Advice
from vision.common.numerics import COVERAGE_FACTOR
from vision.common.records import PART_KINDS, Doubt, Strand, StrandBead

COUNT_UNSURE = "The number of beads is not certain"
_EDGES = ("left", "right", "top", "bottom")
_MOST_NAMED = 6
"""More doubts than this are not listed: the maker counts anyway."""
MOST_IN_A_SENTENCE = 2
"""Doubts, each with what to do then."""


def count_said(strand: Strand) -> str:
    """Return how many beads there are: `40 beads`, `27 or 28 beads`, `25 to 28 beads`, `at least 12`.

    Spacers and covers follow: `24 beads, 11 spacers, 2 covers`.
    """
    rest = [part for part in strand.beads if part.kind != "bead"]
    return ", ".join([_beads_said(strand), *parts_said(rest)])


def _beads_said(strand: Strand) -> str:
    least, most = strand.counts
    if strand.cut_by:
        return f"at least {counted(int(least), 'bead')}"
    if least == most:
        return counted(int(least), "bead")
    return f"{int(least)} {_between(strand)} {counted(int(most), 'bead')}"


def parts_said(parts: Sequence[StrandBead]) -> list[str]:
    """Return how many parts there are of each kind that occurs: `24 beads`, `11 spacers`, `2 covers`."""
    counts = {kind: sum(part.kind == kind for part in parts) for kind in PART_KINDS}
    return [counted(count, kind) for kind, count in counts.items() if count]


def length_said(strand: Strand) -> str:
    """Return how long a strand is: `234.6 ± 0.4 mm (9 1/4 in)`, or what its count leaves open."""
    least, most = strand.lengths_mm
    if strand.cut_by:
        return f"at least {format_length(least_mm(strand))}"
    if math.isclose(least, most):
        return format_length(strand.length_mm, strand.length_u95_mm)
    u95_mm = strand.measuring_u95_mm[0]
    return f"{format_length(least, u95_mm)} {_between(strand)} {format_length(most, u95_mm)}"


def least_mm(strand: Strand) -> float:
    """Return what a strand measures at least, whatever its sheet's scale and its count leave open."""
    return strand.lengths_mm[0] * (1 - COVERAGE_FACTOR * strand.conditions.scale_rel_u)


def count_notes(strand: Strand) -> list[str]:
    """Say, a sentence each, what would be otherwise for each reason to doubt the count."""
    named = [doubt for doubt in strand.doubts if doubt.place != "strand"]
    closed = strand.loop is not None
    lines = [f"{opening(if_so(doubt, closed=closed))}: {_then(doubt)}." for doubt in named[:_MOST_NAMED]]
    more = [f"{counted(len(named) - _MOST_NAMED, 'more place')} like these."]
    otherwise = ["Counted in two ways, the numbers of beads differ: count them by eye."]
    return [
        *lines,
        *(more if len(named) > _MOST_NAMED else []),
        *(otherwise if len(named) < len(strand.doubts) else []),
    ]


def cut_notes(cut_by: Sequence[str]) -> list[str]:
    """Say where a strand runs out of the picture, under something or into glare, and what to do."""
    edges = [f"at the {side}" for side in cut_by if side in _EDGES]
    leaves = (
        f"The strand runs out of the picture {' and '.join(edges)}: take the photo from farther away, with "
        "the whole strand in it."
    )
    hides = "The strand runs over the tags, or under them: lay it clear of them."
    off = "The strand runs off the sheet: lay all of it within the tags, or beside the card sheet."
    under = "Something may lie over an end of the strand: take all but the strand off the sheet."
    glare = "Glare hides what may follow at an end of the strand: move the lamp until no patch is bare white."
    found = {
        leaves: bool(edges),
        hides: "tags" in cut_by,
        off: "sheet" in cut_by,
        under: "thing" in cut_by,
        glare: "glare" in cut_by,
    }
    return [note for note, so in found.items() if so]


def if_so(doubt: Doubt, *, closed: bool = False) -> str:
    """Name what may be so, as a condition: `if bead 1 is a stopper or a knot`; on a loop, part of a clasp."""
    many = doubt.beads + 1
    if doubt.place in {"left end", "right end"}:
        place, other = ("clasp", "part of the clasp") if closed else (doubt.place, "a stopper or a knot")
        if doubt.beads < 0:
            return f"if bead {doubt.number} is {other}"
        beyond = f"between bead {doubt.number} and the clasp" if closed else f"beyond bead {doubt.number}"
        left_out = f"if the piece left out at the {place} is a bead"
        return f"if one more bead lies {beyond}" if doubt.number else left_out
    return {
        "joint": f"if beads {number_runs([doubt.number, doubt.number + 1])} are one",
        "bead": f"if bead {doubt.number} is {f'{many} beads' if doubt.beads > 0 else 'none'}",
        "gap": f"if the gap after bead {doubt.number} hides {counted(doubt.beads, 'bead')}",
    }[doubt.place]


def or_else(advice: Advice) -> str:
    """Say what to do instead where the count is not what it was taken for; empty where nothing changes."""
    doubtful, best = advice.doubtful, advice.change_beads
    if doubtful is None or doubtful.least == best == doubtful.most:
        return ""
    other = [(doubt, change) for doubt, change in doubtful.each if change != best]
    told = {doubtful.least, doubtful.most} <= {best, *(change for _, change in other)}
    if told and len(other) <= MOST_IN_A_SENTENCE:
        return "".join(f", or {_brief(change)} {if_so(doubt)}" for doubt, change in other)
    least, most = _doing(doubtful.least), _doing(doubtful.most)
    return f"; depending on the beads in doubt, anything from {least} to {most}"


def _between(strand: Strand) -> str:
    return "or" if len(strand.doubts) == 1 and abs(strand.doubts[0].beads) == 1 else "to"


def _then(doubt: Doubt) -> str:
    beads = f"{counted(abs(doubt.beads), 'bead')} {'more' if doubt.beads > 0 else 'fewer'}"
    if not doubt.length_mm:
        return f"{beads}, the length stays"
    way = "longer" if doubt.length_mm > 0 else "shorter"
    return f"{beads}, the strand is {format_length(abs(doubt.length_mm))} {way}"


def _brief(change: int) -> str:
    return f"remove {-change}" if change < 0 else f"add {change}" if change else "leave it as it is"


def _doing(change: int) -> str:
    return f"removing {-change}" if change < 0 else f"adding {change}" if change else "leaving it as it is"
