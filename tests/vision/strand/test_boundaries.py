"""Beads read off maps of strands drawn here: bumps where beads end, and where there is a bead."""

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


@pytest.mark.parametrize("faint", [0.02, 0.2])
def test_on_an_even_strand_a_faint_boundary_is_one(faint: float) -> None:
    spans = row([6.0] * 12)
    height = np.ones(13)
    height[[4, 9]] = faint
    found = beads_on(seen(spans, height=height))
    assert np.array([(s.start_mm, s.end_mm) for s in found]) == pytest.approx(
        np.array(spans), abs=10 * PLACE_TOLERANCE_MM
    )
    assert min(s.clarity for s in found) < 0.5  # and none that is taken for certain


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
