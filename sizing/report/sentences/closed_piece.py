"""What a strand's advice and a plan both say about the closed piece."""

from sizing.base.rules_of_thumb import THIN_MM, Rules
from sizing.base.target import Target, TargetKind
from sizing.base.units import format_length, format_mm


def thickness_note(thickness_mm: float, taken_mm: float, *, at_most: bool = False) -> str:
    """Say by how much the thickness of the beads makes the inside shorter than the finished length.

    Parameters
    ----------
    at_most : bool, keyword-only
        Whether some beads are thinner.
    """
    ignored = ", which is often ignored for beads up to 6 mm" if thickness_mm <= THIN_MM else ""
    thick = f"{'up to ' if at_most else ''}{format_mm(thickness_mm)} thick"
    return (
        f"Beads {thick} make the inside {format_length(taken_mm)} shorter than the finished length{ignored}."
    )


def rules_note(rules: Rules, count: int) -> str:
    """Compare the number of beads with what the trade's rules of thumb give."""
    return (
        f"Counting by length alone gives {rules.by_length} beads, and the usual rule of adding three gives "
        f"{rules.add_three}; the closed piece needs {count}."
    )


def tight_note(target: Target, inside_mm: float, *, remedy: str) -> str:
    """Warn of a piece that may not close; empty where it does.

    Parameters
    ----------
    remedy : str, keyword-only
        What to do to be sure, as `string 42`; empty where nothing helps.
    """
    if not target.too_tight(inside_mm):
        return ""
    advice = f": {remedy} to be sure that it closes" if remedy else ""
    return f"The inside is shorter than the bare {target.body}{advice}."


def assumption_notes(target: Target) -> list[str]:
    """Say which usual values stand in for what was not given."""
    notes = []
    if target.findings_assumed:
        notes.append(
            f"Clasp and findings are assumed to take {format_length(target.findings_mm)}; give --findings "
            "if yours differ."
        )
    if target.kind is TargetKind.GIRTH and target.ease_assumed:
        notes.append(
            f"The inside is meant to be {format_length(target.ease_mm)} longer than the bare {target.body}; "
            "give --ease for a tighter or looser fit."
        )
    return notes
