"""Draws what was measured on a copy of the photo: outlines, numbers, the strand's length, a legend."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from vision.common import flags
from vision.common.records import FloatArray, ImageArray, LooseBead, Photo, Strand, StrandBead
from vision.marks.label_placement import Things, boxes_about, freest, place_labels
from vision.marks.pen import INK, Colour, Pen
from vision.marks.string_line import beside, course_between_ends, parallel

# Blue and vermillion of the eight colours that Okabe and Ito chose to be told apart by everyone
# ("Color Universal Design", 2008).
SOUND: Colour = (0, 114, 178)
DOUBTFUL: Colour = (213, 94, 0)

Beads = Sequence[StrandBead | LooseBead]


def annotate_strand(photo: Photo, strand: Strand, *, length_text: str | None = None) -> ImageArray:
    """Draw a measured strand: each bead outlined and numbered, doubtful ones in another colour.

    Parameters
    ----------
    photo : Photo
        The photo that was measured; it is left as it is.
    strand : Strand
    length_text : str, optional
        What stands on the dimension line; the length in mm where not given.

    Returns
    -------
    ndarray, shape (H, W, 3), uint8
        sRGB; below the photo a strip explains the colours where there is more than one.
    """
    pen = _pen(photo, strand.beads)
    _draw_outlines(pen, strand.beads, [DOUBTFUL if bead.flags else SOUND for bead in strand.beads])
    things, sizes = _things(strand.beads, pen), _sizes(strand.beads, pen)
    # Numbers of one strand all stand inside their beads or all beside: mixed, they read as two series.
    inside = np.full(len(strand.beads), _fits(strand.beads, sizes).all())
    places = place_labels(things, sizes, beside(things.centres), inside=inside)
    _draw_leaders(pen, things, places, sizes)
    labels = boxes_about(places, sizes)
    _draw_dimension(pen, strand, things, labels, text=length_text or f"{strand.length_mm:.1f} mm")
    _write_numbers(pen, strand.beads, places)
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
        The photo that was measured; it is left as it is.
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
    _draw_outlines(pen, beads, colours)
    things, sizes = _things(beads, pen), _sizes(beads, pen)
    angles = np.arange(16) * np.pi / 8 - np.pi / 2
    around = np.stack((np.cos(angles), np.sin(angles)), axis=1)
    directions = np.broadcast_to(around, (len(beads), *around.shape))
    places = place_labels(things, sizes, directions, inside=_fits(beads, sizes))
    _draw_leaders(pen, things, places, sizes)
    _write_numbers(pen, beads, places)
    return pen.with_legend(legend)


def _outline(bead: StrandBead | LooseBead) -> FloatArray:
    """Return a bead's outline, shape (N, 2); of one without outline its centre alone."""
    return bead.outline_px if len(bead.outline_px) else np.array([bead.centre_px])


def _reaches(beads: Beads, which: np.ufunc) -> FloatArray:
    """Return the largest (`np.maximum`) or smallest distance of each outline from its centre, px."""
    away = [_outline(bead) - bead.centre_px for bead in beads]
    return np.array([which.reduce(np.hypot(*points.T)) for points in away])


def _pen(photo: Photo, beads: Beads) -> Pen:
    diameters = 2 * _reaches(beads, np.maximum)
    return Pen(photo.rgb, bead_px=float(np.median(diameters)) if len(diameters) else 0.0)


def _things(beads: Beads, pen: Pen) -> Things:
    """Return the beads, outlines drawn, as things that labels keep off."""
    centres = np.array([bead.centre_px for bead in beads], dtype=float).reshape(-1, 2)
    return Things(
        centres=centres, radii=_reaches(beads, np.maximum) + pen.stroke_px, picture_px=pen.picture_px
    )


def _sizes(beads: Beads, pen: Pen) -> FloatArray:
    """Return (width, height) of the beads' numbers, shape (N, 2), px."""
    return np.array([pen.text_size(str(bead.number)) for bead in beads]).reshape(-1, 2)


def _fits(beads: Beads, sizes: FloatArray) -> NDArray[np.bool_]:
    """Say which numbers leave enough of their beads to be seen."""
    return np.hypot(*sizes.T) < 1.3 * _reaches(beads, np.minimum)


def _draw_outlines(pen: Pen, beads: Beads, colours: Sequence[Colour]) -> None:
    for bead, colour in zip(beads, colours, strict=True):
        pen.lines([_outline(bead)], colour, closed=True)


def _draw_leaders(pen: Pen, things: Things, places: FloatArray, sizes: FloatArray) -> None:
    """Join each label that stands outside its bead to the bead's rim."""
    leaders = []
    for centre, radius, place, size in zip(things.centres, things.radii, places, sizes, strict=True):
        away = place - centre
        distance = max(float(np.hypot(*away)), 1e-9)
        start, end = radius, distance - float(np.abs(away / distance) @ size) / 2
        if end > start:
            leaders.append(centre + np.outer((start, end), away / distance))
    pen.lines(leaders, INK)


def _draw_dimension(pen: Pen, strand: Strand, things: Things, labels: FloatArray, *, text: str) -> None:
    """Draw a line beside the strand, clear of the labels, with extension lines and its text."""
    outlines = [_outline(bead) for bead in strand.beads]
    course = course_between_ends(strand.string_px, outlines[0], outlines[-1])
    taken = np.vstack(
        (np.vstack(outlines), labels[:, :2], labels[:, 2:], labels[:, [0, 3]], labels[:, [2, 1]])
    )
    line, normal = parallel(course, taken, gap_px=0.8 * pen.text_px)
    ends = [np.array([course[k], line[k] + 0.4 * pen.text_px * normal[k]]) for k in (0, -1)]
    pen.lines([line, *ends], INK)
    size = np.array(pen.text_size(text))
    # The middle of the line is best; where the strand bends back upon itself another part is freer.
    at = sorted(range(len(line)), key=lambda k: abs(2 * k - len(line)))[:: max(1, len(line) // 24)]
    support = np.abs(normal[at]) @ size / 2 + 0.5 * pen.text_px
    places = line[at] + support[:, None] * normal[at]
    everything = Things(
        centres=np.vstack((things.centres, line)),
        radii=np.concatenate((things.radii, np.full(len(line), pen.stroke_px))),
        picture_px=things.picture_px,
    )
    pen.text(text, freest(places, size, everything, labels))


def _write_numbers(pen: Pen, beads: Beads, places: FloatArray) -> None:
    for bead, place in zip(beads, places, strict=True):
        pen.text(str(bead.number), place)


def _strand_legend(strand: Strand) -> list[tuple[str, Colour]]:
    """Explain the second colour by the flags that are there."""
    seen = [word for word in flags.DESCRIPTIONS if any(word in bead.flags for bead in strand.beads)]
    return [("measured", SOUND), (f"flagged: {', '.join(seen)}", DOUBTFUL)] if seen else []
