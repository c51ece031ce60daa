"""A measured strand as text for the terminal, in millimetres and fractions of an inch."""

from sizing.base.units import format_length, format_mm
from sizing.report.advice import advice_lines
from sizing.strand.advice import Advice
from sizing.strand.size_pattern import find_pattern
from sizing.strand.spread import Spread, spread_across, spread_along
from vision.common import flags
from vision.common.records import Conditions, Strand

_GAPS_WORTH_A_LINE_MM = 0.5
# Rounder than this, one number says a bead's size: official classes call under 2 % round (facts of the pearl
# trade, second-hand).
_ROUND_SHARE = 0.02
_EVEN_SHARE = 0.06


def strand_report(strand: Strand, advice: Advice | None = None) -> str:
    """Return what was measured, what to do, which beads to look at and how it was measured."""
    parts = [
        [_headline(strand)],
        _lengths(strand, advice),
        advice_lines(advice) if advice else [],
        doubt_lines(strand),
        condition_lines(strand.conditions),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _headline(strand: Strand) -> str:
    count = len(strand.beads)
    return f"{strand.conditions.photo}: {count} bead{'' if count == 1 else 's'}, {_size(strand)}"


def _size(strand: Strand) -> str:
    """Return the beads' size in a few words: `6.3 mm`, or `6.5 mm across, 5.9 mm along the string`."""
    across, along = spread_across(strand), spread_along(strand)
    even = find_pattern(strand.beads).uniform
    if not across.count or abs(across.mean_mm - along.mean_mm) <= _ROUND_SHARE * across.mean_mm:
        return _one_size(along if not across.count else across, even=even)
    return f"{_one_size(across, even=even)} across, {_one_size(along, even=even)} along the string"


def _one_size(spread: Spread, *, even: bool) -> str:
    if even or not spread.count:
        return format_mm(spread.mean_mm)
    return f"{format_mm(spread.least_mm).removesuffix(' mm')} to {format_mm(spread.most_mm)}"


def _lengths(strand: Strand, advice: Advice | None) -> list[str]:
    """Return the strand's lengths and its beads' sizes, one a line."""
    rows = [("Strung length", format_length(strand.length_mm, strand.length_u95_mm))]
    gaps_mm = strand.length_mm - strand.closed_up_mm
    if gaps_mm >= _GAPS_WORTH_A_LINE_MM:
        closed_up = format_length(strand.closed_up_mm, strand.closed_up_u95_mm)
        rows.append(("Pushed together", f"{closed_up}: the gaps are {format_mm(gaps_mm)} in all"))
    if advice:
        finished = format_length(advice.as_is.finished_mm)
        findings = format_mm(advice.target.findings_mm)
        rows.append(("Finished as it is", f"{finished} with {findings} of clasp and findings"))
    rows += [("Across the string", _spread(spread_across(strand)))]
    rows += [("Along the string", _spread(spread_along(strand)))]
    return [f"{name:<18} {text}" for name, text in rows]


def _spread(spread: Spread) -> str:
    if not spread.count:
        return "not measured"
    mean = format_mm(spread.mean_mm, spread.mean_u95_mm)
    if spread.count == 1:
        return mean
    return (
        f"mean {mean}, from {format_mm(spread.least_mm, decimals=2).removesuffix(' mm')} to "
        f"{format_mm(spread.most_mm, decimals=2)}, standard deviation {format_mm(spread.sd_mm, decimals=2)}"
    )


def doubt_lines(strand: Strand) -> list[str]:
    """Return each flag that is there in words, with the numbers of the beads that carry it."""
    lines = []
    for word, meaning in flags.DESCRIPTIONS.items():
        numbers = [str(bead.number) for bead in strand.beads if word in bead.flags]
        if len(numbers) == len(strand.beads) and len(numbers) > 1:
            lines.append(f"  all beads: {meaning} ({word})")
        elif numbers:
            lines.append(f"  bead{'' if len(numbers) == 1 else 's'} {', '.join(numbers)}: {meaning} ({word})")
        elif word in strand.flags:
            lines.append(f"  the strand as a whole: {meaning} ({word})")
    return ["Look at these again:", *lines] if lines else []


def condition_lines(conditions: Conditions) -> list[str]:
    """Return how a photo was measured, and what would make it better."""
    bed = f", the bed {format_mm(conditions.bed_height_mm)} above it" if conditions.bed_height_mm else ""
    tags = f"{conditions.tags_found} of {conditions.tags_on_sheet} tags"
    camera = (
        f"{conditions.camera_height_mm:.0f} mm above the sheet, {conditions.tilt_deg:.0f} degrees off level"
    )
    length = format_mm(conditions.check_length_mm)
    lines = [f"Measured on {conditions.sheet_name} ({tags}, check length {length}) from {camera}{bed}."]
    if not conditions.check_length_given:
        lines.append(
            "The check length was not measured, and printers are often 1 % off: lay a ruler along "
            "the sheet's top row and give what it reads as --check-length."
        )
    if conditions.focal_source != "exif":
        lines.append("The photo does not tell its focal length, which was estimated from the sheet.")
    return lines
