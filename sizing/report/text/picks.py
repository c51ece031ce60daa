"""Beads picked from a lot, as text: matched pairs, the most uniform few, a graduated run."""

from collections.abc import Sequence

from sizing.base.units import format_length, format_mm
from sizing.lot.bead_names import bead_list, bead_name
from sizing.lot.picks import VISIBLE_COLOUR_STEP, MatchedPair, Picks
from sizing.lot.sizes import Sizes
from sizing.report.sentences.phrases import counted
from sizing.report.sentences.picks import NO_PAIR, no_run, no_uniform
from sizing.report.text.layout import aligned, section


def pick_sections(sizes: Sizes, picks: Picks, *, letters: dict[str, str]) -> list[list[str]]:
    """Return a section for each kind of pick that was asked for."""
    sections = []
    if picks.pairs is not None:
        sections.append(_pair_lines(sizes, picks.pairs, letters=letters))
    if picks.uniform_asked:
        sections.append(_uniform_lines(sizes, picks, letters=letters))
    if picks.strung_asked_mm:
        sections.append(_run_lines(sizes, picks, letters=letters))
    return sections


def _pair_lines(sizes: Sizes, pairs: Sequence[MatchedPair], *, letters: dict[str, str]) -> list[str]:
    if not pairs:
        return [NO_PAIR]
    rows = [
        (
            " and ".join(bead_name(sizes.beads[i], letters) for i in pair.index),
            f"width differs by {pair.width_difference_mm:.2f} mm",
            f"length by {pair.length_difference_mm:.2f} mm",
            f"colour by {pair.colour_difference:.1f}",
        )
        for pair in pairs
    ]
    barely = f"a colour difference below {VISIBLE_COLOUR_STEP} is barely visible"
    return [f"Matched pairs, the best match first ({barely})", *aligned(rows)]


def _uniform_lines(sizes: Sizes, picks: Picks, *, letters: dict[str, str]) -> list[str]:
    pick = picks.uniform
    if pick is None:
        return [no_uniform(sizes, picks)]
    mean = format_mm(pick.mean.mm, pick.mean.u95_mm)
    apart = f"largest and smallest differ by {pick.range_mm:.2f} mm"
    title = f"The {len(pick.index)} most uniform beads: mean {mean}, {apart}"
    return section(title, [bead_list((sizes.beads[i] for i in pick.index), letters)])


def _run_lines(sizes: Sizes, picks: Picks, *, letters: dict[str, str]) -> list[str]:
    """Describe a graduated run from one end to the other."""
    run = picks.graduated
    if run is None:
        return [no_run(picks)]
    run_mm = sizes.mm[list(run.index)]
    ends, centre = run_mm.min(), run_mm.max()
    strung = format_length(run.strung_mm, run.strung_u95_mm)
    sides = f"left and right differ by {run.worst_pair_mm:.2f} mm at most"
    taper = f"{run.off_even_mm:.2f} mm away from an even taper, {sides}"
    step_mm = (centre - ends) / (len(run.index) // 2)
    lacking = ["The lot lacks sizes in between, so the run tapers in steps."]
    return section(
        f"Graduated run of {counted(len(run.index), 'bead')}, {strung} strung",
        [
            f"{centre:.2f} mm in the centre, {ends:.2f} mm at the ends, {taper}",
            *(lacking if run.off_even_mm > step_mm else []),
            f"left to right: {' '.join(bead_name(sizes.beads[i], letters) for i in run.index)}",
        ],
    )
