"""Estimates the weights of `vision.chains.likelihood` anew, on drawn tables.

python -m tests.vision.chains.weights --tables 150 --rounds 14

Papandreou and Yuille (2011): Gumbel noise is added to every way to pass a piece, and to its lying loose. The
best answer is then a random one. The weights move until random answers show the same evidence as true ones.
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from tests.vision.chains.drawn import DrawnMap, drawn_map
from tests.vision.chains.test_drawn_tables import seen_of
from vision.chains import likelihood
from vision.chains.ends import ends_of
from vision.chains.likelihood import passages
from vision.chains.links import links_of
from vision.chains.pieces import strung_pieces
from vision.chains.programme import Programme

NAMES = ("_STRUNG", "_LINK", "_GAP", "_BARE", "_TURN", "_CROWDED", "_NOTHING")
KINDS = tuple(likelihood._ENDS)  # noqa: SLF001 - what is estimated here is private there
FIRST = 1000
"""Number of the first table: others are tested on."""
STEP = 0.5
"""Of the first round; later ones are smaller (AdaGrad, Duchi et al. 2011)."""


@dataclass(frozen=True)
class Sample:
    """A table: all ways to pass its pieces, the evidence of each, shape (P, W), and which are true."""

    programme: Programme
    evidence: np.ndarray
    true: list[list[int]]


def set_weights(weights: np.ndarray) -> None:
    for name, weight in zip(NAMES, weights, strict=False):
        setattr(likelihood, name, float(weight))
    likelihood._ENDS.update(zip(KINDS, map(float, weights[len(NAMES) :]), strict=True))  # noqa: SLF001


def get_weights() -> np.ndarray:
    return np.array([*(getattr(likelihood, name) for name in NAMES), *likelihood._ENDS.values()])  # noqa: SLF001


def sample(drawn: DrawnMap) -> Sample | None:
    """Return a table with its evidence; None where a true link is no candidate."""
    seen = seen_of(drawn.kinds)
    pieces = strung_pieces(drawn.fragments, seen)
    links, ends = links_of(pieces, seen), ends_of(pieces, seen)
    columns = []
    sizes = [piece.size_mm for piece in pieces]
    for unit in np.eye(len(NAMES) + len(KINDS)):
        set_weights(unit)  # log-odds are linear in the weights
        columns.append([passage.log_odds for passage in passages(sizes, links, ends)])
    programme = Programme(passages=passages(sizes, links, ends), links=links)
    whose = {id(f): owner for f, owner in zip(drawn.fragments, drawn.owners, strict=True)}
    number = {whose[id(piece.fragment)]: k for k, piece in enumerate(pieces)}
    between = {link.pieces: k for k, link in enumerate(links)}
    true = []
    for strung in drawn.strings:
        order = [number[owner] for owner in strung.owners.tolist() if owner in number]
        pairs = list(zip(order, order[1:] + order[:1] * strung.closed, strict=False))
        used = [between.get((min(pair), max(pair)), -1) for pair in pairs]
        for piece in order:
            own = {k for k, pair in zip(used, pairs, strict=True) if piece in pair}
            true.append(
                [
                    k
                    for k, way in enumerate(programme.passages)
                    if way.piece == piece and set(way.links) == own and not way.hangs
                ]
            )
    return Sample(programme, np.array(columns).T, true) if all(true) and len(columns[0]) else None


def answers(one: Sample, weights: np.ndarray, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return the evidence of the true answer and of a random one."""
    ways = one.programme.passages
    loose = rng.gumbel(size=1 + max(way.piece for way in ways))
    odds = one.evidence @ weights + rng.gumbel(size=len(ways)) - loose[[way.piece for way in ways]]
    noisy = [replace(way, log_odds=float(worth)) for way, worth in zip(ways, odds, strict=True)]
    index = {id(way): k for k, way in enumerate(noisy)}
    best = replace(one.programme, passages=noisy).best()
    true = [max(same, key=lambda k: odds[k]) for same in one.true]
    drawn = [index[id(way)] for way in best]
    return one.evidence[true].sum(axis=0), one.evidence[drawn].sum(axis=0)


def estimated(samples: list[Sample], weights: np.ndarray, rounds: int) -> Iterator[np.ndarray]:
    """Return the weights after each round."""
    rng, squares = np.random.default_rng(0), np.ones(len(weights))
    for _ in range(rounds):
        for k in rng.permutation(len(samples)):
            true, drawn = answers(samples[k], weights, rng)
            step = (true - drawn) / np.sqrt(len(samples[k].true) + 1)
            squares += step**2
            weights = weights + STEP * step / np.sqrt(squares)
        yield weights


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tables", type=int, default=150)
    parser.add_argument("--rounds", type=int, default=14)
    given = parser.parse_args()
    start = get_weights()
    likelihood._HOPELESS = np.inf  # noqa: SLF001
    tables = (sample(drawn_map(seed)) for seed in range(FIRST, FIRST + given.tables))
    samples = [one for one in tables if one is not None]
    found = list(estimated(samples, start, given.rounds))
    settled = np.mean(found[1:] or found, axis=0)
    for name, weight in zip((*NAMES, *(kind.name for kind in KINDS)), settled, strict=True):
        print(f"{name} {weight:.2f}")


if __name__ == "__main__":
    main()
