"""What stands first about a planned piece."""

from sizing.base.units import format_pair
from sizing.piece.plan import Plan
from sizing.report.front.front import Fact, Front, length_fact
from sizing.report.sentences.plan import plan_headline, plan_notes, plan_title


def plan_front(plan: Plan) -> Front:
    """Return what stands first about a plan, what to string before all."""
    return Front(
        kind="Plan",
        subject=plan_title(plan),
        headline=plan_headline(plan),
        notes=plan_notes(plan),
        facts=_facts(plan),
    )


def _facts(plan: Plan) -> list[Fact]:
    best = plan.best
    return [
        Fact(label="Beads", value=str(best.count)),
        length_fact("Strung", best.strung_mm, best.strung_u95_mm),
        length_fact(
            "Finished",
            best.finished_mm,
            best.finished_u95_mm,
            further=_longest(best.finished_mm, best.finished_longest_mm),
        ),
        length_fact(
            "Inside",
            best.inner_girth_mm,
            best.inner_girth_u95_mm,
            further=_longest(best.inner_girth_mm, best.inner_girth_longest_mm),
        ),
        length_fact("Wire to cut", plan.cuts[0].length_mm),
    ]


def _longest(first_mm: float, last_mm: float) -> str:
    """Say how far an extender lets a length out."""
    return f", let out {format_pair(last_mm)[0]}" if last_mm > first_mm else ""
