"""The two measurements: a strand, and the loose beads of one photo."""

from dataclasses import replace

from vision.camera.camera import resect
from vision.camera.scene import Scene
from vision.camera.uncertainty import scale_rel_u
from vision.common.errors import PhotoError
from vision.common.records import Conditions, Lot, Photo, Strand
from vision.sheet.sharpness import edge_blur_px
from vision.sheet.tags import Tags, find_tags
from vision.strand.measure import strand_of

_NEAREST_MM = 40.0
_PLAUSIBLE = 0.1
"""A check length further than this from nominal, in proportion, was misread or mistyped."""


def measure_strand(
    photo: Photo, *, check_length_mm: float | None, check_length_u_mm: float, bed_height_mm: float
) -> Strand:
    """Measure the strand in a photo.

    Parameters
    ----------
    photo : Photo
    check_length_mm : float or None
        What a ruler reads on the printed sheet; None: as drawn, with the doubt of an unchecked printer.
    check_length_u_mm : float
        Standard uncertainty of that reading.
    bed_height_mm : float
        Height of the surface under the beads above the plane of the tags.

    Raises
    ------
    NoSheetError, NoBeadsError, PhotoError
        With one line that says what was found and what to do.
    """
    scene, conditions = _prepare(photo, check_length_mm, check_length_u_mm, bed_height_mm)
    return strand_of(scene, conditions)


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
        As for `measure_strand`.
    flat : bool or None
        True: the objects are flat discs; False: rounds; None: decide from the evidence.

    Raises
    ------
    NoSheetError, NoBeadsError, PhotoError
    """
    from vision.lot.measure import loose_beads  # noqa: PLC0415  (a strand needs none of what it imports)

    scene, conditions = _prepare(photo, check_length_mm, check_length_u_mm, bed_height_mm)
    beads, measured_flat, doubts = loose_beads(
        photo,
        scene.camera,
        scene.sheet,
        scale=scene.scale,
        scale_rel_u=conditions.scale_rel_u,
        bed_height_mm=bed_height_mm,
        flat=flat,
    )
    return Lot(conditions=(conditions,), beads=beads, flat=measured_flat, flags=doubts)


def _prepare(
    photo: Photo, check_length_mm: float | None, check_length_u_mm: float, bed_height_mm: float
) -> tuple[Scene, Conditions]:
    tags = find_tags(photo)
    nominal = tags.sheet.check_length_mm
    length = nominal if check_length_mm is None else check_length_mm
    if abs(length / nominal - 1) > _PLAUSIBLE:
        raise PhotoError(
            f"the sheet in this photo is {tags.sheet.name}, whose check length is {nominal:g} mm, "
            f"but {length:g} mm was given: measure from the left edge of the first tag to the right edge "
            "of the last in the top row"
        )
    rows, columns = photo.rgb.shape[:2]
    camera = resect(tags, check_length_mm=length, size_px=(columns, rows), focal_35mm=photo.focal_35mm)
    scene = Scene(
        photo=photo,
        camera=camera,
        sheet=tags.sheet,
        scale=length / nominal,
        bed_height_mm=bed_height_mm,
        tags_seen=tags.ids,
        blur_px=edge_blur_px(photo, tags),
    )
    if scene.camera_above_mm < _NEAREST_MM:
        raise PhotoError(
            f"with a bed {bed_height_mm:g} mm above the tags the camera would stand only "
            f"{scene.camera_above_mm:.0f} mm above the beads: check the bed height"
        )
    conditions = _conditions(tags, scene, given=check_length_mm is not None)
    return scene, replace(conditions, scale_rel_u=scale_rel_u(check_length_mm, check_length_u_mm))


def _conditions(tags: Tags, scene: Scene, *, given: bool) -> Conditions:
    return Conditions(
        photo=scene.photo.name,
        sheet_name=tags.sheet.name,
        tags_found=len(tags.ids),
        tags_on_sheet=len(tags.sheet.ids),
        check_length_mm=scene.scale * tags.sheet.check_length_mm,
        check_length_given=given,
        bed_height_mm=scene.bed_height_mm,
        camera_height_mm=float(scene.camera.centre_mm[2]),
        tilt_deg=scene.camera.tilt_deg,
        focal_source="exif" if scene.photo.focal_35mm is not None else "estimated",
        scale_rel_u=0.0,
    )
