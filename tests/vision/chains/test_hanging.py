"""The clasp of a loop and what hangs from it, on views laid by hand."""

import math

import numpy as np
import pytest

from tests.vision.chains.laid import PER_MM, View, ring
from vision.chains.hanging import Clasp, clasp_between
from vision.chains.pieces import strung_pieces
from vision.topview.kinds import Kind

CELL_MM = 1 / PER_MM
CHAIN_MM = 2.0
"""Its ends are soft in the map, and a way may cut across its width."""
BEAD_MM = 5.0
COUNT, MISSING = 24, 4


def loop() -> tuple[View, np.ndarray]:
    """Lay a loop with its clasp at the top; return the place of its ends too."""
    whole = ring(COUNT, (90, 80))
    clasp, beads = whole[:MISSING], whole[MISSING:]
    view = View().line(Kind.FINDING, beads[-1], *clasp, beads[0], wide_mm=1.6).discs(*beads)
    return view, np.array([beads[-1], beads[0]])


def found(view: View, ends: np.ndarray) -> Clasp:
    pieces = strung_pieces(view.fragments, view.seen)
    own = COUNT - MISSING
    return clasp_between(ends, [], view.seen, loop=pieces[:own], free=pieces[own:])


@pytest.mark.parametrize("chain_mm", [12.0, 25.0])
@pytest.mark.parametrize("heading", [-2.0, -1.6, -1.1])
def test_a_bead_hangs_from_the_clasp_on_its_chain(chain_mm: float, heading: float) -> None:
    view, ends = loop()
    x, y = ring(COUNT, (90, 80))[1]
    way = np.array([math.cos(heading), math.sin(heading)])
    start, pin, bead = (np.array([x, y]) + far * way for far in (1.0, chain_mm + 1, chain_mm + 6))
    view.line(Kind.STRING, tuple(pin), tuple(bead)).line(Kind.CHAIN, tuple(start), tuple(pin), wide_mm=2.0)
    view.discs(tuple(bead), wide_mm=BEAD_MM).discs((30, 110))
    hanging = found(view, ends).hanging
    assert hanging is not None
    assert hanging.piece.centre_mm == pytest.approx(bead, abs=CELL_MM)
    assert hanging.chain_mm == pytest.approx(chain_mm, abs=CHAIN_MM)
    assert hanging.way @ -way > math.cos(math.radians(15))


def test_links_that_a_network_takes_for_beads_are_chain() -> None:
    view, ends = loop()
    x, y = ring(COUNT, (90, 80))[1]
    view.line(Kind.STRING, (x, y - 24), (x, y - 30))
    for k in range(6):
        view.discs((x, y - 4.0 - 4.0 * k), wide_mm=4.0)
    view.discs((x, y - 30.5), wide_mm=BEAD_MM)
    hanging = found(view, ends).hanging
    assert hanging is not None
    assert hanging.piece.centre_mm == pytest.approx((x, y - 30.5), abs=CELL_MM)


def test_nothing_hangs_from_a_clasp_where_the_only_other_bead_lies_away() -> None:
    view, ends = loop()
    view.discs((150, 30))
    clasp = found(view, ends)
    assert clasp.hanging is None
    away = np.rint(np.array([30, 150]) * PER_MM).astype(int)
    middle = np.rint(ends.mean(axis=0)[::-1] * PER_MM).astype(int)
    assert clasp.cells[tuple(middle)]
    assert not clasp.cells[tuple(away)]
