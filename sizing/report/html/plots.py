"""Measured sizes as plots, along the string or from the smallest up, each with its uncertainty."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse
from matplotlib.ticker import MaxNLocator

from sizing.report.html.svg import ACCENT, BAND, PAPER, QUIET, WARNING, stacked
from vision.common.records import FloatArray, Strand

_LEFT_PT, _RIGHT_PT, _NAMES_PT = 26.0, 4.0, 66.0
_PANEL_PT, _TALL_PANEL_PT = 78.0, 170.0
_TALLEST_BEAD_PT = 40.0
_ROW_HALF = 0.55  # of the thickest bead: half the row that beads are drawn in
_LINE_PT = 11.0
# An axis spans at least this share of the sizes, so that a small uncertainty does not look large.
_LEAST_SPAN = 0.12
_NUMBERS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Dots:
    """Sizes to draw, one a bead.

    Attributes
    ----------
    mm, u95_mm : ndarray, shape (N,)
        NaN for a bead without a size, which is left out.
    colours : sequence of str, length N
    hollow : ndarray, shape (N,), bool
        Flagged beads, drawn as rings.
    """

    mm: FloatArray
    u95_mm: FloatArray
    colours: Sequence[str]
    hollow: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A range of sizes to compare beads with: a class, or the limits of a label.

    Attributes
    ----------
    name : str
    low_mm, high_mm : float
    allowed : bool
        Drawn as a band; otherwise the limits are drawn as lines.
    """

    name: str
    low_mm: float
    high_mm: float
    allowed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SizePlot:
    """Sizes of loose beads to plot.

    Attributes
    ----------
    title : str
    dots : Dots
    ranges : sequence of Range
    """

    title: str
    dots: Dots
    ranges: Sequence[Range] = ()


def plot_strand(strand: Strand, width_pt: float) -> Figure:
    """Draw a strand to scale in its own colours, and below it the size of each bead across and along."""
    start, along, across = _laid_out(strand)
    room_pt = width_pt - _LEFT_PT - _RIGHT_PT
    # A few large beads are not blown up to the full width: the strand then ends before the edge.
    span_mm = max(float(start[-1] + along[-1]), room_pt * float(across.max()) / _TALLEST_BEAD_PT)
    row_pt = 2 * _ROW_HALF * float(across.max()) * room_pt / span_mm
    heights = (row_pt, _PANEL_PT, _PANEL_PT)
    figure, panels = stacked(width_pt, heights, left_pt=_LEFT_PT, right_pt=_RIGHT_PT)
    for axes in panels:
        axes.set_xlim(0, span_mm)
    _draw_row(panels[0], strand, start=start, along=along, across=across)
    for axes, way in zip(panels[1:], ("across", "along"), strict=True):
        _draw_dots(axes, _strand_dots(strand, way), at=start + along / 2)
        _title(axes, f"{way.capitalize()} the string, mm")
        axes.set_xticks([])
    panels[1].spines["bottom"].set_visible(False)
    _number(panels[-1], start + along / 2, first=strand.beads[0].number)
    return figure


def plot_sizes(plot: SizePlot, width_pt: float) -> Figure:
    """Draw the sizes of loose beads from the smallest to the largest, with classes or a label's limits."""
    dots = plot.dots
    known = np.flatnonzero(np.isfinite(dots.mm))
    order = known[np.argsort(dots.mm[known], kind="stable")]
    figure, [axes] = stacked(
        width_pt, (_TALL_PANEL_PT,), left_pt=_LEFT_PT, right_pt=_NAMES_PT if plot.ranges else _RIGHT_PT
    )
    ordered = Dots(
        mm=dots.mm[order],
        u95_mm=dots.u95_mm[order],
        colours=[dots.colours[i] for i in order],
        hollow=dots.hollow[order],
    )
    _draw_dots(axes, ordered, at=np.arange(len(order), dtype=float))
    _title(axes, plot.title)
    axes.set_xlim(-1, max(len(order), 1))
    _draw_ranges(axes, plot.ranges)
    axes.set_xticks([])
    axes.set_xlabel(f"{len(order)} bead{'' if len(order) == 1 else 's'}, from the smallest to the largest")
    return figure


def _laid_out(strand: Strand) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return where each bead begins on the string, its length and its width; the median if unmeasured."""
    sizes = np.array([(bead.along_mm, bead.across_mm) for bead in strand.beads], dtype=float)
    found = sizes[np.isfinite(sizes).all(axis=1)]
    usual = np.median(found, axis=0) if len(found) else np.ones(2)
    along, across = np.where(np.isfinite(sizes), sizes, usual).T
    gaps = np.array([bead.gap_after_mm for bead in strand.beads])
    return np.concatenate(([0.0], np.cumsum(along + gaps)[:-1])), along, across


def _strand_dots(strand: Strand, way: str) -> Dots:
    mm, u95_mm = (
        np.array([getattr(bead, f"{way}_{what}") for bead in strand.beads], dtype=float)
        for what in ("mm", "u95_mm")
    )
    flagged = np.array([bool(bead.flags) for bead in strand.beads])
    return Dots(
        mm=mm, u95_mm=u95_mm, colours=[WARNING if each else ACCENT for each in flagged], hollow=flagged
    )


def _draw_row(
    axes: Axes, strand: Strand, *, start: FloatArray, along: FloatArray, across: FloatArray
) -> None:
    """Draw the beads on their string; flagged ones with a coloured rim."""
    axes.set_axis_off()
    axes.set_ylim(-_ROW_HALF * float(across.max()), _ROW_HALF * float(across.max()))
    axes.plot([0, start[-1] + along[-1]], [0, 0], color=QUIET, linewidth=0.8, zorder=0)
    for bead, left, length, width in zip(strand.beads, start, along, across, strict=True):
        axes.add_patch(
            Ellipse(
                (left + length / 2, 0),
                length,
                width,
                facecolor="#{:02x}{:02x}{:02x}".format(*bead.colour_rgb),
                edgecolor=WARNING if bead.flags else PAPER,
                linewidth=1.4 if bead.flags else 0.7,
                clip_on=False,
            )
        )


def _draw_dots(axes: Axes, dots: Dots, *, at: FloatArray) -> None:
    """Draw sizes with their uncertainty as bars, on an axis that spans them all."""
    u95_mm = np.nan_to_num(dots.u95_mm)
    known = np.isfinite(dots.mm)
    low, high = dots.mm - u95_mm, dots.mm + u95_mm
    axes.vlines(at[known], low[known], high[known], color=QUIET, linewidth=0.9, alpha=0.7)
    fills = [PAPER if hollow else colour for colour, hollow in zip(dots.colours, dots.hollow, strict=True)]
    rims = [colour if hollow else QUIET for colour, hollow in zip(dots.colours, dots.hollow, strict=True)]
    keep = np.flatnonzero(known)
    axes.scatter(
        at[keep],
        dots.mm[keep],
        s=15,
        c=[fills[i] for i in keep],
        edgecolors=[rims[i] for i in keep],
        linewidths=[1.3 if dots.hollow[i] else 0.7 for i in keep],
        zorder=3,
        clip_on=False,
    )
    if known.any():
        _span(axes, low_mm=float(low[known].min()), high_mm=float(high[known].max()))


def _span(axes: Axes, *, low_mm: float, high_mm: float) -> None:
    """Set the size axis to reach a little beyond the sizes, and to span `_LEAST_SPAN` at least."""
    middle = (low_mm + high_mm) / 2
    half = max(0.55 * (high_mm - low_mm), _LEAST_SPAN / 2 * middle)
    axes.set_ylim(middle - half, middle + half)
    axes.yaxis.set_major_locator(MaxNLocator(nbins=4, steps=[1, 2, 5, 10]))
    axes.grid(axis="y")
    axes.set_axisbelow(True)


def _draw_ranges(axes: Axes, ranges: Sequence[Range]) -> None:
    """Draw classes or limits across the plot, and beside it the names that there is room for."""
    for each in ranges:
        if each.allowed:
            _include(axes, each)
            axes.axhspan(each.low_mm, each.high_mm, color=BAND, zorder=0, linewidth=0)
        else:
            axes.grid(visible=False)
    bottom, top = axes.get_ylim()
    apart_mm = _LINE_PT / _TALL_PANEL_PT * (top - bottom)
    last_mm = -np.inf
    for each in sorted(ranges, key=lambda item: item.low_mm):
        low, high = max(each.low_mm, bottom), min(each.high_mm, top)
        if not each.allowed:
            _draw_limits(axes, [limit for limit in (each.low_mm, each.high_mm) if bottom < limit < top])
        if low < high and (low + high) / 2 - last_mm >= apart_mm:
            last_mm = (low + high) / 2
            _name(axes, each.name, at_mm=last_mm)


def _include(axes: Axes, allowed: Range) -> None:
    """Extend the size axis to a little beyond a range."""
    bottom, top = axes.get_ylim()
    room = 0.06 * (max(top, allowed.high_mm) - min(bottom, allowed.low_mm))
    axes.set_ylim(min(bottom, allowed.low_mm - room), max(top, allowed.high_mm + room))


def _draw_limits(axes: Axes, limits_mm: Sequence[float]) -> None:
    axes.hlines(limits_mm, *axes.get_xlim(), color=QUIET, linewidth=0.7, linestyle=(0, (1, 3)))


def _name(axes: Axes, name: str, *, at_mm: float) -> None:
    """Write a name on the right of the plot."""
    axes.annotate(
        name,
        (1, at_mm),
        (6, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        color=QUIET,
        verticalalignment="center",
        annotation_clip=False,
    )


def _title(axes: Axes, text: str) -> None:
    axes.annotate(text, (0, 1), (-_LEFT_PT, 8), "axes fraction", "offset points", color=QUIET)


def _number(axes: Axes, at: FloatArray, *, first: int) -> None:
    """Write bead numbers below the plot: the first, and every second, fifth, tenth and so on."""
    step = next(each for each in (1, 2, 5, 10, 20, 50, 100, 200, 500) if len(at) <= each * _NUMBERS)
    named = [k for k in range(len(at)) if k == 0 or (first + k) % step == 0]
    axes.set_xticks([float(at[k]) for k in named], [str(first + k) for k in named])
    axes.set_xlabel("Bead number")
