"""Ways to pass a piece, of which every choice of its neighbours leaves one."""

import pytest

from tests.vision.chains.drawn import drawn_map
from tests.vision.chains.test_drawn_tables import seen_of
from vision.chains.ends import ends_of
from vision.chains.likelihood import passages
from vision.chains.links import links_of
from vision.chains.pieces import strung_pieces


@pytest.mark.parametrize("seed", range(4))
def test_where_a_string_goes_on_it_may_also_end(seed: int) -> None:
    """Else a neighbour that takes another way after all leaves none, and all of the strand is lost."""
    drawn = drawn_map(seed)
    seen = seen_of(drawn.kinds)
    pieces = strung_pieces(drawn.fragments, seen)
    ways = passages([p.size_mm for p in pieces], links_of(pieces, seen), ends_of(pieces, seen))
    just_end = {(way.piece, way.links) for way in ways if len(way.links + way.ends) == 1}
    goes_on = {(way.piece, (number,)) for way in ways for number in way.links}
    assert len(goes_on) > len(pieces)
    assert goes_on <= just_end
