"""Geometry of the printed scale sheets: where each tag lies, in millimetres.

The origin is the sheet's top-left corner, x right, y down. Tags are AprilTag 36h11, drawn upright; `tag_mm`
is the edge of the black square.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from vision.common.records import FloatArray

TAG_FAMILY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
TAG_MODULES = 8
"""Modules along a tag's edge: 6 of its pattern and a black border of one on either side."""
_INSET_MM = 12.0
"""From a mat's edge to its tags: printers leave up to 6 mm blank, and the caption stands there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One printed sheet.

    Attributes
    ----------
    name : str
    title : str
        In a maker's words.
    page_mm : tuple of float
        (width, height).
    tag_mm : float
        Edge of a tag's black square.
    first_id : int
        Id of the first tag; the others count on in the order of `centres_mm`.
    centres_mm : ndarray, shape (N, 2)
        Tag centres (x, y).
    bed_mm : tuple of float or None
        (left, top, right, bottom) of the clear area for the beads; None: beads lie beside the sheet.
    check_length_mm : float
        From the left edge of the first tag to the right edge of the last tag of the top row.
    check_length_inches : str
        The same as a ruler in inches reads it; empty for paper that is sold in millimetres.
    tags_needed : int
        Fewest tags that give a trustworthy camera.
    """

    name: str
    title: str
    page_mm: tuple[float, float]
    tag_mm: float
    first_id: int
    centres_mm: FloatArray
    bed_mm: tuple[float, float, float, float] | None
    check_length_mm: float
    tags_needed: int
    check_length_inches: str = ""

    @property
    def ids(self) -> range:
        """Tag ids in the order of `centres_mm`."""
        return range(self.first_id, self.first_id + len(self.centres_mm))

    def corners_mm(self, tag_id: int) -> FloatArray:
        """Return the corners (x, y) of a tag's black square, from the top-left one clockwise, shape (4, 2).

        Examples
        --------
        >>> SHEETS["card"].corners_mm(80).tolist()
        [[10.0, 10.0], [30.0, 10.0], [30.0, 30.0], [10.0, 30.0]]
        """
        half = self.tag_mm / 2
        square = np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
        centre: FloatArray = self.centres_mm[tag_id - self.first_id]
        return centre + square


def _ring(page_mm: tuple[float, float], *, tag_mm: float, along: int, down: int) -> FloatArray:
    """Return the centres of a ring of tags, clockwise from the top-left one, shape (N, 2)."""
    inset = _INSET_MM + tag_mm / 2
    left, top = inset, inset
    right, bottom = page_mm[0] - inset, page_mm[1] - inset
    points = (
        *((x, top) for x in np.linspace(left, right, along)),
        *((right, y) for y in np.linspace(top, bottom, down)[1:]),
        *((x, bottom) for x in np.linspace(right, left, along)[1:]),
        *((left, y) for y in np.linspace(bottom, top, down)[1:-1]),
    )
    return np.array(points)


# Pages: A4 (ISO 216), US Letter (ASME Y14.1, size A).
SHEETS: dict[str, Sheet] = {
    sheet.name: sheet
    for sheet in (
        Sheet(
            name="mat-a4",
            title="A4 mat",
            page_mm=(297.0, 210.0),
            tag_mm=15.0,
            first_id=0,
            centres_mm=_ring((297.0, 210.0), tag_mm=15.0, along=9, down=6),
            bed_mm=(31.0, 31.0, 266.0, 179.0),
            check_length_mm=273.0,
            tags_needed=3,
        ),
        Sheet(
            name="mat-letter",
            title="Letter mat",
            page_mm=(279.4, 215.9),
            tag_mm=15.0,
            first_id=40,
            centres_mm=_ring((279.4, 215.9), tag_mm=15.0, along=8, down=6),
            bed_mm=(31.0, 31.0, 248.4, 184.9),
            check_length_mm=255.4,
            check_length_inches="10 1/16 in",
            tags_needed=3,
        ),
        Sheet(
            name="card",
            title="card",
            page_mm=(100.0, 70.0),
            tag_mm=20.0,
            first_id=80,
            centres_mm=np.array([(x, y) for y in (20.0, 50.0) for x in (20.0, 50.0, 80.0)]),
            bed_mm=None,
            check_length_mm=80.0,
            tags_needed=2,
        ),
    )
}
