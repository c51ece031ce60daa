"""Fields of what follows for a strand from its target: advice for an open one, the fit of a closed one."""

from sizing.base.loop import Link
from sizing.base.rules_of_thumb import Rules
from sizing.base.target import Target
from sizing.report.records.field import Field, Fields
from sizing.report.sentences.count import if_so
from sizing.report.sentences.loop import fit_headline, fit_notes
from sizing.report.sentences.strand import strand_headline, strand_notes
from sizing.strand.advice import Advice
from sizing.strand.change import Option
from sizing.strand.colour_order import ColourOrder
from sizing.strand.doubtful import Doubtful
from sizing.strand.loop_fit import LoopFit
from vision.common.records import Doubt

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
    Field(
        name="longer_mm",
        meaning="how much longer the strand should be, or for a wrist, an ankle or a neck its inside, as it "
        "lies around others; else 0",
    ),
    Field(name="longer_u95_mm"),
)

LINK: Fields[Link] = (
    Field(name="along_mm", meaning="length along the string"),
    Field(name="across_mm", meaning="thickness; 0 for what lies flat between the beads"),
)

OPTION: Fields[Option] = (
    Field(name="change_beads", meaning="beads to add (+) or remove (-)"),
    Field(name="change_spacers", meaning="spacers that go with them"),
    Field(
        name="remove",
        meaning="numbers of the beads and spacers to remove; empty where any usual bead will do",
    ),
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

FIT: Fields[LoopFit] = (
    Field(
        name="change_beads",
        meaning="beads more (+) or fewer (-) with which it would come nearest to the target",
    ),
    Field(
        name="certain",
        meaning="false where the uncertainty of lengths or count could change it, or the scale is unchecked",
    ),
    Field(
        name="reached_mm",
        meaning="what compares with the target: the strung length; all round, for a finished length; the "
        "inside length, for a wrist, an ankle or a neck",
    ),
    Field(name="u95_mm"),
    Field(name="miss_mm", meaning="how much that is over (+) or under (-) the target"),
    Field(name="margin_mm", meaning="how far off it may be before another number of beads comes nearer"),
    Field(name="target", meaning="what was asked for", fields=TARGET),
    Field(name="sentence", meaning="the comparison in one sentence", take=fit_headline),
    Field(name="notes", meaning="what to know about it, a sentence each", take=fit_notes),
)
