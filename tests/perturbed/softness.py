"""Too few pixels, or a blurred picture."""

from dataclasses import replace

import cv2
import numpy as np

from tests.helpers.srgb import to_srgb
from tests.perturbed.case import Case, Way, resized
from vision.image.light import to_linear


def small(longer_px: int) -> Way:
    """Scale the picture down to a longer side of so many pixels."""

    def way(case: Case) -> Case:
        ratio = longer_px / max(case.size_px)
        width, height = (round(side * ratio) for side in case.size_px)
        return resized(case, (width, height))

    return way


def blurred(sd_mm: float) -> Way:
    """Blur by a Gaussian of a standard deviation on the sheet, as a lens does: in linear light."""

    def way(case: Case) -> Case:
        light = cv2.GaussianBlur(to_linear(case.rgb), (0, 0), sd_mm * case.px_per_mm)
        return replace(case, rgb=to_srgb(np.asarray(light)))

    return way


SMALL: dict[str, Way] = {f"{side} pixels": small(side) for side in (640, 320)}
BLURRED: dict[str, Way] = {f"blurred by {sd} mm": blurred(sd) for sd in (0.3, 0.6, 1.2)}
