"""The figure of an accepted programme: units infested as promised, as newly forecast, and as known today."""

from __future__ import annotations

from typing import Any

from dashboard.figures.drawn import ACCENT, DATES, OTHER, OUTER, PLAIN, Drawn, layout_of
from spread.report.held import HeldView, names_of, spans_of
from spread.words import ENGLISH, Voice
from spread.words.held import path_rows


def held_figure(shown: HeldView, voice: Voice = ENGLISH) -> Drawn:
    """Return units infested by month: what was promised, the last new forecast, and what is known."""
    promised, newest, known = spans_of(shown)
    names = names_of(shown, voice)
    days = [day.isoformat() for day, *_ in promised]
    line = {"type": "scatter", "mode": "lines", "x": days}
    edge = {**line, "line": {"width": 0}, "hoverinfo": "skip"}
    traces: list[dict[str, Any]] = [
        edge | {"y": [s[1] for s in promised], "showlegend": False},
        edge | {"y": [s[3] for s in promised], "fill": "tonexty", "fillcolor": OUTER, "name": names[0]},
        line | {"y": [s[2] for s in promised], "line": {"color": ACCENT, "width": 2.5}, "showlegend": False},
    ]  # fmt: skip
    if newest:
        for place, dash in ((1, "dot"), (3, "dot"), (2, "dash")):
            ends = {"color": PLAIN, "width": 1.6, "dash": dash}
            traces.append(
                {"type": "scatter", "mode": "lines", "x": [s[0].isoformat() for s in newest],
                 "y": [s[place] for s in newest], "line": ends, "name": names[1], "showlegend": place == 2}
            )  # fmt: skip
    traces.append(
        {"type": "scatter", "mode": "markers", "name": names[2], "x": [s[0].isoformat() for s in known],
         "y": [s[2] for s in known], "marker": {"color": OTHER, "size": 10, "symbol": "diamond"},
         "error_y": {"type": "data", "symmetric": False, "array": [s[3] - s[2] for s in known],
                     "arrayminus": [s[2] - s[1] for s in known], "color": OTHER, "thickness": 2, "width": 4}}
    )  # fmt: skip
    body = path_rows(shown.held, voice)
    first, last = body[0], body[-1]
    return Drawn(
        {
            "data": traces,
            "layout": layout_of(
                "", voice.text("Units infested"), high=340, xaxis=DATES, yaxis={"rangemode": "tozero"}
            ),
        },
        voice.text("Units infested, promised and known"),
        voice.text(
            "Promised were {first} after the first month and {last} at the end.", first=first[2], last=last[2]
        ),
        [voice.text("Month"), voice.text("Is"), voice.text("Was promised (90 %)")],
        body,
    )
