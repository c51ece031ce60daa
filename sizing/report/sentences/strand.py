"""What to do with a strand, and what to know about it."""

from collections import Counter
from collections.abc import Sequence

from sizing.base.loop import Link
from sizing.base.target import TargetKind
from sizing.base.units import format_length, format_mm
from sizing.report.sentences.closed_piece import assumption_notes, rules_note, thickness_note, tight_note
from sizing.report.sentences.count import or_else
from sizing.report.sentences.phrases import aim, counted, miss, number_runs, purpose
from sizing.strand.advice import Advice
from sizing.strand.change import Option

GAPS_WORTH_A_WORD_MM = 0.5
"""Gaps that add up to less are not mentioned."""
_MOST_NAMED_SINGLY = 12
_MOSTLY = 0.7
"""From this share of an uncertainty on, a part of it is half of its variance."""


def strand_headline(advice: Advice) -> str:
    """Say what to do in one sentence: `Remove 1 bead to finish at 250.0 mm (9 13/16 in).`."""
    if advice.cut_by:
        return "The strand has more beads than the photo shows: what to add or remove cannot be said."
    otherwise = or_else(advice)
    if advice.best.leaves_all:
        nearest = f"no other number of beads comes nearer to {aim(advice.target)}"
        return f"Leave the strand as it is: {nearest}{otherwise}."
    return f"{_change(advice.best)} {purpose(advice.target)}{otherwise}."


def strand_outcomes(advice: Advice) -> list[str]:
    """Say what the best way gives, and what the next best ones would; nothing of a strand cut off."""
    if advice.cut_by:
        return []
    lines = [f"Result: {_outcome(advice, advice.best)}."]
    if advice.beyond is not None:
        lines.append(f"Next best: {_way(advice.beyond)}. Result: {_outcome(advice, advice.beyond)}.")
    if advice.finer is not None:
        lines.append(
            f"Nearer, but it breaks the pattern: {_way(advice.finer)}. Result: "
            f"{_outcome(advice, advice.finer)}."
        )
    return lines


def strand_notes(advice: Advice) -> list[str]:
    """Return what the maker should know about the advice, a sentence each."""
    if advice.cut_by:
        return []
    found = [
        _uncertainty(advice),
        tight_note(advice.target, advice.best.inner_girth_mm, remedy=_closing(advice)),
        _gaps(advice),
        _odd(advice),
        _colours(advice),
        *_thickness(advice),
        *assumption_notes(advice.target),
    ]
    return [note for note in found if note]


def _closing(advice: Advice) -> str:
    """Say what to do so that the piece closes: of the ways that do it, the one with the fewest beads."""
    ways = [way for way in (advice.beyond, advice.finer) if way]
    closing = [way for way in ways if not advice.target.too_tight(way.inner_girth_mm)]
    fewest = min(closing, key=lambda way: way.count, default=None)
    return _way(fewest) if fewest else ""


def _way(option: Option) -> str:
    """Say what to do, within a sentence."""
    change = "leave it as it is" if option.leaves_all else _change(option)
    return change[0].lower() + change[1:]


def _change(option: Option) -> str:
    """Say which beads and spacers to remove or add."""
    if option.change_beads + option.change_spacers < 0:
        return f"Remove {parts_changed(option, option.remove_beads, option.remove_spacers)}"
    all_at_one = not (option.add_left and option.add_right)
    ends = [
        f"{_sizes(links, counted_before=all_at_one)} at the {end} end"
        for links, end in ((option.add_left, "left"), (option.add_right, "right"))
        if links
    ]
    return f"Add {parts_changed(option)} ({', '.join(ends)})"


def parts_changed(option: Option, beads: Sequence[int] = (), spacers: Sequence[int] = ()) -> str:
    """Return how many beads and spacers change, and which: `1 bead (number 20) and 1 spacer (number 2)`."""
    changes = {"bead": (option.change_beads, beads), "spacer": (option.change_spacers, spacers)}
    named = (f"{counted(abs(n), what)}{_numbered(which)}" for what, (n, which) in changes.items() if n)
    return " and ".join(named)


def parts_left(option: Option) -> str:
    """Return what is left afterwards: `16 beads`, `16 beads, 1 spacer`."""
    spacers = f", {counted(option.spacers, 'spacer')}" if option.spacers else ""
    return counted(option.count, "bead") + spacers


def _numbered(numbers: Sequence[int]) -> str:
    if not numbers:
        return ""
    return f" (number{'' if len(numbers) == 1 else 's'} {number_runs(numbers)})"


def _sizes(links: Sequence[Link], *, counted_before: bool) -> str:
    """Name beads to add by their length, in order where there are few: `6.0, 8.0, 6.0 mm`.

    Parameters
    ----------
    counted_before : bool, keyword-only
        Whether their number was said already, so that one size is named without it.
    """
    named = [format_mm(link.along_mm) for link in links]
    tally = Counter(named)
    if len(tally) == 1:
        return named[0] if len(named) == 1 or counted_before else f"{len(named)} of {named[0]}"
    if len(named) > _MOST_NAMED_SINGLY:
        return ", ".join(f"{count} of {name}" for name, count in tally.items())
    return ", ".join(name.removesuffix(" mm") for name in named) + " mm"


def _outcome(advice: Advice, option: Option) -> str:
    """Say how long the piece becomes and by how much it misses the target."""
    lengths = [f"strung {format_length(option.strung_mm)}", f"finished {format_length(option.finished_mm)}"]
    if advice.target.findings_mm:
        lengths.append(f"inside {format_length(option.inner_girth_mm)}")
    return f"{', '.join(lengths)}, {miss(option.miss_mm)}"


def _uncertainty(advice: Advice) -> str:
    if advice.doubtful is not None:
        return ""
    if not advice.count_sure:
        return (
            "Count the beads by eye: the photo does not show on every bead where it ends and the next begins."
        )
    if advice.certain or advice.beyond is None:
        return ""
    if not advice.scale_checked:
        return _before_the_check(advice)
    enough = f"{format_mm(max(advice.margin_mm, 0.0))} is enough to make the next best way the better one."
    if advice.bend_u95_mm > _MOSTLY * advice.u95_mm:
        return (
            "A close call: where a strand bends, beads gape on the outer side. How much is known to "
            f"{format_mm(advice.bend_u95_mm)} here, and {enough} Lay it straight and photograph it again."
        )
    return f"A close call: the measured length may be off by {format_mm(advice.u95_mm)}, and {enough}"


def _before_the_check(advice: Advice) -> str:
    """Say by how many beads the advice may be off before the scale is checked."""
    beads = round(advice.u95_mm / advice.usual.along_mm)
    off = f": {counted(beads, 'bead')} more or fewer may be right" if beads else ""
    return f"This number of beads is not certain until the scale is checked{off}."


def _gaps(advice: Advice) -> str:
    if advice.gaps_mm < GAPS_WORTH_A_WORD_MM:
        return ""
    return (
        f"On the photo the gaps between the beads add up to {format_mm(advice.gaps_mm)}. The advice is for "
        f"beads pushed together, {format_length(advice.as_is.strung_mm)} long."
    )


def _odd(advice: Advice) -> str:
    odd = advice.pattern.odd
    if not odd:
        return ""
    differ = f"Bead {odd[0]} differs" if len(odd) == 1 else f"Beads {number_runs(odd)} differ"
    return f"{differ} in size from the rest: add or remove only beads of the usual size."


def _colours(advice: Advice) -> str:
    """Say which change keeps the order of the colours."""
    if advice.colours is None or advice.in_colour is None:
        return ""
    repeat = advice.colours.repeat
    order = (
        f"The colours repeat every {repeat} beads" if repeat else "The colours are the same from both ends"
    )
    way, outcome = _way(advice.in_colour), _outcome(advice, advice.in_colour)
    return f"{order}. To keep that order: {way}. Result: {outcome}."


def _thickness(advice: Advice) -> list[str]:
    """Compare the closed piece with the trade's rules, for a wrist, an ankle or a neck."""
    if advice.target.kind is not TargetKind.GIRTH:
        return []
    taken_mm = advice.best.finished_mm - advice.best.inner_girth_mm
    notes = [thickness_note(advice.usual.across_mm, taken_mm)]
    return [*notes, rules_note(advice.rules, advice.best.count)] if advice.rules else notes
