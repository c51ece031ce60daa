"""The frozen records that one step passes to the next; numpy and the standard library only.

Conventions everywhere: points are (x, y), arrays are indexed [row, column], an integer pixel coordinate is
the centre of that pixel, y runs down. Names of lengths end in `_mm` or `_px`. A size that could not be
measured is NaN and its bead carries a flag (`vision.common.flags`). `u95` is an expanded uncertainty: the
true value lies within that distance of the measured one 95 times in 100 (k = 2, JCGM 100:2008).
"""

import math
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from vision.common.changes import largest_change, range_of
from vision.common.conditions import Conditions
from vision.common.corrections import Correction

FloatArray = NDArray[np.floating[Any]]
ImageArray = NDArray[np.uint8]
Mask = NDArray[np.bool_]

PartKind = Literal["bead", "spacer", "cover"]
"""What a strung part is."""

PART_KINDS: tuple[PartKind, ...] = get_args(PartKind)

OtherKind = Literal["stray", "stopper", "finding", "other"]
"""What lies there and belongs to no strand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """An upright photo.

    Attributes
    ----------
    name : str
        File name without its folder.
    rgb : ndarray, shape (H, W, 3), uint8
        sRGB pixels, orientation applied.
    focal_35mm : float or None
        35 mm equivalent focal length from EXIF; None where unknown.

    Examples
    --------
    >>> photo = Photo(name="beads.jpg", rgb=np.zeros((300, 400, 3), np.uint8), focal_35mm=26.0)
    >>> height, width, _ = photo.rgb.shape
    >>> width, height
    (400, 300)
    """

    name: str
    rgb: ImageArray
    focal_35mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StrandBead:
    """One bead of a strand, or another strung part, with its sizes as a caliper reads them.

    Attributes
    ----------
    number : int
        1, 2, 3 ... along the string, from the left end; from the upper end of an upright strand.
    centre_px : tuple of float
        (x, y) of the centre in the upright full-size photo.
    across_mm, along_mm : float
        Size across the string, parallel to the sheet, and size along it; NaN where not measurable.
    across_u95_mm, along_u95_mm : float
        Expanded uncertainties at 95 %.
    gap_after_mm : float
        How far it and the next are apart along the string; 0 where they touch and after the last bead.
    colour_rgb : tuple of int
        Median sRGB colour.
    outline_px : ndarray, shape (N, 2)
        Closed polygon (x, y) of the fitted outline in the photo.
    flags : tuple of str
        From `vision.common.flags`.
    kind : str
        `bead`; `spacer`: a metal one or a thin rondelle between beads; `cover`: a crimp or its cover.
    was : tuple of int or None
        Its numbers before corrections: none for a missed bead; None where nothing was corrected.

    Examples
    --------
    >>> bead = StrandBead(
    ...     number=1, centre_px=(212.5, 340.0), across_mm=8.02, across_u95_mm=0.08, along_mm=7.95,
    ...     along_u95_mm=0.1, gap_after_mm=0.0, colour_rgb=(40, 60, 120), outline_px=np.zeros((0, 2)),
    ... )
    >>> f"{bead.across_mm:.2f} mm, give or take {bead.across_u95_mm:.2f} mm"
    '8.02 mm, give or take 0.08 mm'
    """

    number: int
    centre_px: tuple[float, float]
    across_mm: float
    across_u95_mm: float
    along_mm: float
    along_u95_mm: float
    gap_after_mm: float
    colour_rgb: tuple[int, int, int]
    outline_px: FloatArray
    flags: tuple[str, ...] = ()
    kind: PartKind = "bead"
    was: tuple[int, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """Something on a photo that is no part of a strand or lot.

    Attributes
    ----------
    centre_px : tuple of float
        (x, y) of its middle in the upright full-size photo.
    kind : str
        `stray`: a bead that is not strung; `stopper`: a clamp too; `finding`: a chain too; `other`.
    outline_px : ndarray, shape (N, 2)
        Closed polygon (x, y) about it in the photo.
    photo : str
        Name of the photo, of a lot, which may have several; else empty.
    """

    centre_px: tuple[float, float]
    kind: OtherKind
    outline_px: FloatArray
    photo: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pendant:
    """A bead that hangs from the clasp of a loop on a chain.

    Attributes
    ----------
    centre_px : tuple of float
        (x, y) of its middle in the upright full-size photo.
    across_mm, along_mm : float
        Size square to the chain and along it.
    outline_px : ndarray, shape (N, 2)
        Closed polygon (x, y) about it in the photo.
    """

    centre_px: tuple[float, float]
    across_mm: float
    along_mm: float
    outline_px: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """What a strand that is closed to a loop measures all round.

    Attributes
    ----------
    around_mm, around_u95_mm : float
        Length of the string all round, clasp and rings included.
    inner_girth_mm, inner_girth_u95_mm : float
        Girth of the thickest round limb that goes into it, however it happens to lie.
    clasp_mm : float
        Length of string between the last strung part and the first: clasp and rings.
    pendant : Pendant or None
        The bead at the end of its extender; None where none is seen.
    extender_mm : float or None
        Length of the chain that this bead hangs from.
    """

    around_mm: float
    around_u95_mm: float
    inner_girth_mm: float
    inner_girth_u95_mm: float
    clasp_mm: float
    pendant: Pendant | None = None
    extender_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One reason why a strand may hold more or fewer beads, and what would change if it does.

    Doubts about one end add up: the second concerns what lies behind the first.

    Attributes
    ----------
    place : str
        `left end`, `right end` (upper and lower of an upright strand): the strand may end elsewhere;
        `bead`: it may be several, or none; `joint`: a bead and the next may be one; `gap`: it may hide
        beads; `strand`: the count was made in two ways that differ.
    number : int
        The bead in question, or that before the joint or gap; 0 where it is none of the strand's beads.
    beads : int
        How many beads more (+) or fewer (-) there would be.
    length_mm, closed_up_mm : float
        By how much the lengths would be longer (+) or shorter (-).
    """

    place: Literal["left end", "right end", "bead", "joint", "gap", "strand"]
    number: int = 0
    beads: int
    length_mm: float = 0.0
    closed_up_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Strand:
    """A measured strand: its beads in order, and its lengths along the string.

    Attributes
    ----------
    conditions : Conditions
    beads : tuple of StrandBead
    length_mm, length_u95_mm : float
        From the outer end of the first bead to the outer end of the last. The uncertainty covers all doubts;
        it is infinite where the strand is cut off.
    closed_up_mm, closed_up_u95_mm : float
        The same with every gap closed.
    string_px : ndarray, shape (N, 2)
        The string's course in the photo, (x, y).
    flags : tuple of str
        About the strand as a whole.
    doubts : tuple of Doubt
        Why its count is not certain; empty where it is.
    cut_by : tuple of str
        What the strand runs out of, or into, at its ends: see `vision.checks.cut_off`.
    number : int
        1, 2, 3 ... of the strands in the photo, in reading order of their first beads.
    loop : Loop or None
        What it measures all round where it is closed; its beads are then in order from the clasp.
    others : tuple of Other
        What else lies on its photo and belongs to no strand.
    refused : tuple of str
        Why further strands on its photo cannot be measured, and what to do; one for each.
    corrections : tuple of Correction
        All that the maker put right on this photo.
    """

    conditions: Conditions
    beads: tuple[StrandBead, ...]
    length_mm: float
    length_u95_mm: float
    closed_up_mm: float
    closed_up_u95_mm: float
    string_px: FloatArray
    flags: tuple[str, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    cut_by: tuple[str, ...] = ()
    number: int = 1
    loop: Loop | None = None
    others: tuple[Other, ...] = ()
    refused: tuple[str, ...] = ()
    corrections: tuple[Correction, ...] = ()

    def of_kind(self, kind: PartKind) -> tuple[StrandBead, ...]:
        """Return its parts of one kind, in order."""
        return tuple(bead for bead in self.beads if bead.kind == kind)

    @property
    def count(self) -> int:
        """How many beads it has; spacers and covers are none."""
        return len(self.of_kind("bead"))

    @property
    def counts(self) -> tuple[float, float]:
        """The fewest and the most beads that it may have."""
        no_beads = {part.number for part in self.beads if part.kind != "bead"}
        least, most = range_of(doubt.beads for doubt in self.doubts if doubt.number not in no_beads)
        return max(self.count + least, 0), self.count + most if not self.cut_by else math.inf

    @property
    def lengths_mm(self) -> tuple[float, float]:
        """The shortest and the longest that it may be, apart from the uncertainty of measuring."""
        least, most = range_of(doubt.length_mm for doubt in self.doubts)
        return max(self.length_mm + least, 0.0), self.length_mm + most if not self.cut_by else math.inf

    @property
    def measuring_u95_mm(self) -> tuple[float, float]:
        """Expanded uncertainties of both lengths, the second with every gap closed, apart from all doubts."""
        strung_mm = largest_change(doubt.length_mm for doubt in self.doubts)
        closed_up_mm = largest_change(doubt.closed_up_mm for doubt in self.doubts)
        return self.length_u95_mm - strung_mm, self.closed_up_u95_mm - closed_up_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseBead:
    """One loose bead, with its caliper sizes as it is seen from straight above.

    Attributes
    ----------
    photo : str
        File name of the photo it lies on.
    number : int
        1, 2, 3 ... within that photo.
    centre_px : tuple of float
        (x, y) of the centre in the upright full-size photo.
    max_feret_mm, min_feret_mm : float
        Largest and smallest distance between two parallel tangents (ISO 13322-1); NaN where not measurable.
    max_feret_u95_mm, min_feret_u95_mm : float
        Expanded uncertainties at 95 %.
    colour_rgb : tuple of int
        Median sRGB colour.
    outline_px : ndarray, shape (N, 2)
        Closed polygon (x, y) of the outline in the photo.
    flags : tuple of str
        From `vision.common.flags`.
    was : tuple of int or None
        As of a `StrandBead`.

    Examples
    --------
    >>> bead = LooseBead(
    ...     photo="lot.jpg", number=1, centre_px=(212.5, 340.0), max_feret_mm=8.1, max_feret_u95_mm=0.08,
    ...     min_feret_mm=7.9, min_feret_u95_mm=0.08, colour_rgb=(40, 60, 120), outline_px=np.zeros((0, 2)),
    ... )
    >>> round(bead.max_feret_mm / bead.min_feret_mm - 1, 3)  # how far from round
    0.025
    """

    photo: str
    number: int
    centre_px: tuple[float, float]
    max_feret_mm: float
    max_feret_u95_mm: float
    min_feret_mm: float
    min_feret_u95_mm: float
    colour_rgb: tuple[int, int, int]
    outline_px: FloatArray
    flags: tuple[str, ...] = ()
    was: tuple[int, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A photo that could not be measured: its name, why, and its place among those given, 0 for the first."""

    photo: str
    reason: str
    place: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """The loose beads of one or several photos.

    Attributes
    ----------
    conditions : tuple of Conditions
        One for each photo.
    beads : tuple of LooseBead
    flat : bool
        True: the beads were measured as flat discs, not as rounds.
    flags : tuple of str
        About the lot as a whole.
    corrections : tuple of Correction
        All that the maker put right.
    left_out : tuple of LeftOut
        Photos that could not be measured: their beads are missing here.
    others : tuple of Other
        What lies beside the beads and looks like a finding, a stopper or another thing, not like a bead.
    """

    conditions: tuple[Conditions, ...]
    beads: tuple[LooseBead, ...]
    flat: bool = False
    flags: tuple[str, ...] = ()
    corrections: tuple[Correction, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    others: tuple[Other, ...] = ()

    @property
    def photos(self) -> tuple[str, ...]:
        """The names of all photos in the order given, of those left out too."""
        names = [each.photo for each in self.conditions]
        for each in sorted(self.left_out, key=lambda missing: missing.place):
            names.insert(each.place, each.photo)
        return tuple(names)
