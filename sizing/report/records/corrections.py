"""Fields of what the maker put right, for all measured results."""

from collections.abc import Callable, Sequence
from typing import Any

from sizing.report.records.field import Field, Fields
from sizing.report.sentences.corrections import correction_said
from vision.common.corrections import Correction

CORRECTION: Fields[Correction] = (
    Field(
        name="action",
        meaning="`no bead`, `spacer`, `cover` or `stopper`: it was taken for a bead; `bead`: it is one "
        "indeed; `one bead`: these are one; `two beads`: it is two; `size`: a caliper was read on it; "
        "`bead here`: one was missed",
    ),
    Field(name="photo", meaning="file name of the photo, of a lot; else empty"),
    Field(
        name="numbers",
        meaning="the beads that it is about, by their numbers before; else empty",
    ),
    Field(
        name="px",
        meaning="[x, y] of the first of these, or of the missed bead, on the upright photo",
        unit="pixels",
    ),
    Field(name="size_mm", meaning="what the caliper reads; null for all others"),
    Field(name="size_u95_mm"),
    Field(
        name="shown_mm", meaning="what the photo shows of it; null where it shows none, and for all others"
    ),
    Field(name="shown_u95_mm"),
    Field(name="sentence", meaning="the same in words", take=correction_said),
)

WAS: Field[Any] = Field(
    name="was",
    meaning="its numbers before corrections: empty for a missed bead; null where nothing was corrected",
    csv="column",
)


def corrections(take: Callable[[Any], Sequence[Correction]]) -> Field[Any]:
    """Return the field that lists what was put right."""
    return Field(
        name="corrections",
        meaning="what the maker put right, bead by bead; empty where nothing was",
        take=take,
        fields=CORRECTION,
        many=True,
    )
