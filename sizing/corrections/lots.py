"""A measured lot of loose beads, corrected by its maker."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from sizing.base.errors import CorrectionError
from sizing.corrections.loose import divided, joined, missed, read_by_caliper, settled
from sizing.corrections.plan import CorrectionPlan, each_bead, plan_of
from vision.common import flags
from vision.common.corrections import Correction
from vision.common.records import LooseBead, Lot, Other

_DOUBTED = frozenset({flags.UNSURE_SPLIT, flags.UNSURE_BEAD, flags.CUT_OFF, flags.COVERED})
"""A bead with one of these may be none or several, or hide another: the count stays uncertain."""


def correct_lot(lot: Lot, corrections: Sequence[Correction]) -> Lot:
    """Return a lot as its maker corrects it.

    All numbers are those of the uncorrected photos, so the order of the corrections does not matter. The
    beads of each photo are numbered anew, in the same order, those that were missed last; `was` says their
    old numbers. A missed bead has the size of the others of its photo, as uncertain as they differ; what lay
    there and was not counted is no other thing any more.

    Parameters
    ----------
    lot : Lot
        As measured, never corrected before.
    corrections : sequence of Correction
        Of a lot of several photos each names its photo.

    Raises
    ------
    CorrectionError
        They contradict each other, name what is not there, or leave no bead.

    Examples
    --------
    >>> from tests.helpers.lots import lot_of
    >>> right = correct_lot(lot_of([6.0, 6.1, 8.0]), [Correction(action="no bead", numbers=(2,))])
    >>> [(bead.number, bead.was, bead.min_feret_mm) for bead in right.beads]
    [(1, (1,), 6.0), (2, (3,), 8.0)]
    """
    if not corrections:
        return lot
    named = [_placed(_of_photo(correction, lot), lot) for correction in each_bead(corrections)]
    plan = plan_of(named, ((bead.photo, bead.number) for bead in lot.beads))
    beads = tuple(bead for each in lot.conditions for bead in _photo(lot, each.photo, plan))
    if not beads:
        raise CorrectionError("no bead would be left: leave out some of the corrections")
    others = tuple(other for other in lot.others if not any(_is_on(said, other) for said in plan.missed))
    return replace(lot, beads=beads, flags=_flags(lot, beads, named), corrections=tuple(named), others=others)


def _is_on(said: Correction, other: Other) -> bool:
    """Return whether a missed bead was pointed at where something lay that was not counted."""
    if said.photo != other.photo or said.px is None or not len(other.outline_px):
        return False
    reach = np.hypot(*(other.outline_px - other.centre_px).T).max()
    return bool(math.dist(said.px, other.centre_px) < reach)


def _of_photo(correction: Correction, lot: Lot) -> Correction:
    """Return a correction with the name of its photo."""
    photos = [each.photo for each in lot.conditions]
    if correction.action == "stopper":
        raise CorrectionError("loose beads have no stoppers: say that it is no bead")
    if correction.photo in photos:
        return correction
    if correction.photo or len(photos) > 1:
        known = ", ".join(photos)
        raise CorrectionError(f"say of which photo a correction is: {known}")
    return replace(correction, photo=photos[0])


def _photo(lot: Lot, photo: str, plan: CorrectionPlan) -> Iterator[LooseBead]:
    """Yield the beads of one photo, numbered anew."""
    own = [replace(bead, was=(bead.number,)) for bead in lot.beads if bead.photo == photo]
    rel_u = next(each.scale_rel_u for each in lot.conditions if each.photo == photo)
    beads = [bead for each in own for bead in _said_of(each, own, plan, scale_rel_u=rel_u)]
    for said in plan.missed:
        if said.photo == photo:
            elsewhere = [bead for bead in lot.beads if bead.photo != photo] if not beads else []
            beads.append(missed(said, photo, beads or elsewhere))
    for number, bead in enumerate(beads, 1):
        yield replace(bead, number=number)


def _said_of(
    bead: LooseBead, own: Sequence[LooseBead], plan: CorrectionPlan, *, scale_rel_u: float
) -> list[LooseBead]:
    """Return what stands in place of a bead: itself where nothing is said of it, one, two or none."""
    said = plan.of_bead.get((bead.photo, bead.number))
    if said is None:
        return [bead]
    others = [each for each in own if (each.photo, each.number) not in plan.of_bead]
    if said.action == "one bead":
        run = [each for each in own if each.number in said.numbers]
        return [joined(run, others)] if bead is run[0] else []
    if said.action == "two beads":
        return divided(bead, others)
    if said.action == "size":
        return [read_by_caliper(bead, said, scale_rel_u=scale_rel_u)]
    return [settled(bead)] if said.action == "bead" else []


def _flags(lot: Lot, beads: Sequence[LooseBead], said: Sequence[Correction]) -> tuple[str, ...]:
    """Return the flags of the lot: its count is certain once each photo was put right and no bead doubted."""
    looked_at = {correction.photo for correction in said if correction.action != "size"}
    certain = looked_at == {each.photo for each in lot.conditions}
    certain = certain and not any(_DOUBTED & set(bead.flags) for bead in beads)
    return tuple(flag for flag in lot.flags if flag != flags.UNSURE_COUNT or not certain)


def _placed(correction: Correction, lot: Lot) -> Correction:
    """Return a correction with the place of the first bead that it is about, and with its size there."""
    beads = {bead.number: bead for bead in lot.beads if bead.photo == correction.photo}
    bead = beads.get(min(correction.numbers, default=0))
    if bead is None:
        return correction
    placed = replace(correction, px=bead.centre_px)
    if correction.action != "size":
        return placed
    return replace(placed, shown_mm=bead.min_feret_mm, shown_u95_mm=bead.min_feret_u95_mm)
