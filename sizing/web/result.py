"""What a measurement comes to, as its maker put it right and for what is wanted; imports all it takes."""

from sizing.base.errors import SizingError
from sizing.base.units import printed_as
from sizing.corrections.lots import correct_lot
from sizing.corrections.strands import correct_strands
from sizing.web.measuring.measurements import Measurement
from sizing.web.reading.lots import read_lot
from sizing.web.reading.reading import Reading
from sizing.web.reading.strands import read_strands
from sizing.web.reading.wishes import asked_for
from vision.common.records import Lot, Strand


def read_again(asked: Measurement, typed: dict[str, str]) -> Reading:
    """Return what measured beads come to for what is typed, as the maker put them right.

    Raises
    ------
    SizingError
        Something typed, or put right, cannot be meant.
    """
    wanted = asked_for(typed, label=asked.kind == "label")
    sizes_px = {shown.name: shown.size_px for shown in asked.shown}
    with printed_as(wanted.typed_mm):
        if asked.lot is not None:
            return read_lot(corrected_lot(asked), wanted, sizes_px=sizes_px)
        return read_strands(corrected_strands(asked), wanted, size_px=asked.shown[0].size_px)


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
