"""Phrases that several reports share."""

import math
from collections.abc import Sequence

from sizing.base.target import Target, TargetKind
from sizing.base.units import format_inches, format_length, format_mm

ON_TARGET_MM = 0.05
"""Closer than this a length is printed as the target itself."""


def counted(n: int, one: str) -> str:
    """Return a number with its noun: `1 bead`, `2 beads`."""
    return f"{n} {one}{'' if n == 1 else 's'}"


def opening(text: str) -> str:
    """Return a text with a capital letter at its beginning."""
    return text[:1].upper() + text[1:]


def number_runs(numbers: Sequence[int]) -> str:
    """List bead numbers, three and more in a row shortened: `1-3, 20, 21`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{r[0]}-{r[-1]}" if len(r) > 2 else ", ".join(map(str, r)) for r in runs)


def bare_mm(value_mm: float, u95_mm: float | None = None, *, decimals: int = 1) -> str:
    """Return a length without its unit, for a range or a column that names it; a dash if unmeasured."""
    if not math.isfinite(value_mm):
        return "\N{EN DASH}"
    return format_mm(value_mm, u95_mm, decimals=decimals).removesuffix(" mm")


def aim(target: Target) -> str:
    """Name a target: `a finished length of 250.0 mm (9 13/16 in)`, `a wrist of 152.4 mm (6 in)`."""
    if target.kind is not TargetKind.GIRTH:
        return f"a {target.kind} of {format_length(target.aim_mm)}"
    article = "an" if target.body[0] in "aeiou" else "a"
    loose = f", worn {format_length(target.ease_mm)} loose" if target.ease_mm else ""
    around = f", around strand {target.around}" if target.around else ""
    return f"{article} {target.body} of {format_length(target.length_mm)}{loose}{around}"


def purpose(target: Target) -> str:
    """Say what a change is for: `to finish at 250.0 mm (9 13/16 in)`, `to fit a wrist of ...`."""
    if target.kind is TargetKind.FINISHED:
        return f"to finish at {format_length(target.aim_mm)}"
    return f"to fit {aim(target)}" if target.kind is TargetKind.GIRTH else f"for {aim(target)}"


def miss(miss_mm: float) -> str:
    """Say by how much something misses its target: `0.5 mm over the target`."""
    if abs(miss_mm) < ON_TARGET_MM:
        return "exactly on the target"
    off_mm = abs(miss_mm)
    size = format_mm(off_mm) if format_inches(off_mm) == "0 in" else format_length(off_mm)
    return f"{size} {'over' if miss_mm > 0 else 'under'} the target"
