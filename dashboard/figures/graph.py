"""The one way to show a figure: zoom, a picture to keep, its words and its table, and nothing sent away."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component
from plotly.io.json import to_json_plotly

from dashboard.figures.drawn import Drawn
from spread.words import ENGLISH, Voice

STYLE = "figures/figures.css"
"""For pages that show figures."""
CONFIG: dict[str, Any] = {
    # plotly.js offers to send a chart to a server elsewhere unless it is told not to.
    "showSendToCloud": False,
    "plotlyServerURL": "",
    "displaylogo": False,
    "displayModeBar": True,
    "responsive": True,
    "modeBarButtons": [["toImage", "zoomIn2d", "zoomOut2d", "resetScale2d"]],
}


def graph(identity: str, drawn: Drawn | None = None, voice: Voice = ENGLISH) -> html.Figure:
    """Return a figure as it stands on a page.

    ``identity``: id of the graph; ``-title``, ``-words`` and ``-table`` after it are those of its parts.
    ``drawn``: what it shows; None for one that is filled later (:func:`told`).
    """
    return html.Figure(
        [
            html.Figcaption(drawn.title if drawn else "", id=f"{identity}-title"),
            html.P(drawn.said if drawn else "", id=f"{identity}-words", className="figure-words"),
            html.Div(
                dcc.Graph(
                    id=identity,
                    figure=drawn.figure if drawn else {"data": [], "layout": {"height": 200}},
                    config=CONFIG
                    | {"toImageButtonOptions": {"format": "png", "filename": identity, "scale": 2}},
                    # True would drop each figure's own height, and a figure drawn again then has none at all.
                    responsive="auto",
                ),
                role="group",
                className="figure-plot",
                **{"aria-labelledby": f"{identity}-title", "aria-describedby": f"{identity}-words"},
            ),
            html.Details(
                [
                    html.Summary(voice.text("The same as a table")),
                    html.Div(
                        table(drawn.head, drawn.rows) if drawn else [],
                        id=f"{identity}-table",
                        className="figure-table",
                        role="region",
                        tabIndex="0",
                        **{"aria-labelledby": f"{identity}-title"},
                    ),
                ]
            ),
        ],
        className="figure",
    )


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> html.Table:
    """Return a table whose first cell in each row names it."""
    return html.Table(
        [
            html.Thead(html.Tr([html.Th(word, scope="col") for word in head])),
            html.Tbody([html.Tr([html.Th(row[0], scope="row"), *map(html.Td, row[1:])]) for row in rows]),
        ]
    )


def told(identity: str, drawn: Drawn) -> dict[str, dict[str, Any]]:
    """Return what fills a graph that stands already: props by id, ready for JSON and ``set_props``."""
    props: dict[str, dict[str, Any]] = {
        identity: {"figure": drawn.figure},
        f"{identity}-title": {"children": drawn.title},
        f"{identity}-words": {"children": drawn.said},
        f"{identity}-table": {"children": table(drawn.head, drawn.rows)},
    }
    plain: dict[str, dict[str, Any]] = json.loads(to_json_plotly(props))
    return plain


def outputs(identity: str) -> list[tuple[str, str]]:
    """Return the ids and props that :func:`filled` gives, in its order."""
    return [
        (identity, "figure"),
        *((f"{identity}-{part}", "children") for part in ("title", "words", "table")),
    ]


def filled(drawn: Drawn) -> tuple[Any, str, str, Component]:
    """Return what a callback gives to :func:`outputs`."""
    return drawn.figure, drawn.title, drawn.said, table(drawn.head, drawn.rows)
