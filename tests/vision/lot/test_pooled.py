"""Which beads of a lot are pooled."""

import numpy as np
from numpy.testing import assert_allclose

from vision.lot.close_up import BeadSizes
from vision.lot.measure import pooled


def bead_of(size_mm: float, u_mm: float, *, measured: bool = True) -> BeadSizes:
    """Return a round bead as measured."""
    return BeadSizes(
        outline_mm=np.zeros((3, 2)),
        centre_mm=np.zeros(3),
        sizes_mm=np.full(2, size_mm),
        u_mm=np.full(2, u_mm),
        unseen_rel_u=0.0,
        height_mm=size_mm,
        traced=measured,
        measured=measured,
    )


def test_a_bead_not_measured_neither_gives_nor_takes() -> None:
    lot = [bead_of(8.0, 0.2)] * 5
    odd = bead_of(3.0, 0.9, measured=False)
    settled = pooled([*lot, odd])
    assert settled[-1] is odd
    assert_allclose(settled[0].sizes_mm, pooled(lot)[0].sizes_mm)


def test_no_beads_pool_to_none() -> None:
    assert pooled([]) == []
