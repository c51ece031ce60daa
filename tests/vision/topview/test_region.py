"""Cells of a bead, and the round element that grows and shrinks them."""

from vision.topview.region import disc


def test_disc_is_round_and_at_least_a_cell_wide() -> None:
    assert disc(0.2).tolist() == [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    assert disc(2.0).sum() == 13  # cells whose middles lie within 2 of the middle one
