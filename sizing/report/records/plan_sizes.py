"""Fields of a piece as strung, and of the same piece in several sizes."""

from sizing.base.units import format_length
from sizing.piece.fillers import Filled
from sizing.piece.fit import Fit
from sizing.piece.parts import BeadPart
from sizing.piece.size_run import SizeRow
from sizing.report.records.field import Field, Fields

WEIGHT = "weight of the beads and of findings of known weight; null (empty) if that of a bead is not known"

KIND: Fields[tuple[BeadPart, int]] = (
    Field(name="name", meaning="name and size of the bead", take=lambda kind: kind[0].title),
    Field(name="along_mm", meaning="its size along the string", take=lambda kind: kind[0].along_mm),
    Field(name="count", meaning="how many are strung", take=lambda kind: kind[1]),
)

FIT: Fields[Fit] = (
    Field(name="count", meaning="number of beads"),
    Field(
        name="tally", meaning="how many of each kind of bead, in order of first use", fields=KIND, many=True
    ),
    Field(
        name="order",
        meaning="the beads by name, in order of stringing",
        take=lambda fit: [bead.title for bead in fit.sequence],
    ),
    Field(name="strung_mm", meaning="strung length"),
    Field(name="strung_u95_mm"),
    Field(
        name="finished_mm",
        meaning="finished length, closed on the extender's first link and on its last; equal without one",
    ),
    Field(name="finished_u95_mm"),
    Field(name="finished_longest_mm"),
    Field(
        name="inner_girth_mm",
        meaning="inside length, likewise: around the thickest round limb that goes into the closed piece",
    ),
    Field(name="inner_girth_u95_mm"),
    Field(name="inner_girth_longest_mm"),
    Field(name="miss_mm", meaning="how much that is over (+) or under (-) the target"),
)

FILLED: Fields[Filled] = (
    Field(name="ends", meaning="`repeat cut short` at both ends, or `spacers added`"),
    Field(name="spacers", meaning="spacers at each end", take=lambda filled: len(filled.spacers)),
    Field(name="fit", meaning="what that gives", fields=FIT),
)

SIZE: Fields[SizeRow] = (
    Field(
        name="size",
        meaning="the size as typed; `women P25`: 25 in 100 women have a smaller wrist, ankle or neck",
        take=lambda size: size.label,
        csv="column",
    ),
    Field(
        name="target_mm",
        meaning="the length that was asked for, or the bare wrist, ankle or neck",
        take=lambda size: size.target.length_mm,
        csv="column",
    ),
    Field(name="beads", meaning="number of beads", take=lambda size: size.fit.count, csv="column"),
    Field(name="strung_mm", meaning="strung length", take=lambda size: size.fit.strung_mm, csv="column"),
    Field(
        name="finished_mm",
        meaning="finished length, as a number and in words",
        take=lambda size: size.fit.finished_mm,
        csv="column",
    ),
    Field(name="finished", take=lambda size: format_length(size.fit.finished_mm), csv="column"),
    Field(
        name="finished_longest_mm",
        meaning="finished length on the extender's last link",
        take=lambda size: size.fit.finished_longest_mm,
        csv="column",
    ),
    Field(
        name="inner_girth_mm",
        meaning="inside length: around the thickest round limb that goes into the closed piece",
        take=lambda size: size.fit.inner_girth_mm,
        csv="column",
    ),
    Field(
        name="miss_mm",
        meaning="how much the piece is over (+) or under (-) the target",
        take=lambda size: size.fit.miss_mm,
        csv="column",
    ),
    Field(
        name="filled",
        meaning="the nearest way of filling the ends; null where whole repeats come as near",
        fields=FILLED,
    ),
    Field(
        name="filled_beads",
        meaning="that way's number of beads, finished length, and how much it is over (+) or under (-)",
        take=lambda size: size.filled.fit.count if size.filled else None,
        json=False,
        csv="column",
    ),
    Field(
        name="filled_finished_mm",
        take=lambda size: size.filled.fit.finished_mm if size.filled else None,
        json=False,
        csv="column",
    ),
    Field(
        name="filled_miss_mm",
        take=lambda size: size.filled.fit.miss_mm if size.filled else None,
        json=False,
        csv="column",
    ),
    Field(name="wire_mm", meaning="length of wire to cut, as a number and in words", csv="column"),
    Field(name="wire", take=lambda size: format_length(size.wire_mm), csv="column"),
    Field(name="beads_to_buy", meaning="beads to buy, with spare ones", csv="column"),
    Field(
        name="mass_g",
        meaning=WEIGHT,
        take=lambda size: size.mass.total_g,
        csv="column",
    ),
    Field(
        name="materials",
        meaning="cost of the materials, cost of the work, and price; empty where no cost was given",
        unit="currency",
        take=lambda size: size.cost.materials if size.cost else None,
        csv="column",
    ),
    Field(
        name="labour",
        unit="currency",
        take=lambda size: size.cost.labour if size.cost else None,
        csv="column",
    ),
    Field(
        name="price",
        unit="currency",
        take=lambda size: size.cost.price if size.cost else None,
        csv="column",
    ),
)
