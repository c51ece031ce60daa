"""A measured strand, with the advice where there is a target, as JSON and CSV."""

from dataclasses import dataclass

from sizing.base.loop import Link
from sizing.base.rules_of_thumb import Rules
from sizing.base.target import Target
from sizing.report.records.field import Field, Fields, Record, record, row
from sizing.report.records.head import head
from sizing.report.records.photo import COLOUR_MEANING, css_colour, photos, warnings
from sizing.report.sentences.count import if_so
from sizing.report.sentences.strand import strand_headline, strand_notes
from sizing.strand.advice import Advice
from sizing.strand.change import Option
from sizing.strand.colour_order import ColourOrder
from sizing.strand.doubtful import Doubtful
from sizing.strand.spread import Spread, spread_across, spread_along
from vision.common.records import Doubt, Strand, StrandBead


@dataclass(frozen=True, slots=True, kw_only=True)
class _Result:
    strand: Strand
    advice: Advice | None


BEAD: Fields[StrandBead] = (
    Field(
        name="number",
        meaning="1, 2, 3 ... as on the annotated photo, from the left end (the upper one where upright)",
        csv="column",
    ),
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
    Field(name="gap_after_mm", meaning="bare string between this bead and the next", csv="column"),
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

STRAND: Fields[Strand] = (
    Field(name="count", meaning="number of beads", take=lambda strand: len(strand.beads)),
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
        "photo, the `tags`, or the edge of the `sheet`",
    ),
)

TARGET: Fields[Target] = (
    Field(
        name="kind",
        meaning="`strung length`, `finished length`, or `girth` for a wrist, an ankle or a neck",
    ),
    Field(
        name="body", meaning="`wrist`, `ankle` or `neck`; else null", take=lambda target: target.body or None
    ),
    Field(name="length_mm", meaning="the length that was asked for, or the bare wrist, ankle or neck"),
    Field(name="ease_mm", meaning="how much longer than the bare wrist, ankle or neck the inside should be"),
    Field(name="findings_mm", meaning="length of clasp and findings together"),
)

LINK: Fields[Link] = (
    Field(name="along_mm", meaning="length along the string"),
    Field(name="across_mm", meaning="thickness; 0 for what lies flat between the beads"),
)

OPTION: Fields[Option] = (
    Field(name="change_beads", meaning="beads to add (+) or remove (-)"),
    Field(name="remove", meaning="numbers of the beads to remove; empty where any usual bead will do"),
    Field(
        name="add_left",
        meaning="beads to add at the left end, in order along the string",
        fields=LINK,
        many=True,
    ),
    Field(
        name="add_right",
        meaning="beads to add at the right end, in order along the string",
        fields=LINK,
        many=True,
    ),
    Field(name="count", meaning="number of beads afterwards"),
    Field(name="strung_mm", meaning="strung length afterwards, every gap closed"),
    Field(name="finished_mm", meaning="the same with clasp and findings"),
    Field(
        name="inner_girth_mm",
        meaning="inside length: around the thickest round limb that goes into the closed piece",
    ),
    Field(name="miss_mm", meaning="how much that is over (+) or under (-) the target"),
)

COLOURS: Fields[ColourOrder] = (
    Field(name="repeat", meaning="after how many beads the colours repeat; 0 where they do not"),
    Field(name="symmetric", meaning="whether the colours are the same from both ends"),
)

RULES: Fields[Rules] = (
    Field(name="by_length", meaning="number of beads by length alone, their thickness ignored"),
    Field(name="add_three", meaning="that number by the rule of adding three"),
)

DOUBTED: Fields[tuple[Doubt, int]] = (
    Field(name="if_so", meaning="the doubt that is right, in words", take=lambda each: if_so(each[0])),
    Field(name="change_beads", meaning="beads to add (+) or remove (-) then", take=lambda each: each[1]),
)

DOUBTFUL: Fields[Doubtful] = (
    Field(name="each", meaning="for each doubt by itself", fields=DOUBTED, many=True),
    Field(name="least", meaning="least and most beads to add (+) or remove (-), over all doubts"),
    Field(name="most"),
)

ADVICE: Fields[Advice] = (
    Field(
        name="change_beads", meaning="beads to add (+) or remove (-); 0 where no other number comes nearer"
    ),
    Field(
        name="certain",
        meaning="false where the uncertainty of lengths or count could change it, or the scale is unchecked",
    ),
    Field(
        name="doubtful",
        meaning="how that changes with what is doubted of the count; null where nothing is",
        fields=DOUBTFUL,
    ),
    Field(
        name="margin_mm",
        meaning="how far off the measured length may be before `beyond` is the better way",
        take=lambda advice: advice.margin_mm if advice.beyond else None,
    ),
    Field(name="u95_mm", meaning="uncertainty of the length that `best` gives"),
    Field(name="target", meaning="what was asked for", fields=TARGET),
    Field(
        name="uniform",
        meaning="whether all beads are of one size, but for a few",
        take=lambda advice: advice.pattern.uniform,
    ),
    Field(
        name="repeat",
        meaning="after how many beads the sizes repeat; 0 where they do not",
        take=lambda advice: advice.pattern.repeat,
    ),
    Field(
        name="symmetric",
        meaning="whether the sizes are the same from both ends",
        take=lambda advice: advice.pattern.symmetric,
    ),
    Field(name="as_is", meaning="the strand left as it is, every gap closed", fields=OPTION),
    Field(name="best", meaning="the change that comes nearest to the target", fields=OPTION),
    Field(name="beyond", meaning="the nearest on the other side of the target", fields=OPTION),
    Field(name="finer", meaning="a nearer one that breaks the repeat or the symmetry", fields=OPTION),
    Field(name="colours", meaning="of beads of one size: the order of their colours", fields=COLOURS),
    Field(name="in_colour", meaning="the nearest change that keeps the order of the colours", fields=OPTION),
    Field(
        name="rules",
        meaning="for a wrist, an ankle or a neck: what the trade's rules of thumb give",
        fields=RULES,
    ),
    Field(name="sentence", meaning="the advice in one sentence", take=strand_headline),
    Field(name="notes", meaning="what to know about it, a sentence each", take=strand_notes),
)

DOCUMENT: Fields[_Result] = (
    *head("strand"),
    warnings(lambda result: [result.strand.conditions]),
    Field(
        name="beads",
        meaning="the beads, in order along the string",
        take=lambda result: result.strand.beads,
        fields=BEAD,
        many=True,
    ),
    Field(name="strand", meaning="the strand as a whole", fields=STRAND),
    Field(
        name="sizing",
        meaning="what to add or remove; null without a target",
        take=lambda result: result.advice,
        fields=ADVICE,
    ),
    *photos(lambda result: [result.strand.conditions]),
)


def strand_record(strand: Strand, advice: Advice | None = None) -> Record:
    """Return a measured strand, and the advice where there is a target, as a JSON object."""
    return record(DOCUMENT, _Result(strand=strand, advice=advice))


def strand_rows(strand: Strand) -> list[Record]:
    """Return a strand's beads in order as rows of a CSV table."""
    return [row(BEAD, bead) for bead in strand.beads]
