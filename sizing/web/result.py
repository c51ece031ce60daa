"""What a measurement comes to, as its maker put it right and for what is wanted; imports all it takes."""

from dataclasses import dataclass

from sizing.base.errors import SizingError
from sizing.base.units import printed_as
from sizing.corrections.lots import correct_lot
from sizing.corrections.strands import correct_strands
from sizing.lot.conformity import check_label
from sizing.lot.picks import make_picks
from sizing.lot.sorting import sort_lot
from sizing.report.records.check import check_record, check_rows
from sizing.report.records.field import Record
from sizing.report.records.lot import lot_record, lot_rows
from sizing.report.records.strand import strand_record, strand_rows
from sizing.report.sentences.check import CheckedLot
from sizing.strand.sized import size_strands
from sizing.web.measuring.measurements import Measurement
from sizing.web.reading.lots import read_lot
from sizing.web.reading.putting_right import corrections_listed
from sizing.web.reading.reading import Reading
from sizing.web.reading.strands import read_strands
from sizing.web.reading.wishes import asked_for
from vision.common.records import Lot, Strand


def read_again(asked: Measurement, typed: dict[str, str]) -> tuple[Reading, list[str]]:
    """Return what measured beads come to for what is typed, as the maker put them right; and say how that is.

    Raises
    ------
    SizingError
        Something typed, or put right, cannot be meant.
    """
    wanted = asked_for(typed, label=asked.kind == "label")
    sizes_px = {shown.name: shown.size_px for shown in asked.shown}
    with printed_as(wanted.typed_mm):
        if asked.lot is not None:
            lot = corrected_lot(asked)
            reading, done = read_lot(lot, wanted, sizes_px=sizes_px), lot.corrections
        else:
            strands = corrected_strands(asked)
            reading = read_strands(strands, wanted, size_px=asked.shown[0].size_px)
            done = strands[0].corrections
        return reading, corrections_listed(asked.corrections, done, list(sizes_px))


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """A measurement as the commands print it: the record of JSON, the rows of CSV."""

    record: Record
    rows: list[Record]


def printed(asked: Measurement) -> Printed:
    """Return a measurement, as its maker put it right, as the commands print it.

    Raises
    ------
    SizingError
    """
    wanted = asked_for(asked.typed, label=asked.kind == "label")
    if asked.lot is None:
        sized = size_strands(corrected_strands(asked), wanted.target, planned=wanted.planned)
        return Printed(record=strand_record(sized), rows=strand_rows(sized))
    lot = corrected_lot(asked)
    if wanted.label:
        checked = CheckedLot(lot=lot, label=wanted.label, conformity=check_label(lot, wanted.label))
        return Printed(record=check_record(checked), rows=check_rows(checked))
    result, picking = sort_lot(lot, method=wanted.method, target=wanted.target), wanted.picking
    picks = make_picks(
        result.sizes, pairs=picking.pairs, uniform=picking.uniform, graduated_mm=picking.graduated_mm
    )
    return Printed(record=lot_record(result, picks), rows=lot_rows(result))


def corrected_lot(asked: Measurement) -> Lot:
    """Return the lot of a measurement as its maker put it right.

    Raises
    ------
    CorrectionError
    """
    if asked.lot is None:
        raise SizingError("this is no lot of loose beads")
    return correct_lot(asked.lot, asked.corrections)


def corrected_strands(asked: Measurement) -> tuple[Strand, ...]:
    """Return the strands of a measurement as their maker put them right.

    Raises
    ------
    CorrectionError
    """
    return correct_strands(asked.strands, asked.corrections)
