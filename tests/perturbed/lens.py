"""EXIF states another lens, or the picture is stretched."""

from dataclasses import replace

from tests.perturbed.case import Case, Way, resized


def other_lens(times: float) -> Way:
    """State a focal length that is so many times the true one."""

    def way(case: Case) -> Case | None:
        return replace(case, focal_35mm=case.focal_35mm * times) if case.focal_35mm else None

    return way


def stretched(x: float, y: float) -> Way:
    """Stretch the picture."""

    def way(case: Case) -> Case:
        width, height = case.size_px
        return resized(case, (round(width * x), round(height * y)))

    return way


OTHER_LENS: dict[str, Way] = {
    "EXIF states twice the focal length": other_lens(2.0),
    "EXIF states half the focal length": other_lens(0.5),
    "EXIF states 1.15 times the focal length": other_lens(1.15),
}
STRETCHED: dict[str, Way] = {
    "3 % wider": stretched(1.03, 1.0),
    "3 % taller": stretched(1.0, 1.03),
}
