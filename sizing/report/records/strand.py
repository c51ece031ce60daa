"""Measured strands, with the advice where there is a target, as JSON and CSV."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sizing.report.records.advice import ADVICE, FIT
from sizing.report.records.corrections import WAS, corrections
from sizing.report.records.field import Field, Fields, Record, record, row, within
from sizing.report.records.head import head
from sizing.report.records.nested import NEST, NESTED
from sizing.report.records.photo import COLOUR_MEANING, css_colour, photos, warnings
from sizing.report.sentences.loop import verdict_said
from sizing.strand.planned import Compared
from sizing.strand.sized import SizedStrand, nest_of
from sizing.strand.spread import Spread, spread_across, spread_along
from vision.common.conditions import Conditions
from vision.common.records import Doubt, Loop, Other, Pendant, Strand, StrandBead

_MEASURED: Fields[StrandBead] = (
    Field(
        name="px",
        meaning="[x, y] of the bead's centre on the upright photo; an integer is the centre of a pixel",
        unit="pixels",
        take=lambda bead: bead.centre_px,
    ),
    Field(
        name="across_mm",
        meaning="size across the string, parallel to the sheet, as a caliper reads it",
        csv="column",
    ),
    Field(name="across_u95_mm", csv="column"),
    Field(name="along_mm", meaning="size along the string, as a caliper reads it", csv="column"),
    Field(name="along_u95_mm", csv="column"),
    Field(name="gap_after_mm", meaning="how far it and the next are apart along the string", csv="column"),
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

BEAD: Fields[tuple[Strand, StrandBead]] = (
    Field(
        name="photo",
        meaning="file name of the photo that it is on",
        take=lambda each: each[0].conditions.photo,
        json=False,
        csv="first column",
    ),
    Field(
        name="number",
        meaning="1, 2, 3 ... as on the annotated photo, on from strand to strand; from the left end of each "
        "(the upper one where upright), of a closed loop from its clasp",
        take=lambda each: each[1].number,
        csv="column",
    ),
    Field(
        name="strand",
        meaning="number of the strand that it belongs to",
        take=lambda each: each[0].number,
        csv="column",
    ),
    Field(
        name="kind",
        meaning="what it is: `bead`; `spacer`, a metal one or a thin rondelle; `cover`, a crimp or its cover",
        take=lambda each: each[1].kind,
        csv="column",
    ),
    *within(lambda each: each[1], _MEASURED),
)

SPREAD: Fields[Spread] = (
    Field(name="count", meaning="beads measured"),
    Field(name="mean_mm", meaning="mean size"),
    Field(name="mean_u95_mm"),
    Field(name="sd_mm", meaning="standard deviation of the sizes"),
    Field(name="least_mm", meaning="smallest and largest size"),
    Field(name="most_mm"),
)

DOUBT: Fields[Doubt] = (
    Field(
        name="place",
        meaning="`left end` or `right end`: the strand may end elsewhere; `bead`: it may be "
        "several, or none; `joint`: a bead and the next may be one; `gap`: it may hide beads; `strand`: "
        "counted in two ways, the numbers differ",
    ),
    Field(name="number", meaning="the bead in question, or that before the joint or gap; 0 for none of them"),
    Field(name="beads", meaning="beads more (+) or fewer (-) if it is so"),
    Field(name="length_mm", meaning="how much longer (+) or shorter (-) the strand is then, and closed up"),
    Field(name="closed_up_mm"),
)


def _beads(sized: Sequence[SizedStrand]) -> list[tuple[Strand, StrandBead]]:
    return [(each.strand, bead) for each in sized for bead in each.strand.beads]


def _conditions(sized: Sequence[SizedStrand]) -> list[Conditions]:
    return [sized[0].strand.conditions]


def _of_loop(field: Field[Loop]) -> Field[Strand]:
    """Return a field of a loop as one of a strand: null where it is open."""
    take: Field[Any] = field
    return replace(take, take=lambda strand: field.taken(strand.loop) if strand.loop else None)


PENDANT: Fields[Pendant] = (
    Field(
        name="px",
        meaning="[x, y] of its middle on the upright photo",
        unit="pixels",
        take=lambda pendant: pendant.centre_px,
    ),
    Field(name="across_mm", meaning="its size square to the chain, and along it, to about a millimetre"),
    Field(name="along_mm"),
)

OTHER: Fields[Other] = (
    Field(
        name="px",
        meaning="[x, y] of its middle on the upright photo",
        unit="pixels",
        take=lambda other: other.centre_px,
    ),
    Field(
        name="kind",
        meaning="`stray`: a bead on no strand; `stopper`: a clamp too; `finding`: a chain too; `other`",
    ),
)

LOOP: Fields[Loop] = (
    Field(
        name="around_mm",
        meaning="of a closed loop: length of the string all round, with clasp and rings; else null, as all "
        "that follows",
    ),
    Field(name="around_u95_mm"),
    Field(
        name="inner_girth_mm",
        meaning="inside length: around the thickest round limb that the closed piece just passes",
    ),
    Field(name="inner_girth_u95_mm"),
    Field(name="clasp_mm", meaning="length of string that clasp and rings take"),
    Field(
        name="pendant",
        meaning="the bead that hangs from the clasp at the end of an extender; null where there is none",
        fields=PENDANT,
    ),
    Field(name="extender_mm", meaning="length of the chain that it hangs from"),
)

STRAND: Fields[Strand] = (
    Field(
        name="number",
        meaning="1, 2, 3 ... in reading order of the first beads: from top to bottom, then left to right",
    ),
    Field(
        name="closed",
        meaning="whether it is closed to a loop",
        take=lambda strand: strand.loop is not None,
    ),
    Field(name="count", meaning="number of beads, spacers and covers left out"),
    Field(
        name="spacers",
        meaning="number of spacers",
        take=lambda strand: len(strand.of_kind("spacer")),
    ),
    Field(
        name="covers", meaning="number of crimps and covers", take=lambda strand: len(strand.of_kind("cover"))
    ),
    Field(
        name="least_count",
        meaning="fewest and most beads that it may have, of which `count` is the likeliest; no most where "
        "it is cut off",
        take=lambda strand: strand.counts[0],
    ),
    Field(name="most_count", take=lambda strand: strand.counts[1]),
    Field(
        name="length_mm",
        meaning="strung length: along the string, from the outer end of the first bead to that of the last; "
        "its uncertainty covers all that is doubted of its ends, and is null where it is cut off",
    ),
    Field(name="length_u95_mm"),
    Field(name="closed_up_mm", meaning="strung length with every gap closed"),
    Field(name="closed_up_u95_mm"),
    Field(name="across", meaning="sizes across the string", take=spread_across, fields=SPREAD),
    Field(name="along", meaning="sizes along the string", take=spread_along, fields=SPREAD),
    Field(
        name="flags",
        meaning="flags of the strand as a whole; with `unsure-split`, `unsure-count` or `cut-off` its "
        "number of beads is not certain",
    ),
    Field(
        name="doubts",
        meaning="why the number of beads is not certain, and what else it and the length may be",
        fields=DOUBT,
        many=True,
    ),
    Field(
        name="cut_by",
        meaning="what the strand runs out of or into: the `left`, `right`, `top` or `bottom` edge of the "
        "photo, the `tags`, the edge of the `sheet`, a `thing` that may lie over it, or `glare`",
    ),
    *(_of_loop(field) for field in LOOP),
)

COMPARED: Fields[Compared] = (
    Field(
        name="name",
        meaning="a size of beads of the plan, `strung length`, `clasp and findings`, `all round` or `inside`",
    ),
    Field(name="counts", meaning="whether beads are counted; else lengths in mm are compared"),
    Field(name="planned", meaning="what was planned"),
    Field(name="found", meaning="what was found, and what the photo leaves open"),
    Field(name="least"),
    Field(name="most"),
    Field(name="as_planned", meaning="whether the photo tells no difference"),
    Field(name="sentence", meaning="that in words", take=verdict_said),
)

SIZED: Fields[SizedStrand] = (
    *within(lambda sized: sized.strand, STRAND),
    Field(
        name="sizing",
        meaning="what to add or remove; null without a target, or for a closed loop",
        take=lambda sized: sized.advice,
        fields=ADVICE,
    ),
    Field(
        name="fit",
        meaning="how a closed loop compares with the target; null without one, or for an open strand",
        fields=FIT,
    ),
    Field(
        name="compared",
        meaning="how a closed loop compares with the plan of `--piece`, line by line; empty without one",
        fields=COMPARED,
        many=True,
    ),
    Field(
        name="nested",
        meaning="its place, where strands lie one around the other; else null",
        take=lambda sized: sized if sized.nested else None,
        fields=NESTED,
    ),
)

DOCUMENT: Fields[Sequence[SizedStrand]] = (
    *head("strand"),
    warnings(_conditions),
    corrections(lambda sized: sized[0].strand.corrections),
    Field(
        name="beads",
        meaning="the beads of all strands, and their spacers and covers, in order along each string",
        take=_beads,
        fields=BEAD,
        many=True,
    ),
    Field(name="strands", meaning="each strand", take=lambda sized: sized, fields=SIZED, many=True),
    Field(
        name="strand",
        meaning="the first strand once more, as far as it was measured",
        take=lambda sized: sized[0].strand,
        fields=STRAND,
    ),
    Field(
        name="sizing",
        meaning="what to add to or remove from the first strand; null without a target, or for a closed loop",
        take=lambda sized: sized[0].advice,
        fields=ADVICE,
    ),
    Field(
        name="nested",
        meaning="strands that lie one around the other, all of them; null where no step was asked for",
        take=nest_of,
        fields=NEST,
    ),
    Field(
        name="refused",
        meaning="why further strands on the photo cannot be measured, and what to do; one for each",
        take=lambda sized: list(sized[0].strand.refused),
    ),
    Field(
        name="others",
        meaning="what lies there and is no part of a strand",
        take=lambda sized: sized[0].strand.others,
        fields=OTHER,
        many=True,
    ),
    *photos(_conditions),
)


def strand_record(sized: Sequence[SizedStrand]) -> Record:
    """Return the strands of a photo, each with what its target says about it, as a JSON object."""
    return record(DOCUMENT, sized)


def strand_rows(sized: Sequence[SizedStrand]) -> list[Record]:
    """Return the beads of all strands in order as rows of a CSV table."""
    return [row(BEAD, bead) for bead in _beads(sized)]
