"""Whether a photo resolves its beads: with too few pixels, or too much blur, no joint of two can be seen."""

import numpy as np

from vision.camera.scene import Scene
from vision.common.errors import CoarsePhotoError

_LEAST = 8.0
"""The notch between two round beads is about a quarter of a bead wide, and two samples are needed to see it
(Nyquist): so many sharp pixels across a bead. With 4.6 to 6 of them 4 of 8 drawn strands were counted right,
with 9 to 12 seven."""
USUAL_MM = 6.0
"""A bead of usual size, where none is found."""


def check_resolution(scene: Scene, *, bead_mm: float) -> None:
    """Refuse a photo that does not resolve beads of a size.

    Raises
    ------
    CoarsePhotoError
        With what a millimetre, or an edge, measures and what to do.
    """
    middle = scene.camera.to_plane((np.array(scene.size_px) - 1) / 2, scene.bed_height_mm)
    px_per_mm = scene.camera.px_per_mm(np.array([*middle, scene.bed_height_mm]))
    if bead_mm * px_per_mm >= _LEAST * scene.blur_times:
        return
    if bead_mm * px_per_mm < _LEAST:
        raise CoarsePhotoError(
            f"one millimetre is only {px_per_mm:.1f} pixels here, and a bead of {bead_mm:.1f} mm "
            f"has {bead_mm * px_per_mm:.0f}: take the photo at the camera's full size, and send it unreduced"
        )
    raise CoarsePhotoError(
        f"the picture is blurred over {scene.blur_px / px_per_mm:.1f} mm at every edge, too much for beads "
        f"of {bead_mm:.1f} mm: hold the phone still, and tap on the beads to focus"
    )
