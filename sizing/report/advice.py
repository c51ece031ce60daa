"""Advice in words, and as fields for JSON."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict

from sizing.base.loop import Link
from sizing.base.rules_of_thumb import THIN_MM
from sizing.base.target import TargetKind
from sizing.base.units import format_inches, format_length, format_mm
from sizing.strand.advice import Advice
from sizing.strand.change import Option

_GAP_WORTH_A_WORD_MM = 0.5


def headline(advice: Advice) -> str:
    """Say what to do in one sentence: `Remove 1 bead for a finished length of 250.0 mm (9 13/16 in).`."""
    if advice.change_beads == 0:
        return f"Leave the strand as it is: no other count comes nearer to {advice.target.describe()}."
    return f"{_change(advice.best)} for {advice.target.describe()}."


def advice_lines(advice: Advice) -> list[str]:
    """Return the advice as lines of text, the one sentence first."""
    lines = [headline(advice), f"  That gives {_outcome(advice, advice.best)}."]
    if advice.beyond is not None:
        lines.append(f"  Next best: {_change_or_leave(advice.beyond)}: {_outcome(advice, advice.beyond)}.")
    if advice.finer is not None:
        change = _change_or_leave(advice.finer)
        lines.append(f"  Nearer, but out of pattern: {change}: {_outcome(advice, advice.finer)}.")
    return lines + [f"  {note}" for note in notes(advice)]


def notes(advice: Advice) -> list[str]:
    """Return what the maker should know about the advice, a sentence each."""
    found = [
        _doubt(advice),
        _tight(advice),
        _gaps(advice),
        _odd(advice),
        _colours(advice),
        *_thickness(advice),
        *_assumed(advice),
    ]
    return [note for note in found if note]


def advice_fields(advice: Advice) -> dict[str, object]:
    """Return the advice as fields for JSON, lengths in mm."""
    return {
        "change_beads": advice.change_beads,
        "certain": advice.certain,
        "margin_mm": advice.margin_mm if advice.beyond else None,
        "u95_mm": advice.u95_mm,
        "target": {
            "kind": advice.target.kind.value,
            "body": advice.target.body or None,
            "length_mm": advice.target.length_mm,
            "ease_mm": advice.target.ease_mm,
            "findings_mm": advice.target.findings_mm,
        },
        "uniform": advice.pattern.uniform,
        "repeat": advice.pattern.repeat,
        "symmetric": advice.pattern.symmetric,
        "as_is": asdict(advice.as_is),
        "best": asdict(advice.best),
        "beyond": asdict(advice.beyond) if advice.beyond else None,
        "finer": asdict(advice.finer) if advice.finer else None,
        "colours": asdict(advice.colours) if advice.colours else None,
        "in_colour": asdict(advice.in_colour) if advice.in_colour else None,
        "rules": asdict(advice.rules) if advice.rules else None,
        "sentence": headline(advice),
        "notes": notes(advice),
    }


def _change_or_leave(option: Option) -> str:
    change = _change(option) if option.change_beads else "leave it as it is"
    return change[0].lower() + change[1:]


def _change(option: Option) -> str:
    """Say which beads to take off or put on."""
    count = abs(option.change_beads)
    beads = f"{count} bead{'' if count == 1 else 's'}"
    if option.change_beads < 0:
        which = f" ({'number' if count == 1 else 'numbers'} {_runs(option.remove)})" if option.remove else ""
        return f"Remove {beads}{which}"
    ends = [
        f"{_sizes(links)} at the {end} end"
        for links, end in ((option.add_left, "left"), (option.add_right, "right"))
        if links
    ]
    return f"Add {beads}: {', '.join(ends)}"


def _runs(numbers: Sequence[int]) -> str:
    """Shorten bead numbers: `1-3, 20, 21`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{r[0]}-{r[-1]}" if len(r) > 2 else ", ".join(map(str, r)) for r in runs)


def _sizes(links: Sequence[Link]) -> str:
    """Name beads to add by their length, in order where there are few: `6.0, 8.0, 6.0 mm`."""
    named = [format_mm(link.along_mm) for link in links]
    tally = Counter(named)
    if len(tally) == 1:
        return named[0] if len(named) == 1 else f"{len(named)} of {named[0]}"
    if len(named) > 12:
        return ", ".join(f"{count} of {name}" for name, count in tally.items())
    return ", ".join(name.removesuffix(" mm") for name in named) + " mm"


def _outcome(advice: Advice, option: Option) -> str:
    """Say what an option comes to and by how much it misses the target."""
    girth = f", inside {format_length(option.inner_girth_mm)}" if advice.target.findings_mm else ""
    return (
        f"strung {format_length(option.strung_mm)}, finished {format_length(option.finished_mm)}{girth}: "
        f"{_miss(option)}"
    )


def _miss(option: Option) -> str:
    if abs(option.miss_mm) < 0.05:
        return "right on the target"
    inches = format_inches(abs(option.miss_mm))
    size = format_mm(abs(option.miss_mm)) + ("" if inches == "0 in" else f" ({inches})")
    return f"{size} {'over' if option.miss_mm > 0 else 'under'}"


def _doubt(advice: Advice) -> str:
    if not advice.count_sure:
        return "Count the beads: where one ends and the next begins was not certain on every bead."
    if advice.certain or advice.beyond is None:
        return ""
    return (
        f"A close call: the photo gives the length to ± {format_mm(advice.u95_mm)}, and "
        f"{format_mm(max(advice.margin_mm, 0.0))} is enough to make the other answer the nearer one."
    )


def _tight(advice: Advice) -> str:
    if not advice.target.too_tight(advice.best.inner_girth_mm):
        return ""
    longer = f": {_change_or_leave(advice.beyond)} to be sure that it closes" if advice.beyond else ""
    return f"Inside it is tighter than the bare {advice.target.body}{longer}."


def _gaps(advice: Advice) -> str:
    if advice.gaps_mm < _GAP_WORTH_A_WORD_MM:
        return ""
    return (
        f"The beads stood {format_mm(advice.gaps_mm)} apart in all; the advice is for beads pushed together, "
        f"{format_length(advice.as_is.strung_mm)} long."
    )


def _odd(advice: Advice) -> str:
    odd = advice.pattern.odd
    if not odd:
        return ""
    named = f"{'Bead' if len(odd) == 1 else 'Beads'} {_runs(odd)}"
    return f"{named} differ{'s' if len(odd) == 1 else ''} from the rest; the change is in the usual ones."


def _colours(advice: Advice) -> str:
    """Say which change keeps the order of the colours."""
    if advice.colours is None or advice.in_colour is None:
        return ""
    repeat = advice.colours.repeat
    order = f"repeat every {repeat} beads" if repeat else "mirror each other about the centre"
    change = _change_or_leave(advice.in_colour)
    return f"The colours {order}; to keep that: {change}: {_outcome(advice, advice.in_colour)}."


def _thickness(advice: Advice) -> list[str]:
    """Compare the loop's geometry with the trade's rules, for a girth."""
    if advice.target.kind is not TargetKind.GIRTH:
        return []
    taken_mm = advice.best.finished_mm - advice.best.inner_girth_mm
    thickness_mm = advice.usual.across_mm
    said = " (it is often ignored up to 6 mm)" if thickness_mm <= THIN_MM else ""
    lines = [f"Beads {format_mm(thickness_mm)} thick take {format_length(taken_mm)} off the inside{said}."]
    if advice.rules:
        lines.append(
            f"By length alone it would be {advice.rules.by_length} beads, by the rule of adding three "
            f"{advice.rules.add_three}; the closed loop needs {advice.best.count}."
        )
    return lines


def _assumed(advice: Advice) -> list[str]:
    """Say which usual values stand in for what was not given."""
    lines = []
    if advice.target.findings_assumed:
        lines.append(
            f"Findings taken as {format_length(advice.target.findings_mm)}: give --findings to be exact."
        )
    if advice.target.ease_assumed:
        lines.append(f"Ease taken as {format_length(advice.target.ease_mm)}: give --ease to choose.")
    return lines
