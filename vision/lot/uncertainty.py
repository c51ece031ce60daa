"""What is known about one loose bead, how well, and which flags it earns (JCGM 100:2008).

Standard uncertainties of a size, combined in quadrature and doubled: the scatter of its edge points;
the common place of edges under blur, finish and sharpening; the printed scale; the camera; how high
the widest points stand; how far its silhouette, seen slantwise, is that seen from above; and the
share of its rim that had to be guessed.
"""

from dataclasses import dataclass

import numpy as np

from vision.camera.scene import Scene
from vision.camera.uncertainty import camera_rel_u
from vision.common import flags
from vision.common.records import FloatArray
from vision.lot.contour import Outline
from vision.lot.feret import DIRECTIONS, Section
from vision.lot.fourier_ellipse import Curve

_TOGETHER = 6.0
"""Neighbouring edge points that err alike."""
_SHAPE_SHARE, _FULL_LEAN, _FACETS = 1.1, 0.25, 1.6
_GUESSED, _RELIED = 4.0, 0.7
_APART = 0.5
"""Of what the edge lies off the network's outline: a polished bead's edge may be a mirrored horizon."""
_FAINTEST_RIM, _WEAK_RIM = 0.5, 0.6
_COVERED_SHARE = 0.35
_HOPELESS_REL = 0.125
"""A size known to no better than a quarter of itself, twice this, tells nothing."""
_HEIGHT_MATTERS = 0.01
_FAR_SHARE = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """One bead as traced.

    Attributes
    ----------
    outline : Outline
        In the photo.
    curve : Curve
        Fitted to it on the plane of the bed, mm.
    section : Section
        Its tangents, mm from the camera's foot.
    rim : float
        Share of the outline's points that lie on one convex rim.
    agreement : float
        Share of those within the noise of the curve.
    unsure_split : bool
    """

    outline: Outline
    curve: Curve
    section: Section
    rim: float
    agreement: float
    unsure_split: bool

    @property
    def relied(self) -> float:
        """Share of the whole outline that bears the size."""
        return self.rim * self.agreement


def standard_uncertainty(
    sight: Sighting,
    scene: Scene,
    *,
    widths: FloatArray,
    u_height: FloatArray,
    centre_mm: FloatArray,
    regular: bool,
) -> FloatArray:
    """Return the standard uncertainty of the caliper size in every direction, mm.

    Parameters
    ----------
    sight, scene
    widths, u_height : ndarray, shape (D,)
        Sizes, and their standard uncertainty from the doubt about the bead's height.
    centre_mm : ndarray, shape (3,)
        World (x, y, h) of the bead's middle.
    """
    per_mm = scene.camera.px_per_mm(centre_mm)
    scatter = 2 * sight.curve.spread / np.sqrt(max(sight.curve.points / _TOGETHER, 1.0))
    common = 2 * sight.outline.doubt_px / per_mm
    rel = np.hypot(scene.scale_rel_u, camera_rel_u(scene.camera, centre_mm))
    uneven = 0.0 if regular else _SHAPE_SHARE * roughness(widths)
    shape = uneven * min(1.0, 0.25 + lean(sight.section) / _FULL_LEAN)
    guessed = _GUESSED * max(0.0, _RELIED - sight.relied) ** 2
    facets = _FACETS * sight.curve.spread
    apart = _APART * 2 * sight.outline.inward_px / per_mm
    squares = scatter**2 + facets**2 + apart**2 + common**2 + u_height**2
    total: FloatArray = np.sqrt(squares + widths**2 * (rel**2 + shape**2 + guessed**2))
    return total


def roughness(widths: FloatArray) -> float:
    """Return how far sizes over all directions are from an ellipse's, relative: their higher harmonics."""
    wave = np.fft.rfft(widths) / len(widths)
    return float(np.sqrt(2 * np.sum(np.abs(wave[2:]) ** 2)) / np.abs(wave[0]))


def lean(section: Section) -> float:
    """Return how far from straight below the camera a bead lies, over the camera's height."""
    middle = section.middle(0.0)
    return float(np.hypot(middle[0], middle[DIRECTIONS // 2])) / section.above_mm


def flags_of(
    sight: Sighting, scene: Scene, *, regular: bool, height_rel_u: float, traced: bool, measured: bool
) -> tuple[str, ...]:
    """Return the flags of a bead.

    Parameters
    ----------
    sight, scene
    regular : bool
        Whether the lot's shape is one whose silhouettes are understood.
    height_rel_u : float
        Relative standard uncertainty of the size from the doubt about its height.
    traced, measured : bool
        Whether its outline tells its sizes, and whether it has any.
    """
    contact = float(np.mean(sight.outline.contact))
    beyond = np.maximum(np.maximum(-sight.curve.centre, sight.curve.centre - scene.page_mm), 0)
    raised = {
        flags.CUT_OFF: cut_off(sight, scene),
        flags.COVERED: contact > _COVERED_SHARE,
        flags.WEAK_EDGE: not traced or sight.relied + contact < _WEAK_RIM,
        flags.IRREGULAR: not regular,
        flags.FAR_FROM_SHEET: bool(np.linalg.norm(beyond) > _FAR_SHARE * np.linalg.norm(scene.page_mm)),
        flags.HEIGHT_ASSUMED: height_rel_u > _HEIGHT_MATTERS,
        flags.UNSURE_SPLIT: sight.unsure_split,
        flags.UNMEASURED: not measured,
    }
    return tuple(word for word, holds in raised.items() if holds)


def cut_off(sight: Sighting, scene: Scene) -> bool:
    """Return whether a bead runs over the edge of the photo."""
    points = sight.outline.points_px
    return bool(((points < 2) | (points > np.array(scene.size_px) - 3)).any())


def unmeasurable(sight: Sighting, widths: FloatArray, u: FloatArray) -> bool:
    """Return whether too little of the rim was seen for any size, or its doubt is a good part of it.

    Parameters
    ----------
    widths, u : ndarray, shape (D,)
        Caliper widths and their standard uncertainties, mm.
    """
    seen = sight.relied + 0.5 * float(np.mean(sight.outline.contact))
    return seen < _FAINTEST_RIM or hopeless(u, widths)


def hopeless(u: FloatArray, sizes: FloatArray) -> bool:
    """Return whether any of these standard uncertainties is a good part of its size."""
    return bool(np.any(u > _HOPELESS_REL * sizes))
