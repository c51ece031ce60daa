"""Draws what was measured on a copy of the photo: outlines, numbers, the strands' lengths, a legend."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from scipy.spatial.distance import cdist

from vision.common import flags
from vision.common.corrections import Correction
from vision.common.numerics import unit
from vision.common.records import FloatArray, ImageArray, LooseBead, Other, Photo, Strand, StrandBead
from vision.marks.colours import BY_HAND, FLAGGED, MEASURED, UNCOUNTED, Colour
from vision.marks.label_placement import Things, boxes_about, place_labels, touched
from vision.marks.pen import INK, Pen
from vision.marks.string_line import all_round, beside, course_between_ends, outside, parallel, round_line

# Chosen by eye (common practice, no source).
_ROOM = 1.3
"""A number fits inside a bead if its diagonal is less than this many times the bead's smallest radius."""
_LINE_GAP, _OVERSHOOT, _TEXT_GAP = 0.8, 0.4, 0.5
"""Dimension line to strand, extension line beyond it, text to line; in heights of the text."""
_RING = 1.15
"""Radius of the ring about a bead that was put right, over the bead's own."""
_RINGED = "with a ring or a cross: put right by hand"

Beads = Sequence[StrandBead | LooseBead]


def annotate_strands(
    photo: Photo, strands: Sequence[Strand], *, length_texts: Sequence[str] | None = None
) -> ImageArray:
    """Draw measured strands: each bead outlined and numbered, flagged ones in another colour.

    Strays, stoppers and what hangs from a clasp are outlined without a number.

    Parameters
    ----------
    photo : Photo
        The photo that was measured; it is not changed.
    strands : sequence of Strand
        At least one.
    length_texts : sequence of str, optional
        Text of each dimension line; by default the length in mm.

    Returns
    -------
    ndarray, shape (H, W, 3), uint8
        sRGB; if there are flagged beads, a strip below the photo explains the colours.
    """
    beads = [bead for strand in strands for bead in strand.beads]
    pen = _pen(photo, beads)
    for bead in beads:
        pen.lines([_outline(bead)], FLAGGED if bead.flags else MEASURED, closed=True)
    # Numbers of one photo all stand inside their beads or all beside: mixed, they read as two series.
    labels = _Labels.of(beads, pen, directions=np.vstack([_beside(s) for s in strands]), alike=True)
    placed = labels.boxes
    texts = length_texts or [f"{strand.length_mm:.1f} mm" for strand in strands]
    own = np.split(labels.boxes, np.cumsum([len(strand.beads) for strand in strands])[:-1])
    for boxes, strand, text in zip(own, strands, texts, strict=True):
        line = _draw_dimension(pen, strand, boxes=boxes, things=labels.things)
        placed = np.vstack((placed, _write_beside(pen, text, line, things=labels.things, placed=placed)))
    _draw_numbers(pen, beads, labels=labels)
    pen.lines(_uncounted(strands), UNCOUNTED, closed=True)
    by_hand = _draw_by_hand(pen, beads, strands[0].corrections)
    return pen.with_legend([*_strand_legend(beads), *by_hand])


def annotate_lot(
    photo: Photo,
    beads: Sequence[LooseBead],
    *,
    colours: Sequence[Colour],
    legend: Sequence[tuple[str, Colour]] = (),
    corrections: Sequence[Correction] = (),
    others: Sequence[Other] = (),
) -> ImageArray:
    """Draw the loose beads of one photo: each outlined in its colour and numbered.

    Parameters
    ----------
    photo : Photo
        The photo that was measured; it is not changed.
    beads : sequence of LooseBead
        Those that lie on this photo.
    colours : sequence of tuple
        sRGB colour of each bead.
    legend : sequence of (str, tuple)
        What each colour means, printed in a strip below the photo.
    corrections : sequence of Correction
        What was put right on this photo.
    others : sequence of Other
        What lies there besides and is not counted: crossed out.

    Returns
    -------
    ndarray, shape (H, W, 3), uint8
        sRGB.
    """
    pen = _pen(photo, beads)
    for bead, colour in zip(beads, colours, strict=True):
        pen.lines([_outline(bead)], colour, closed=True)
    pen.lines([other.outline_px for other in others], UNCOUNTED, closed=True)
    arms = [np.ptp(other.outline_px, axis=0).min() / 4 for other in others]
    pen.lines(_crosses([other.centre_px for other in others], arms), UNCOUNTED)
    aside = [(f"crossed out, not counted: {len(others)}", UNCOUNTED)] if others else []
    directions = np.broadcast_to(all_round(), (len(beads), *all_round().shape))
    _draw_numbers(pen, beads, labels=_Labels.of(beads, pen, directions=directions, alike=False))
    by_hand = _draw_by_hand(pen, beads, corrections)
    return pen.with_legend([*legend, *aside, *by_hand])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Labels:
    """The beads as things, and the sizes and centres of their numbers, shape (N, 2) each, px."""

    things: Things
    sizes: FloatArray
    places: FloatArray

    @classmethod
    def of(cls, beads: Beads, pen: Pen, *, directions: FloatArray, alike: bool) -> Self:
        """Place numbers inside their beads where enough of these stays visible, else beside; or all alike.

        In a heap a number covers its bead: a line that leads out of it seems to begin at another.
        """
        centres = np.array([bead.centre_px for bead in beads], dtype=float).reshape(-1, 2)
        radii = _reaches(beads, np.maximum) + pen.stroke_px
        things = Things(centres=centres, radii=radii, picture_px=pen.picture_px)
        sizes = np.array([pen.text_size(str(bead.number)) for bead in beads]).reshape(-1, 2)
        fits = np.hypot(*sizes.T) < _ROOM * _reaches(beads, np.minimum)
        inside = np.full(len(beads), fits.all()) if alike else fits
        places = place_labels(
            things, sizes=sizes, directions=directions, inside=inside, else_inside=not alike
        )
        return cls(things=things, sizes=sizes, places=places)

    @property
    def boxes(self) -> FloatArray:
        """(left, top, right, bottom) of the numbers, shape (N, 4)."""
        return boxes_about(self.places, self.sizes)


def _uncounted(strands: Sequence[Strand]) -> list[FloatArray]:
    """Return the outlines of what is no part of a strand, but for what no maker takes for a bead."""
    hanging = [strand.loop.pendant for strand in strands if strand.loop and strand.loop.pendant]
    lying = [other.outline_px for other in strands[0].others if other.kind != "other"]
    return lying + [pendant.outline_px for pendant in hanging]


def _beside(strand: Strand) -> FloatArray:
    """Return for each bead the two directions square to its strand, shape (N, 2, 2), the better first."""
    centres = np.array([bead.centre_px for bead in strand.beads])
    return outside(centres) if strand.loop else beside(centres)


def _outline(bead: StrandBead | LooseBead) -> FloatArray:
    """Return a bead's outline, shape (N, 2); for a bead without one, its centre alone."""
    return bead.outline_px if len(bead.outline_px) else np.array([bead.centre_px])


def _reaches(beads: Beads, which: np.ufunc) -> FloatArray:
    """Return the largest (`np.maximum`) or smallest distance of each outline from its centre, px."""
    away = [_outline(bead) - bead.centre_px for bead in beads]
    return np.array([which.reduce(np.hypot(*points.T)) for points in away])


def _pen(photo: Photo, beads: Beads) -> Pen:
    diameters = 2 * _reaches(beads, np.maximum)
    return Pen(photo.rgb, bead_px=float(np.median(diameters)) if len(diameters) else 0.0)


def _draw_by_hand(pen: Pen, beads: Beads, corrections: Sequence[Correction]) -> list[tuple[str, Colour]]:
    """Ring the beads that were put right, cross out what is none; return what the legend says of it."""
    reaches = _reaches(beads, np.maximum)
    about = zip(beads, reaches, strict=True)
    rings = [
        bead.centre_px + _RING * reach * all_round()
        for bead, reach in about
        if any(said.is_about(bead.was) for said in corrections)
    ]
    pen.lines(rings, BY_HAND, closed=True)
    arm = float(np.median(reaches)) / 2 if len(reaches) else 0.0
    none = [each.px for each in corrections if each.action in {"no bead", "stopper"} and each.px]
    pen.lines(_crosses(none, [arm] * len(none)), BY_HAND)
    return [(_RINGED, BY_HAND)] if rings or none else []


def _crosses(places_px: Sequence[tuple[float, float]], arms_px: Sequence[float]) -> list[FloatArray]:
    """Return the two lines, shape (2, 2), that cross out each place; arms reach as far aside as up."""
    about = zip(places_px, arms_px, strict=True)
    return [np.array(px) + arm * np.array([[-1, way], [1, -way]]) for px, arm in about for way in (-1, 1)]


def _draw_numbers(pen: Pen, beads: Beads, *, labels: _Labels) -> None:
    """Write each bead's number, with a line to the bead's outline if the number stands outside."""
    leaders = []
    about = zip(beads, labels.things.centres, labels.places, labels.sizes, strict=True)
    for bead, centre, place, size in about:
        way = unit(place - centre)
        end = float(np.hypot(*(place - centre)) - np.abs(way) @ size / 2)
        edge = _edge_px(bead, way) + pen.stroke_px
        if end > edge:
            leaders.append(centre + np.outer((edge, end), way))
    pen.lines(leaders, INK)
    for bead, place in zip(beads, labels.places, strict=True):
        pen.text(str(bead.number), place)


def _edge_px(bead: StrandBead | LooseBead, way: FloatArray) -> float:
    """Return how far a bead's outline lies from its centre in a direction, a unit vector."""
    away = _outline(bead) - bead.centre_px
    reach = np.hypot(*away.T)
    return float(reach[np.argmax(away @ way / np.maximum(reach, 1e-9))])


def _draw_dimension(
    pen: Pen, strand: Strand, *, boxes: FloatArray, things: Things
) -> tuple[FloatArray, FloatArray]:
    """Draw a line beside a strand, clear of its labels' boxes; return the line and its outward unit vectors.

    The line of an open strand has extension lines to its ends; that of a closed one runs all round. The
    points that are best for a text come first. The middle of an open line is best; where the strand bends
    back upon itself another part is freer.
    """
    outlines = [_outline(bead) for bead in strand.beads]
    taken = np.vstack((*outlines, boxes[:, :2], boxes[:, 2:], boxes[:, [0, 3]], boxes[:, [2, 1]]))
    gap_px = _LINE_GAP * pen.text_px
    if strand.loop:
        line, normal = round_line(np.vstack(outlines), taken, gap_px=gap_px)
        pen.lines([line], INK, closed=True)
        best = 0
    else:
        course = course_between_ends(strand.string_px, first=outlines[0], last=outlines[-1])
        lines = [parallel(course, taken, gap_px=gap_px, above=above) for above in (False, True)]
        line, normal, _ = min(lines, key=lambda each: _crossed(each[0], things) + each[2])
        ends = [np.array([course[k], line[k] + _OVERSHOOT * pen.text_px * normal[k]]) for k in (0, -1)]
        pen.lines([line, *ends], INK)
        best = len(line) // 2
    order = np.argsort(np.abs(np.arange(len(line)) - best), kind="stable")
    return line[order], normal[order]


def _write_beside(
    pen: Pen, text: str, beside: tuple[FloatArray, FloatArray], *, things: Things, placed: FloatArray
) -> FloatArray:
    """Write a text beside a line, given with its outward unit vectors; return its box, shape (1, 4).

    It stands where it touches least, at the first of such points of the line.
    """
    (line, normal), size = beside, np.array(pen.text_size(text))
    support = np.abs(normal) @ size / 2 + _TEXT_GAP * pen.text_px
    obstacles = replace(
        things,
        centres=np.vstack((things.centres, line)),
        radii=np.concatenate((things.radii, np.full(len(line), pen.stroke_px))),
    )
    places = line + support[:, None] * normal
    place = places[np.argmin(touched(places, obstacles, size=size, placed=placed))]
    pen.text(text, place)
    return boxes_about(place[None], size)


def _crossed(line: FloatArray, things: Things) -> int:
    """Return how many points of a line lie on a thing or outside the picture."""
    on_a_thing = (cdist(line, things.centres) < things.radii).any(axis=1)
    cut_off = (line < 0).any(axis=1) | (line > np.array(things.picture_px)).any(axis=1)
    return int((on_a_thing | cut_off).sum())


def _strand_legend(beads: Sequence[StrandBead]) -> list[tuple[str, Colour]]:
    """Explain the second colour by the flags that occur."""
    seen = [word for word in flags.DESCRIPTIONS if any(word in bead.flags for bead in beads)]
    return [("measured", MEASURED), (f"flagged: {', '.join(seen)}", FLAGGED)] if seen else []
