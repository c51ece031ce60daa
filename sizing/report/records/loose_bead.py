"""Fields of a loose bead, for a sorted and for a checked lot."""

from dataclasses import dataclass

from sizing.lot.roundness import Roundness, roundness
from sizing.report.records.corrections import WAS
from sizing.report.records.field import Field, Fields, within
from sizing.report.records.photo import COLOUR_MEANING, css_colour
from vision.common.records import LooseBead, Lot


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedBead:
    """A loose bead and how round it is."""

    bead: LooseBead
    roundness: Roundness


_BEAD: Fields[LooseBead] = (
    Field(name="number", meaning="1, 2, 3 ... as on the annotated photo", csv="column"),
    Field(name="photo", meaning="file name of the photo that it is on", csv="first column"),
    Field(
        name="px",
        meaning="[x, y] of the bead's centre on the upright photo; an integer is the centre of a pixel",
        unit="pixels",
        take=lambda bead: bead.centre_px,
    ),
    Field(
        name="max_feret_mm",
        meaning="length: largest caliper size seen from straight above (ISO 13322-1)",
        csv="column",
    ),
    Field(name="max_feret_u95_mm", csv="column"),
    Field(
        name="min_feret_mm",
        meaning="width: smallest caliper size seen from straight above (ISO 13322-1)",
        csv="column",
    ),
    Field(name="min_feret_u95_mm", csv="column"),
    Field(
        name="x_px",
        meaning="`px` of JSON, in two columns",
        take=lambda bead: bead.centre_px[0],
        json=False,
        csv="column",
    ),
    Field(name="y_px", take=lambda bead: bead.centre_px[1], json=False, csv="column"),
    Field(name="colour_rgb", meaning=f"{COLOUR_MEANING}, 0 to 255"),
    Field(
        name="colour",
        meaning=f"{COLOUR_MEANING}, as `#rrggbb`",
        take=lambda bead: css_colour(bead.colour_rgb),
        json=False,
        csv="column",
    ),
    Field(name="flags", meaning="words that mark a doubtful size, see the flags above", csv="column"),
    WAS,
)

LOOSE_BEAD: Fields[SizedBead] = within(lambda sized: sized.bead, _BEAD)

ROUNDNESS: Fields[SizedBead] = (
    Field(
        name="roundness",
        meaning="`round`, `semi-round`, `not round`, or what the uncertainty leaves open",
        take=lambda sized: sized.roundness.name,
        csv="column",
    ),
    Field(
        name="out_of_round",
        meaning="by what part of their mean length and width differ",
        unit="0.02 is 2 %",
        take=lambda sized: sized.roundness.difference,
        csv="column",
    ),
)


def sized_beads(lot: Lot) -> list[SizedBead]:
    """Return a lot's beads with how round they are, in the lot's order."""
    scale_of = {each.photo: each.scale_rel_u for each in lot.conditions}
    return [
        SizedBead(bead=bead, roundness=roundness(bead, scale_rel_u=scale_of.get(bead.photo, 0.0)))
        for bead in lot.beads
    ]


def key(bead: LooseBead) -> tuple[str, int]:
    """Return what identifies a bead within its lot."""
    return bead.photo, bead.number
