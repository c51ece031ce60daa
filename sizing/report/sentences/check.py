"""A lot against its label: the verdict, what size the beads really are, how certain that is."""

import math
from dataclasses import dataclass

import numpy as np

from sizing.base.units import format_length, format_mm
from sizing.lot.classes import PEARL_STEP_MM, nearest_usual_mm
from sizing.lot.conformity import (
    CONFORMING,
    GUARD_FACTOR,
    NOT_CONFORMING,
    Axis,
    Conformity,
)
from sizing.lot.label import Label
from sizing.lot.sizes import mean_of, unmeasured
from sizing.lot.tally import STRAND, tally
from sizing.report.sentences.lot import shape_notes
from sizing.report.sentences.phrases import counted
from vision.common.records import Lot


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedLot:
    """A lot held against its label: what the reports of a check are about.

    Attributes
    ----------
    lot : Lot
    label : Label
    conformity : Conformity
    """

    lot: Lot
    label: Label
    conformity: Conformity


def check_headline(checked: CheckedLot) -> str:
    """Say in one sentence whether the lot is what its label says."""
    missing = len(unmeasured(checked.lot))
    verdict = f"{checked.label.text}: {_verdict(checked.conformity)}"
    return f"{verdict}, {missing} not measured." if missing and checked.conformity.beads else f"{verdict}."


def check_notes(checked: CheckedLot) -> list[str]:
    """Return what size the beads really are, what that does to a strand, and how certain it is."""
    conformity, label = checked.conformity, checked.label
    if not conformity.beads:
        return shape_notes(checked.lot)
    low, high = (100 * share for share in conformity.share_outside)
    axes = () if _hidden_along(checked) else conformity.axes
    effects = [strand_effect(axis, label) for axis in axes]
    return [
        *(_real_size(axis, label) for axis in conformity.axes),
        *(effect for effect in effects if effect),
        f"If these beads are a random handful of a larger stock, {low:.0f} to {high:.0f} % of it is outside.",
        *_weaknesses(checked),
        *shape_notes(checked.lot),
    ]


def strand_effect(axis: Axis, label: Label) -> str:
    """Say what beads of another size do to a 16 in strand; empty where that is not certain, or of several."""
    stated, mean = axis.stated, axis.mean
    off_mm = abs(mean.mm - stated.nominal_mm)
    if len(axis.groups) > 1:
        return ""
    is_range = label.kind in ("class", "numbered")
    if off_mm <= mean.u95_mm or (is_range and stated.low_mm <= mean.mm <= stated.high_mm):
        return ""
    percent = 100 * abs(axis.relative_difference)
    by_label = math.floor(STRAND.goal_mm / stated.nominal_mm)
    fill = math.floor(STRAND.goal_mm / mean.mm)
    less = "less" if mean.mm < stated.nominal_mm else "more"
    come_to = format_length(by_label * mean.mm)
    return (
        f"Strung by its {axis.dimension}, a bead gives {percent:.1f} % {less} length than the label says: "
        f"the {by_label} beads of a 16 in strand come to {come_to}, and {fill} fill it."
    )


def _hidden_along(checked: CheckedLot) -> bool:
    """Return whether a photo from above does not show what the beads take of the string.

    Rondelles that lie flat hide their height, and seed beads are shorter along the hole than they are wide.
    """
    larger, *smaller = checked.label.stated
    lying_flat = all(axis.stated == larger for axis in checked.conformity.axes)
    return checked.label.kind == "numbered" or (bool(smaller) and [larger] != smaller and lying_flat)


def _verdict(conformity: Conformity) -> str:
    """Return the verdict on the measured beads."""
    n, inside, outside = len(conformity.beads), conformity.count(CONFORMING), conformity.count(NOT_CONFORMING)
    if n == 0:
        return "not certain; no bead could be measured"
    if inside == n:
        return f"as labelled; {'its one bead is' if n == 1 else f'all {n} beads are'} within the limits"
    if 2 * outside > n:
        return f"not as labelled; {_of(outside, n)} outside the limits, the beads {_really(conformity)}"
    if outside and 2 * inside >= n:
        return f"as labelled except for {counted(outside, 'bead')}; {_of(inside, n)} within the limits"
    undecided = f"{n - inside - outside} too close to a limit to decide"
    if outside:
        return f"not all as labelled; {_of(outside, n)} outside the limits, {undecided}"
    return f"not certain; {_of(inside, n)} within the limits, {undecided}"


def _really(conformity: Conformity) -> str:
    """Say what size the beads have, or that they have several."""
    mixed = max(conformity.axes, key=lambda axis: len(axis.groups))
    if len(mixed.groups) > 1:
        most = max(mixed.groups, key=len)
        mostly = f", most of {mean_of(most).mm:.1f} mm" if 2 * len(most) > len(mixed.sizes) else ""
        return f"are of {len(mixed.groups)} sizes{mostly}"
    return f"measure {' x '.join(f'{axis.mean.mm:.1f}' for axis in reversed(conformity.axes))} mm"


def _of(part: int, n: int) -> str:
    return f"{part} of {counted(n, 'bead')} {'is' if part == 1 else 'are'}"


def _real_size(axis: Axis, label: Label) -> str:
    """Say what size or sizes the beads have along one axis, and what they should be sold as."""
    if len(axis.groups) > 1:
        means = [(len(group), mean_of(group)) for group in axis.groups]
        listed = ", ".join(f"{n} of {format_mm(mean.mm, mean.u95_mm)}" for n, mean in means)
        return f"The beads have {len(means)} sizes by their {axis.dimension}: {listed}."
    mean = axis.mean
    size, sd = format_mm(mean.mm, mean.u95_mm), format_mm(mean.sd_mm, decimals=2)
    return (
        f"The beads' mean {axis.dimension} is {size}, with a standard deviation of {sd}{_sold(axis, label)}."
    )


def _sold(axis: Axis, label: Label) -> str:
    """Say what size that is sold the beads have; of usual sizes none, where the label fits."""
    mm, stated = axis.mean.mm, axis.stated
    if label.kind == "class":
        low_mm = math.floor(mm / PEARL_STEP_MM) * PEARL_STEP_MM
        return f"; their class is {low_mm:.1f}-{low_mm + PEARL_STEP_MM:.1f} mm"
    if stated.low_mm <= mm <= stated.high_mm:
        return ""
    nearest = nearest_usual_mm(mm)
    if stated.low_mm <= nearest <= stated.high_mm:
        return "; no usual size is nearer than what the label says"
    return f"; the nearest usual size is {nearest:g} mm"


def _weaknesses(checked: CheckedLot) -> list[str]:
    """Say where the comparison itself is weak."""
    found = []
    if any(_leaves_no_room(axis) for axis in checked.conformity.axes):
        found.append(
            "The uncertainty is as wide as the label's limits, so no bead can be shown to be within them."
        )
    whole = tally(checked.lot)
    if len(checked.label.stated) == 1 and not whole.is_round:
        size = f"{whole.length.mm:.1f} x {whole.width.mm:.1f} mm"
        found.append(f"The beads are longer than wide ({size}); the label was compared with their width.")
    return found


def _leaves_no_room(axis: Axis) -> bool:
    """Return whether the guard bands leave nothing between the limits for a usual bead."""
    allowed_mm = axis.stated.high_mm - axis.stated.low_mm
    return allowed_mm <= 2 * GUARD_FACTOR * float(np.median(axis.sizes.u_mm))
