"""Figures as inline SVG with the colours and the typeface of the page around them.

Figures are drawn in placeholder colours, which are then replaced by the page's CSS variables: one drawing
serves light, dark and print. Texts stay texts.
"""

import io
import re
from collections.abc import Callable, Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sizing.report.html.page import Drawing

INK, QUIET, LINE, PAPER = "#0a0b01", "#0a0b02", "#0a0b03", "#0a0b04"
ACCENT, WARNING, GOOD, BAND = "#0a0b05", "#0a0b06", "#0a0b07", "#0a0b08"
BEADS = ("#0a0b11", "#0a0b12", "#0a0b13", "#0a0b14", "#0a0b15", "#0a0b16")
"""Fills of the kinds of bead of a planned piece, whose colours are not known."""

_VARIABLES = {
    INK: "--ink",
    QUIET: "--quiet",
    LINE: "--line",
    PAPER: "--paper",
    ACCENT: "--accent",
    WARNING: "--warning",
    GOOD: "--good",
    BAND: "--band",
    **{colour: f"--bead-{i}" for i, colour in enumerate(BEADS, start=1)},
}

POINT_IN = 1 / 72
TITLE_PT = 20.0
# At these widths a point of the drawing is a point of the page: beside the headings on a desk, on a phone.
WIDE_PT, NARROW_PT = 570.0, 262.0

# Matplotlib's type of these names differs from release to release.
_STYLE: dict[Any, Any] = {
    "svg.fonttype": "none",
    "font.size": 9.0,
    "axes.edgecolor": LINE,
    "axes.facecolor": "none",
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.spines.left": False,
    "axes.labelcolor": QUIET,
    "text.color": INK,
    "xtick.color": LINE,
    "ytick.color": LINE,
    "xtick.labelcolor": QUIET,
    "ytick.labelcolor": QUIET,
    "xtick.major.size": 3.0,
    "ytick.major.size": 0.0,
    "grid.color": LINE,
    "grid.linewidth": 0.8,
    "lines.solid_capstyle": "round",
}

Draw = Callable[[float], Figure]
"""Draws a figure of the width given, in points."""


def drawing(draw: Draw, name: str, *, alt: str, caption: str = "") -> Drawing:
    """Return a figure laid out twice, for a wide page and for a phone.

    Parameters
    ----------
    draw : callable
    name : str
        Unique on the page; prefix of the names inside the figure.
    alt, caption : str, keyword-only
    """
    wide, narrow = (
        _inline(draw, width_pt=width, name=f"{name}-{width:.0f}") for width in (WIDE_PT, NARROW_PT)
    )
    return Drawing(wide=wide, narrow=narrow, alt=alt, caption=caption)


def small_drawing(draw: Draw, name: str, *, alt: str, caption: str = "") -> Drawing:
    """Return a figure as wide as a phone on every page; see `drawing`."""
    return Drawing(wide=_inline(draw, width_pt=NARROW_PT, name=name), narrow="", alt=alt, caption=caption)


def stacked(
    width_pt: float, heights_pt: Sequence[float], *, left_pt: float, right_pt: float, below_pt: float = 28.0
) -> tuple[Figure, list[Axes]]:
    """Return a figure with panels one below the other, each with room for a title above it.

    Parameters
    ----------
    heights_pt : sequence of float
        Of the panels, from the top.
    left_pt, right_pt, below_pt : float, keyword-only
        Room for labels beside all panels and below the last.
    """
    height_pt = below_pt + sum(heights_pt) + TITLE_PT * len(heights_pt)
    figure = Figure(figsize=(width_pt * POINT_IN, height_pt * POINT_IN))
    panels, top = [], height_pt
    for each in heights_pt:
        top -= TITLE_PT + each
        inside = (left_pt / width_pt, top / height_pt, 1 - (left_pt + right_pt) / width_pt, each / height_pt)
        panels.append(figure.add_axes(inside))
    return figure, panels


def _inline(draw: Draw, *, width_pt: float, name: str) -> str:
    stream = io.StringIO()
    with mpl.rc_context():
        # Undo any style that the user's own configuration sets.
        mpl.rcdefaults()
        mpl.rcParams.update(_STYLE | {"svg.hashsalt": name})
        draw(width_pt).savefig(stream, format="svg", transparent=True, metadata={"Date": None})
    return _as_element(stream.getvalue())


def _as_element(svg: str) -> str:
    """Return an SVG file as an element of a page."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>|<style.*?</style>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'<svg [^>]*?(viewBox="[^"]*")[^>]*>', r'<svg \1 aria-hidden="true">', svg, count=1)
    svg = re.sub(r'<g id="[^"]*"', "<g", svg)  # names that every figure has
    svg = re.sub(r"font-family: [^;\"]*;? ?", "", svg)
    svg = re.sub(r"\s+", " ", svg)
    for colour, variable in _VARIABLES.items():
        svg = svg.replace(colour, f"var({variable})")
    return svg
