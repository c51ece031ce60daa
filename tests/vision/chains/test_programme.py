"""The integer programme against trying all answers."""

import itertools

import numpy as np
import pytest

from vision.chains.likelihood import Passage
from vision.chains.links import Link
from vision.chains.programme import Programme

ROUNDING = 1e-6
PIECES = 4


def drawn(rng: np.random.Generator) -> Programme:
    """Draw log-odds for the ways to pass five pieces, any two of which may follow each other."""
    pairs = list(itertools.combinations(range(PIECES), 2))
    links = [Link(pieces=pair, ways=np.zeros((2, 2)), gap=0.0, bridged=0.0, clasp=0.0) for pair in pairs]
    passages = []
    for piece in range(PIECES):
        own = [number for number, pair in enumerate(pairs) if piece in pair]
        uses = [*itertools.combinations(own, 1), *itertools.combinations(own, 2)]
        odds = rng.normal(-0.5, 2.0, len(uses))
        passages += [
            Passage(piece=piece, links=use, ends=(), log_odds=float(one))
            for use, one in zip(uses, odds, strict=True)
        ]
    return Programme(passages=passages, links=links)


def all_answers(programme: Programme) -> list[tuple[Passage, ...]]:
    """Return all ways to choose passages so that both pieces of a link use it, or neither."""
    ways = [[None, *(p for p in programme.passages if p.piece == piece)] for piece in range(PIECES)]
    found = []
    for chosen in itertools.product(*ways):
        used = tuple(passage for passage in chosen if passage is not None)
        count = np.bincount([number for passage in used for number in passage.links], minlength=1)
        if np.isin(count, (0, 2)).all():
            found.append(used)
    return found


def worth(answer: tuple[Passage, ...]) -> float:
    return sum(passage.log_odds for passage in answer)


@pytest.mark.parametrize("seed", range(6))
def test_no_answer_is_better(seed: int) -> None:
    programme = drawn(np.random.default_rng([seed, 5]))
    best = programme.best()
    assert best
    assert worth(best) == pytest.approx(max(map(worth, all_answers(programme))), abs=ROUNDING)


def test_nothing_to_choose_from_is_no_answer() -> None:
    assert Programme(passages=[], links=[]).best() == ()
