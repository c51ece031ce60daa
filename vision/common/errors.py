"""What can go wrong with a photo as a whole.

::

    StrandgaugeError
    └── PhotoError              this photo cannot be measured (exit code 3)
        ├── UnreadablePhotoError    the file is no picture that can be opened
        ├── NoSheetError            too few tags of one known sheet are seen
        └── NoBeadsError            a sheet, but nothing on it that is a bead

A doubt about a single bead is no error: the bead carries a flag (see `vision.common.flags`).
Every message says what was found and what to do about it, in one line.
"""


class StrandgaugeError(Exception):
    """Root of all errors that a user can cause."""


class PhotoError(StrandgaugeError):
    """A photo cannot be measured."""


class UnreadablePhotoError(PhotoError):
    """A file cannot be opened as a photo."""


class NoSheetError(PhotoError):
    """No scale sheet, or too little of one, is seen."""


class NoBeadsError(PhotoError):
    """The sheet is seen but no bead."""
