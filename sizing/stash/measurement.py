"""What a saved measurement says of the beads to keep: its sizes, each with its colour, and bead by bead."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sizing.base.errors import StashError
from sizing.base.json_file import read_json
from sizing.lot.tally import tally
from sizing.piece.measured_beads import MeasuredBeads, measured_from, no_measurement
from sizing.piece.parts import BeadPart
from sizing.stash.entries import Colour, Form, Kind, Size
from vision.common.conditions import Conditions
from vision.common.records import FloatArray, LooseBead, Lot

Fields = Mapping[str, Any]

FORMAT = 2
"""The version of the fields that is understood; a new one comes with a step of the schema."""
MOST_BEADS = 10_000
"""A saved measurement of as many takes 8 MB, half of what is ever read."""
_UNREADABLE = (ValueError, LookupError, TypeError, AttributeError, ArithmeticError, RecursionError)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptBead:
    """One measured bead; a size that could not be measured is NaN.

    Attributes
    ----------
    number : int
    photo : str
        Which photo it is on; empty on a strand, of which there is one.
    kind : str
        `bead`; `spacer` or `cover` on a strand.
    across_mm, across_u95_mm : float
        Size across the string; of a loose bead its width.
    along_mm, along_u95_mm : float
        Size along the string; of a loose bead its length.
    flags : tuple of str
    colour_rgb : tuple of int
    """

    number: int
    photo: str
    kind: str
    across_mm: float
    across_u95_mm: float
    along_mm: float
    along_u95_mm: float
    flags: tuple[str, ...]
    colour_rgb: Colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """A saved measurement, read.

    Attributes
    ----------
    form : str
        `lot` or `strand`.
    text : str
        The JSON, without spaces.
    beads : tuple of KeptBead
    parts : MeasuredBeads
        The beads as a piece takes them.
    sizes : tuple of Size
        Their sizes; the count is that of the measured beads.
    target : str
        Which kind of target it was measured for; empty for none.
    """

    form: Form
    text: str
    beads: tuple[KeptBead, ...]
    parts: MeasuredBeads
    sizes: tuple[Size, ...]
    target: str

    @property
    def count(self) -> int:
        """How many beads there are: those of a size, and those whose size could not be measured."""
        sized = sum(size.count for size in self.sizes if size.kind == "bead")
        return max(sum(bead.kind == "bead" for bead in self.beads), sized)


def load_fields(path: str | Path) -> Fields:
    """Read the JSON of a measurement from a file; `read_measurement` says whether it is one.

    Raises
    ------
    PieceError
        It cannot be read, or is no JSON.
    """
    try:
        fields: Fields = read_json(path)
    except (ValueError, RecursionError) as error:
        raise no_measurement(Path(path).name) from error
    return fields


def read_measurement(fields: Fields, name: str = "the measurement") -> Measurement:
    """Read what `strand`, `lot` or `check` printed with --json.

    Parameters
    ----------
    fields : mapping
    name : str
        What messages call it.

    Raises
    ------
    PieceError, StashError
        It is not such a measurement, or of another version of this program.
    """
    try:
        if fields["format"] != FORMAT:
            raise StashError(f"{name} was written by another version of this program: measure once more")
        return _read(fields, name)
    except _UNREADABLE as error:
        raise no_measurement(name) from error


def nearest_size(sizes: Sequence[Size], part: BeadPart) -> Size:
    """Return the size that a bead of a piece belongs to."""
    return sizes[
        int(_nearest([(s.along_mm, s.across_mm) for s in sizes], [(part.along_mm, part.across_mm)])[0])
    ]


def _read(fields: Fields, name: str) -> Measurement:
    form, beads = _beads(fields)
    parts = measured_from(_sorted(fields, beads), name)
    return Measurement(
        form=form,
        text=json.dumps(fields, separators=(",", ":"), allow_nan=False),
        beads=beads,
        parts=parts,
        sizes=_sizes(parts.beads, beads),
        target=_target(fields),
    )


def _beads(fields: Fields) -> tuple[Form, tuple[KeptBead, ...]]:
    rows = fields["beads"]
    if fields["kind"] not in ("lot", "strand") or not 0 < len(rows) <= MOST_BEADS:
        raise ValueError("no lot or strand with beads")
    if fields["kind"] == "strand":
        return "strand", tuple(_bead(row, across="across", along="along") for row in rows)
    return "lot", tuple(_bead(row, across="min_feret", along="max_feret") for row in rows)


def _bead(row: Fields, *, across: str, along: str) -> KeptBead:
    red, green, blue = (int(channel) for channel in row["colour_rgb"])
    if not all(0 <= channel <= 255 for channel in (red, green, blue)):
        raise ValueError(f"{row['colour_rgb']} is no colour")
    return KeptBead(
        number=int(row["number"]),
        photo=str(row.get("photo", "")),
        kind=str(row.get("kind", "bead")),
        across_mm=_number(row[f"{across}_mm"]),
        across_u95_mm=_number(row[f"{across}_u95_mm"]),
        along_mm=_number(row[f"{along}_mm"]),
        along_u95_mm=_number(row[f"{along}_u95_mm"]),
        flags=tuple(str(flag) for flag in row["flags"]),
        colour_rgb=(red, green, blue),
    )


def _number(value: object) -> float:
    return math.nan if value is None else float(value)  # type: ignore[arg-type]  # refused where it is none


def _sorted(fields: Fields, beads: Sequence[KeptBead]) -> Fields:
    """Return a lot that was checked against its label as sorted into the one size that it should be."""
    if fields["kind"] != "lot" or "label" not in fields:
        return fields
    every = tally(_lot(fields, beads))
    whole = {
        "name": "",
        "count": len(every.beads),
        "strung_mm": every.strung_mm,
        "strung_u95_mm": every.strung_u95_mm,
        "strung_long_mm": every.strung_long_mm,
        "length_mean_mm": every.length.mm,
        "length_mean_u95_mm": every.length.u95_mm,
        "width_mean_mm": every.width.mm,
    }
    unmeasured = [bead.number for bead in beads if not math.isfinite(bead.across_mm)]
    return {**fields, "lot": {**fields["lot"], "whole": whole, "classes": [whole], "unmeasured": unmeasured}}


def _lot(fields: Fields, beads: Sequence[KeptBead]) -> Lot:
    """Return the loose beads as they were measured, with what the mean of their sizes needs."""
    conditions = tuple(
        Conditions(
            photo=photo["name"],
            sheet_name=photo["sheet"]["name"],
            tags_found=photo["sheet"]["tags_found"],
            tags_on_sheet=photo["sheet"]["tags_on_sheet"],
            check_length_mm=photo["sheet"]["check_length_mm"],
            nominal_check_length_mm=photo["sheet"]["nominal_check_length_mm"],
            check_length_given=photo["sheet"]["check_length_given"],
            bed_height_mm=photo["bed_height_mm"],
            camera_height_mm=photo["camera_height_mm"],
            tilt_deg=photo["tilt_deg"],
            focal_source=photo["focal_source"],
            scale_rel_u=photo["scale_rel_u"],
        )
        for photo in fields["photos"]
    )
    loose = tuple(
        LooseBead(
            photo=bead.photo,
            number=bead.number,
            centre_px=(0.0, 0.0),
            max_feret_mm=bead.along_mm,
            max_feret_u95_mm=bead.along_u95_mm,
            min_feret_mm=bead.across_mm,
            min_feret_u95_mm=bead.across_u95_mm,
            colour_rgb=bead.colour_rgb,
            outline_px=np.zeros((0, 2)),
        )
        for bead in beads
    )
    return Lot(conditions=conditions, beads=loose)


def _sizes(parts: Sequence[BeadPart], beads: Sequence[KeptBead]) -> tuple[Size, ...]:
    """Return each kind of bead of a piece as a size, with the mean colour of the beads nearest to it."""
    from skimage.color import rgb2lab  # noqa: PLC0415 - takes its time to import

    kinds = list(dict.fromkeys(parts))
    known = [b for b in beads if b.kind != "cover" and math.isfinite(b.across_mm + b.along_mm)]
    colours = rgb2lab(np.array([bead.colour_rgb for bead in known], dtype=float).reshape(-1, 1, 3) / 255)[
        :, 0
    ]
    kind_of = _nearest(
        [(kind.along_mm, kind.across_mm) for kind in kinds], [(b.along_mm, b.across_mm) for b in known]
    )
    return tuple(
        Size(
            place=place,
            along_mm=kind.along_mm,
            across_mm=kind.across_mm,
            rel_u95=kind.rel_u95,
            measured=kind.have or 0,
            colour_rgb=_mean_colour(colours[kind_of == place - 1] if place - 1 in kind_of else colours),
            count=kind.have or 0,
            kind=_mostly([b.kind for b, of in zip(known, kind_of, strict=True) if of == place - 1]),
        )
        for place, kind in enumerate(kinds, start=1)
    )


def _mostly(kinds: Sequence[str]) -> Kind:
    """Return what most parts of a size are."""
    return "spacer" if 2 * kinds.count("spacer") > len(kinds) else "bead"


def _nearest(kinds: Sequence[tuple[float, float]], sizes: Sequence[tuple[float, float]]) -> FloatArray:
    """Return for each size the position of the nearest kind, shape (N,)."""
    away = np.array(sizes).reshape(-1, 1, 2) - np.array(kinds).reshape(1, -1, 2)
    nearest: FloatArray = np.linalg.norm(away, axis=2).argmin(axis=1)
    return nearest


def _mean_colour(lab: FloatArray) -> Colour:
    """Return the mean of CIELAB colours, shape (N, 3), in sRGB."""
    from skimage.color import lab2rgb  # noqa: PLC0415 - takes its time to import

    red, green, blue = np.rint(255 * lab2rgb(lab.mean(axis=0).reshape(1, 1, 3))[0, 0]).astype(int).tolist()
    return red, green, blue


def _target(fields: Fields) -> str:
    """Return the kind of target that a result names; empty for none."""
    for part in (fields.get("sizing"), (fields.get("strands") or [{}])[0].get("fit"), fields.get("lot")):
        target = (part or {}).get("target") or {}
        if isinstance(target.get("kind"), str):
            return str(target["kind"])
    return ""
