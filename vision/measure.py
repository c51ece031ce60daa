"""The two measurements: of a strand, and of the loose beads of one photo."""

from vision.camera.resection import resect
from vision.camera.scale import question_bed, question_check_length, scale_rel_u
from vision.camera.scene import Scene
from vision.checks.resolution import USUAL_MM, check_resolution
from vision.common.errors import NoBeadsError
from vision.common.records import Lot, Photo, Strand
from vision.sheet.sharpness import edge_blur_px
from vision.sheet.tags import Tags, find_tags


def measure_strands(
    photo: Photo,
    *,
    tags: Tags | None = None,
    check_length_mm: float | None,
    check_length_u_mm: float,
    bed_height_mm: float,
) -> tuple[Strand, ...]:
    """Measure all strands in a photo, in reading order; their beads are numbered on from strand to strand.

    Parameters
    ----------
    photo : Photo
    tags : Tags, optional
        Where they were found already.
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

    return strands_of(
        scene_of(
            photo,
            tags or find_tags(photo),
            check_length_mm=check_length_mm,
            check_length_u_mm=check_length_u_mm,
            bed_height_mm=bed_height_mm,
        )
    )


def measure_lot(
    photo: Photo,
    *,
    tags: Tags | None = None,
    check_length_mm: float | None,
    check_length_u_mm: float,
    bed_height_mm: float,
    flat: bool | None = None,
) -> Lot:
    """Measure the loose beads in a photo.

    Parameters
    ----------
    photo, tags, check_length_mm, check_length_u_mm, bed_height_mm
        As for `measure_strands`.
    flat : bool or None
        True: the beads are flat discs; False: rounds; None: estimate which.

    Raises
    ------
    NoSheetError, NoBeadsError, PhotoError
    """
    from vision.lot.measure import lot_of  # noqa: PLC0415  (a strand needs none of what it imports)

    scene = scene_of(
        photo,
        tags or find_tags(photo),
        check_length_mm=check_length_mm,
        check_length_u_mm=check_length_u_mm,
        bed_height_mm=bed_height_mm,
    )
    try:
        return lot_of(scene, flat=flat)
    except NoBeadsError:  # where no bead of usual size could be found, say that instead
        check_resolution(scene, bead_mm=USUAL_MM)
        raise


def scene_of(
    photo: Photo, tags: Tags, *, check_length_mm: float | None, check_length_u_mm: float, bed_height_mm: float
) -> Scene:
    """Return a photo with the camera that fits its tags; see `measure_strands`."""
    nominal = tags.sheet.check_length_mm
    length = nominal if check_length_mm is None else check_length_mm
    questioned = question_check_length(length, tags.sheet)
    rows, columns = photo.rgb.shape[:2]
    camera = resect(tags, check_length_mm=length, size_px=(columns, rows), focal_35mm=photo.focal_35mm)
    return Scene(
        photo=photo,
        camera=camera,
        sheet=tags.sheet,
        scale=length / nominal,
        scale_rel_u=scale_rel_u(check_length_mm, check_length_u_mm),
        check_length_given=check_length_mm is not None,
        bed_height_mm=bed_height_mm,
        questioned=(*questioned, *question_bed(bed_height_mm, float(camera.centre_mm[2]))),
        tags_seen=tags.ids,
        blur_px=edge_blur_px(photo, tags),
    )
