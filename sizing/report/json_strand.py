"""Measurements as JSON: lengths are millimetres, what could not be measured is null."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict

from sizing.report.advice import advice_fields
from sizing.strand.advice import Advice
from sizing.strand.spread import spread_across, spread_along
from vision.common.records import Conditions, LooseBead, Lot, Strand, StrandBead

FORMAT = 1
"""Raised whenever a field changes its meaning or goes; a new field alone does not raise it."""

Fields = dict[str, object]


def strand_fields(strand: Strand, advice: Advice | None = None) -> Fields:
    """Return a measured strand, and the advice where there is a target, as fields for JSON."""
    return {
        "kind": "strand",
        "format": FORMAT,
        "beads": [_strand_bead(bead) for bead in strand.beads],
        "strand": {
            "count": len(strand.beads),
            "length_mm": strand.length_mm,
            "length_u95_mm": strand.length_u95_mm,
            "closed_up_mm": strand.closed_up_mm,
            "closed_up_u95_mm": strand.closed_up_u95_mm,
            "across": asdict(spread_across(strand)),
            "along": asdict(spread_along(strand)),
            "flags": strand.flags,
        },
        "sizing": advice_fields(advice) if advice else None,
        **_circumstances([strand.conditions]),
    }


def lot_fields(lot: Lot) -> Fields:
    """Return the measured beads of a lot as fields for JSON; what was made of them may be added."""
    return {
        "kind": "lot",
        "format": FORMAT,
        "beads": [_loose_bead(bead) for bead in lot.beads],
        "lot": {"count": len(lot.beads), "flat": lot.flat, "flags": lot.flags},
        **_circumstances(lot.conditions),
    }


def to_json(fields: Mapping[str, object]) -> str:
    """Return fields as JSON text (RFC 8259, which knows no NaN), ending in a line end."""
    return json.dumps(_plain(fields), allow_nan=False, indent=2) + "\n"


def _strand_bead(bead: StrandBead) -> Fields:
    return {
        "number": bead.number,
        "px": bead.centre_px,
        "across_mm": bead.across_mm,
        "across_u95_mm": bead.across_u95_mm,
        "along_mm": bead.along_mm,
        "along_u95_mm": bead.along_u95_mm,
        "gap_after_mm": bead.gap_after_mm,
        "colour_rgb": bead.colour_rgb,
        "flags": bead.flags,
    }


def _loose_bead(bead: LooseBead) -> Fields:
    return {
        "number": bead.number,
        "photo": bead.photo,
        "px": bead.centre_px,
        "max_feret_mm": bead.max_feret_mm,
        "max_feret_u95_mm": bead.max_feret_u95_mm,
        "min_feret_mm": bead.min_feret_mm,
        "min_feret_u95_mm": bead.min_feret_u95_mm,
        "colour_rgb": bead.colour_rgb,
        "flags": bead.flags,
    }


def _circumstances(conditions: Sequence[Conditions]) -> Fields:
    """Return under what circumstances each photo was measured; `sheet` is the first photo's."""
    return {"sheet": _sheet(conditions[0]), "photos": [_photo(each) for each in conditions]}


def _sheet(conditions: Conditions) -> Fields:
    return {
        "name": conditions.sheet_name,
        "tags_found": conditions.tags_found,
        "tags_on_sheet": conditions.tags_on_sheet,
        "check_length_mm": conditions.check_length_mm,
        "check_length_given": conditions.check_length_given,
    }


def _photo(conditions: Conditions) -> Fields:
    return {
        "name": conditions.photo,
        "sheet": _sheet(conditions),
        "bed_height_mm": conditions.bed_height_mm,
        "camera_height_mm": conditions.camera_height_mm,
        "tilt_deg": conditions.tilt_deg,
        "focal_source": conditions.focal_source,
        "scale_rel_u": conditions.scale_rel_u,
    }


def _plain(value: object) -> object:
    """Return a value made of what JSON knows; a size that is no number becomes null."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        # Also numpy's, which are floats. A nanometre is finer than anything measured here.
        return round(float(value), 6) if math.isfinite(value) else None
    return value
