"""Loose beads as a page shows them: sorted by size, or held against their label."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sizing.base.units import format_length, format_mm
from sizing.lot.bead_names import bead_list, bead_name, photo_letters
from sizing.lot.conformity import OUTCOMES, check_label
from sizing.lot.label import Label
from sizing.lot.marking import Marking, mark_classes, mark_decisions
from sizing.lot.picks import Picks, make_picks
from sizing.lot.roundness import roundness
from sizing.lot.sizes import Sizes, unmeasured
from sizing.lot.sorting import SortedLot, sort_lot
from sizing.report.front.check import check_front
from sizing.report.front.front import Front
from sizing.report.front.lot import lot_front
from sizing.report.records.photo import css_colour
from sizing.report.sentences.check import CheckedLot
from sizing.report.sentences.flagged import lot_flagged
from sizing.report.sentences.lot import whole_piece
from sizing.report.sentences.phrases import bare_mm, counted, opening
from sizing.report.sentences.picks import NO_PAIR, no_run, no_uniform
from sizing.web.reading.marks import Mark, MarkedPhoto, inner_radius, outline_points, window_of
from sizing.web.reading.others import OTHER, other_card, other_mark
from sizing.web.reading.reading import Card, Reading, SizeRow
from sizing.web.reading.wishes import Asked
from vision.common.flags import DESCRIPTIONS
from vision.common.records import FloatArray, LooseBead, Lot

SizesPx = Mapping[str, tuple[int, int]]
"""(width, height) of each photo by its name."""
Key = tuple[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """What was found out about a lot: the front, colours, sizes, picked beads, and what to add on cards."""

    lot: Lot
    front: Front
    marking: Marking
    head: Sequence[str]
    sizes: Sequence[SizeRow]
    more_of: Mapping[Key, tuple[str, str]]
    outcomes: Sequence[str] = ()
    picked: frozenset[Key] = frozenset()


def read_lot(lot: Lot, asked: Asked, *, sizes_px: SizesPx) -> Reading:
    """Return a lot sorted by size, or compared with a label where one is asked about.

    Raises
    ------
    TargetError
        The target takes too many beads.
    """
    found = _checked(lot, asked.label) if asked.label else _sorted(lot, asked)
    letters = photo_letters(lot)
    cards = [_card(bead, found, letters) for bead in lot.beads]
    return Reading(
        front=found.front,
        outcomes=found.outcomes,
        doubts=(),
        photos=[
            _photo(found, name, size_px=sizes_px[name], letters=letters)
            for name in (each.photo for each in lot.conditions)
        ],
        cards=[*cards, *(other_card(each, k, each.photo) for k, each in enumerate(lot.others, 1))],
        legend=[
            *((name, css_colour(colour)) for name, colour in found.marking.legend),
            *([("not counted", OTHER)] if lot.others else []),
        ],
        head=found.head,
        sizes=found.sizes,
        flagged=[(opening(who), opening(DESCRIPTIONS[word])) for word, who in lot_flagged(lot).items()],
    )


def _sorted(lot: Lot, asked: Asked) -> _Found:
    result = sort_lot(lot, method=asked.method, target=asked.target)
    picking = asked.picking
    picks = make_picks(
        result.sizes, pairs=picking.pairs, uniform=picking.uniform, graduated_mm=picking.graduated_mm
    )
    said, picked = _picked(result.sizes, picks, photo_letters(lot))
    marking = mark_classes(result)
    heaps = zip(result.heaps, result.tallies, strict=True)
    return _Found(
        lot=lot,
        front=lot_front(result),
        marking=marking,
        head=("Size", "Beads", "Strung", f"Fills of {whole_piece(result.target)}"),
        sizes=_size_rows(result, marking),
        more_of={
            (bead.photo, bead.number): ("Size", heap.name) for heap, tally in heaps for bead in tally.beads
        },
        outcomes=said,
        picked=frozenset((bead.photo, bead.number) for bead in picked),
    )


def _checked(lot: Lot, label: Label) -> _Found:
    checked = CheckedLot(lot=lot, label=label, conformity=check_label(lot, label))
    conformity = checked.conformity
    decided = list(zip(conformity.beads, conformity.decisions, strict=True))
    letters, marking = photo_letters(lot), mark_decisions(conformity, unmeasured(lot))
    rows = []
    for decision, words in OUTCOMES.items():
        beads = [bead for bead, each in decided if each == decision]
        if beads:
            colour = css_colour(marking.colour_of[beads[0].photo, beads[0].number])
            figures = (str(len(beads)), bead_list(beads, letters))
            rows.append(SizeRow(name=opening(words), colour=colour, figures=figures))
    return _Found(
        lot=lot,
        front=check_front(checked),
        marking=marking,
        head=("Against the label", "Beads", "Which"),
        sizes=rows,
        more_of={(b.photo, b.number): ("Against the label", OUTCOMES[each]) for b, each in decided},
    )


def _size_rows(result: SortedLot, marking: Marking) -> list[SizeRow]:
    rows = []
    for heap, tally in zip(result.heaps, result.tallies, strict=True):
        colours = [css_colour(marking.colour_of[bead.photo, bead.number]) for bead in tally.beads[:1]]
        strung = f"{bare_mm(tally.strung_mm, tally.strung_u95_mm)} mm"
        figures = (str(len(tally.beads)), strung, f"{100 * tally.share:.0f} %")
        rows.append(SizeRow(name=opening(heap.name), colour="".join(colours), figures=figures))
    return rows


def _picked(sizes: Sizes, picks: Picks, letters: dict[str, str]) -> tuple[list[str], list[LooseBead]]:
    """Say which beads are picked, and return them."""
    said, all_of = [], []

    def named(index: Sequence[int]) -> str:
        beads = [sizes.beads[k] for k in index]
        all_of.extend(beads)
        return ", ".join(bead_name(bead, letters) for bead in beads)

    if picks.pairs is not None:
        pairs = [named(pair.index).replace(", ", " and ") for pair in picks.pairs]
        said.append(f"Matched pairs, the best first: {'; '.join(pairs)}." if pairs else NO_PAIR)
    if picks.uniform_asked:
        uniform = picks.uniform
        so = f"The most uniform {counted(picks.uniform_asked, 'bead')}"
        said.append(f"{so}: {named(uniform.index)}." if uniform else no_uniform(sizes, picks))
    if picks.strung_asked_mm:
        run = picks.graduated
        length = format_length(run.strung_mm, run.strung_u95_mm) if run else ""
        said.append(f"Graduated run, {length}: {named(run.index)}." if run else no_run(picks))
    return said, all_of


def _photo(found: _Found, name: str, *, size_px: tuple[int, int], letters: dict[str, str]) -> MarkedPhoto:
    beads = [bead for bead in found.lot.beads if bead.photo == name]
    points = np.vstack([_outline(bead) for bead in beads]) if beads else np.empty((0, 2))
    return MarkedPhoto(
        name=name,
        index=found.lot.photos.index(name),
        letter=letters.get(name, ""),
        size_px=size_px,
        window=window_of(points, size_px),
        marks=[
            *(_mark(bead, found, letters) for bead in beads),
            *(other_mark(each, k) for k, each in enumerate(found.lot.others, 1) if each.photo == name),
        ],
    )


def _mark(bead: LooseBead, found: _Found, letters: dict[str, str]) -> Mark:
    key = (bead.photo, bead.number)
    said = [each for each in found.lot.corrections if each.photo == bead.photo]
    states = {
        "doubtful": bool(bead.flags),
        "picked": key in found.picked,
        "faded": bool(found.picked) and key not in found.picked,
        "corrected": any(each.is_about(bead.was) for each in said),
    }
    width = format_mm(bead.min_feret_mm)
    return Mark(
        key=bead_name(bead, letters),
        number=str(bead.number),
        title=f"Bead {bead_name(bead, letters)}: {width} wide{', picked' if states['picked'] else ''}",
        points=outline_points(_outline(bead)),
        x=round(bead.centre_px[0], 1),
        y=round(bead.centre_px[1], 1),
        radius=round(inner_radius(bead.outline_px, bead.centre_px), 1),
        colour=css_colour(found.marking.colour_of[key]),
        states=" ".join(word for word, so in states.items() if so),
    )


def _card(bead: LooseBead, found: _Found, letters: dict[str, str]) -> Card:
    scale_of = {each.photo: each.scale_rel_u for each in found.lot.conditions}
    more = found.more_of.get((bead.photo, bead.number))
    rows = [
        ("Width", format_length(bead.min_feret_mm, bead.min_feret_u95_mm)),
        ("Length", format_length(bead.max_feret_mm, bead.max_feret_u95_mm)),
        ("Shape", roundness(bead, scale_rel_u=scale_of[bead.photo]).name),
        *([more] if more else []),
    ]
    return Card(
        key=bead_name(bead, letters),
        title=f"Bead {bead_name(bead, letters)}",
        rows=rows,
        doubts=[f"{opening(DESCRIPTIONS[word])}." for word in bead.flags],
        photo=bead.photo,
        numbers=(bead.number,) if bead.was is None else bead.was,
        px=bead.centre_px,
    )


def _outline(bead: LooseBead) -> FloatArray:
    """Return a bead's outline; for a bead without one, its centre alone."""
    return bead.outline_px if len(bead.outline_px) else np.array([bead.centre_px])
