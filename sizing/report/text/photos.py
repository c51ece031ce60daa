"""The photos of a text report: their letters, beads to check, how they were measured."""

from collections import Counter
from collections.abc import Mapping

from sizing.lot.bead_names import photo_letters
from sizing.report.sentences.conditions import (
    CHECK_FIRST,
    condition_remarks,
    condition_sentence,
    scale_warnings,
)
from sizing.report.sentences.flagged import CHECK_THESE
from sizing.report.sentences.phrases import counted
from sizing.report.text.layout import aligned, section
from vision.common.conditions import Conditions
from vision.common.flags import DESCRIPTIONS
from vision.common.records import Lot


def scale_lines(photos: tuple[Conditions, ...]) -> list[str]:
    """Say first why the scale of the photos is not certain, and by which options to make it so."""
    options = []
    if not all(each.check_length_given for each in photos):
        options = ["On the command line: --check-length LENGTH, or once strandgauge sheet --measure PHOTO."]
    return section(CHECK_FIRST, [*scale_warnings(photos), *options])


def photo_lines(lot: Lot) -> list[str]:
    """List the photos with their letters, where there are several."""
    letters = photo_letters(lot)
    count = Counter(bead.photo for bead in lot.beads)
    said = {each.photo: "left out" for each in lot.left_out}
    return aligned(
        (letter, photo, said.get(photo, counted(count[photo], "bead"))) for photo, letter in letters.items()
    )


def flag_lines(flagged: Mapping[str, str]) -> list[str]:
    """List who carries a flag, and what each flag means.

    Parameters
    ----------
    flagged : mapping
        Who carries it, by the flag's word.
    """
    return section(CHECK_THESE, (f"{who}: {DESCRIPTIONS[word]} ({word})" for word, who in flagged.items()))


def condition_lines(photos: tuple[Conditions, ...], letters: Mapping[str, str]) -> list[str]:
    """Say how the photos were measured and what would make them better, each remark once."""
    measured = []
    for each in photos:
        letter = letters.get(each.photo)
        measured.append((f"{letter}: " if letter else "") + condition_sentence(each))
    remarks = dict.fromkeys(remark for each in photos for remark in condition_remarks(each))
    return section("How it was measured", [*measured, *remarks])
