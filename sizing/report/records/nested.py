"""Fields of strands that lie one around the other: of each, and of all of them."""

from sizing.report.records.field import Field, Fields, within
from sizing.report.sentences.several import nest_notes, place_said
from sizing.strand.nested import Nested
from sizing.strand.sized import Nest, SizedStrand

_PLACE: Fields[Nested] = (
    Field(name="place", meaning="1 for the innermost strand, 2 for the next"),
    Field(
        name="around",
        meaning="number of the strand that it lies around; 0 for the innermost",
        take=lambda nested: nested.target.around,
    ),
    Field(name="step_mm", meaning="how much longer it should be than that strand; 0 for the innermost"),
    Field(
        name="needed_mm",
        meaning="how much longer it must be for the beads of both to lie beside each other; 0 for the "
        "innermost",
    ),
    Field(name="needed_u95_mm"),
)

NESTED: Fields[SizedStrand] = (
    *within(lambda sized: sized.nested, _PLACE),
    Field(
        name="strung_mm",
        meaning="strung length that it should have; its uncertainty is that of the thickness of the beads, "
        "here and inside",
        take=lambda sized: sized.advice.wanted_mm if sized.advice else None,
    ),
    Field(
        name="strung_u95_mm",
        take=lambda sized: sized.advice.wanted_u95_mm if sized.advice else None,
    ),
    Field(name="sentence", meaning="that in words", take=place_said),
)

NEST: Fields[Nest] = (
    Field(name="step_mm", meaning="the step that was asked for; 0 for strands that touch"),
    Field(
        name="order",
        meaning="numbers of the strands from the inside to the outside; empty where they have none",
        take=lambda nest: [each.strand.number for each in nest.inside_out],
    ),
    Field(name="beads", meaning="beads on all of them, changed as `best` says"),
    Field(name="strung_mm", meaning="strung length of all of them then"),
    Field(name="strung_u95_mm"),
    Field(name="notes", meaning="what to know about it, a sentence each", take=nest_notes),
)
