"""Beads picked from a lot, on a page: matched pairs, the most uniform few, a graduated run."""

from collections.abc import Callable, Iterable, Mapping, Sequence

from sizing.base.units import format_length, format_mm
from sizing.lot.bead_names import bead_list, bead_name
from sizing.lot.picks import VISIBLE_COLOUR_STEP, MatchedPair, Picks
from sizing.lot.sizes import Sizes
from sizing.report.html.page import Beside, Block, Lines, Row, Section, Table
from sizing.report.sentences.phrases import counted
from sizing.report.sentences.picks import NO_PAIR, no_run, no_uniform

Names = Callable[[Iterable[int]], list[str]]


def pick_section(sizes: Sizes, picks: Picks, *, letters: Mapping[str, str]) -> Section:
    """Show what was asked to be picked, with the beads' names."""

    def names(index: Iterable[int]) -> list[str]:
        return [bead_name(sizes.beads[i], dict(letters)) for i in index]

    blocks: list[Block | Beside] = []
    if picks.pairs is not None:
        barely = f"A colour difference below {VISIBLE_COLOUR_STEP} is barely visible."
        blocks += [_pairs(picks.pairs, names), *([_line(barely)] if picks.pairs else [])]
    found = [_uniform(sizes, picks, letters=letters)] if picks.uniform_asked else []
    found += [_run(sizes, picks, names=names)] if picks.strung_asked_mm else []
    blocks += [Beside(blocks=found)] if found else []
    return Section(title="Picked", blocks=blocks)


def _line(text: str) -> Lines:
    return Lines(lines=[text])


def _pairs(pairs: Sequence[MatchedPair], names: Names) -> Block:
    if not pairs:
        return _line(NO_PAIR)
    rows: list[Row] = [
        (
            " and ".join(names(pair.index)),
            f"{pair.width_difference_mm:.2f}",
            f"{pair.length_difference_mm:.2f}",
            f"{pair.colour_difference:.1f}",
        )
        for pair in pairs
    ]
    head = ("Matched pair", "Width differs by, mm", "Length by, mm", "Colour by")
    return Table(title="Matched pairs, the best match first", head=head, rows=rows, figures=(1, 2, 3))


def _uniform(sizes: Sizes, picks: Picks, *, letters: Mapping[str, str]) -> Block:
    pick = picks.uniform
    if pick is None:
        return _line(no_uniform(sizes, picks))
    rows: list[Row] = [
        ("Mean", format_mm(pick.mean.mm, pick.mean.u95_mm)),
        ("Largest and smallest", f"differ by {pick.range_mm:.2f} mm"),
        ("Beads", bead_list((sizes.beads[i] for i in pick.index), dict(letters))),
    ]
    head = ("Most uniform", counted(len(pick.index), "bead"))
    return Table(title=" ".join(head), head=head, rows=rows)


def _run(sizes: Sizes, picks: Picks, *, names: Names) -> Block:
    run = picks.graduated
    if run is None:
        return _line(no_run(picks))
    mm = sizes.mm[list(run.index)]
    rows: list[Row] = [
        ("Strung", format_length(run.strung_mm, run.strung_u95_mm)),
        ("Centre and ends", f"{mm.max():.2f} mm and {mm.min():.2f} mm"),
        ("Away from an even taper", f"{run.off_even_mm:.2f} mm"),
        ("Left and right", f"differ by {run.worst_pair_mm:.2f} mm at most"),
        ("Left to right", " ".join(names(run.index))),
    ]
    head = ("Graduated run", counted(len(run.index), "bead"))
    return Table(title=" ".join(head), head=head, rows=rows)
