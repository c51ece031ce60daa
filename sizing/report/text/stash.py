"""The stash book as text: all entries, one of them, and what can be made of them."""

from collections.abc import Sequence

from sizing.base.printable import printable
from sizing.base.target import Target
from sizing.base.units import format_mm
from sizing.report.sentences.phrases import aim, counted
from sizing.report.sentences.stash import match_sentence, price_phrase, size_phrase, way_sentence
from sizing.report.text.layout import aligned, joined, section
from sizing.stash.entries import Change, Entry, Size
from sizing.stash.matching import Match
from sizing.stash.ways import Way

_MOST_WAYS = 20  # more do not fit on a screen: common practice, no source


def stash_text(found: Sequence[Entry], stash: Sequence[Entry]) -> str:
    """Return what was found in the stash as text, a line for each size."""
    if not stash:
        return (
            "Nothing is kept yet: keep what is measured with strandgauge stash keep FILE.json --name NAME\n"
        )
    if not found:
        return f"Nothing found among {_sum(stash)}.\n"
    return joined([[_sum(found), *aligned(row for entry in found for row in _rows(entry))]])


def _sum(entries: Sequence[Entry]) -> str:
    beads = sum(entry.count for entry in entries)
    return f"{len(entries)} {'entry' if len(entries) == 1 else 'entries'}, {counted(beads, 'bead')}"


def _rows(entry: Entry) -> list[tuple[str, ...]]:
    return [
        (
            f"{entry.number}:{size.place}" if len(entry.sizes) > 1 else str(entry.number),
            printable(entry.name),
            counted(size.count, size.kind),
            size_phrase(size),
            _paid(entry) if size.place == 1 else "",
        )
        for size in entry.sizes
    ]


def _paid(entry: Entry) -> str:
    said = entry.details
    return "" if said.price is None else price_phrase(said.price, said.currency)


def entry_text(entry: Entry, changes: Sequence[Change], matches: Sequence[Match]) -> str:
    """Return an entry as text, with its changes of count and what matches it."""
    title = f"{entry.number}  {printable(entry.name)}: {entry.form}, {counted(entry.count, 'bead')} left"
    return joined(
        [
            [title, *aligned(_about(entry))],
            ["Sizes", *aligned(map(_size, entry.sizes))],
            ["Changes of count", *aligned(map(_change, changes))],
            section("Matches", (_match(entry, match) for match in matches)),
        ]
    )


def _about(entry: Entry) -> list[tuple[str, str]]:
    said, cost = entry.details, entry.bead_cost
    each = f", {price_phrase(cost, said.currency)} a bead" if cost is not None else ""
    rows = [
        ("kept", f"{counted(entry.kept, 'bead')} on {said.date}"),
        ("from", said.source),
        ("price", f"{_paid(entry)}{each}"),
        ("material", said.material),
        # In hundredths as typed: a tenth of a millimetre decides whether a wire goes through.
        ("hole", "" if said.hole_mm is None else f"{said.hole_mm:.3g} mm"),
        ("note", " / ".join(said.note.splitlines())),
        ("photo", f"{entry.photo_bytes / 1e6:.1f} MB" if entry.photo_bytes else ""),
    ]
    return [(name, value) for name, value in rows if value]


def _size(size: Size) -> tuple[str, ...]:
    u95_mm = size.along_mm * size.rel_u95
    return (
        str(size.place),
        counted(size.count, size.kind),
        size_phrase(size),
        format_mm(size.along_mm, u95_mm),
    )


def _match(entry: Entry, match: Match) -> str:
    of_size = f"size {match.of_size.place} matches " if len(entry.sizes) > 1 else ""
    return f"{of_size}{match_sentence(match)}"


def _change(change: Change) -> tuple[str, ...]:
    return change.date, f"{change.beads:+d}", f"size {change.size}" if change.size else "other", change.why


def ways_text(ways: Sequence[Way], target: Target) -> str:
    """Return what the stash makes for a target as text, the best ways first."""
    title = f"What the stash makes for {aim(target)}"
    if not ways:
        return f"{title}\n  Nothing: there are no beads in it that reach this.\n"
    shown = [f"{number}. {way_sentence(way)}" for number, way in enumerate(ways[:_MOST_WAYS], start=1)]
    more = len(ways) - len(shown)
    return joined([section(title, shown), [f"{more} more with --json"] if more else []])
