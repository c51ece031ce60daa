"""What to string for a piece, and what to know about it."""

import re
from collections import defaultdict
from collections.abc import Sequence
from itertools import groupby, takewhile

from sizing.base.target import TargetKind
from sizing.base.units import format_length
from sizing.piece.bill import Mass
from sizing.piece.cut_list import Purchase
from sizing.piece.fillers import Ends, Filled
from sizing.piece.girth_range import GirthRange
from sizing.piece.materials import instead_of, varies
from sizing.piece.parts import BeadPart, short_titles
from sizing.piece.plan import Plan
from sizing.piece.size_run import SizeRow
from sizing.report.sentences.closed_piece import assumption_notes, rules_note, thickness_note, tight_note
from sizing.report.sentences.phrases import aim, counted, miss, opening

_PERCENTILE = re.compile(r"(women|men) P(\d+)")


def plan_title(plan: Plan) -> str:
    """Name the piece and what it is for: `Blue glass anklet for an ankle of 215.9 mm (8 1/2 in)`."""
    return f"{plan.piece.name or 'Piece'} for {aim(plan.target)}"


def plan_headline(plan: Plan) -> str:
    """Say in one sentence what to string: `String 25 x bead 7 mm: 175.0 mm (6 7/8 in).`."""
    named = "; ".join(f"{count} x {bead.title}" for bead, count in plan.best.tally)
    total = f" ({plan.best.count} beads)" if len(plan.best.tally) > 1 else ""
    strung = format_length(plan.best.strung_mm, plan.best.strung_u95_mm)
    return f"String {named}{total}: {strung}."


def plan_outcomes(plan: Plan) -> list[str]:
    """Say how near this number of beads comes to the target, and the next best one."""
    best = f"Result: {miss(plan.best.miss_mm)}{_give_or_take(plan)}"
    nearer = [filled_sentence(filled) for filled in plan.filled]
    if plan.other is None:
        return [f"{best}; fewer beads would not keep their order.", *nearer]
    finished = format_length(plan.other.finished_mm)
    beads = counted(plan.other.count, "bead")
    other = f"Next best: {beads}. Result: finished {finished}, {miss(plan.other.miss_mm)}."
    return [f"{best}.", other, *nearer]


def filled_sentence(filled: Filled) -> str:
    """Say how the ends are filled, what to string and what that gives."""
    fit = filled.fit
    lengths = f"strung {format_length(fit.strung_mm)}"
    if fit.finished_mm > fit.strung_mm:
        lengths += f", finished {format_length(fit.finished_mm)}"
    beads = f"{counted(fit.count, 'bead')} ({stringing(fit.sequence)})"
    return f"Nearer, with {ends_phrase(filled)}: {beads}. Result: {lengths}, {miss(fit.miss_mm)}."


def filled_size(row: SizeRow) -> str:
    """Say what filled ends give in a size: `6 in: 29 beads, with 5 x 2 mm at each end: finished ...`."""
    if row.filled is None:
        return ""
    fit = row.filled.fit
    finished = f"finished {format_length(fit.finished_mm)}, {miss(fit.miss_mm)}"
    beads = counted(fit.count, "bead")
    return f"{size_name(row.label)}: {beads}, with {ends_phrase(row.filled)}: {finished}"


def ends_phrase(filled: Filled) -> str:
    """Say how the ends are filled: `the repeat cut short at both ends`."""
    if filled.ends is Ends.CUT_SHORT:
        return "the repeat cut short at both ends"
    called = short_titles(filled.fit.sequence)
    return f"{len(filled.spacers)} x {called[filled.spacers[0]]} at each end"


def plan_notes(plan: Plan) -> list[str]:
    """Return what the maker should know about the plan, a sentence each."""
    measured = [*plan.piece.remarks, *_stock_notes(plan), *_count_notes(plan)]
    return [*measured, *_inside_notes(plan), *_step_notes(plan), *assumption_notes(plan.target)]


def _step_notes(plan: Plan) -> list[str]:
    """Say what a plan is of where strands lie one around the other."""
    step_mm = plan.target.step_mm
    if step_mm is None:
        return []
    longer = f"{format_length(step_mm)} longer" if step_mm else "longer by what their beads need"
    return [f"This is the innermost strand: each one around it is {longer}."]


def stringing(sequence: Sequence[BeadPart]) -> str:
    """Write the order of stringing: `9 times (3 x blue glass, 1 x spacer)`; a repeat only once.

    Ends that are no part of the repeat stand before and behind it.
    """
    called = short_titles(sequence)
    runs = [(called[bead], len(list(group))) for bead, group in groupby(sequence)]
    for size in range(2, len(runs) // 2 + 1):
        for lead in range(size):
            times = _times(runs[lead:], size)
            if times > 1 and len(runs) - times * size < 2 * size:
                return _with_repeat(runs, size=size, lead=lead)
    return _runs(runs)


def _times(runs: Sequence[tuple[str, int]], size: int) -> int:
    """Return how often the first runs, so many of them, follow each other."""
    same = takewhile(lambda at: runs[at] == runs[at % size], range(len(runs)))
    return len(list(same)) // size


def _with_repeat(runs: Sequence[tuple[str, int]], *, size: int, lead: int) -> str:
    """Write some runs, then as often as it comes the repeat, then the runs behind it."""
    times = _times(runs[lead:], size)
    behind = runs[lead + times * size :]
    before = f"{_runs(runs[:lead])}, then " if lead else ""
    closing = f", then {_runs(behind)}" if behind else ""
    return f"{before}{times} times ({_runs(runs[lead : lead + size])}){closing}"


def fits_phrase(girths: GirthRange) -> str:
    """Say whom a piece fits: `wrists from ... to ...: 83 % of adult women, 5 % of adult men`."""
    shares = ", ".join(f"{100 * share:.0f} % of adult {sex}" for sex, share in girths.shares)
    low = f"from {format_length(girths.low_mm)} to" if girths.low_mm else "up to"
    return f"{girths.body}s {low} {format_length(girths.high_mm)}: {shares}"


def weight_notes(mass: Mass) -> list[str]:
    """Say what to give so that all can be weighed, a sentence for each material, and what may weigh less."""
    titles: defaultdict[str, list[str]] = defaultdict(list)
    for bead in mass.unknown_beads:
        titles[bead.material].append(bead.title)
    notes = [f"Not known: {'; '.join(beads)}. {_weighable(material)}" for material, beads in titles.items()]
    notes += [f"Not known: {', '.join(mass.unknown_findings)}."] if mass.unknown_findings else []
    if mass.metals:
        notes.append(f"Beads of {' and '.join(mass.metals)} are taken as solid; hollow ones weigh less.")
    return notes


def _weighable(material: str) -> str:
    """Say what to write in the piece file so that beads of a material can be weighed."""
    if not material:
        return "Give their material, or their density in g/cm3, in the piece file."
    instead = instead_of(material)
    named = f"Write {' or '.join(instead)}, or give" if instead else "Give"
    why = "is of many densities" if varies(material) else "is not among the known materials"
    return f"{opening(material)} {why}. {named} the density in g/cm3."


def stock_phrase(purchase: Purchase) -> str:
    """Say how many beads there are and how many are needed: `you have 14 and need 18, 4 are lacking`."""
    lacking = f", {purchase.lacking} {'is' if purchase.lacking == 1 else 'are'} lacking"
    return f"you have {purchase.bead.have} and need {purchase.strung}{lacking if purchase.lacking else ''}"


def strands_phrase(purchase: Purchase) -> str:
    """Say how many strands to buy: `1 strand of 16 in (about 58 beads on a strand)`."""
    per_strand = counted(purchase.per_strand, "bead")
    return f"{counted(purchase.strands, 'strand')} of 16 in (about {per_strand} on a strand)"


def size_name(label: str) -> str:
    """Name a size of a size run: percentiles in words, `women: 5 in 100 are smaller`; else as typed."""
    percentile = _PERCENTILE.fullmatch(label)
    return f"{percentile[1]}: {percentile[2]} in 100 are smaller" if percentile else label


def _give_or_take(plan: Plan) -> str:
    """Say how uncertain the result is, of beads that were measured."""
    is_girth = plan.target.kind is TargetKind.GIRTH
    u95_mm = plan.best.inner_girth_u95_mm if is_girth else plan.best.finished_u95_mm
    return f", give or take {format_length(u95_mm)}" if u95_mm else ""


def _stock_notes(plan: Plan) -> list[str]:
    """Say what of measured beads is there and what is lacking."""
    measured = [bought for bought in plan.purchases if bought.bead.have is not None]
    if not measured:
        return []
    called = short_titles(each.bead for each in measured)
    lacking = [f"{each.lacking} of {called[each.bead]}" for each in measured if each.lacking]
    needed = sum(each.strung for each in measured)
    there = needed - sum(each.lacking for each in measured)
    if not lacking:
        return [f"You have all {needed} measured beads that it needs."]
    return [f"You have {there} of the {needed} measured beads that it needs; lacking: {', '.join(lacking)}."]


def _count_notes(plan: Plan) -> list[str]:
    """Say how far the uncertainty of the sizes changes the number of beads."""
    if plan.counts is None or plan.counts[0] == plan.counts[1]:
        return []
    fewest, most = plan.counts
    count = f"it may take {fewest} {'or' if most == fewest + 1 else 'to'} {most} beads"
    return [f"The sizes are not certain, so {count}: string them and measure before you close it."]


def _inside_notes(plan: Plan) -> list[str]:
    """Say what the beads' thickness takes off the inside, and what the rules of thumb would do."""
    if plan.target.kind is not TargetKind.GIRTH:
        return []
    best = plan.best
    thick_mm = {bead.across_mm for bead in best.sequence}
    taken_mm = best.finished_mm - best.inner_girth_mm
    notes = [
        tight_note(plan.target, best.inner_girth_longest_mm, remedy=_closing(plan)),
        thickness_note(max(thick_mm), taken_mm, at_most=len(thick_mm) > 1),
        rules_note(plan.rules, best.count) if plan.rules else "",
    ]
    return [note for note in notes if note]


def _closing(plan: Plan) -> str:
    """Say what to string so that the piece closes: of the offers that do, the one of the fewest beads."""
    offers = [(filled.fit, f", with {ends_phrase(filled)},") for filled in plan.filled]
    offers += [(plan.other, "")] if plan.other else []
    closing = [offer for offer in offers if not plan.target.too_tight(offer[0].inner_girth_longest_mm)]
    fit, how = min(closing, key=lambda offer: offer[0].count, default=(None, ""))
    return f"string {fit.count}{how}" if fit else ""


def _runs(runs: Sequence[tuple[str, int]]) -> str:
    return ", ".join(f"{count} x {name}" for name, count in runs)
