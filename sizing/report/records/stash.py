"""The stash book as JSON: all entries, one of them, and what can be made of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sizing.base.target import Target
from sizing.report.records.field import Field, Fields, Record, record, within
from sizing.report.records.head import head
from sizing.report.records.plan import TARGET
from sizing.report.records.plan_sizes import FIT
from sizing.report.sentences.stash import match_sentence, way_sentence
from sizing.stash.details import Details
from sizing.stash.entries import Change, Entry, Size
from sizing.stash.matching import Match
from sizing.stash.measurement import KeptBead
from sizing.stash.ways import Need, Way


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownEntry:
    """An entry with all that belongs to it."""

    entry: Entry
    changes: Sequence[Change]
    beads: Sequence[KeptBead]
    matches: Sequence[Match]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ways:
    ways: Sequence[Way]
    target: Target


SIZE: Fields[Size] = (
    Field(name="place", meaning="1, 2, 3 ... within the entry"),
    Field(name="along_mm", meaning="mean size along the string and across it"),
    Field(name="across_mm"),
    Field(name="rel_u95", meaning="relative uncertainty of these", unit="0.02 is 2 %"),
    Field(name="measured", meaning="how many of them were measured"),
    Field(name="colour_rgb", meaning="mean colour, sRGB, 0 to 255"),
    Field(name="count", meaning="how many there are now"),
    Field(name="kind", meaning="`bead`; or `spacer`, which counts as none"),
)

DETAILS: Fields[Details] = (
    Field(name="name", meaning="what the maker calls it"),
    Field(name="source", meaning="where it is from"),
    Field(
        name="price",
        meaning="paid for all beads that were kept, an exact decimal number as text",
        take=lambda said: None if said.price is None else str(said.price),
    ),
    Field(name="currency", meaning="currency as typed"),
    Field(name="material", meaning="material as typed"),
    Field(name="hole_mm", meaning="diameter of the hole"),
    Field(name="note", meaning="what else the maker says of it"),
    Field(name="date", meaning="year, month and day of buying or keeping it"),
)

ENTRY: Fields[Entry] = (
    Field(name="number", meaning="1, 2, 3 ... in the order of keeping"),
    Field(name="uuid", meaning="the same in every stash that it was imported into"),
    Field(name="form", meaning="`lot` or `strand`"),
    *within(lambda entry: entry.details, DETAILS),
    Field(name="target", meaning="kind of target that it was measured for; else empty"),
    Field(name="count", meaning="beads that there are now"),
    Field(name="kept", meaning="beads that there were when it was kept"),
    Field(name="photo_bytes", meaning="room that its photo takes; 0 without one", unit="bytes"),
    Field(name="sizes", meaning="its sizes", fields=SIZE, many=True),
)

CHANGE: Fields[Change] = (
    Field(name="size", meaning="place of the size; 0 for beads of none of its sizes"),
    Field(name="beads", meaning="beads more (+) or fewer (-)"),
    Field(name="date", meaning="year, month and day"),
    Field(name="why", meaning="why"),
    Field(name="uuid", meaning="the same in every stash that it was imported into"),
)

BEAD: Fields[KeptBead] = (
    Field(name="number", meaning="number on its photo"),
    Field(name="photo", meaning="file name of the photo, of a lot; else empty"),
    Field(name="kind", meaning="what it is: `bead`, `spacer` or `cover`"),
    Field(name="across_mm", meaning="size across the string; of a loose bead its width"),
    Field(name="across_u95_mm"),
    Field(name="along_mm", meaning="size along the string; of a loose bead its length"),
    Field(name="along_u95_mm"),
    Field(name="colour_rgb", meaning="median colour of the bead, sRGB, 0 to 255"),
    Field(name="flags", meaning="words that mark a doubtful size, see the flags above"),
)

MATCH: Fields[Match] = (
    Field(
        name="of_size",
        meaning="place of the size that it matches",
        take=lambda match: match.of_size.place,
    ),
    Field(name="number", meaning="number of the entry", take=lambda match: match.entry.number),
    Field(name="name", meaning="its name", take=lambda match: match.entry.name),
    Field(name="size", meaning="place of the size in it", take=lambda match: match.size.place),
    Field(name="same_size", meaning="probability that the beads are of one size", unit="1 is certain"),
    Field(
        name="colour_difference",
        meaning="by how much their colours differ; about 1 is just noticeable",
        unit="CIEDE2000",
    ),
    Field(name="sentence", meaning="the same in words", take=match_sentence),
)

NEED: Fields[Need] = (
    Field(name="number", meaning="number of the entry", take=lambda need: need.source.entry.number),
    Field(name="name", meaning="its name", take=lambda need: need.source.entry.name),
    Field(name="size", meaning="place of the size in it", take=lambda need: need.source.size.place),
    Field(name="needed", meaning="beads that it takes"),
    Field(name="left", meaning="beads that are left over; negative: so many are lacking"),
)

WAY: Fields[Way] = (
    Field(name="kind", meaning="`uniform`, `repeat` or `graduated`"),
    Field(name="needs", meaning="what it takes", fields=NEED, many=True),
    Field(name="lacking", meaning="beads that are lacking, of all sizes"),
    Field(name="miss_mm", meaning="how far the least near piece is over (+) or under (-) its target"),
    Field(
        name="cost",
        meaning="of the materials; null where that of a bead is not known, or currencies differ",
        unit="currency",
    ),
    Field(name="currency", meaning="currency as typed"),
    Field(name="fits", meaning="the piece, then one of each further size", fields=FIT, many=True),
    Field(name="sentence", meaning="the same in words", take=way_sentence),
)

STASH_DOCUMENT: Fields[Sequence[Entry]] = (
    *head("stash"),
    Field(name="entries", meaning="the entries", take=lambda stash: stash, fields=ENTRY, many=True),
)

ENTRY_DOCUMENT: Fields[ShownEntry] = (
    *head("entry"),
    Field(name="entry", meaning="the entry", fields=ENTRY),
    Field(name="changes", meaning="every change of its count, the first one first", fields=CHANGE, many=True),
    Field(name="beads", meaning="its beads as they were measured", fields=BEAD, many=True),
    Field(
        name="matches",
        meaning="what matches its beads, the likeliest first; size after size",
        fields=MATCH,
        many=True,
    ),
)

WAYS_DOCUMENT: Fields[_Ways] = (
    *head("ways"),
    Field(name="target", meaning="what was asked for", fields=TARGET),
    Field(
        name="ways",
        meaning="ways to make it, first by fewest beads lacking, then by how near they come",
        fields=WAY,
        many=True,
    ),
)


def stash_record(stash: Sequence[Entry]) -> Record:
    """Return entries as a JSON object."""
    return record(STASH_DOCUMENT, stash)


def entry_record(shown: ShownEntry) -> Record:
    """Return one entry with all that belongs to it as a JSON object."""
    return record(ENTRY_DOCUMENT, shown)


def ways_record(ways: Sequence[Way], target: Target) -> Record:
    """Return what the stash makes for a target as a JSON object."""
    return record(WAYS_DOCUMENT, _Ways(ways=ways, target=target))


DOCUMENTS: dict[str, Fields[Any]] = {
    "stash list": STASH_DOCUMENT,
    "stash show": ENTRY_DOCUMENT,
    "stash make": WAYS_DOCUMENT,
}
"""What each command prints, by its name."""
