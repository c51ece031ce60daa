"""A lot against its label, as text: the verdict, what the beads really are, which of them differ."""

from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.conformity import OUTCOMES
from sizing.lot.sizes import unmeasured
from sizing.report.sentences.check import CheckedLot, check_headline, check_notes
from sizing.report.sentences.corrections import CORRECTED_BY_HAND, lot_corrections
from sizing.report.sentences.flagged import lot_flagged
from sizing.report.sentences.phrases import counted
from sizing.report.sentences.trust import TRUST, check_trust
from sizing.report.text.layout import joined, section
from sizing.report.text.photos import condition_lines, flag_lines, photo_lines, scale_lines


def check_text(checked: CheckedLot) -> str:
    """Return whether a lot is what its label says, the verdict first."""
    letters = photo_letters(checked.lot)
    return joined(
        [
            scale_lines(checked.lot.conditions),
            section(check_headline(checked), check_notes(checked)) or [check_headline(checked)],
            photo_lines(checked.lot),
            _bead_lines(checked, letters),
            _label_lines(checked),
            section(CORRECTED_BY_HAND, lot_corrections(checked.lot)),
            flag_lines(lot_flagged(checked.lot)),
            condition_lines(checked.lot.conditions, letters),
            section(TRUST, check_trust()),
        ]
    )


def _label_lines(checked: CheckedLot) -> list[str]:
    """Say how the label was read and what it allows."""
    label = checked.label
    limits = " and ".join(f"{each.low_mm:g} to {each.high_mm:g} mm" for each in label.stated)
    lines = [f"limits: {limits} ({label.basis})", f"read as: {checked.conformity.reading}"]
    return section(f"What the label {label.text} means", lines)


def _bead_lines(checked: CheckedLot, letters: dict[str, str]) -> list[str]:
    """List the beads by decision, the worst first."""
    conformity = checked.conformity
    decided = list(zip(conformity.beads, conformity.decisions, strict=True))
    groups = [
        (word, [bead for bead, each in decided if each == decision]) for decision, word in OUTCOMES.items()
    ]
    groups.append(("not measured", list(unmeasured(checked.lot))))
    lines = [
        f"{word}, {counted(len(beads), 'bead')}: {bead_list(beads, letters)}"
        for word, beads in groups
        if beads
    ]
    return section("Bead by bead", lines)
