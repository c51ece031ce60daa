"""A photo of known truth with what is typed for it: untouched as it is read, spoilt by one of the ways."""

import io
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from vision.camera.camera import focal_px_of
from vision.common.errors import NoSheetError
from vision.common.records import FloatArray, ImageArray
from vision.image.photo import load_photo
from vision.sheet.geometry import SHEETS
from vision.sheet.tags import find_tags

MODES = ("rod", "wire", "loose")
"""Truths that are judged; closed loops and several strands are not."""
_EXIF_IFD, _WIDTH, _HEIGHT, _FOCAL_35MM = 0x8769, 0xA002, 0xA003, 0xA405
_JPEG_QUALITY = 92


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What the program gets, and what is true of it.

    Attributes
    ----------
    name : str
    rgb : ndarray, shape (H, W, 3), uint8
    focal_35mm : float or None
        35 mm equivalent focal length that EXIF states.
    stated_px : tuple of int or None
        (width, height) that EXIF states.
    focal_px : float
        True focal length.
    command : str
        `strand` or `lot`.
    sheet : str
    check_length_mm : float or None
        As typed; None: not typed.
    bed_height_mm : float
    to_px : ndarray, shape (3, 3)
        Homography from the sheet's plane (x, y, true mm) to pixels.
    px : ndarray, shape (N, 2)
        True centres of the beads.
    sizes_mm : ndarray, shape (N, 2)
        True sizes: across and along, or largest and smallest caliper size.
    length_mm : float or None
        True length of the strand; None for loose beads.
    answerable : bool
        False: no answer can be certain.
    """

    name: str
    rgb: ImageArray
    focal_35mm: float | None
    stated_px: tuple[int, int] | None = None
    focal_px: float
    command: str
    sheet: str
    check_length_mm: float | None
    bed_height_mm: float
    to_px: FloatArray
    px: FloatArray
    sizes_mm: FloatArray
    length_mm: float | None
    answerable: bool = True

    @property
    def size_px(self) -> tuple[int, int]:
        """(width, height) of the picture."""
        return self.rgb.shape[1], self.rgb.shape[0]

    @property
    def px_per_mm(self) -> float:
        """Scale of the picture at the middle of the beads."""
        middle = self.px.mean(axis=0)
        around = middle + np.array([[-50.0, 0], [50.0, 0], [0, -50.0], [0, 50.0]])
        on_sheet = mapped(np.linalg.inv(self.to_px), around)
        area = abs(np.linalg.det(np.stack([on_sheet[1] - on_sheet[0], on_sheet[3] - on_sheet[2]])))
        return float(100.0 / np.sqrt(area))

    @property
    def bead_px(self) -> float:
        """Mean size of the beads in the picture."""
        return float(self.sizes_mm.mean()) * self.px_per_mm

    @property
    def words(self) -> list[str]:
        """What is typed after the photo's name."""
        words = ["--json"]
        if self.check_length_mm is not None:
            words += ["--check-length", f"{self.check_length_mm:.1f}mm"]
        if self.bed_height_mm:
            words += ["--bed-height", f"{self.bed_height_mm:.2f}mm"]
        return words

    @property
    def jpeg(self) -> bytes:
        """The photo's file."""
        exif = Image.Exif()
        stated = exif.get_ifd(_EXIF_IFD)
        if self.focal_35mm is not None:
            stated[_FOCAL_35MM] = round(self.focal_35mm)
        if self.stated_px is not None:
            stated[_WIDTH], stated[_HEIGHT] = self.stated_px
        stream = io.BytesIO()
        Image.fromarray(self.rgb).save(stream, "JPEG", quality=_JPEG_QUALITY, exif=exif.tobytes())
        return stream.getvalue()

    def moved(self, rgb: ImageArray, matrix: FloatArray) -> "Case":
        """Return the case with another picture, whose pixels are this one's by a matrix, shape (3, 3)."""
        px, to_px = mapped(matrix, self.px), matrix @ self.to_px
        return replace(self, rgb=np.ascontiguousarray(rgb), px=px, to_px=to_px)


Way = Callable[[Case], Case | None]
"""A way to spoil a photo; None where it does not suit the photo."""


def mapped(matrix: FloatArray, points: FloatArray) -> FloatArray:
    """Return points (..., 2) mapped by a homography, shape (3, 3)."""
    seen = np.concatenate([points, np.ones_like(points[..., :1])], axis=-1) @ matrix.T
    return np.asarray(seen[..., :2] / seen[..., 2:])


def resized(case: Case, size_px: tuple[int, int]) -> Case:
    """Return the case with its picture scaled to (width, height)."""
    x, y = np.divide(size_px, case.size_px)
    how = cv2.INTER_AREA if min(x, y) < 1 else cv2.INTER_CUBIC
    rgb = np.asarray(cv2.resize(case.rgb, size_px, interpolation=how), dtype=np.uint8)
    # An integer is the centre of a pixel.
    matrix = np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1]])
    return replace(case.moved(rgb, matrix), focal_px=case.focal_px * x)


def read_case(path: Path) -> Case | None:
    """Return the case of a photo with its truth beside it; None where the truth is not of `MODES`."""
    truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    if truth["mode"] not in MODES or truth.get("tier") == "none" or not truth["beads"]:
        return None
    photo = load_photo(path)
    size_px = (photo.rgb.shape[1], photo.rgb.shape[0])
    is_loose, scale = truth["mode"] == "loose", truth["print_scale"]
    keys = ("max_feret_mm", "min_feret_mm") if is_loose else ("across_mm", "along_mm")
    try:
        tags = find_tags(photo)
    except NoSheetError:
        return None
    corners = np.array([tags.sheet.corners_mm(i) for i in tags.ids]).reshape(-1, 2) * scale
    return Case(
        name=path.stem,
        rgb=photo.rgb,
        focal_35mm=photo.focal_35mm,
        focal_px=focal_px_of(truth.get("focal_35mm") or truth["f35_mm"], size_px),
        command="lot" if is_loose else "strand",
        sheet=truth["sheet"],
        check_length_mm=SHEETS[truth["sheet"]].check_length_mm * scale,
        bed_height_mm=truth["bed_height_mm"],
        to_px=cv2.findHomography(corners, tags.corners_px.reshape(-1, 2))[0],
        px=np.array([bead["px"] for bead in truth["beads"]], dtype=float),
        sizes_mm=np.array([[bead[key] for key in keys] for bead in truth["beads"]]),
        length_mm=None if is_loose else truth["strand_mm"],
    )
