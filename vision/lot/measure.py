"""Loose beads on the bed: from photo and camera to caliper sizes with their uncertainties."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from vision.camera.camera import on_plane
from vision.camera.scene import Scene
from vision.checks.glare import glare_mm
from vision.checks.layout import looks_strung
from vision.checks.resolution import check_resolution
from vision.common import flags
from vision.common.errors import NoBeadsError
from vision.common.numerics import COVERAGE_FACTOR
from vision.common.pooling import pooled_sizes
from vision.common.records import FloatArray, LooseBead, Lot, Mask, Other, Photo
from vision.image.sampling import crop_about
from vision.lot.body_shape import Body, estimate_bodies
from vision.lot.close_up import BeadSizes, close_up, correct_sizes
from vision.lot.contour import Outline, trace
from vision.lot.edge_model import blur_u_px
from vision.lot.feret import DIRECTIONS, Section, smallest
from vision.lot.fourier_ellipse import Curve, fit_curves, rim_points
from vision.lot.uncertainty import TracedBead, certain_enough, edge_u_mm, flags_of, measurable
from vision.pieces.counting import CERTAIN, count_probability, weighed
from vision.pieces.likeness import Shown
from vision.pieces.merge import mark_overlaps
from vision.pieces.things import covered_beads, inside_with, other_things, things_among
from vision.pieces.wholes import whole_pieces
from vision.topview.reading import map_from_above
from vision.topview.region import PROBABLE

_ELLIPTIC = 0.65
"""The beads of a lot are ellipses if more than this share of rim points lies within the noise of an ellipse.
At double none are: 44 sizes fewer are refused, and the errors stay."""
_CORNERED = 10
"""Beads have facets if most outlines prove this many harmonics. At double 95 in 100 errors lie within 0.37
mm."""
_NOISE_PX, _NOISE_REL = 0.35, 0.006
"""Edge points agree with a curve if they lie within this distance and share of the radius. At half 40 and 20
more sizes are refused, at double 54 and 18 fewer."""
_OUTLINE_POINTS = 72
"""Points of a bead's outline in its record: every five degrees."""
_ROW = 0.6
"""Beads are in one row if their middles differ by less than this share of their height (common practice, no
source)."""
_ASLANT = 0.7
"""An ellipsoid of axes a and c, turned by t in the plane of sight, shows to first order w (1 + s Q) for its
size w: s is the slope of the view, Q = (a^2 - c^2) sin 2t / (2 w^2). For beads of no common shape (a - c) / w
is about the scatter of their lengths over widths; the root mean square of sin 2t is 0.7."""
_UNTRACED_REL_U = 0.06
"""Largest relative standard uncertainty of a size that is given although too little of the bead's outline was
seen. Of 122 such sizes of six lots, median error 1.1 %, 99 % of those below 0.05 lay within twice their
uncertainty, 92 % of those from there to 0.07. At half, half of a heap of touching pieces have no size."""
_BESIDE = 2.0
"""In beads: so near to other beads glare may hide one more (common practice, no source)."""
_LONGEST_MM, _SLENDER = 25.0, 3.5
"""Anything longer than the first and more slender than the second is a strip of the table, a pen or the edge
of another sheet; tubes are as slender but shorter, coins as long but round (common practice, no source). At
half of the second one of 18 lots loses a bead."""

_NONE = "the sheet is seen but no beads on it: lay them on the clear bed, away from its edges, in even light"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlines:
    """The traced outlines of a lot.

    Attributes
    ----------
    outlines : list of Outline
    besides : ndarray, shape (M,)
        Probabilities of more beads: pieces left out, and beads covered by other things.
    others : list of Other
        Pieces left out that look like things.
    """

    outlines: list[Outline]
    besides: FloatArray
    others: list[Other]


def lot_of(scene: Scene, *, flat: bool | None = None) -> Lot:
    """Measure all loose beads of a scene, in reading order.

    Parameters
    ----------
    scene : Scene
    flat : bool, optional
        Whether the objects are flat discs; None: estimated from how they look towards the edge of the view.

    Raises
    ------
    NoBeadsError
        Nothing on the bed looks like a bead.
    """
    traced = trace_all(scene)
    beads = fit_outlines(traced.outlines, scene)
    chance = count_probability(
        np.array([bead.outline.probability for bead in beads]),
        np.array([bead.outline.one for bead in beads]),
        besides=traced.besides,
    )
    widths = [float((bead.section.high - bead.section.low).min()) for bead in beads]
    check_resolution(scene, bead_mm=float(np.median(widths)))
    bodies = estimate_bodies([bead.section for bead in beads], flat=flat)
    edges = edge_sizes(beads, scene, bodies=bodies)
    measured = [
        _record(scene, bead, body=body, sizes=sizes)
        for bead, body, sizes in zip(beads, bodies, _settled(scene, edges), strict=True)
    ]
    return Lot(
        conditions=(scene.conditions,),
        beads=tuple(_numbered(measured)),
        flat=bodies[0].kind.flat,
        flags=_flags(measured, scene, certain=chance > CERTAIN and not any(b.cut_off(scene) for b in beads)),
        others=tuple(traced.others),
    )


def _flags(beads: Sequence[LooseBead], scene: Scene, *, certain: bool) -> tuple[str, ...]:
    """Return the flags of a lot as a whole: its count is not certain, or it looks like a strand."""
    middles = scene.camera.to_plane(np.array([bead.centre_px for bead in beads]), scene.bed_height_mm)
    lengths = np.array([bead.max_feret_mm for bead in beads])
    known = np.isfinite(lengths)
    lengths[~known] = np.median(lengths[known]) if known.any() else 0.0
    bead_mm = float(np.median(lengths))
    places = on_plane(middles, scene.bed_height_mm)
    hidden = bool((glare_mm(scene, places, bead_mm=bead_mm) < _BESIDE * bead_mm).any())
    raised = {flags.UNSURE_COUNT: hidden or not certain, flags.IN_A_ROW: looks_strung(middles, lengths)}
    return tuple(flag for flag, on in raised.items() if on)


def trace_all(scene: Scene, *, least: float = PROBABLE) -> Outlines:
    """Detect and trace all beads of a scene, and what is one with more than a least probability."""
    seen = map_from_above(scene)
    top, maps = seen.top, seen.maps
    things = other_things(maps, apart_from=seen.pieces, per_mm=top.cells_per_mm)
    possible = whole_pieces(seen, things)
    pieces = weighed(possible, per_mm=top.cells_per_mm, shown=Shown.by(possible, top, maps))
    beads = [p for p in pieces if p.probability > least]
    left_out = [p for p in pieces if p.probability <= least]
    covered = covered_beads([*left_out, *things], beads)
    inside = inside_with(beads, maps)
    return Outlines(
        outlines=trace(scene, top, beads=mark_overlaps(beads, shape=inside.shape), inside=inside),
        besides=np.concatenate([[p.probability for p in left_out], covered]),
        others=things_among(left_out, scene, top, maps),
    )


def fit_outlines(outlines: Sequence[Outline], scene: Scene) -> list[TracedBead]:
    """Fit curves to the outlines of a lot; where most are ellipses to within the noise, all as ellipses.

    Raises
    ------
    NoBeadsError
        No outline is that of a bead.
    """
    rims = _rims_of(outlines, scene) if outlines else []
    ellipses, free = (_fitted(rims, ellipse=kind) if rims else [] for kind in (True, False))
    if not ellipses:
        raise NoBeadsError(_NONE)
    return [_traced(scene, *fitted) for fitted in (ellipses if _elliptic(ellipses, free) else free)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rim:
    """An outline on the plane of the bed, (N, 2), which of its points lie on the rim, and their noise, mm."""

    outline: Outline
    ground: FloatArray
    on: Mask
    noise_mm: float

    def agreement(self, curve: Curve) -> float:
        """Return the share of the rim that lies within the noise of a curve."""
        near = np.abs(curve.residuals(self.ground)) < self.noise_mm
        return float((near & self.on).sum() / max(self.on.sum(), 1))


def _rims_of(outlines: Sequence[Outline], scene: Scene) -> list[_Rim]:
    """Return the rims of outlines."""
    ground = scene.camera.to_plane(np.array([o.points_px for o in outlines]), scene.bed_height_mm)
    noise = np.array([_noise_mm(one, scene) for one in ground])
    on = rim_points(ground, np.array([o.seen for o in outlines]), within=2 * noise)
    return [
        _Rim(outline=outline, ground=points, on=rim, noise_mm=float(within))
        for outline, points, rim, within in zip(outlines, ground, on, noise, strict=True)
    ]


def _fitted(rims: Sequence[_Rim], *, ellipse: bool) -> list[tuple[_Rim, Curve]]:
    """Return rims with the curves fitted to them, but for those that fit none, or a strip's."""
    # where a neighbour touches, the network's line between the two is better than nothing
    used = np.array([rim.on if ellipse else rim.on | rim.outline.contact for rim in rims])
    curves = fit_curves(np.array([rim.ground for rim in rims]), used, ellipse=ellipse)
    return [(rim, curve) for rim, curve in zip(rims, curves, strict=True) if curve and not _is_strip(curve)]


def _is_strip(curve: Curve) -> bool:
    """Return whether a curve is longer and more slender than any bead."""
    width, length = sorted(2 * np.linalg.norm(curve.ellipse.axes, axis=0))
    return bool(length > max(_LONGEST_MM, _SLENDER * width))


def _elliptic(ellipses: list[tuple[_Rim, Curve]], free: list[tuple[_Rim, Curve]]) -> bool:
    """Return whether the beads of a lot are ellipses, as far as can be seen.

    Noise makes an outline wander, corners make it turn: these take many harmonics, the same on most beads.
    """
    agree = float(np.median([rim.agreement(curve) for rim, curve in ellipses])) > _ELLIPTIC
    return agree and (not free or float(np.median([curve.order for _, curve in free])) < _CORNERED)


def _traced(scene: Scene, rim: _Rim, curve: Curve) -> TracedBead:
    """Return a bead by its rim and the curve fitted to it."""
    camera_mm, bed_height_mm = scene.camera.centre_mm, scene.bed_height_mm
    return TracedBead(
        outline=rim.outline,
        curve=curve,
        section=Section.of(curve.polygon(), camera_mm, bed_height_mm=bed_height_mm),
        rim=float(np.mean(rim.on)),
        agreement=rim.agreement(curve),
    )


def _noise_mm(ground: FloatArray, scene: Scene) -> float:
    """Return the distance within which points of an outline on the bed, (N, 2), agree with a curve."""
    middle = ground.mean(axis=0)
    per_mm = scene.camera.px_per_mm(np.array([*middle, scene.bed_height_mm]))
    return _NOISE_PX / per_mm + _NOISE_REL * float(np.median(np.linalg.norm(ground - middle, axis=1)))


def edge_sizes(beads: Sequence[TracedBead], scene: Scene, *, bodies: Sequence[Body]) -> list[BeadSizes]:
    """Return the sizes of beads as their outlines give them."""
    lot, half = Section.of_all([bead.section for bead in beads]), np.array([b.half_height_mm for b in bodies])
    middles = lot.middle(half)[:, [0, DIRECTIONS // 2]] + scene.camera.centre_mm[:2]
    centres = np.column_stack([middles, scene.bed_height_mm + half])
    each = zip(beads, bodies, centres, scene.camera.rel_u(centres), strict=True)
    return [
        _edge_size(bead, scene, body=body, centre=centre, camera_rel=float(rel))
        for bead, body, centre, rel in each
    ]


def _edge_size(
    bead: TracedBead, scene: Scene, *, body: Body, centre: FloatArray, camera_rel: float
) -> BeadSizes:
    """Return a bead's sizes by its outline, given its middle and the camera's relative uncertainty there."""
    u = edge_u_mm(bead, scene, body=body, centre_mm=centre, camera_rel=camera_rel)
    largest, least = int(np.argmax(body.widths_mm)), int(np.argmin(body.widths_mm))
    traced = measurable(bead, widths_mm=body.widths_mm, u_mm=u)
    shape_rel_u = _ASLANT * body.kind.aspect_scatter * bead.section.view_slope
    blur_mm = 2 * blur_u_px(scene.blur_times) / scene.camera.px_per_mm(centre)
    blur_rel_u = blur_mm / float(np.median(body.widths_mm))
    return BeadSizes(
        outline_mm=bead.curve.polygon(_OUTLINE_POINTS),
        centre_mm=centre,
        sizes_mm=np.array([body.widths_mm[largest], smallest(body.widths_mm)]),
        u_mm=u[[largest, least]],
        unseen_rel_u=math.hypot(shape_rel_u, body.dome_rel_u, blur_rel_u),
        height_mm=2 * body.half_height_mm,
        traced=traced,
        measured=bead.alone and (traced or not bead.cut_off(scene)),
    )


def pooled(beads: Sequence[BeadSizes]) -> list[BeadSizes]:
    """Return the beads with sizes and uncertainties estimated from all measured beads together.

    Examples
    --------
    A bead that was seen badly moves to those that it may belong to:

    >>> clear = BeadSizes(
    ...     outline_mm=np.zeros((3, 2)), centre_mm=np.zeros(3), height_mm=8.0, traced=True, measured=True,
    ...     sizes_mm=np.full(2, 8.0), u_mm=np.full(2, 0.02), unseen_rel_u=0.0,
    ... )
    >>> unclear = replace(clear, sizes_mm=np.full(2, 8.4), u_mm=np.full(2, 0.4))
    >>> [bead.sizes_mm.round(1).tolist() for bead in pooled([clear, clear, clear, unclear])]
    [[8.0, 8.0], [8.0, 8.0], [8.0, 8.0], [8.1, 8.1]]
    """
    known = [k for k, bead in enumerate(beads) if bead.measured]
    settled = list(beads)
    if known:
        found = (np.array([getattr(beads[k], name) for k in known]) for name in ("sizes_mm", "u_mm"))
        for k, size, u in zip(known, *pooled_sizes(*found), strict=True):
            settled[k] = replace(beads[k], sizes_mm=size, u_mm=u)
    return settled


def _settled(scene: Scene, beads: Sequence[BeadSizes]) -> list[BeadSizes]:
    """Return sizes after the network has seen each bead's picture, and all beads are pooled.

    A bead too little of whose outline was seen keeps its sizes if these two are certain of them.
    """
    corrected = correct_sizes(beads, [close_up(scene, bead) for bead in beads])
    beads = pooled([_kept(b, certain=certain_enough(b.sizes_mm, b.u_mm)) for b in corrected])
    camera_rel = scene.camera.rel_u(np.array([bead.centre_mm for bead in beads]).reshape(-1, 3))
    settled = []
    for bead, scale_rel_u in zip(beads, np.hypot(scene.scale_rel_u, camera_rel), strict=True):
        certain = bead.traced or bool(np.all(bead.u_mm < _UNTRACED_REL_U * bead.sizes_mm))
        total_u = np.hypot(bead.u_mm, scale_rel_u * bead.sizes_mm)
        settled.append(replace(_kept(bead, certain=certain), u_mm=total_u))
    return settled


def _kept(bead: BeadSizes, *, certain: bool) -> BeadSizes:
    """Return a bead that stays measured only if its sizes are certain enough."""
    return replace(bead, measured=bead.measured and certain)


def _record(scene: Scene, bead: TracedBead, *, body: Body, sizes: BeadSizes) -> LooseBead:
    """Return one bead's record, not yet numbered."""
    centre = scene.camera.project(sizes.centre_mm)
    known = 1.0 if sizes.measured else float("nan")
    line = scene.bed_to_px(sizes.outline_mm)
    return LooseBead(
        photo=scene.photo.name,
        number=0,
        centre_px=(float(centre[0]), float(centre[1])),
        max_feret_mm=known * float(sizes.sizes_mm[0]),
        max_feret_u95_mm=known * COVERAGE_FACTOR * float(sizes.u_mm[0]),
        min_feret_mm=known * float(sizes.sizes_mm[1]),
        min_feret_u95_mm=known * COVERAGE_FACTOR * float(sizes.u_mm[1]),
        colour_rgb=_colour(scene.photo, line),
        outline_px=line,
        flags=flags_of(bead, scene, body=body, sizes=sizes),
    )


def _colour(photo: Photo, line: FloatArray) -> tuple[int, int, int]:
    """Return the median colour inside an outline."""
    cut, low = crop_about(photo.rgb, line, margin_px=0)
    mask = cv2.fillPoly(np.zeros(cut.shape[:2], np.uint8), [np.rint(line - low).astype(np.int32)], 1)
    inside = cut[mask > 0] if mask.any() else cut.reshape(-1, 3)
    red, green, blue = (int(v) for v in np.median(inside, axis=0))
    return red, green, blue


def _numbered(beads: list[LooseBead]) -> list[LooseBead]:
    """Give numbers in reading order: rows from the top, each from the left."""
    centres = np.array([b.centre_px for b in beads])
    sizes = np.array([np.ptp(b.outline_px[:, 1]) for b in beads])
    left = list(np.argsort(centres[:, 1]))
    order: list[int] = []
    while left:
        first = left[0]
        row = [k for k in left if centres[k, 1] < centres[first, 1] + _ROW * np.median(sizes)]
        order += sorted(row, key=lambda k: centres[k, 0])
        left = [k for k in left if k not in row]
    return [replace(beads[k], number=n) for n, k in enumerate(order, start=1)]
