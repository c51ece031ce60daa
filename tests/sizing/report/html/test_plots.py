"""Plots and drawings show what was measured, to scale."""

import math

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PathCollection
from matplotlib.patches import Circle, Ellipse

from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.report.html.loop_figure import plot_loop
from sizing.report.html.plots import Dots, Range, SizePlot, plot_sizes, plot_strand
from sizing.report.html.ways import Way, plot_ways
from sizing.strand.advice import advise
from tests.helpers.pages import STRAND, finished_target
from tests.helpers.strands import make_strand

FINE_MM = 1e-9
DRAWN_MM = 1e-3


def drawn_dots(axes: Axes) -> tuple[np.ndarray, np.ndarray]:
    """Sizes, and lower and upper ends of their bars, as drawn."""
    [dots] = [each for each in axes.collections if isinstance(each, PathCollection)]
    bars = next(each for each in axes.collections if isinstance(each, LineCollection))
    ends = np.array([segment[:, 1] for segment in bars.get_segments()])
    return np.asarray(dots.get_offsets())[:, 1], ends


def test_a_strand_is_plotted_with_its_uncertainty() -> None:
    strand = make_strand([6.0, math.nan, 6.2, 6.1], across_mm=[7.0, math.nan, 7.1, 7.2], gap_mm=2.0)
    row, across, along = plot_strand(strand, 500).axes
    for axes, name in ((across, "across"), (along, "along")):
        mm, ends = drawn_dots(axes)
        known = [each for each in strand.beads if not math.isnan(each.along_mm)]
        sizes = np.array([getattr(each, f"{name}_mm") for each in known])
        np.testing.assert_allclose(mm, sizes, atol=FINE_MM)
        np.testing.assert_allclose(ends, sizes[:, None] + [-0.08, 0.08], atol=FINE_MM)
    beads = [each for each in row.patches if isinstance(each, Ellipse)]
    # An unmeasured bead takes the usual size, so that the others keep their places.
    starts = np.cumsum([0.0, 6.0 + 2.0, 6.1, 6.2])
    np.testing.assert_allclose(
        [b.center[0] for b in beads], starts + np.array([3, 3.05, 3.1, 3.05]), atol=FINE_MM
    )
    np.testing.assert_allclose([b.height for b in beads], [7.0, 7.1, 7.1, 7.2], atol=FINE_MM)


@pytest.mark.parametrize("width_pt", [262.0, 570.0])
def test_beads_are_drawn_as_wide_as_long_to_the_same_scale(width_pt: float) -> None:
    figure = plot_strand(make_strand([6.0] * 25), width_pt)
    row = figure.axes[0]
    corners = row.transData.transform([(0, 0), (6, 6)])
    assert corners[1][0] - corners[0][0] == pytest.approx(corners[1][1] - corners[0][1], rel=1e-9)


def test_loose_beads_are_plotted_by_rising_size() -> None:
    dots = Dots(
        mm=np.array([8.0, math.nan, 6.0, 7.0]),
        u95_mm=np.array([0.1, math.nan, 0.2, 0.3]),
        colours=["#111111", "#222222", "#333333", "#444444"],
        hollow=np.zeros(4, dtype=bool),
    )
    allowed = Range(name="label", low_mm=9.5, high_mm=10.5, allowed=True)
    [axes] = plot_sizes(SizePlot(title="Width, mm", dots=dots, ranges=[allowed]), 400).axes
    mm, ends = drawn_dots(axes)
    np.testing.assert_allclose(mm, [6, 7, 8], atol=FINE_MM)
    np.testing.assert_allclose(ends, [[5.8, 6.2], [6.7, 7.3], [7.9, 8.1]], atol=FINE_MM)
    bottom, top = axes.get_ylim()
    assert bottom < 5.8
    assert top > 10.5


@pytest.mark.parametrize(("count", "diameter_mm"), [(22, 8.0), (28, 6.0), (44, 4.0)])
def test_equal_beads_lie_on_their_circle(count: int, diameter_mm: float) -> None:
    # Regular polygon: centres of N touching beads on a circle of radius d / (2 sin(pi / N)).
    piece = Piece(
        beads=(BeadPart(along_mm=diameter_mm, across_mm=diameter_mm),),
        target_mm={"strung": count * diameter_mm},
        findings=(),
    )
    [axes] = plot_loop(make_plan(piece), 262).axes
    centres = np.array([each.center for each in axes.patches if isinstance(each, Ellipse)])
    assert len(centres) == count
    radius_mm = diameter_mm / (2 * math.sin(math.pi / count))
    np.testing.assert_allclose(np.hypot(*centres.T), radius_mm, atol=DRAWN_MM)
    apart = np.hypot(*(centres - np.roll(centres, 1, axis=0)).T)
    np.testing.assert_allclose(apart, diameter_mm, atol=DRAWN_MM)


def test_the_bare_girth_is_drawn_in_scale_and_findings_lie_at_the_top() -> None:
    piece = Piece(beads=(BeadPart(along_mm=8.0, across_mm=8.0),), target_mm={"wrist": 160.0})
    [axes] = plot_loop(make_plan(piece), 262).axes
    [girth] = [each for each in axes.patches if isinstance(each, Circle)]
    assert girth.radius == pytest.approx(160.0 / (2 * math.pi), abs=FINE_MM)
    [finding] = axes.lines
    x, y = (np.asarray(each, dtype=float) for each in finding.get_data())
    assert x.mean() == pytest.approx(0.0, abs=DRAWN_MM)
    assert y.min() > 0


def test_ways_stand_off_the_target_by_their_miss() -> None:
    target = finished_target()
    advice = advise(STRAND, target)
    assert advice.beyond
    ways = [Way(outcome=each, name="", u95_mm=0.4) for each in (advice.best, advice.beyond)]
    [axes] = plot_ways(target, ways, best=ways[0], width_pt=400).axes
    reached = [np.asarray(each.get_offsets())[0, 0] for each in axes.collections]
    # 30 and 29 beads of 6 mm with 22 mm of findings.
    np.testing.assert_allclose(reached, [202.0, 196.0], atol=FINE_MM)
