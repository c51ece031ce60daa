"""A sorted lot in words: the tally, the picks, what is doubtful."""

import textwrap
from collections import Counter
from collections.abc import Sequence

from sizing.base.units import format_length, format_mm
from sizing.lot.bead_names import bead_list, bead_name, photo_letters
from sizing.lot.classes import finest_step_mm
from sizing.lot.picks import GraduatedRun, MatchedPair, Picks, UniformPick
from sizing.lot.roundness import roundness
from sizing.lot.sizes import Mean, Sizes
from sizing.lot.sorting import SortedLot
from sizing.lot.tally import STRAND, Tally
from sizing.report.text_strand import condition_lines
from vision.common.flags import DESCRIPTIONS, UNSURE_COUNT
from vision.common.records import LooseBead, Lot

COLOURS_TOLD_APART = 9  # see sizing.lot.palette
_WIDTH = 100
WHOLE_LOT = "the lot as a whole"

Table = Sequence[Sequence[str]]


def lot_lines(result: SortedLot, picks: Picks) -> list[str]:
    """Return a sorted lot as lines of text, one sentence that sums it up first."""
    letters = photo_letters(result.lot)
    sections = [
        [lot_headline(result), *map(wrapped, lot_notes(result))],
        photo_lines(result.lot),
        _tally_lines(result),
        _heap_lines(result, letters),
        *_pick_sections(result.sizes, picks, letters),
        _roundness_lines(result.lot),
        flag_lines(result.lot, letters),
        circumstance_lines(result.lot),
    ]
    return joined(sections)


def lot_headline(result: SortedLot) -> str:
    """Say in one sentence what the lot holds."""
    named = [heap for heap in result.heaps if not heap.is_between]
    between = sum(len(heap.index) for heap in result.heaps if heap.is_between)
    total = len(result.lot.beads)
    in_classes = total - between - len(result.unmeasured)
    parts = [f"{in_classes} in {counted(len(named), 'class', 'classes')}"] if named else []
    parts += [f"{between} between classes"] if between else []
    parts += [f"{len(result.unmeasured)} not measured"] if result.unmeasured else []
    return f"{counted(total, 'bead')}: {', '.join(parts)}."


def lot_notes(result: SortedLot) -> list[str]:
    """Return what the maker should know about the sorting, a sentence each."""
    notes = []
    if result.too_fine:
        finest_mm = finest_step_mm(result.sizes)
        doubt, step = format_mm(finest_mm / 4, decimals=2), format_mm(finest_mm, decimals=2)
        notes.append(f"Beads are measured to ± {doubt}: in classes of less than {step} many stay undecided.")
    if result.method == "natural" and len(result.heaps) == 1:
        notes.append("The sizes form one group: no gap among them is wider than chance and doubt explain.")
    if sum(not heap.is_between for heap in result.heaps) > COLOURS_TOLD_APART:
        notes.append("So many classes look alike in neighbouring colours: go by the numbers.")
    return [*notes, *shape_notes(result.lot)]


def shape_notes(lot: Lot) -> list[str]:
    """Say what kind of solid the sizes assume, and whether all of them were surely seen."""
    notes = ["Measured as flat pieces lying on the bed; for rounds say --round."] if lot.flat else []
    if UNSURE_COUNT in lot.flags:
        notes.append("Their number is not certain: count them by eye.")
    return notes


def photo_lines(lot: Lot) -> list[str]:
    """List the photos with their letters, where there are several."""
    letters = photo_letters(lot)
    count = Counter(bead.photo for bead in lot.beads)
    rows = [
        (
            letter,
            photo,
            counted(count[photo], "bead"),
        )
        for photo, letter in letters.items()
    ]
    return aligned(rows) if rows else []


def circumstance_lines(lot: Lot) -> list[str]:
    """Return how the photos were measured and what would make them better, each remark once."""
    letters = photo_letters(lot)
    measured, remarks = [], {}
    for conditions in lot.conditions:
        first, *rest = condition_lines(conditions)
        letter = letters.get(conditions.photo)
        measured.append(f"{letter}: {first}" if letter else first)
        remarks.update(dict.fromkeys(rest))
    return [*measured, *remarks]


def _tally_lines(result: SortedLot) -> list[str]:
    """Return the tally as a table; lengths stand in it where beads are longer than wide."""
    rows = list(zip((heap.name for heap in result.heaps), result.tallies, strict=True))
    if len(rows) > 1:
        rows.append(("all measured", result.whole))
    long = any(not tallied.is_round for _, tallied in rows)
    piece = "16 in strand" if result.target == STRAND else result.target.describe()
    head = ("class", "beads", "width, mm", "spread", *(["length, mm", "spread"] if long else []), "strung")
    cells = [(name, *_cells(tallied, with_length=long)) for name, tallied in rows]
    return aligned([(*head, f"share of {piece}"), *cells]) if rows else []


def _cells(tallied: Tally, *, with_length: bool) -> tuple[str, ...]:
    """Return a tally's figures."""
    strung = format_length(tallied.strung_mm, tallied.strung_u95_mm)
    if not tallied.is_round:
        strung = f"{format_mm(tallied.strung_mm)}, lengthwise {format_mm(tallied.strung_long_mm)}"
    length = _mean_cells(tallied.length) if with_length else ()
    share = f"{100 * tallied.share:.0f} %"
    return (str(len(tallied.beads)), *_mean_cells(tallied.width), *length, strung, share)


def _mean_cells(mean: Mean) -> tuple[str, str]:
    """Return a mean with its doubt, and the spread of the beads."""
    return format_mm(mean.mm, mean.u95_mm).removesuffix(" mm"), f"{mean.sd_mm:.2f}"


def _heap_lines(result: SortedLot, letters: dict[str, str]) -> list[str]:
    """List the beads of each heap."""
    rows = [(heap.name, tallied.beads) for heap, tallied in zip(result.heaps, result.tallies, strict=True)]
    rows += [("not measured", result.unmeasured)] if result.unmeasured else []
    return [wrapped(f"{name}: {bead_list(beads, letters)}") for name, beads in rows]


def _pick_sections(sizes: Sizes, picks: Picks, letters: dict[str, str]) -> list[list[str]]:
    """Return a section for each kind of pick that was asked for."""
    sections = []
    if picks.pairs is not None:
        sections.append(_pair_lines(sizes, picks.pairs, letters))
    if picks.uniform_asked:
        sections.append(_uniform_lines(sizes, picks, letters))
    if picks.strung_asked_mm:
        sections.append(_run_lines(sizes, picks, letters))
    return sections


def _pair_lines(sizes: Sizes, pairs: Sequence[MatchedPair], letters: dict[str, str]) -> list[str]:
    """Describe matched pairs."""
    if not pairs:
        return ["No pair: it takes two measured beads."]
    rows = [
        (
            " and ".join(bead_name(sizes.beads[i], letters) for i in pair.index),
            f"width differs by {pair.width_difference_mm:.2f} mm",
            f"length by {pair.length_difference_mm:.2f} mm",
            f"colour by {pair.colour_difference:.1f}",
        )
        for pair in pairs
    ]
    return ["Matched pairs, closest first (a colour difference under 2.3 is hardly seen):", *aligned(rows)]


def _uniform_lines(sizes: Sizes, picks: Picks, letters: dict[str, str]) -> list[str]:
    """Describe the most uniform few beads."""
    pick: UniformPick | None = picks.uniform
    if pick is None:
        return [f"No {picks.uniform_asked} most uniform: only {counted(len(sizes), 'bead')} measured."]
    mean = format_mm(pick.mean.mm, pick.mean.u95_mm)
    head = f"Most uniform {len(pick.index)}: {mean}, largest and smallest {pick.range_mm:.2f} mm apart:"
    return [head, wrapped(bead_list((sizes.beads[i] for i in pick.index), letters))]


def _run_lines(sizes: Sizes, picks: Picks, letters: dict[str, str]) -> list[str]:
    """Describe a graduated run from one end to the other."""
    run: GraduatedRun | None = picks.graduated
    asked = format_length(picks.strung_asked_mm)
    if run is None:
        return [f"No graduated run of {asked}: the beads are too few, too short together or too much alike."]
    strung_sizes = sizes.mm[list(run.index)]
    ends, centre = strung_sizes.min(), strung_sizes.max()
    sides = f"left and right {run.worst_pair_mm:.2f} mm apart at most"
    step_mm = (centre - ends) / (len(run.index) // 2)
    lacking = ["  The lot lacks sizes in between, so the run falls in steps."]
    even = f"off an even fall by {run.off_even_mm:.2f} mm"
    return [
        f"Graduated run of {len(run.index)} beads, {format_length(run.strung_mm, run.strung_u95_mm)} strung:",
        f"  {centre:.2f} mm in the centre, {ends:.2f} mm at the ends, {even}, {sides}",
        *(lacking if run.off_even_mm > step_mm else []),
        wrapped(f"left to right: {' '.join(bead_name(sizes.beads[i], letters) for i in run.index)}"),
    ]


def _roundness_lines(lot: Lot) -> list[str]:
    """Count the classes of roundness."""
    scale = {each.photo: each.scale_rel_u for each in lot.conditions}
    names = [roundness(bead, scale_rel_u=scale.get(bead.photo, 0.0)).name for bead in lot.beads]
    found = ", ".join(f"{name} {count}" for name, count in Counter(names).most_common())
    return [f"Seen from above: {found}."] if found else []


def flag_lines(lot: Lot, letters: dict[str, str]) -> list[str]:
    """List flagged beads, or the lot as a whole, and what each flag means."""
    flagged: dict[str, list[LooseBead]] = {}
    for bead in lot.beads:
        for flag in bead.flags:
            flagged.setdefault(flag, []).append(bead)
    named = {word: bead_list(beads, letters) for word, beads in flagged.items()}
    named |= dict.fromkeys(lot.flags, WHOLE_LOT)
    lines = [
        wrapped(f"{named[word]}: {meaning} ({word})")
        for word, meaning in DESCRIPTIONS.items()
        if word in named
    ]
    return ["Look at these again:", *lines] if lines else []


def aligned(rows: Table) -> list[str]:
    """Return a table as lines, indented by two, its columns aligned to the left."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return ["  " + "  ".join(map(str.ljust, row, widths)).strip() for row in rows]


def joined(sections: Sequence[Sequence[str]]) -> list[str]:
    """Join sections with an empty line between; those without lines are left out."""
    lines: list[str] = []
    for section in sections:
        lines += [*([""] if lines and section else []), *section]
    return lines


def wrapped(text: str) -> str:
    """Return a text indented by two, wrapped where a list of beads grows long."""
    return textwrap.fill(text, width=_WIDTH, initial_indent="  ", subsequent_indent="    ")


def counted(n: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun: `1 bead`, `2 beads`."""
    return f"{n} {one if n == 1 else many or one + 's'}"
