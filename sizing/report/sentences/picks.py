"""Why a pick from a lot could not be made."""

from sizing.base.units import format_length
from sizing.lot.picks import Picks
from sizing.lot.sizes import Sizes
from sizing.report.sentences.phrases import counted

NO_PAIR = "No matched pair: that takes two measured beads."


def no_uniform(sizes: Sizes, picks: Picks) -> str:
    """Say why the most uniform few could not be picked."""
    measured = f"{counted(len(sizes), 'bead')} {'was' if len(sizes) == 1 else 'were'} measured"
    return f"The {picks.uniform_asked} most uniform beads cannot be picked: only {measured}."


def no_run(picks: Picks) -> str:
    """Say why no graduated run could be picked."""
    return (
        f"No graduated run of {format_length(picks.strung_asked_mm)}: there are too few beads, they are too "
        "short together, or their sizes differ too little."
    )
