"""Beads read off maps of strands drawn here: bumps where beads end, and where there is a bead."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pytest

from vision.common.records import FloatArray
from vision.strand.boundaries import beads_on
from vision.strand.strand_map import StrandMap

CELL_MM = 0.15
BUMP_CELLS = 1.5
PLACE_TOLERANCE_MM = 0.04
SURE = 0.9
BEFORE_MM = 6.0


def seen(spans: list[tuple[float, float]], *, height: FloatArray | float = 1.0) -> StrandMap:
    """Draw what a network would say of beads from and to these places, mm; `height` is each bump's."""
    ends = np.unique(np.array(spans).ravel())
    cells = np.arange(round((ends[-1] + BEFORE_MM) / CELL_MM))
    at = cells * CELL_MM
    bumps = np.exp(-0.5 * ((cells[:, None] - ends / CELL_MM) / BUMP_CELLS) ** 2) * height
    inside = np.zeros(len(cells))
    for first, last in spans:
        inside[(at >= first) & (at <= last)] = 1.0
    between = np.clip(inside, 0.001, 0.999).astype(np.float32)
    return StrandMap(
        cell_mm=CELL_MM,
        inside=np.tile(between, (128, 1)),
        ends=np.clip(bumps.max(axis=1), 0.0005, 0.9995).astype(np.float32),
        between=between,
        across_log=np.zeros_like(between),
        across_u_log=np.ones_like(between),
    )


def row(lengths: list[float], gaps: list[float] | None = None) -> list[tuple[float, float]]:
    """Return where beads of these lengths begin and end, with gaps after each."""
    steps = np.ravel(list(zip(lengths, gaps or [0.0] * len(lengths), strict=True)))
    edges = BEFORE_MM + np.concatenate([[0.0], np.cumsum(steps)])
    return [(float(a), float(b)) for a, b in edges[:-1].reshape(-1, 2)]


def places(of: StrandMap) -> FloatArray:
    return np.array([(s.start_mm, s.end_mm) for s in beads_on(of)])


@pytest.mark.parametrize(
    ("lengths", "gaps"),
    [
        ([6.03] * 9, None),
        ([3.1, 8.2, 3.1, 5.47, 11.3, 2.2], None),
        ([6.0] * 6, [0.0, 1.5, 0.0, 9.0, 0.7, 0.0]),
        ([4.0], None),
        ([4.0, 7.0], [3.0, 0.0]),
    ],
)
def test_beads_are_found_where_they_are(lengths: list[float], gaps: list[float] | None) -> None:
    spans = row(lengths, gaps)
    assert places(seen(spans)) == pytest.approx(np.array(spans), abs=PLACE_TOLERANCE_MM)
    assert min(s.clarity for s in beads_on(seen(spans))) > SURE


@pytest.mark.parametrize(("faint", "clarity"), [(0.02, 0.95), (0.2, 0.995)])
def test_on_an_even_strand_a_faint_boundary_is_one(faint: float, clarity: float) -> None:
    spans = row([6.0] * 12)
    height = np.ones(13)
    height[[4, 9]] = faint
    found = beads_on(seen(spans, height=height))
    assert np.array([(s.start_mm, s.end_mm) for s in found]) == pytest.approx(
        np.array(spans), abs=10 * PLACE_TOLERANCE_MM
    )
    assert min(s.clarity for s in found) < clarity  # the fainter, the less certain


@pytest.mark.parametrize("length", [3.0, 9.0, 12.0])
def test_a_bead_that_really_differs_is_not_hidden(length: float) -> None:
    spans = row([6.0] * 5 + [length] + [6.0] * 6)
    assert places(seen(spans)) == pytest.approx(np.array(spans), abs=PLACE_TOLERANCE_MM)


def test_no_bead_is_invented_in_a_gap() -> None:
    spans = row([6.0] * 8, [0.0, 0.0, 0.0, 6.0, 0.0, 0.0, 0.0, 0.0])
    assert places(seen(spans)) == pytest.approx(np.array(spans), abs=PLACE_TOLERANCE_MM)


def test_nothing_is_found_on_a_bare_string() -> None:
    bare = np.full(400, 0.001, np.float32)
    layers = dict.fromkeys(("ends", "between", "across_log", "across_u_log"), bare)
    assert beads_on(StrandMap(cell_mm=CELL_MM, inside=bare[None], **layers)) == []


def test_two_marks_of_one_joint_are_no_bead() -> None:
    """A joint marked twice, two cells apart: a bead as short as that is none."""
    spans = [(6.0, 12.0), (12.0 + 2 * CELL_MM, 18.0)]
    assert len(beads_on(seen([spans[0], (12.0, 12.0 + 2 * CELL_MM), spans[1]]))) == 2


@pytest.mark.parametrize(("wide_mm", "count"), [(0.5, 2), (1.0, 3)])
def test_what_is_no_wider_than_a_string_is_no_bead(wide_mm: float, count: int) -> None:
    """The smallest bead is 1.5 mm wide; a thick wire has half of that."""
    spans = [(6.0, 12.0), (12.0, 15.0), (15.0, 21.0)]
    network = seen(spans)
    at = np.arange(network.inside.shape[1]) * CELL_MM
    inside = network.inside.copy()
    inside[round(wide_mm / CELL_MM) :, (at >= spans[1][0]) & (at <= spans[1][1])] = 0.0
    assert len(beads_on(replace(network, inside=inside))) == count


HINT, FAINTEST, LEAST = 0.06, 0.002, 0.0005
CELL_WEIGHT, PRICE, PEAK_CELLS, SHORTEST_CELLS = 1 / 6, 0.5, 3, 3.0
BEAD_CANDIDATES = 24


@dataclass(frozen=True, kw_only=True)
class Slow:
    """The likeliest division by recursion over every last stretch, in plain Python, from its definition."""

    ends: list[float]
    between: list[float]
    at: list[float]
    height: list[float]
    even: tuple[float, float] | None = None

    @classmethod
    def of(cls, network: StrandMap, *, hint: float, even: tuple[float, float] | None = None) -> "Slow":
        """Take every peak as a candidate, and on an even strand places an eighth of a bead apart between."""
        ends, between = (
            [float(v) for v in layer] for layer in (network.ends, np.clip(network.between, LEAST, 1 - LEAST))
        )
        found = [(0.0, 0.5), (len(ends) - 1.0, 0.5)]
        for k, v in enumerate(ends):
            before, after = ends[k - 1] if k else 0.0, ends[k + 1] if k + 1 < len(ends) else 0.0
            if v >= before and v > after and v > hint:
                found.append((cls.centroid(ends, k), v))
        found.sort()
        if even is not None:
            step = even[0] / 8
            for (a, _), (b, _) in itertools.pairwise(list(found)):
                place = a + 3 * step
                while place < b - 2 * step:
                    cell = min(int(place), len(ends) - 2)
                    found.append((place, ends[cell] + (place - cell) * (ends[cell + 1] - ends[cell])))
                    place += step
        found.sort()
        at, height = zip(*found, strict=True)
        clipped = [min(max(v, LEAST), 1 - LEAST) for v in height]
        return cls(ends=ends, between=between, at=list(at), height=clipped, even=even)

    @staticmethod
    def centroid(ends: list[float], peak: int) -> float:
        """Return the centroid of what falls off to both sides of a peak."""
        weights = {0: ends[peak]}
        for side in (-1, 1):
            for k in range(1, PEAK_CELLS + 1):
                cell = min(max(peak + side * k, 0), len(ends) - 1)
                weights[side * k] = min(weights[side * (k - 1)], ends[cell])
        return peak + sum(k * w for k, w in weights.items()) / sum(weights.values())

    def cells(self, first: int, last: int, *, bead: bool) -> float:
        """Return the log likelihood of the cells of a stretch; a cell reaches half a cell to either side."""
        cells = np.arange(len(self.between))
        low, high = np.maximum(self.at[first], cells - 0.5), np.minimum(self.at[last], cells + 0.5)
        likely = np.array(self.between) if bead else 1 - np.array(self.between)
        return CELL_WEIGHT * float(np.maximum(high - low, 0.0) @ np.log(likely))

    def worth(self, first: int, last: int, *, bead: bool) -> float:
        """Return the log likelihood of one stretch that ends in a candidate."""
        length = self.at[last] - self.at[first]
        if bead and length < SHORTEST_CELLS:
            return -math.inf
        passed = sum(math.log(1 - self.height[k]) for k in range(first + 1, last))
        total = self.cells(first, last, bead=bead) + passed + math.log(self.height[last])
        if bead and self.even is not None:
            over, scatter = length / self.even[0], self.even[1]
            total -= max(1.0, over) * PRICE * math.log1p(((over - 1) / scatter) ** 2 / 2)
        return total

    def spans(self) -> list[tuple[int, int]]:
        """Return the beads, as pairs of candidates."""
        best: list[tuple[float, list[tuple[int, int]]]] = [(0.0, [])]
        for k in range(1, len(self.at)):
            options = [
                (best[j][0] + self.worth(j, k, bead=bead), best[j][1] + [(j, k)] * bead)
                for j in range(max(k - BEAD_CANDIDATES, 0), k)
                for bead in (False, True)
            ]
            best.append(max(options, key=lambda option: option[0]))
        return best[-1][1]

    def divisions(self, last: int) -> Iterator[tuple[float, list[tuple[int, int]]]]:
        """Yield the log likelihood and the beads of every division up to a candidate."""
        if last == 0:
            yield 0.0, []
        for first in range(last):
            for before, spans in self.divisions(first):
                for bead in (False, True):
                    yield before + self.worth(first, last, bead=bead), spans + [(first, last)] * bead

    def clarity(self, span: tuple[int, int]) -> float:
        """Return the share of all divisions, by likelihood, with a bead within a quarter of its length."""
        (start, stop), total, same = (self.at[k] for k in span), 0.0, 0.0
        near = (stop - start) / 4
        for log_likelihood, spans in self.divisions(len(self.at) - 1):
            total += math.exp(log_likelihood)
            off = [max(abs(self.at[i] - start), abs(self.at[j] - stop)) for i, j in spans]
            same += math.exp(log_likelihood) * (min(off, default=math.inf) < near)
        return same / total


def drawn_at_random(seed: int, *, even: bool) -> StrandMap:
    """Draw a map of beads whose ends and insides are more or less clear."""
    rng = np.random.default_rng(seed)
    count = 14 if even else 7
    lengths = rng.normal(3.0, 0.06, count) if even else rng.uniform(0.6, 4.0, count)
    gaps = rng.choice([0.0, 0.0, 1.4], count)
    network = seen(row(list(lengths), list(gaps)), height=rng.uniform(0.03, 1.0, 1))
    noise = rng.uniform(0.0, 1.0, (2, len(network.ends)))
    ends = np.clip(network.ends * (0.3 + 0.7 * noise[0]) + 0.02 * noise[1], 0.0, 1.0)
    between = np.clip(0.1 + 0.8 * network.between + 0.3 * (noise[1] - 0.5), 0.0, 1.0)
    return replace(network, ends=ends.astype(np.float32), between=between.astype(np.float32))


@pytest.mark.parametrize("even", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_the_division_is_the_likeliest_of_all(seed: int, even: bool) -> None:  # noqa: FBT001
    network = drawn_at_random(seed, even=even)
    slow = Slow.of(network, hint=HINT)
    spans = slow.spans()
    lengths = [slow.at[j] - slow.at[i] for i, j in spans]
    typical = float(np.median(lengths)) if lengths else 0.0
    scatter = 1.4826 * float(np.median(np.abs(np.array(lengths) / typical - 1))) if lengths else 1.0
    if len(lengths) >= 5 and scatter < 0.1:
        slow = Slow.of(network, hint=FAINTEST, even=(typical, max(scatter, 0.03)))
        spans = slow.spans()
    found = beads_on(network)
    expected = [(slow.at[i] * CELL_MM, slow.at[j] * CELL_MM) for i, j in spans]
    assert [(s.start_mm, s.end_mm) for s in found] == [pytest.approx(e, abs=1e-5) for e in expected]


@pytest.mark.parametrize("joint", [0.3, 0.5, 0.9])
def test_clarity_is_the_share_of_all_divisions_that_agree(joint: float) -> None:
    """All of them, counted one by one: a strand of four beads, the second joint of which is faint."""
    height = np.array([0.9, 0.8, joint, 0.7, 0.95])
    network = seen(row([3.0, 3.4, 2.6, 3.1]), height=height)
    network = replace(network, between=np.clip(network.between, 0.2, 0.8))
    slow, found = Slow.of(network, hint=HINT), beads_on(network)
    spans = slow.spans()
    expected = [slow.clarity(span) for span in spans]
    expected[0] = min(expected[0], slow.height[spans[0][0]])  # what begins or ends a strand has no rival
    expected[-1] = min(expected[-1], slow.height[spans[-1][1]])
    assert [bead.clarity for bead in found] == pytest.approx(expected, abs=1e-6)
    assert min(expected) < SURE


@pytest.mark.parametrize(("height", "found"), [(0.065, True), (0.055, False)])
def test_a_faint_end_counts_from_a_hint_on(height: float, found: bool) -> None:  # noqa: FBT001
    """The end of a bead before free string: unless it counts, the bead has another end or none."""
    network = seen([(6.0, 9.0), (12.0, 15.0)], height=np.array([1.0, height, 1.0, 1.0]))
    first = beads_on(network)[0]
    assert (abs(first.end_mm - 9.0) < PLACE_TOLERANCE_MM) == found
