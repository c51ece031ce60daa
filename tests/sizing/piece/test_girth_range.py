"""Whom a piece fits."""

import pytest

from sizing.piece.anthropometry import girth_at
from sizing.piece.fit import fit_beads
from sizing.piece.girth_range import GirthRange, girth_range
from sizing.piece.parts import BeadPart, Finding, Kind
from sizing.piece.piece import Piece, target_from_piece

INCH_MM = 25.4
HALF_BEAD_MM = 1.01  # of beads of 2 mm; the inside of a loop grows a little faster than its length
SHARE = 0.01  # of all adults: half a bead more or less


def whom(*, extender: bool = False, ease_mm: float | None = None, **target_mm: float) -> GirthRange | None:
    findings = [Finding(kind=Kind.CLASP, length_mm=20.0)]
    if extender:
        findings.append(Finding(kind=Kind.EXTENDER, length_mm=2 * INCH_MM, link_mm=4.0))
    piece = Piece(
        beads=(BeadPart(along_mm=2, across_mm=2),),
        target_mm=target_mm,
        findings=tuple(findings),
        ease_mm=ease_mm,
    )
    target = target_from_piece(piece)
    assert target is not None
    return girth_range(fit_beads(piece, target)[0], target)


def test_from_loose_to_snug() -> None:
    # Asked for 154 mm, the middle of women's wrists (ANSUR II), with 1/4 in of ease: wrists up to 1/4 in
    # thinner find it loose, up to 1/4 in thicker snug.
    girths = whom(wrist=154.0)
    assert girths is not None
    assert girths.body == "wrist"
    assert girths.low_mm == pytest.approx(154 - INCH_MM / 4, abs=HALF_BEAD_MM)
    assert girths.high_mm == pytest.approx(154 + INCH_MM / 4, abs=HALF_BEAD_MM)
    # Women's P25 is 150 mm, P75 160 mm: over half of them; men's P5 is 162 mm: few.
    assert 0.5 < dict(girths.shares)["women"] < 0.75
    assert dict(girths.shares)["men"] < 0.05


def test_an_extender_widens_the_range() -> None:
    short, long = whom(wrist=154.0), whom(wrist=154.0, extender=True)
    assert short is not None
    assert long is not None
    assert long.high_mm - short.high_mm > 46
    assert dict(long.shares)["men"] > 0.8


def test_a_loose_wish_is_not_too_loose() -> None:
    girths = whom(ankle=215.0, ease_mm=30.0)
    assert girths is not None
    assert girths.low_mm == pytest.approx(215.0, abs=HALF_BEAD_MM)


def test_a_necklace_may_hang_loose_on_anyone() -> None:
    girths = whom(neck=girth_at("neck", "women", percent=95), ease_mm=0.0)
    assert girths is not None
    assert girths.low_mm == 0
    assert dict(girths.shares)["women"] == pytest.approx(0.95, abs=SHARE)


@pytest.mark.parametrize(("finished_mm", "body"), [(180.0, "wrist"), (240.0, "ankle"), (406.4, "neck")])
def test_a_length_alone_is_taken_for_what_it_may_be(finished_mm: float, body: str) -> None:
    girths = whom(finished=finished_mm)
    assert girths is not None
    assert girths.body == body


def test_a_doll_s_bracelet_fits_no_adult() -> None:
    assert whom(finished=90.0) is None
