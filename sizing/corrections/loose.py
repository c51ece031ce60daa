"""Loose beads of one photo, as they are corrected: joined, divided, read by a caliper, missed."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from sizing.base.errors import CorrectionError
from sizing.corrections.likeness import Size, half, like, own_u95_mm
from sizing.corrections.shape import (
    caliper_px,
    extent,
    halves,
    joined_outline,
    longest_way,
    round_outline,
)
from vision.common import flags
from vision.common.corrections import Correction
from vision.common.records import LooseBead

SETTLED = frozenset({flags.UNSURE_SPLIT, flags.UNSURE_BEAD})
"""Flags that go once the maker has said what a bead is."""


def width_of(bead: LooseBead) -> Size:
    """Return a bead's smallest caliper size."""
    return Size(mm=bead.min_feret_mm, u95_mm=bead.min_feret_u95_mm)


def length_of(bead: LooseBead) -> Size:
    """Return a bead's largest caliper size."""
    return Size(mm=bead.max_feret_mm, u95_mm=bead.max_feret_u95_mm)


def settled(bead: LooseBead) -> LooseBead:
    """Return a bead of which it is certain now that it is one."""
    return replace(bead, flags=tuple(flag for flag in bead.flags if flag not in SETTLED))


def read_by_caliper(bead: LooseBead, said: Correction, *, scale_rel_u: float) -> LooseBead:
    """Return a bead as wide as a caliper reads; its length over width stays as the photo shows it."""
    if said.contradicted:
        bead = replace(bead, flags=(*bead.flags, flags.CONTRADICTED))
    width, length = width_of(bead), length_of(bead)
    read = Size(mm=said.size_mm, u95_mm=said.size_u95_mm)
    if not (width.known and length.known):
        return _sized(bead, width=read, length=read)
    long_mm = read.mm * length.mm / width.mm
    own = (own_u95_mm(size, scale_rel_u) / size.mm for size in (width, length))
    u95_mm = long_mm * math.hypot(read.u95_mm / read.mm, *own)
    return _sized(bead, width=read, length=Size(mm=long_mm, u95_mm=u95_mm))


def joined(beads: Sequence[LooseBead], others: Sequence[LooseBead]) -> LooseBead:
    """Return one bead in place of several, as large as the hull of their outlines.

    Raises
    ------
    CorrectionError
        They lie apart.
    """
    first = beads[0]
    for bead in beads[1:]:
        if math.dist(bead.centre_px, first.centre_px) > sum(map(_reach, beads)):
            listed = " and ".join(str(each.number) for each in beads)
            raise CorrectionError(f"beads {listed} lie apart on the photo, so they are not one bead")
    hull = joined_outline([bead.outline_px for bead in beads])
    per_mm = _per_mm([bead for bead in beads if width_of(bead).known] or others)
    rel_u95 = max(
        (width_of(b).u95_mm / width_of(b).mm for b in (*beads, *others) if width_of(b).known), default=0.0
    )
    longest, least = caliper_px(hull)
    sizes = [Size(mm=px / per_mm, u95_mm=rel_u95 * px / per_mm) for px in (least, longest)]
    whole = replace(
        first,
        centre_px=tuple(np.mean([bead.centre_px for bead in beads], axis=0).tolist()),
        outline_px=hull,
        flags=tuple(dict.fromkeys(flag for bead in beads for flag in bead.flags)),
        was=tuple(bead.number for bead in beads),
    )
    return _corrected(whole, width=sizes[0], length=sizes[1])


def divided(bead: LooseBead, others: Sequence[LooseBead]) -> list[LooseBead]:
    """Return two beads in place of one: each half as long, and as wide; if unmeasured, as large as others."""
    way = longest_way(bead.outline_px)
    length_px = extent(bead.outline_px, bead.centre_px, way)
    if width_of(bead).known and length_of(bead).known:
        sizes = [half(length_of(bead), map(length_of, others)), width_of(bead)]
    else:
        sizes = [_like(others, size) for size in (width_of, length_of)]
    width, length = sorted(sizes, key=lambda size: size.mm)
    out = []
    for side, outline in zip((-1, 1), halves(bead.outline_px, bead.centre_px, way), strict=True):
        x, y = np.array(bead.centre_px) + side * length_px / 4 * way
        one = replace(bead, centre_px=(float(x), float(y)), outline_px=outline)
        out.append(_corrected(one, width=width, length=length))
    return out


def missed(said: Correction, photo: str, others: Sequence[LooseBead]) -> LooseBead:
    """Return a bead that was missed, as large as the others.

    Raises
    ------
    CorrectionError
        A bead lies there already.
    """
    px = said.px or (math.nan, math.nan)
    for bead in others:
        if math.dist(px, bead.centre_px) < _reach(bead) / 2:
            number = f"bead {bead.number}" if bead.was != () else "a missed bead"
            raise CorrectionError(f"{number} lies at {px[0]:.0f},{px[1]:.0f} already")
    measured = [bead for bead in others if bead.was != ()]
    width, length = (_like(measured, size) for size in (width_of, length_of))
    reach = float(np.median([_reach(bead) for bead in measured])) if measured else 0.0
    red, green, blue = np.median([bead.colour_rgb for bead in measured] or [(0, 0, 0)], axis=0)
    return LooseBead(
        photo=photo,
        number=0,
        centre_px=px,
        max_feret_mm=length.mm,
        max_feret_u95_mm=length.u95_mm,
        min_feret_mm=width.mm,
        min_feret_u95_mm=width.u95_mm,
        colour_rgb=(int(red), int(green), int(blue)),
        outline_px=round_outline(px, reach),
        flags=(flags.CORRECTED,) if width.known else (flags.UNMEASURED, flags.CORRECTED),
        was=(),
    )


def _like(others: Sequence[LooseBead], size: Callable[[LooseBead], Size]) -> Size:
    return like(map(size, others))


def _corrected(bead: LooseBead, *, width: Size, length: Size) -> LooseBead:
    """Return a bead with sizes that were estimated, and the flag that says so."""
    sized = _sized(bead, width=width, length=length)
    return replace(sized, flags=(*sized.flags, flags.CORRECTED))


def _sized(bead: LooseBead, *, width: Size, length: Size) -> LooseBead:
    """Return a bead of these sizes, of which it is certain now that it is one."""
    gone = {*SETTLED, *([flags.UNMEASURED] if width.known else [])}
    return replace(
        bead,
        min_feret_mm=width.mm,
        min_feret_u95_mm=width.u95_mm,
        max_feret_mm=length.mm,
        max_feret_u95_mm=length.u95_mm,
        flags=tuple(flag for flag in bead.flags if flag not in gone),
    )


def _reach(bead: LooseBead) -> float:
    """Return half of a bead's largest extent on the photo, px."""
    return caliper_px(bead.outline_px)[0] / 2


def _per_mm(beads: Sequence[LooseBead]) -> float:
    """Return the pixels of a millimetre, by the outlines of measured beads; NaN where there is none."""
    known = [2 * _reach(bead) / bead.max_feret_mm for bead in beads if length_of(bead).known]
    return float(np.median(known)) if known else math.nan
