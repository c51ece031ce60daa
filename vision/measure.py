"""The two measurements: of a strand, and of the loose beads of one photo."""

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from vision.camera.resection import resect
from vision.camera.scale import question_bed, question_check_length, scale_rel_u
from vision.camera.scene import Scene
from vision.checks.resolution import USUAL_MM, check_resolution
from vision.common.errors import NoBeadsError
from vision.common.records import Lot, Photo, Strand
from vision.sheet.sharpness import edge_blur_px
from vision.sheet.tags import find_tags

Measured = TypeVar("Measured", Strand, Lot)


def measure_strands(
    photo: Photo, *, check_length_mm: float | None, check_length_u_mm: float, bed_height_mm: float
) -> tuple[Strand, ...]:
    """Measure all strands in a photo, in reading order; their beads are numbered on from strand to strand.

    Parameters
    ----------
    photo : Photo
    check_length_mm : float or None
        What a ruler reads on the printed sheet; None: not read, so the sheet is assumed to be printed as
        drawn, and every uncertainty is wider.
    check_length_u_mm : float
        Standard uncertainty of that reading.
    bed_height_mm : float
        Height of the surface under the beads above the plane of the tags.

    Raises
    ------
    NoSheetError, NoBeadsError, PhotoError
        With one line that says what was found and what to do.
    """
    from vision.strand.measure import strands_of  # noqa: PLC0415  (a lot needs none of what it imports)

    sheet = _Reading(length_mm=check_length_mm, u_mm=check_length_u_mm)
    return strands_of(_scene(photo, sheet, bed_height_mm=bed_height_mm))


def measure_lot(
    photo: Photo,
    *,
    check_length_mm: float | None,
    check_length_u_mm: float,
    bed_height_mm: float,
    flat: bool | None = None,
) -> Lot:
    """Measure the loose beads in a photo.

    Parameters
    ----------
    photo, check_length_mm, check_length_u_mm, bed_height_mm
        As for `measure_strands`.
    flat : bool or None
        True: the beads are flat discs; False: rounds; None: estimate which.

    Raises
    ------
    NoSheetError, NoBeadsError, PhotoError
    """
    from vision.lot.measure import lot_of  # noqa: PLC0415  (a strand needs none of what it imports)

    sheet = _Reading(length_mm=check_length_mm, u_mm=check_length_u_mm)
    scene = _scene(photo, sheet, bed_height_mm=bed_height_mm)
    return _measured(functools.partial(lot_of, flat=flat), scene)


def _measured(measure: Callable[[Scene], Measured], scene: Scene) -> Measured:
    """Measure a scene; where no bead is found and none of usual size could be, say that instead."""
    try:
        return measure(scene)
    except NoBeadsError:
        check_resolution(scene, bead_mm=USUAL_MM)
        raise


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """What the maker's ruler reads as the check length, None if not read, and its standard uncertainty."""

    length_mm: float | None
    u_mm: float


def _scene(photo: Photo, reading: _Reading, *, bed_height_mm: float) -> Scene:
    tags = find_tags(photo)
    nominal = tags.sheet.check_length_mm
    length = nominal if reading.length_mm is None else reading.length_mm
    questioned = question_check_length(length, tags.sheet)
    rows, columns = photo.rgb.shape[:2]
    camera = resect(tags, check_length_mm=length, size_px=(columns, rows), focal_35mm=photo.focal_35mm)
    return Scene(
        photo=photo,
        camera=camera,
        sheet=tags.sheet,
        scale=length / nominal,
        scale_rel_u=scale_rel_u(reading.length_mm, reading.u_mm),
        check_length_given=reading.length_mm is not None,
        bed_height_mm=bed_height_mm,
        questioned=(*questioned, *question_bed(bed_height_mm, float(camera.centre_mm[2]))),
        tags_seen=tags.ids,
        blur_px=edge_blur_px(photo, tags),
    )
