"""The programme page as Dash lays it out: its graphs, and places for the pieces of its template."""

from __future__ import annotations

from dash import html

from dashboard.figures.graph import graph
from spread.session import Session
from spread.words import ENGLISH, Voice

MOST = 4
"""Programmes compared at once."""
CURVES = tuple(f"programmes-curve-{place + 1}" for place in range(MOST))
COST, DRIVERS = "programmes-cost", "programmes-drivers"


def layout(_session: Session, voice: Voice = ENGLISH) -> html.Main:
    """Return the page; ``page.js`` puts the pieces into their places when it is there."""
    out = html.Div(
        [
            _place("intro"),
            html.Div(
                [html.Div(graph(each, voice=voice), hidden=True) for each in CURVES], id="programmes-curves"
            ),
            _place("table"),
            graph(COST, voice=voice),
            _place("verdicts"),
            _place("driven"),
            html.Div(graph(DRIVERS, voice=voice), id="programmes-drivers-box", hidden=True),
            _place("give"),
        ],
        id="programmes-out",
        hidden=True,
    )
    results = html.Section(
        [_place("progress"), out],
        className="programmes-box programmes-results",
        **{"aria-labelledby": "programmes-title"},
    )
    return html.Main(
        [
            _place("head"),
            html.Div([_place("pick"), results, _place("prices")], className="programmes-desk"),
            _place("caution"),
        ],
        id="page",
        className="programmes-page",
    )


def _place(name: str) -> html.Div:
    return html.Div(id=f"programmes-at-{name}", className="programmes-part")
