"""Draws what was measured on a copy of the photo: outlines, numbers, the strand's length, a legend."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vision.common import flags
from vision.common.records import FloatArray, ImageArray, LooseBead, Mask, Photo, Strand, StrandBead
from vision.marks.label_placement import Things, boxes_about, freest, place_labels
from vision.marks.pen import INK, Colour, Pen
from vision.marks.string_line import beside, course_between_ends, parallel

# Blue and vermillion of the eight colours that Okabe and Ito chose so that everyone can distinguish them
# ("Color Universal Design", 2008).
MEASURED: Colour = (0, 114, 178)
FLAGGED: Colour = (213, 94, 0)

# Chosen by eye (common practice, no source).
_ROOM = 1.3
"""A number fits inside a bead if its diagonal is less than this many times the bead's smallest radius."""
_AROUND = 16
"""Directions in which a loose bead's number may stand, the first above it."""
_LINE_GAP, _OVERSHOOT, _TEXT_GAP = 0.8, 0.4, 0.5
"""Dimension line to strand, extension line beyond it, text to line; in heights of the text."""
_TEXT_PLACES = 24
"""Places along the dimension line at which its text is tried."""
_NO_DISTANCE_PX = 1e-9
"""Instead of zero, to divide by."""

Beads = Sequence[StrandBead | LooseBead]


def annotate_strand(photo: Photo, strand: Strand, *, length_text: str | None = None) -> ImageArray:
    """Draw a measured strand: each bead outlined and numbered, flagged ones in another colour.

    Parameters
    ----------
    photo : Photo
        The photo that was measured; it is not changed.
    strand : Strand
    length_text : str, optional
        Text of the dimension line; by default the length in mm.

    Returns
    -------
    ndarray, shape (H, W, 3), uint8
        sRGB; if there are flagged beads, a strip below the photo explains the colours.
    """
    pen = _pen(photo, strand.beads)
    colours = [FLAGGED if bead.flags else MEASURED for bead in strand.beads]
    _draw_outlines(pen, strand.beads, colours=colours)
    things, sizes = _things(strand.beads, pen), _sizes(strand.beads, pen)
    # Numbers of one strand all stand inside their beads or all beside: mixed, they read as two series.
    inside = np.full(len(strand.beads), _fits(strand.beads, sizes).all())
    places = place_labels(things, sizes=sizes, directions=beside(things.centres), inside=inside)
    labels = _Labels(things=things, sizes=sizes, places=places)
    _draw_dimension(pen, strand, labels=labels, text=length_text or f"{strand.length_mm:.1f} mm")
    _draw_numbers(pen, strand.beads, labels=labels)
    return pen.with_legend(_strand_legend(strand))


def annotate_lot(
    photo: Photo,
    beads: Sequence[LooseBead],
    *,
    colours: Sequence[Colour],
    legend: Sequence[tuple[str, Colour]] = (),
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

    Returns
    -------
    ndarray, shape (H, W, 3), uint8
        sRGB.
    """
    pen = _pen(photo, beads)
    _draw_outlines(pen, beads, colours=colours)
    things, sizes = _things(beads, pen), _sizes(beads, pen)
    angles = 2 * np.pi * np.arange(_AROUND) / _AROUND - np.pi / 2
    around = np.stack((np.cos(angles), np.sin(angles)), axis=1)
    directions = np.broadcast_to(around, (len(beads), *around.shape))
    places = place_labels(things, sizes=sizes, directions=directions, inside=_fits(beads, sizes))
    _draw_numbers(pen, beads, labels=_Labels(things=things, sizes=sizes, places=places))
    return pen.with_legend(legend)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Labels:
    """The beads as things, and the sizes and centres of their numbers, shape (N, 2) each, px."""

    things: Things
    sizes: FloatArray
    places: FloatArray

    @property
    def boxes(self) -> FloatArray:
        """(left, top, right, bottom) of the numbers, shape (N, 4)."""
        return boxes_about(self.places, self.sizes)


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


def _things(beads: Beads, pen: Pen) -> Things:
    """Return the beads, with their drawn outlines, as things that labels keep clear of."""
    centres = np.array([bead.centre_px for bead in beads], dtype=float).reshape(-1, 2)
    return Things(
        centres=centres, radii=_reaches(beads, np.maximum) + pen.stroke_px, picture_px=pen.picture_px
    )


def _sizes(beads: Beads, pen: Pen) -> FloatArray:
    """Return (width, height) of the beads' numbers, shape (N, 2), px."""
    return np.array([pen.text_size(str(bead.number)) for bead in beads]).reshape(-1, 2)


def _fits(beads: Beads, sizes: FloatArray) -> Mask:
    """Return which numbers leave enough of their beads visible, shape (N,)."""
    return np.hypot(*sizes.T) < _ROOM * _reaches(beads, np.minimum)


def _draw_outlines(pen: Pen, beads: Beads, *, colours: Sequence[Colour]) -> None:
    for bead, colour in zip(beads, colours, strict=True):
        pen.lines([_outline(bead)], colour, closed=True)


def _draw_numbers(pen: Pen, beads: Beads, *, labels: _Labels) -> None:
    """Write each bead's number, with a line to the bead's outline if the number stands outside."""
    leaders = []
    things = labels.things
    for centre, radius, place, size in zip(
        things.centres, things.radii, labels.places, labels.sizes, strict=True
    ):
        away = place - centre
        distance = max(float(np.hypot(*away)), _NO_DISTANCE_PX)
        start, end = radius, distance - float(np.abs(away / distance) @ size) / 2
        if end > start:
            leaders.append(centre + np.outer((start, end), away / distance))
    pen.lines(leaders, INK)
    for bead, place in zip(beads, labels.places, strict=True):
        pen.text(str(bead.number), place)


def _draw_dimension(pen: Pen, strand: Strand, *, labels: _Labels, text: str) -> None:
    """Draw a line beside the strand, clear of the labels, with extension lines and its text."""
    outlines = [_outline(bead) for bead in strand.beads]
    course = course_between_ends(strand.string_px, first=outlines[0], last=outlines[-1])
    boxes = labels.boxes
    taken = np.vstack((*outlines, boxes[:, :2], boxes[:, 2:], boxes[:, [0, 3]], boxes[:, [2, 1]]))
    line, normal = parallel(course, taken, gap_px=_LINE_GAP * pen.text_px)
    ends = [np.array([course[k], line[k] + _OVERSHOOT * pen.text_px * normal[k]]) for k in (0, -1)]
    pen.lines([line, *ends], INK)
    size = np.array(pen.text_size(text))
    # The middle of the line is best; where the strand bends back upon itself another part is freer.
    at = sorted(range(len(line)), key=lambda k: abs(2 * k - len(line)))[:: max(1, len(line) // _TEXT_PLACES)]
    support = np.abs(normal[at]) @ size / 2 + _TEXT_GAP * pen.text_px
    obstacles = replace(
        labels.things,
        centres=np.vstack((labels.things.centres, line)),
        radii=np.concatenate((labels.things.radii, np.full(len(line), pen.stroke_px))),
    )
    pen.text(text, freest(line[at] + support[:, None] * normal[at], obstacles, size=size, placed=boxes))


def _strand_legend(strand: Strand) -> list[tuple[str, Colour]]:
    """Explain the second colour by the flags that occur."""
    seen = [word for word in flags.DESCRIPTIONS if any(word in bead.flags for bead in strand.beads)]
    return [("measured", MEASURED), (f"flagged: {', '.join(seen)}", FLAGGED)] if seen else []
