"""How uncertain the sizes of one loose bead are, and which flags it gets (JCGM 100:2008).

The standard uncertainties of a size are independent and add as squares; see `edge_u_mm`.
"""

from dataclasses import dataclass

import numpy as np

from vision.camera.scene import Scene
from vision.common import flags
from vision.common.records import FloatArray
from vision.lot.body_shape import Body
from vision.lot.close_up import BeadSizes
from vision.lot.contour import BORDER_PX, Outline
from vision.lot.feret import Section
from vision.lot.fourier_ellipse import Curve
from vision.pieces.counting import CERTAIN

_TOGETHER, _FACETS = 6.0, 1.6
"""Number of neighbouring edge points that err together, because they were smoothed; and uncertainty from
facets over the scatter of the points, which no averaging reduces. At half of the second 0.953 of the sizes
lie within their uncertainty, not 0.959."""
_APART = 0.5
"""Share of the distance between the edge and the network's outline: the edge of a polished bead may be a
mirrored horizon. At double 20 more sizes are refused."""
_SHAPE_SHARE, _STRAIGHT_SHARE, _STEEP_VIEW = 1.1, 0.25, 0.25
"""Uncertainty over the higher harmonics of the sizes, for a bead seen from the side. A bead straight below
the camera has the second share of it; it grows with the slope of the view, by all of it at the third. At half
of the first 0.953 of the sizes lie within their uncertainty."""
_GUESSED, _ENOUGH = 4.0, 0.7
"""The relative uncertainty is the first times the square of what the supported share of the outline lacks of
the second. At half of the first 95 in 100 errors lie within 0.25 mm, at double 26 more sizes are refused; at
double of the second 294 more."""
_FAINTEST_RIM, _WEAK_RIM = 0.5, 0.6
"""Least share of the outline that must be seen to give sizes, and to escape the flag of a weak edge. At
double of the first 178 more sizes are refused, at double of the second there are 571 more flags."""
_MOST_REL_U = 0.125
"""Twice this is the expanded uncertainty: a size known to no better than a quarter of itself is useless."""
_COVERED_SHARE, _HEIGHT_MATTERS, _ROUGHEST, _FAR_SHARE = 0.35, 0.01, 0.012, 1.0
"""Limits of flags: share of the outline in contact; relative uncertainty of the largest size from the height;
higher harmonics; distance from the sheet over its diagonal. At half there are 93, 81, 109 and 33 more flags,
at double 14, 75, 66 and 0 fewer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedBead:
    """One bead as seen by the camera.

    Attributes
    ----------
    outline : Outline
        In the photo.
    curve : Curve
        Fitted to it on the plane of the bed, mm.
    section : Section
        Tangents to the curve, mm from the point below the camera.
    rim : float
        Share of the outline's points that lie on one convex rim.
    agreement : float
        Share of those within the noise of the curve.
    """

    outline: Outline
    curve: Curve
    section: Section
    rim: float
    agreement: float

    @property
    def support(self) -> float:
        """Share of the whole outline that supports the curve."""
        return self.rim * self.agreement

    @property
    def contact(self) -> float:
        """Share of the outline where another bead touches or covers."""
        return float(np.mean(self.outline.contact))

    @property
    def alone(self) -> bool:
        """Whether it lies neither under another, which hides part of it, nor on one, at an unknown height."""
        return not (self.outline.under or self.outline.over)

    def cut_off(self, scene: Scene) -> bool:
        """Return whether the bead may run over the edge of the photo: its own is known to about a pixel."""
        points, nearest = self.outline.points_px, BORDER_PX + 1
        return bool(((points < nearest) | (points > np.array(scene.size_px) - 1 - nearest)).any())


def edge_u_mm(
    bead: TracedBead, scene: Scene, *, body: Body, centre_mm: FloatArray, camera_rel: float
) -> FloatArray:
    """Return the standard uncertainties of a bead's caliper sizes as its outline gives them, shape (D,).

    The printed scale is no part of them: it says nothing about how well this edge was seen, and is added
    once the sizes are settled.

    Parameters
    ----------
    bead, scene, body
    centre_mm : ndarray, shape (3,)
        World (x, y, h) of the bead's middle.
    camera_rel : float
        `Camera.rel_u` there.
    """
    curve, per_mm = bead.curve, scene.camera.px_per_mm(centre_mm)
    off_ellipse = 0.0 if body.kind.prismatic else _SHAPE_SHARE * higher_harmonics(body.widths_mm)
    edges_mm = (
        2 * curve.spread / np.sqrt(max(curve.points / _TOGETHER, 1.0)),  # scatter of the points, averaged
        _FACETS * curve.spread,  # facets too fine for the curve
        _APART * 2 * bead.outline.inward_px / per_mm,  # which edge it is
        2 * bead.outline.common_u_px / per_mm,  # where all edges of the photo lie: blur, finish, sharpening
    )
    rel = (
        camera_rel,
        # the outline seen aslant is not the one seen from straight above
        off_ellipse * min(1.0, _STRAIGHT_SHARE + bead.section.view_slope / _STEEP_VIEW),
        _GUESSED * max(0.0, _ENOUGH - bead.support) ** 2,  # the rim that was not seen
    )
    edges2, rel2 = np.sum(np.square(edges_mm)), np.sum(np.square(rel))
    return np.asarray(np.sqrt(edges2 + body.widths_u_mm**2 + body.widths_mm**2 * rel2))


def higher_harmonics(widths: FloatArray) -> float:
    """Return the root mean square of the harmonics that sizes over all directions have and no ellipse has.

    Relative to the mean size.
    """
    wave = np.fft.rfft(widths) / len(widths)
    return float(np.sqrt(2 * np.sum(np.abs(wave[2:]) ** 2)) / np.abs(wave[0]))


def flags_of(bead: TracedBead, scene: Scene, *, body: Body, sizes: BeadSizes) -> tuple[str, ...]:
    """Return the flags of a bead."""
    beyond = np.maximum(np.maximum(-bead.curve.ellipse.centre, bead.curve.ellipse.centre - scene.page_mm), 0)
    widest = int(np.argmax(body.widths_mm))
    raised = {
        flags.CUT_OFF: bead.cut_off(scene),
        flags.COVERED: bead.outline.under or bead.contact > _COVERED_SHARE,
        flags.WEAK_EDGE: not sizes.traced or bead.support + bead.contact < _WEAK_RIM,
        flags.IRREGULAR: not (body.kind.prismatic or higher_harmonics(body.widths_mm) < _ROUGHEST),
        flags.FAR_FROM_SHEET: bool(np.linalg.norm(beyond) > _FAR_SHARE * np.linalg.norm(scene.page_mm)),
        flags.HEIGHT_ASSUMED: bead.outline.over
        or bool(body.widths_u_mm[widest] / body.widths_mm[widest] > _HEIGHT_MATTERS),
        flags.UNSURE_SPLIT: bead.outline.unsure_split,
        flags.UNSURE_BEAD: bead.outline.probability < CERTAIN,
        flags.UNMEASURED: not sizes.measured,
    }
    return tuple(word for word, holds in raised.items() if holds)


def measurable(bead: TracedBead, *, widths_mm: FloatArray, u_mm: FloatArray) -> bool:
    """Return whether enough of the rim was seen for a size, and its uncertainty is a small part of it.

    Parameters
    ----------
    bead : TracedBead
    widths_mm, u_mm : ndarray, shape (D,)
        Caliper sizes and their standard uncertainties.
    """
    return bead.support >= _FAINTEST_RIM and certain_enough(widths_mm, u_mm)


def certain_enough(sizes_mm: FloatArray, u_mm: FloatArray) -> bool:
    """Return whether all of these standard uncertainties are small parts of their sizes."""
    return bool(np.all(u_mm <= _MOST_REL_U * sizes_mm))
