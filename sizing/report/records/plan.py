"""A planned piece as JSON, and its sizes as CSV."""

from dataclasses import dataclass

from sizing.base.target import Target
from sizing.piece.bill import Cost, Mass
from sizing.piece.clearances import Clearance
from sizing.piece.cut_list import Cut, Purchase
from sizing.piece.girth_range import GirthRange
from sizing.piece.parts import BeadPart
from sizing.piece.plan import Plan
from sizing.piece.size_run import size_row
from sizing.report.records.advice import LINK, RULES
from sizing.report.records.field import Field, Fields, Record, record, row, within
from sizing.report.records.head import head
from sizing.report.records.plan_sizes import FILLED, FIT, SIZE, WEIGHT
from sizing.report.sentences.plan import plan_headline, plan_notes, weight_notes


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bill:
    cost: Cost
    currency: str


TARGET: Fields[Target] = (
    Field(
        name="kind",
        meaning="`strung length`, `finished length`, or `girth` for a wrist, an ankle or a neck",
    ),
    Field(name="length_mm", meaning="the length that was asked for, or the bare wrist, ankle or neck"),
    Field(
        name="findings",
        meaning="what lies between the last bead and the first",
        take=lambda target: target.findings,
        fields=LINK,
        many=True,
    ),
    Field(name="findings_assumed", meaning="true where the usual value stands in for one that was not given"),
    Field(name="ease_mm", meaning="how much longer than the bare wrist, ankle or neck the inside should be"),
    Field(name="ease_assumed", meaning="true where the usual value stands in for one that was not given"),
    Field(name="body", meaning="`wrist`, `ankle` or `neck`; else empty"),
    Field(name="findings_mm", meaning="length of clasp and findings together"),
    Field(name="goal_mm", meaning="strung length, or inside length, that comes to the target exactly"),
)

GIRTHS: Fields[GirthRange] = (
    Field(name="body", meaning="`wrist`, `ankle` or `neck`"),
    Field(name="low_mm", meaning="the smallest and the largest that it fits"),
    Field(name="high_mm"),
    Field(
        name="shares",
        meaning="share of adult `women` and `men` between these",
        unit="1 is all",
        take=lambda girths: dict(girths.shares),
    ),
)

CUT: Fields[Cut] = (
    Field(name="name", meaning="what to cut"),
    Field(name="count", meaning="how many pieces"),
    Field(name="length_mm", meaning="length of each"),
    Field(name="how", meaning="what that length is made of"),
)

BEAD: Fields[BeadPart] = (
    Field(name="along_mm", meaning="size along the string and across it"),
    Field(name="across_mm"),
    Field(name="name", meaning="name as given"),
    Field(name="count", meaning="how many follow each other in the repeat"),
    Field(name="hole_mm", meaning="diameter of the hole"),
    Field(name="material", meaning="material as given"),
    Field(name="density", meaning="density, where one was given", unit="g/cm3"),
    Field(name="cost", meaning="cost of one bead", unit="currency"),
    Field(name="rel_u95", meaning="relative uncertainty of its size; 0 for a size that was typed"),
    Field(name="have", meaning="how many of them were measured; null for a size that was typed"),
)

PURCHASE: Fields[Purchase] = (
    Field(name="bead", meaning="which bead to buy", fields=BEAD),
    Field(name="strung", meaning="how many the piece takes"),
    Field(name="lacking", meaning="how many of those are not there"),
    Field(name="to_buy", meaning="how many to buy, with spare ones"),
    Field(name="per_strand", meaning="how many a 16 in strand holds"),
    Field(name="strands", meaning="how many such strands to buy"),
)

CLEARANCE: Fields[Clearance] = (
    Field(name="name", meaning="what the wire goes through, or its tail"),
    Field(name="needs_mm", meaning="diameter, or length of tail, that is needed and that is there"),
    Field(name="has_mm"),
    Field(name="fits", meaning="whether that is enough; null where a size was not given"),
    Field(name="sentence", meaning="the same in words"),
)

MASS: Fields[Mass] = (
    Field(name="total_g", meaning=WEIGHT),
    Field(
        name="by_material_g",
        meaning="weight of each material",
        take=lambda mass: dict(mass.by_material_g),
    ),
    Field(name="unknown", meaning="beads and findings whose weight is not known"),
    Field(
        name="notes",
        meaning="what to give so that they can be weighed, and what may weigh less, a sentence each",
        take=weight_notes,
    ),
)

_AMOUNTS: Fields[Cost] = (
    Field(
        name="items",
        meaning="cost of each material as used",
        unit="currency",
        take=lambda cost: dict(cost.items),
    ),
    Field(name="materials", meaning="cost of all materials together", unit="currency"),
    Field(name="labour", meaning="cost of the work", unit="currency"),
    Field(name="price", meaning="price that leaves the margin asked for", unit="currency"),
    Field(name="unknown", meaning="materials whose cost was not given"),
)

COST: Fields[_Bill] = (
    Field(name="currency", meaning="currency as given"),
    *within(lambda bill: bill.cost, _AMOUNTS),
)

DOCUMENT: Fields[Plan] = (
    *head("plan"),
    Field(name="name", meaning="name of the piece", take=lambda plan: plan.piece.name),
    Field(name="target", meaning="what was asked for", fields=TARGET),
    Field(name="best", meaning="the number of beads that comes nearest to the target", fields=FIT),
    Field(name="other", meaning="the nearest on the other side of the target", fields=FIT),
    Field(
        name="filled",
        meaning="ways of filling the ends that come nearer than whole repeats, the nearest first",
        fields=FILLED,
        many=True,
    ),
    Field(
        name="counts",
        meaning="the fewest and the most beads that may come nearest, by the uncertainty of their sizes; "
        "null for sizes that were typed",
    ),
    Field(
        name="rules",
        meaning="for a wrist, an ankle or a neck: what the trade's rules of thumb give",
        fields=RULES,
    ),
    Field(
        name="fits",
        meaning="whose wrist, ankle or neck the piece fits",
        take=lambda plan: plan.girths,
        fields=GIRTHS,
    ),
    Field(name="cuts", meaning="what to cut", fields=CUT, many=True),
    Field(name="purchases", meaning="which beads to buy", fields=PURCHASE, many=True),
    Field(name="clearances", meaning="what the wire must go through", fields=CLEARANCE, many=True),
    Field(name="mass", meaning="what the piece weighs", fields=MASS),
    Field(
        name="cost",
        meaning="what the piece costs; null where no cost was given",
        take=lambda plan: _Bill(cost=plan.cost, currency=plan.piece.work.currency) if plan.cost else None,
        fields=COST,
    ),
    Field(name="sizes", meaning="the piece in every size of the size run", fields=SIZE, many=True),
    Field(name="sentence", meaning="what to string, in one sentence", take=plan_headline),
    Field(name="notes", meaning="what to know about it, a sentence each", take=plan_notes),
    Field(name="cautions", meaning="what can hurt somebody, a sentence each"),
)


def plan_record(plan: Plan) -> Record:
    """Return a plan as a JSON object."""
    return record(DOCUMENT, plan)


def plan_rows(plan: Plan) -> list[Record]:
    """Return a plan's sizes as rows of a CSV table; without a size run the piece as asked for."""
    sizes = plan.sizes or (size_row(plan.piece, plan.target, label="as asked"),)
    return [row(SIZE, size) for size in sizes]
