"""What the pages of several commands share: cells, bead lists, conditions, cautions."""

import math
from collections.abc import Mapping, Sequence

from sizing.base.cautions import CAUTIONS
from sizing.base.units import format_inches, format_mm
from sizing.lot.sizes import COVERAGE
from sizing.report.html.page import Beside, Block, Cell, Fact, Key, Lines, Picture, Row, Section, Table, Terms
from sizing.report.text_strand import condition_lines
from vision.common import flags
from vision.common.records import Conditions

MOST_BEADS_LISTED = 160
_LEAST_COLUMN = 8
_COLUMNS = 3
_ON_TARGET_MM = 0.05


def css(colour: tuple[int, int, int]) -> str:
    """Return an sRGB colour as CSS writes it."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def opening(text: str) -> str:
    """Return a text with a capital letter at its beginning."""
    return text[:1].upper() + text[1:]


def length_cell(value_mm: float, u95_mm: float | None = None) -> Cell:
    """Return a length in mm, and in inches below it."""
    more = format_inches(value_mm) if math.isfinite(value_mm) else ""
    return Cell(text=format_mm(value_mm, u95_mm), more=more)


def bare_cell(value_mm: float) -> Cell:
    """Return a length for a column that names the unit, and in inches below it."""
    return Cell(text=format_mm(value_mm).removesuffix(" mm"), more=format_inches(value_mm))


def bare_mm(value_mm: float, u95_mm: float) -> str:
    """Return a size with its doubt for a column that names the unit; a dash where it was not measured."""
    return format_mm(value_mm, u95_mm).removesuffix(" mm") if math.isfinite(value_mm) else "\N{EN DASH}"


def signed_mm(value_mm: float) -> str:
    """Return by how much something is over (+) or under a target."""
    if abs(value_mm) < _ON_TARGET_MM:
        return "none"
    sign = "+" if value_mm > 0 else "\N{MINUS SIGN}"
    return sign + format_mm(abs(value_mm))


def photo_section(pictures: Sequence[Picture], entries: Sequence[tuple[str, str]]) -> Section:
    """Show annotated photos, and what their colours mean."""
    key = [Key(entries=entries)] if entries else []
    if len(pictures) < 3:
        return Section(title="On the photo", blocks=[*pictures, *key])
    return Section(title="On the photos", blocks=[*key, Beside(blocks=pictures)])


def doubt_section(marked: Mapping[str, str]) -> Section:
    """Say which beads to look at again, and why.

    Parameters
    ----------
    marked : mapping
        Names of the beads that carry a flag, by its word.
    """
    rows: list[Row] = [
        (Cell(text=word, more=meaning, tone="doubtful"), marked[word])
        for word, meaning in flags.DESCRIPTIONS.items()
        if marked.get(word)
    ]
    table = Table(title="Doubtful beads", head=("What", "Beads"), rows=rows)
    return Section(title="Look at these again", blocks=[table] if rows else [])


def bead_section(head: Sequence[str], rows: Sequence[Row]) -> Section:
    """List beads one by one, in columns; too many for a page are left to a spreadsheet."""
    if len(rows) > MOST_BEADS_LISTED:
        line = f"{len(rows)} beads are too many for this page: --csv writes a table of them."
        return Section(title="Every bead", blocks=[Lines(lines=[line])])
    each = max(math.ceil(len(rows) / _COLUMNS), min(_LEAST_COLUMN, len(rows)), 1)
    tables = [
        Table(
            title=f"Beads, part {at // each + 1}",
            head=head,
            rows=rows[at : at + each],
            figures=range(1, len(head)),
        )
        for at in range(0, len(rows), each)
    ]
    return Section(title="Every bead", blocks=[Beside(blocks=tables)] if tables else [])


def condition_section(conditions: Sequence[Conditions], letters: Mapping[str, str]) -> Section:
    """Say how each photo was measured, and what would make that better."""
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
    remarks = dict.fromkeys(line for each in conditions for line in condition_lines(each)[1:])
    if remarks:
        blocks.append(Lines(lines=list(remarks)))
    return Section(title="How it was measured", blocks=blocks)


def _circumstances(conditions: Conditions) -> list[Fact]:
    """Return under what circumstances one photo was measured."""
    given = "as read with a ruler" if conditions.check_length_given else "not measured, taken as printed"
    focal = "as the photo tells" if conditions.focal_source == "exif" else "estimated from the sheet"
    tags = f"{conditions.tags_found} of {conditions.tags_on_sheet} tags seen"
    bed = "on the sheet itself"
    if conditions.bed_height_mm:
        bed = f"{format_mm(conditions.bed_height_mm)} above the sheet"
    return [
        Fact(label="Scale sheet", value=conditions.sheet_name, more=tags),
        Fact(label="Check length", value=format_mm(conditions.check_length_mm), more=given),
        Fact(
            label="Camera",
            value=f"{conditions.camera_height_mm:.0f} mm above the sheet",
            more=f"{conditions.tilt_deg:.0f}° off level",
        ),
        Fact(label="Focal length", value=focal),
        Fact(label="Beads lie", value=bed),
        Fact(
            label="Doubt of the scale",
            value=f"± {100 * COVERAGE * conditions.scale_rel_u:.2f} %",
            more="alike for every length of a photo",
        ),
    ]


def caution_section(cautions: Sequence[str] = CAUTIONS) -> Section:
    """Say what can hurt somebody."""
    return Section(title="Take care", blocks=[Lines(lines=cautions)])
