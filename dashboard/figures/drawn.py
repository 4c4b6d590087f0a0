"""What a figure is before it is shown, and the one look of all of them."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

ACCENT, OTHER, PLAIN = "#2f8f96", "#c1702f", "#8d8171"
"""Colours of lines and marks. Each keeps 3:1 on the light and on the dark sheet (tested), so that one figure
serves both; no two are told apart by colour alone."""
OUTER, INNER = "rgba(47, 143, 150, 0.28)", "rgba(47, 143, 150, 0.42)"
"""The bands of nine tenths and of half."""
INK, RULE, PAPER = "#29241e", "#d9cfbd", "#fffdf8"
"""Of the light palette, for a picture saved; on a dark screen ``figures.css`` puts its own in their place."""
LETTERS = "system-ui, -apple-system, 'Segoe UI', 'Liberation Sans', sans-serif"
LINE_HIGH = 17
"""Pixels of a line of a name."""
NAME_WIDE = 19
"""Letters of a name beside its row before it breaks, so that a phone keeps room for the figures."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A figure with all that is said of it.

    ``figure``: the figure as plotly takes it (``data`` and ``layout``). ``title``: over it. ``said``: the
    same in a sentence, for those who cannot see it. ``head``, ``rows``: the same as a table.
    """

    figure: Mapping[str, Any]
    title: str
    said: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]


def layout_of(
    along: str,
    upright: str,
    *,
    high: int = 320,
    xaxis: Mapping[str, Any] | None = None,
    yaxis: Mapping[str, Any] | None = None,
    **more: Mapping[str, Any] | str,
) -> dict[str, Any]:
    """Return a layout in the one look.

    ``along``, ``upright``: titles of the axes with their units. ``high``: pixels. ``xaxis``, ``yaxis``: what
    these axes have of their own. ``more``: anything else of the layout.
    """
    axis = {"gridcolor": RULE, "zerolinecolor": RULE, "linecolor": RULE, "automargin": True}
    title = {"font": {"size": 13}, "standoff": 8}
    axes = {
        "xaxis": {**axis, "title": {"text": along, **title}, **(xaxis or {})},
        "yaxis": {**axis, "title": {"text": upright, **title}, "fixedrange": True, **(yaxis or {})},
    }
    return {
        "height": high,
        "margin": {"l": 8, "r": 14, "t": 34, "b": 8},
        "font": {"family": LETTERS, "size": 13, "color": INK},
        "paper_bgcolor": PAPER,
        "plot_bgcolor": "rgba(0,0,0,0)",
        "legend": {"orientation": "h", "yref": "container", "y": 0.0, "yanchor": "bottom"},
        "hoverlabel": {"bgcolor": INK, "bordercolor": INK, "font": {"color": PAPER, "family": LETTERS}},
        "modebar": {"bgcolor": "rgba(0,0,0,0)", "color": PLAIN, "activecolor": ACCENT},
        "dragmode": "zoom",
        **axes,
        **more,
    }


DATES = {"type": "date", "tickformat": "%b<br>%Y", "nticks": 6}
"""An axis of dates that a phone has room for."""


def bands(
    days: Sequence[str], points: Sequence[Sequence[float]], names: Sequence[str]
) -> list[dict[str, Any]]:
    """Return the traces of a path with its bands.

    ``days``: ISO days. ``points``: the 5, 25, 50, 75 and 95 % points, a row each. ``names``: of the band of
    nine tenths, of that of half, and of the middle.
    """
    low, lower, median, upper, high = points
    edge = {"x": days, "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip", "type": "scatter"}
    return [
        edge | {"y": low, "showlegend": False},
        edge | {"y": high, "fill": "tonexty", "fillcolor": OUTER, "name": names[0]},
        edge | {"y": lower, "showlegend": False},
        edge | {"y": upper, "fill": "tonexty", "fillcolor": INNER, "name": names[1]},
        {"type": "scatter", "x": days, "y": median, "mode": "lines", "name": names[2],
         "line": {"color": ACCENT, "width": 2.5}},
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Look:
    """How a row of :func:`span_rows` looks: its colour, mark, width of line, end caps, and its shift."""

    color: str = ACCENT
    symbol: str = "circle"
    width: float = 2.0
    cap: float = 4.0
    shift: float = 0.0


def span_rows(
    spans: Sequence[tuple[float, float, float]], hover: Sequence[str], name: str, look: Look | None = None
) -> dict[str, Any]:
    """Return a trace of a dot a row with the line from its low to its high.

    ``spans``: low, middle and high of each row, from below. ``hover``: what is said of each. ``name``: of the
    trace in the legend; without one it is not there. ``look``: of the trace.
    """
    look = look or Look()
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "showlegend": bool(name),
        "cliponaxis": False,
        "x": [middle for _, middle, _ in spans],
        "y": [place + look.shift for place in range(len(spans))],
        "text": list(hover),
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {
            "color": look.color,
            "size": 12,
            "symbol": look.symbol,
            "line": {"color": PAPER if look.symbol == "circle" else look.color, "width": 2},
        },
        "error_x": {
            "type": "data",
            "symmetric": False,
            "array": [high - middle for _, middle, high in spans],
            "arrayminus": [middle - low for low, middle, _ in spans],
            "color": look.color,
            "thickness": look.width,
            "width": look.cap,
        },
    }


def rows_high(names: Sequence[str], least: int) -> int:
    """Return the pixels that rows take beside these names, none touching the next; ``least`` a row."""
    lines = max((len(textwrap.wrap(name, NAME_WIDE)) for name in names), default=1)
    return len(names) * max(least, LINE_HIGH * lines + 16)


def name_ticks(names: Sequence[str]) -> dict[str, Any]:
    """Return an upright axis with a name a row, from below, long ones broken."""
    return {
        "tickmode": "array",
        "tickvals": list(range(len(names))),
        "ticktext": ["<br>".join(textwrap.wrap(name, NAME_WIDE)) for name in names],
        "range": [-0.6, len(names) - 0.4],
        "showgrid": False,
        "zeroline": False,
    }
