"""The kinds of things that a cell of the top view may show."""

from enum import IntEnum


class Kind(IntEnum):
    """What a cell may show; the numbers are the order of a network's maps.

    What is strung follows the bed, and comes before all that is foreign to a strand.
    """

    BED = 0
    BEAD = 1
    SPACER = 2
    COVER = 3
    FINDING = 4
    CHAIN = 5
    STOPPER = 6
    STRING = 7
    OTHER = 8


STRUNG = (Kind.BEAD, Kind.SPACER, Kind.COVER)
"""Parts of a strand."""
