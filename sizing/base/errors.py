"""Errors between measured beads and a decision.

::

    StrandgaugeError                (vision.common.errors)
    └── SizingError                 something typed, or written in a file, is wrong (exit code 2)
        ├── TargetError             the target is missing, contradictory or out of reach
        ├── PieceError              a piece file, or a saved measurement, cannot be used
        ├── OutputError             a file cannot be written
        ├── StashError              the stash book cannot do what was asked
        └── CorrectionError         beads are put right that are not there, or in two ways at once

Every message says what was found and what to do about it, in one line.
"""

from vision.common.errors import StrandgaugeError


class SizingError(StrandgaugeError):
    """Something that a user typed, or wrote in a file, is wrong."""


class TargetError(SizingError):
    """The target is missing, contradictory or out of reach."""


class PieceError(SizingError):
    """A piece file or a saved measurement cannot be used."""


class OutputError(SizingError):
    """A file cannot be written."""


class StashError(SizingError):
    """The stash book cannot do what was asked: no such entry, too few beads, a damaged or busy file."""


class CorrectionError(SizingError):
    """A correction that contradicts another one, or names what is not there."""
