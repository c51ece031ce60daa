"""The closed piece drawn to scale, as seen along the wrist."""

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Ellipse

from sizing.base.loop import Link
from sizing.base.target import TargetKind
from sizing.base.units import format_length, format_pair
from sizing.piece.parts import BeadPart
from sizing.piece.plan import Plan
from sizing.report.html.page import Drawing
from sizing.report.html.svg import ACCENT, BEADS, INK, QUIET, small_drawing
from vision.common.records import FloatArray

_ROOM = 1.04
_LEAST_FINDING_MM = 1.6


def bead_colour(kind: int) -> str:
    """Return the CSS colour of a kind of bead, by its position in the tally."""
    return f"var(--bead-{kind % len(BEADS) + 1})"


def loop_drawing(plan: Plan) -> Drawing:
    """Draw a piece closed on the extender's first link, with its inside length."""
    inside = format_length(plan.best.inner_girth_mm)
    bare = f" The dashed line is the bare {plan.target.body}." if _is_girth(plan) else ""
    return small_drawing(
        lambda width: plot_loop(plan, width),
        "loop",
        alt=f"The closed piece to scale: {plan.best.count} beads, inside length {inside}.",
        caption=f"The closed piece, to scale.{bare}",
    )


def plot_loop(plan: Plan, width_pt: float) -> Figure:
    """Draw beads and findings around the largest cylinder that fits inside; the findings at the top."""
    links = [*(bead.link for bead in plan.best.sequence), *plan.target.findings]
    radii, angles = _places(links, plan.best.inner_girth_mm)
    angles += math.pi / 2 - (angles[plan.best.count - 1] + 2 * math.pi) / 2
    reach = _ROOM * max(radius + link.across_mm / 2 for radius, link in zip(radii, links, strict=True))
    figure = Figure(figsize=(width_pt / 72, width_pt / 72))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    kinds = [bead for bead, _ in plan.best.tally]
    strung = zip(plan.best.sequence, radii, angles, strict=False)
    for bead, radius, angle in strung:
        _draw_bead(axes, bead, at=(radius, angle), colour=BEADS[kinds.index(bead) % len(BEADS)])
    for link, radius, angle in list(zip(links, radii, angles, strict=True))[plan.best.count :]:
        _draw_finding(axes, link, at=(radius, angle), pt_per_mm=width_pt / (2 * reach))
    if _is_girth(plan):
        bare_mm = plan.target.length_mm / (2 * math.pi)
        axes.add_patch(Circle((0, 0), bare_mm, fill=False, edgecolor=ACCENT, linestyle=(0, (3, 3))))
    _name_inside(axes, plan.best.inner_girth_mm)
    return figure


def _draw_bead(axes: Axes, bead: BeadPart, *, at: tuple[float, float], colour: str) -> None:
    """Draw a bead at a distance from the axis and in a direction, rad."""
    radius, angle = at
    axes.add_patch(
        Ellipse(
            (radius * math.cos(angle), radius * math.sin(angle)),
            bead.along_mm,
            bead.across_mm,
            angle=math.degrees(angle) + 90,
            facecolor=colour,
            edgecolor=INK,
            linewidth=0.5,
        )
    )


def _draw_finding(axes: Axes, link: Link, *, at: tuple[float, float], pt_per_mm: float) -> None:
    radius, angle = at
    half = link.along_mm / (2 * radius)
    turn = np.linspace(angle - half, angle + half, 24)
    thick_mm = max(link.across_mm, _LEAST_FINDING_MM)
    axes.plot(
        radius * np.cos(turn),
        radius * np.sin(turn),
        color=QUIET,
        linewidth=thick_mm * pt_per_mm,
        solid_capstyle="butt",
    )


def _name_inside(axes: Axes, inside_mm: float) -> None:
    first, second = format_pair(inside_mm)
    lines = (("inside", 9, 16, QUIET), (first, 14, -2, INK), (second, 9, -17, QUIET))
    for text, size, up, colour in lines:
        axes.annotate(
            text, (0, 0), (0, up), textcoords="offset points", ha="center", fontsize=size, color=colour
        )


def _is_girth(plan: Plan) -> bool:
    return plan.target.kind is TargetKind.GIRTH


def _places(links: Sequence[Link], inner_girth_mm: float) -> tuple[FloatArray, FloatArray]:
    """Return the distance of each part's centre from the axis, and the direction in which it lies, rad.

    The full turn is divided by the angles that the lengths of neighbours fill: exact for equal beads, and
    not visibly wrong for others.
    """
    long = np.array([link.along_mm for link in links])
    # Too few parts for a ring are drawn around a small circle.
    inner = max(inner_girth_mm, float(long.sum()) / 20) / (2 * math.pi)
    radii = inner + np.array([link.across_mm for link in links]) / 2
    after = np.roll(radii, -1)
    steps = (long + np.roll(long, -1)) / (radii + after)
    turn = np.concatenate(([0.0], np.cumsum(steps))) * 2 * math.pi / steps.sum()
    return radii, turn[:-1]
