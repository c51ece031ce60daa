"""Which pieces are wholes: parts are joined where they are likelier one bead than one each."""

import numpy as np
import pytest

from tests.vision.pieces.test_second_look import disc, reading
from vision.pieces import wholes
from vision.pieces.second_look import Whole
from vision.topview.reading import Reading
from vision.topview.region import SURE, Fragment

BEAD, HALF = (24, 24), (24, 12)
NONE, ONE, PART, SEVERAL = np.eye(4) * 0.96 + 0.01
MAYBE = np.array([0.1, 0.7, 0.1, 0.1])


def block(left: int, top: int, size: tuple[int, int] = BEAD) -> Fragment:
    return Fragment(mask=np.ones(size, dtype=bool), corner=(left, top))


def told(monkeypatch: pytest.MonkeyPatch, looks: dict[tuple[int, int], np.ndarray]) -> None:
    """Let the second look say of a piece what is noted under its height and width, else that it is one."""

    def second_look(pieces: list[Fragment], *_: object, **__: object) -> np.ndarray:
        return np.array([looks.get(piece.mask.shape, ONE) for piece in pieces]).reshape(-1, len(Whole))

    monkeypatch.setattr(wholes, "second_look", second_look)


def wholes_of(pieces: list[Fragment], things: list[Fragment] | None = None) -> list[Fragment]:
    seen = reading()
    return wholes.whole_pieces(Reading(top=seen.top, maps=seen.maps, pieces=pieces), things or [])


BEADS = [block(40 * k, 0) for k in range(4)]
HALVES = [block(100, 100, HALF), block(112, 100, HALF)]


def test_two_parts_that_look_like_one_bead_of_the_lot_are_one(monkeypatch: pytest.MonkeyPatch) -> None:
    told(monkeypatch, {HALF: PART})
    found = wholes_of([*BEADS, *HALVES])
    assert [piece.mask.shape for piece in found] == [BEAD] * 5
    assert (found[-1].corner, found[-1].divided) == ((100, 100), False)
    assert found[-1].one == pytest.approx(ONE[Whole.ONE])


@pytest.mark.parametrize(
    ("looks", "halves"),
    [
        ({}, HALVES),
        ({(24, 14): MAYBE, (24, 28): SEVERAL}, [block(100, 100, (24, 14)), block(114, 100, (24, 14))]),
        ({HALF: PART}, [HALVES[0], block(140, 100, HALF)]),
    ],
    ids=["whole ones", "several together", "apart"],
)
def test_others_stay_apart(
    monkeypatch: pytest.MonkeyPatch, looks: dict[tuple[int, int], np.ndarray], halves: list[Fragment]
) -> None:
    told(monkeypatch, looks)
    assert len(wholes_of([*BEADS, *halves])) == 6


def test_four_parts_are_one_bead_and_no_part_is_in_two(monkeypatch: pytest.MonkeyPatch) -> None:
    quarter = (12, 12)
    told(monkeypatch, {quarter: PART, HALF: PART, (12, 24): PART})
    quarters = [block(100 + 12 * x, 100 + 12 * y, quarter) for x in range(2) for y in range(2)]
    found = wholes_of([*BEADS, *quarters])
    assert sum(piece.area for piece in found) == 5 * BEAD[0] * BEAD[1]
    assert found[-1].mask.shape == BEAD


def test_what_looks_like_several_is_a_bead_poorly_separated(monkeypatch: pytest.MonkeyPatch) -> None:
    told(monkeypatch, {(24, 50): SEVERAL, (5, 5): NONE})
    *_, pair, fleck = wholes_of([*BEADS, block(0, 60, (24, 50)), block(0, 120, (5, 5))])
    assert pair.divided
    assert pair.one < SURE < pair.probability
    assert fleck.probability < 1 - SURE


def test_a_thing_is_looked_at_too_and_counts_if_it_looks_like_a_bead(monkeypatch: pytest.MonkeyPatch) -> None:
    coin, gem = block(60, 60, (40, 40)), block(120, 60, (22, 22))
    told(monkeypatch, {coin.mask.shape: NONE})
    assert [piece.corner for piece in wholes_of(BEADS, [coin, gem])[4:]] == [gem.corner]


def test_discs_on_felt_are_beads() -> None:
    discs = [disc(30 + 45 * k, 30 + 35 * row) for k in range(4) for row in range(4)]
    found = wholes.whole_pieces(reading(*discs), [])
    assert len(found) == len(discs)
    assert min(piece.one for piece in found) > SURE


def test_where_nothing_lies_nothing_is_found() -> None:
    assert wholes_of([]) == []
