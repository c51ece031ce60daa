"""The errors for a photo that cannot be measured as a whole.

::

    StrandgaugeError
    └── PhotoError              this photo cannot be measured (exit code 3)
        ├── UnreadablePhotoError    the file cannot be opened as a picture
        ├── NoSheetError            too few tags of one sheet can be read
        ├── NoBeadsError            a sheet without a bead on it
        ├── CoarsePhotoError        too few pixels, or too much blur, for its beads
        └── LooseBeadsError         loose beads where a strand was expected

What is uncertain about a single bead is not an error: the bead carries a flag (`vision.common.flags`).
Every message is one line that says what was found and what to do.
"""


class StrandgaugeError(Exception):
    """Root of all errors that a user can cause."""


class PhotoError(StrandgaugeError):
    """A photo cannot be measured."""


class UnreadablePhotoError(PhotoError):
    """A file cannot be opened as a photo."""


class NoSheetError(PhotoError):
    """The photo shows no scale sheet, or too little of one."""


class NoBeadsError(PhotoError):
    """The photo shows a sheet but no bead."""


class LooseBeadsError(PhotoError):
    """The photo shows loose beads, not a strand."""


class CoarsePhotoError(PhotoError):
    """The photo has too few pixels, or too much blur, for its beads."""
