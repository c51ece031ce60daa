"""A lot against its label, in words: the verdict, what the lot really is, which beads differ."""

import math

import numpy as np

from sizing.base.units import format_length, format_mm
from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.classes import PEARL_STEP_MM, nearest_usual_mm
from sizing.lot.conformity import (
    CONFORMING,
    GUARD_FACTOR,
    NOT_CONFORMING,
    UNDECIDED,
    Axis,
    Conformity,
    Decision,
)
from sizing.lot.label import Label
from sizing.lot.sizes import unmeasured
from sizing.lot.tally import STRAND, tally
from sizing.report.text_lot import (
    circumstance_lines,
    counted,
    flag_lines,
    joined,
    photo_lines,
    shape_notes,
    wrapped,
)
from vision.common.records import LooseBead, Lot

_OUTCOMES: tuple[tuple[Decision, str], ...] = (
    (NOT_CONFORMING, "outside"),
    (UNDECIDED, "too near a limit to tell"),
    (CONFORMING, "within"),
)


def check_lines(lot: Lot, label: Label, conformity: Conformity) -> list[str]:
    """Return a lot's conformity to its label as lines of text, the verdict first."""
    letters = photo_letters(lot)
    asked = " and ".join(f"{each.low_mm:g} to {each.high_mm:g} mm" for each in label.stated)
    sections = [
        [check_headline(lot, label, conformity), *map(wrapped, check_notes(lot, label, conformity))],
        photo_lines(lot),
        [
            f"  allowed: {asked} ({label.basis})",
            f"  read as: {conformity.reading}",
            f"  decided: by ISO 14253-1, with a guard band of {GUARD_FACTOR} u at each limit",
        ],
        _bead_lines(conformity, unmeasured(lot), letters),
        flag_lines(lot, letters),
        circumstance_lines(lot),
    ]
    return joined(sections)


def check_headline(lot: Lot, label: Label, conformity: Conformity) -> str:
    """Say in one sentence whether the lot is what its label says."""
    without_size = len(unmeasured(lot))
    missing = f", {without_size} not measured" if without_size else ""
    return f"{label.text}: {_verdict(conformity)}{missing}."


def _verdict(conformity: Conformity) -> str:
    """Return the verdict on the measured beads."""
    n, inside, outside = len(conformity.beads), conformity.count(CONFORMING), conformity.count(NOT_CONFORMING)
    if n == 0:
        return "nothing can be said"
    if inside == n:
        return f"as labelled; {'its one bead is' if n == 1 else f'all {n} beads are'} within what it allows"
    if outside == 0:
        return f"not certain; {_of(inside, n)} within, the rest too near a limit to tell"
    if 2 * outside > n:
        really = " x ".join(f"{axis.mean.mm:.1f}" for axis in reversed(conformity.axes))
        return f"not as labelled; {_of(outside, n)} outside, the lot is really {really} mm"
    return f"as labelled but for {counted(outside, 'bead')}; {_of(inside, n)} within"


def check_notes(lot: Lot, label: Label, conformity: Conformity) -> list[str]:
    """Return what the lot really is, what that does to a strand, and how sure all this is."""
    if not conformity.beads:
        return shape_notes(lot)
    low, high = (100 * share for share in conformity.share_outside)
    notes = [_really(axis, label) for axis in conformity.axes]
    notes += [effect for axis in conformity.axes if (effect := strand_effect(axis, label))]
    notes.append(
        f"If these are a random handful of a larger stock, {low:.0f} to {high:.0f} % of it lies outside "
        "(exact binomial interval, 95 %)."
    )
    return [*notes, *_cautions(lot, label, conformity), *shape_notes(lot)]


def strand_effect(axis: Axis, label: Label) -> str:
    """Say what beads of another size than labelled do to a 16 inch strand; empty where the doubt hides it."""
    stated, mean = axis.stated, axis.mean
    off_mm = abs(mean.mm - stated.nominal_mm)
    is_range = label.kind in ("class", "numbered")
    if off_mm <= mean.u95_mm or (is_range and stated.low_mm <= mean.mm <= stated.high_mm):
        return ""
    percent = 100 * abs(axis.relative_difference)
    by_label = math.floor(STRAND.goal_mm / stated.nominal_mm)
    fill = math.floor(STRAND.goal_mm / mean.mm)
    less = "less" if mean.mm < stated.nominal_mm else "more"
    come_to = format_length(by_label * mean.mm)
    return (
        f"Strung by its {axis.dimension} a bead gives {percent:.1f} % {less} length than labelled: "
        f"the {by_label} beads of a 16 in strand come to {come_to}, and {fill} fill it."
    )


def _really(axis: Axis, label: Label) -> str:
    """Say what size the beads have along one axis, and the nearest size that is sold."""
    mean = axis.mean
    if label.kind == "class":
        low_mm = math.floor(mean.mm / PEARL_STEP_MM) * PEARL_STEP_MM
        sold = f"their class is {low_mm:.1f}-{low_mm + PEARL_STEP_MM:.1f} mm"
    else:
        sold = f"the nearest usual size is {nearest_usual_mm(mean.mm):g} mm"
    size = format_mm(mean.mm, mean.u95_mm)
    return f"The beads' {axis.dimension} is {size} on average, with a spread of {mean.sd_mm:.2f} mm; {sold}."


def _cautions(lot: Lot, label: Label, conformity: Conformity) -> list[str]:
    """Say where the comparison itself is weak."""
    cautions = []
    if any(_is_hopeless(axis) for axis in conformity.axes):
        cautions.append("The doubt is as wide as what the label allows, so no bead can be proven to conform.")
    whole = tally(lot)
    if len(label.stated) == 1 and not whole.is_round:
        size = f"{whole.length.mm:.1f} x {whole.width.mm:.1f} mm"
        cautions.append(f"The beads are longer than wide ({size}); the label was compared with their width.")
    return cautions


def _is_hopeless(axis: Axis) -> bool:
    """Tell whether the guard bands leave nothing between the limits for a usual bead."""
    allowed_mm = axis.stated.high_mm - axis.stated.low_mm
    return allowed_mm <= 2 * GUARD_FACTOR * float(np.median(axis.sizes.u_mm))


def _bead_lines(
    conformity: Conformity, without_size: tuple[LooseBead, ...], letters: dict[str, str]
) -> list[str]:
    """List the beads by decision, the worst first."""
    decided = list(zip(conformity.beads, conformity.decisions, strict=True))
    groups = [(word, [bead for bead, each in decided if each == decision]) for decision, word in _OUTCOMES]
    groups.append(("not measured", list(without_size)))
    return [
        wrapped(f"{word}: {counted(len(beads), 'bead')}: {bead_list(beads, letters)}")
        for word, beads in groups
        if beads
    ]


def _of(part: int, n: int) -> str:
    return f"{part} of {counted(n, 'bead')} {'is' if part == 1 else 'are'}"
