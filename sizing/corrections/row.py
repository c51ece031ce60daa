"""The parts of one string in order, as they are corrected: joined, divided, dropped, with their lengths."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sizing.base.errors import CorrectionError
from sizing.corrections.likeness import Size, half, like, together
from sizing.corrections.plan import CorrectionPlan
from sizing.corrections.shape import extent, halves, joined_outline, longest_way
from vision.common import flags
from vision.common.corrections import Correction
from vision.common.records import PART_KINDS, FloatArray, StrandBead

_NEIGHBOURS = 3
"""On either side, whose sizes tell that of a bead that was not measured: enough for a mean, few enough for a
graduated strand."""
SETTLED = frozenset({flags.UNSURE_SPLIT, flags.UNSURE_BEAD})
"""Flags that go once the maker has said what a bead is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A strung part with the string after it.

    Attributes
    ----------
    bead : StrandBead
        Numbered as on the uncorrected photo.
    along_mm : float
        What it takes of the string.
    gap_mm : float
        Bare string to the next one; after the last, 0.
    dropped : str
        `no bead` or `stopper`: it is no part of the strand; empty where it is.
    """

    bead: StrandBead
    along_mm: float
    gap_mm: float
    dropped: Literal["", "no bead", "stopper"] = ""


def row_of(beads: Sequence[StrandBead]) -> list[Part]:
    """Return a measured string; a bead without a length takes as much of it as its neighbours."""
    return [
        Part(
            bead=replace(bead, was=(bead.number,)),
            along_mm=bead.along_mm if math.isfinite(bead.along_mm) else like(near(beads, k, along_of)).mm,
            gap_mm=bead.gap_after_mm if k < len(beads) - 1 else 0.0,
        )
        for k, bead in enumerate(beads)
    ]


def span(row: Sequence[Part]) -> tuple[float, float]:
    """Return the length of a string from its first outer end to its last, and with its gaps closed."""
    closed_up = sum(part.along_mm for part in row)
    return closed_up + sum(part.gap_mm for part in row), closed_up


def along_of(bead: StrandBead) -> Size:
    """Return a bead's size along the string."""
    return Size(mm=bead.along_mm, u95_mm=bead.along_u95_mm)


def across_of(bead: StrandBead) -> Size:
    """Return a bead's size across the string."""
    return Size(mm=bead.across_mm, u95_mm=bead.across_u95_mm)


def near(beads: Sequence[StrandBead], k: int, size: Callable[[StrandBead], Size]) -> list[Size]:
    """Return sizes of the beads on either side of a part, itself and what is no bead left out."""
    before, after = ([b for b in side if b.kind == "bead"] for side in (beads[:k], beads[k + 1 :]))
    return [size(bead) for bead in (*before[-_NEIGHBOURS:], *after[:_NEIGHBOURS])]


def changed(row: Sequence[Part], plan: CorrectionPlan, *, scale_rel_u: float) -> list[Part]:
    """Return a string with what was said of its beads: joined, divided, read by a caliper, named as none.

    Raises
    ------
    CorrectionError
        Beads that are said to be one do not follow each other.
    """
    out: list[Part] = []
    k = 0
    while k < len(row):
        part, said = row[k], plan.of_bead.get(("", row[k].bead.number))
        run = 1
        if said is None:
            out.append(part)
        elif said.action == "one bead":
            run = len(said.numbers)
            out.append(_joined(_run(row, k, said.numbers), scale_rel_u=scale_rel_u))
        elif said.action == "two beads":
            out += _divided(row, k)
        elif said.action == "size":
            out.append(replace(part, bead=_read(part.bead, said)))
        elif said.action in PART_KINDS:
            out.append(replace(part, bead=replace(_settled(part.bead), kind=said.action)))
        else:
            dropped: Literal["no bead", "stopper"] = "stopper" if said.action == "stopper" else "no bead"
            out.append(replace(part, dropped=dropped))
        k += run
    return out


def kept(row: Sequence[Part], *, closed: bool) -> list[Part]:
    """Return the parts that stay; none where no bead is among them.

    What was dropped between two of them is bare string.

    Raises
    ------
    CorrectionError
        A stopper is said to lie between beads, or on a closed loop.
    """
    staying = [k for k, part in enumerate(row) if not part.dropped]
    _check_stoppers(row, staying, closed=closed)
    if not any(row[k].bead.kind == "bead" for k in staying):
        return []
    out: list[Part] = []
    for part in row[staying[0] : staying[-1] + 1]:
        if part.dropped:
            longer_mm = out[-1].gap_mm + part.along_mm + part.gap_mm
            out[-1] = replace(out[-1], gap_mm=longer_mm)
        else:
            out.append(part)
    return [*out[:-1], replace(out[-1], gap_mm=0.0)]


def way_at(beads: Sequence[StrandBead], k: int) -> FloatArray:
    """Return the unit vector (2,) along the string at a bead, on the photo."""
    ends = beads[max(k - 1, 0)].centre_px, beads[min(k + 1, len(beads) - 1)].centre_px
    way = np.subtract(ends[1], ends[0])
    length = float(np.hypot(*way))
    return way / length if length else longest_way(beads[k].outline_px)


def _settled(bead: StrandBead) -> StrandBead:
    """Return a bead of which it is certain now that it is one."""
    return replace(bead, flags=tuple(flag for flag in bead.flags if flag not in SETTLED))


def _corrected(bead: StrandBead, *, across: Size | None = None, along: Size | None = None) -> StrandBead:
    """Return a bead with sizes that were estimated, and the flag that says so."""
    sized = _sized(bead, across=across or across_of(bead), along=along or along_of(bead))
    return replace(sized, flags=(*sized.flags, flags.CORRECTED))


def _read(bead: StrandBead, said: Correction) -> StrandBead:
    """Return a bead as wide as a caliper reads, which needs no edge on the photo."""
    sized = _sized(bead, across=Size(mm=said.size_mm, u95_mm=said.size_u95_mm), along=along_of(bead))
    doubts = tuple(flag for flag in sized.flags if flag != flags.WEAK_EDGE)
    return replace(sized, flags=(*doubts, flags.CONTRADICTED) if said.contradicted else doubts)


def _sized(bead: StrandBead, *, across: Size, along: Size) -> StrandBead:
    """Return a bead of these sizes, of which it is certain now that it is one."""
    gone = {*SETTLED, *([flags.UNMEASURED] if across.known and along.known else [])}
    return replace(
        bead,
        across_mm=across.mm,
        across_u95_mm=across.u95_mm,
        along_mm=along.mm,
        along_u95_mm=along.u95_mm,
        flags=tuple(flag for flag in bead.flags if flag not in gone),
    )


def _run(row: Sequence[Part], k: int, numbers: Sequence[int]) -> Sequence[Part]:
    """Return the parts from one on that are said to be one bead."""
    run = row[k : k + len(numbers)]
    if [part.bead.number for part in run] != sorted(numbers):
        listed = " and ".join(map(str, sorted(numbers)))
        raise CorrectionError(f"beads {listed} do not follow each other on one string: they are not one bead")
    return run


def _joined(run: Sequence[Part], *, scale_rel_u: float) -> Part:
    """Return one bead in place of several: as long as they are together, as wide as the widest."""
    beads = [part.bead for part in run]
    gaps = sum(part.gap_mm for part in run[:-1])
    along = together(map(along_of, beads), scale_rel_u=scale_rel_u)
    widest = max(map(across_of, beads), key=lambda size: size.mm if size.known else 0.0)
    whole = replace(
        max(beads, key=lambda bead: bead.along_mm),
        number=beads[0].number,
        centre_px=tuple(np.mean([beads[0].centre_px, beads[-1].centre_px], axis=0).tolist()),
        outline_px=joined_outline([bead.outline_px for bead in beads]),
        flags=tuple(dict.fromkeys(flag for bead in beads for flag in bead.flags)),
        was=tuple(bead.number for bead in beads),
    )
    return Part(
        bead=_corrected(whole, across=widest, along=Size(mm=along.mm + gaps, u95_mm=along.u95_mm)),
        along_mm=sum(part.along_mm for part in run) + gaps,
        gap_mm=run[-1].gap_mm,
    )


def _divided(row: Sequence[Part], k: int) -> list[Part]:
    """Return two beads in place of one: each half as long, as wide as it."""
    part, beads = row[k], [each.bead for each in row]
    bead, way = part.bead, way_at(beads, k)
    along = half(_or_all(along_of(bead), part.along_mm), near(beads, k, along_of))
    length_px = extent(bead.outline_px, bead.centre_px, way)
    out = []
    for side, outline in zip((-1, 1), halves(bead.outline_px, bead.centre_px, way), strict=True):
        x, y = np.array(bead.centre_px) + side * length_px / 4 * way
        one = replace(bead, centre_px=(float(x), float(y)), outline_px=outline)
        out.append(Part(bead=_corrected(one, along=along), along_mm=part.along_mm / 2, gap_mm=0.0))
    return [out[0], replace(out[1], gap_mm=part.gap_mm)]


def _or_all(size: Size, mm: float) -> Size:
    """Return a size; where it is not known, what it takes of the string, which may all be wrong."""
    return size if size.known else Size(mm=mm, u95_mm=mm)


def _check_stoppers(row: Sequence[Part], staying: Sequence[int], *, closed: bool) -> None:
    """Refuse stoppers that hold nothing."""
    for k, part in enumerate(row):
        if part.dropped != "stopper":
            continue
        number = part.bead.number
        if closed:
            raise CorrectionError(
                f"bead {number} lies on a closed loop, which has no stoppers: say that it is no bead"
            )
        if staying and staying[0] < k < staying[-1]:
            raise CorrectionError(
                f"bead {number} lies between beads, so it is no stopper: say that it is no bead, or a spacer"
            )
