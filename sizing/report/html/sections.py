"""Parts that the pages of several commands share: cells, bead lists, conditions, cautions."""

import math
from collections.abc import Mapping, Sequence

from sizing.base.cautions import CAUTIONS
from sizing.base.units import format_mm, format_pair
from sizing.report.front.front import Fact
from sizing.report.html.page import (
    Beside,
    Block,
    Box,
    Cell,
    Key,
    Lines,
    Picture,
    Row,
    Section,
    Table,
    Terms,
)
from sizing.report.sentences.conditions import condition_remarks
from sizing.report.sentences.corrections import CORRECTED_BY_HAND
from sizing.report.sentences.flagged import CHECK_THESE
from sizing.report.sentences.phrases import ON_TARGET_MM, opening
from sizing.report.sentences.trust import TRUST
from vision.common.conditions import Conditions
from vision.common.flags import DESCRIPTIONS
from vision.common.numerics import COVERAGE_FACTOR

MOST_BEADS_LISTED = 160
_LEAST_COLUMN = 8
_COLUMNS = 3


def css(colour: tuple[int, int, int]) -> str:
    """Return an sRGB colour as CSS writes it."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def length_cell(value_mm: float, u95_mm: float | None = None) -> Cell:
    """Return a length in both units, one below the other."""
    if not math.isfinite(value_mm):
        return Cell(text=format_mm(value_mm))
    first, second = format_pair(value_mm, u95_mm)
    return Cell(text=first, more=second)


def signed_mm(value_mm: float) -> str:
    """Return by how much something is over (+) or under (-) a target."""
    if abs(value_mm) < ON_TARGET_MM:
        return "on target"
    sign = "+" if value_mm > 0 else "\N{MINUS SIGN}"
    return sign + format_mm(abs(value_mm))


def photo_section(pictures: Sequence[Picture], entries: Sequence[tuple[str, str]]) -> Section:
    """Show the annotated photos, and what their colours mean."""
    key = [Key(entries=entries)] if entries else []
    if len(pictures) < 3:
        return Section(title="On the photo", blocks=[*pictures, *key])
    return Section(title="On the photos", blocks=[*key, Beside(blocks=pictures)])


def flag_section(flagged: Mapping[str, str]) -> Section:
    """Say which beads to check, and why.

    Parameters
    ----------
    flagged : mapping
        Who carries a flag, by its word.
    """
    rows: list[Row] = [
        (Cell(text=opening(who), tone="warning"), Cell(text=opening(DESCRIPTIONS[word]), more=word))
        for word, who in flagged.items()
    ]
    table = Table(title="Flagged beads", head=("Which", "Why"), rows=rows)
    return Section(title=CHECK_THESE, blocks=[table] if rows else [])


def correction_section(lines: Sequence[str]) -> Section:
    """Say what the maker put right."""
    return Section(title=CORRECTED_BY_HAND, blocks=[Lines(lines=lines)] if lines else [])


def bead_section(head: Sequence[str], rows: Sequence[Row], *, whose: str = "") -> Section:
    """List the beads one by one, in columns; too many for a page are left to a spreadsheet."""
    name = f"Every bead{whose}"
    if len(rows) > MOST_BEADS_LISTED:
        line = f"{len(rows)} beads are too many for this page: save them as a table (CSV)."
        return Section(title=name, blocks=[Lines(lines=[line])])
    each = max(math.ceil(len(rows) / _COLUMNS), min(_LEAST_COLUMN, len(rows)), 1)
    tables = [
        Table(
            title=f"Beads{whose}, part {at // each + 1}",
            head=head,
            rows=rows[at : at + each],
            figures=range(1, len(head)),
        )
        for at in range(0, len(rows), each)
    ]
    return Section(title=name, blocks=[Beside(blocks=tables)] if tables else [])


def condition_section(conditions: Sequence[Conditions], letters: Mapping[str, str]) -> Section:
    """Say how each photo was measured, and how to measure better."""
    facts = [_circumstances(each) for each in conditions]
    blocks: list[Block] = [Terms(facts=facts[0])]
    if len(conditions) > 1:
        rows = [
            (
                Cell(text=letters[each.photo], more=each.photo),
                *(Cell(text=f.value, more=f.more) for f in found),
            )
            for each, found in zip(conditions, facts, strict=True)
        ]
        head = ("Photo", *(fact.label for fact in facts[0]))
        blocks = [Table(title="Conditions of each photo", head=head, rows=rows)]
    remarks = dict.fromkeys(line for each in conditions for line in condition_remarks(each))
    if remarks:
        blocks.append(Lines(lines=list(remarks)))
    return Section(title="How it was measured", blocks=blocks)


def _circumstances(conditions: Conditions) -> list[Fact]:
    """Return how one photo was measured."""
    given = conditions.check_length_origin or "as read from a ruler"
    if not conditions.check_length_given:
        given = "not checked, taken as at 100 %"
    elif "check-length" in conditions.questioned:
        given = "measure it again"
    focal = "estimated from the sheet" if conditions.focal_source == "estimated" else "from the photo file"
    tags = f"{conditions.tags_found} of {conditions.tags_on_sheet} tags found"
    bed = "on the sheet itself"
    if conditions.bed_height_mm:
        bed = f"{format_mm(conditions.bed_height_mm)} above the sheet"
    return [
        Fact(label="Scale sheet", value=conditions.sheet_name, more=tags),
        Fact(label="Check length", value=format_mm(conditions.check_length_mm), more=given),
        Fact(
            label="Camera",
            value=f"{conditions.camera_height_mm:.0f} mm above the sheet",
            more=f"tilted {conditions.tilt_deg:.0f}°",
        ),
        Fact(label="Focal length", value=focal),
        Fact(label="Beads lie", value=bed),
        Fact(
            label="Scale known to",
            value=f"± {100 * COVERAGE_FACTOR * conditions.scale_rel_u:.2f} %",
            more="the same for all lengths of a photo",
        ),
    ]


def caution_section(cautions: Sequence[str] = CAUTIONS) -> Section:
    """Say what can hurt somebody."""
    return Section(title="Take care", blocks=[Lines(lines=cautions)])


def trust_section(lines: Sequence[str]) -> Section:
    """Say what stands behind the figures, in one box."""
    return Section(title=TRUST, blocks=[Box(lines=lines)])
