"""A unit's panel: from the view's JSON to components."""

from __future__ import annotations

from typing import Any

from dash import html
from dash.development.base_component import Component

NO_SUCH_UNIT = "This building has no such unit. Choose one on the plan or in the list."
STATUS_SENTENCES = {
    "treat": "Known infested: treat.",
    "revisit": "Treated, not yet cleared: revisit.",
}


def first_part(panel: dict[str, Any]) -> list[Component]:
    """Return how likely, how sure, what to do next and the reasons."""
    chips = (
        [html.Span(STATUS_SENTENCES[panel["status"]], className="chip")] if panel["status"] != "look" else []
    )
    if panel["rule"]:
        chips.append(html.Span(f"ring: {panel['rule']}", className="chip ring"))
    return [
        html.Div(
            [
                html.Span(panel["chance"], className=f"big c{panel['c']}"),
                html.Div(
                    [
                        html.P([html.Strong(panel["words"]), " chance of infestation"]),
                        html.P(f"{panel['floors']} · {panel['sure']} of this", className="soft"),
                    ]
                ),
            ],
            className="verdict",
        ),
        *([html.Div(chips, className="chips")] if chips else []),
        html.P([html.Strong("Next step: "), panel["next_step"]], className="next-step"),
        html.H3("Why"),
        html.Ul([html.Li(reason) for reason in panel["reasons"]], className="reasons"),
    ]


def rest_part(panel: dict[str, Any]) -> list[Component]:
    """Return the levels and the likely sources, each as a figure, words and a small bar."""
    parts: list[Component] = [html.H3("How heavy, if at all"), _bars(panel["levels"], "name")]
    if panel["sources"]:
        parts += [
            html.H3("Where it would come from"),
            html.P("Shares of the pressure on this unit over the last half year.", className="soft"),
            _bars(panel["sources"], "words"),
        ]
    return parts


def history_part(panel: dict[str, Any]) -> list[Component]:
    """Return the unit's records, newest first."""
    if not panel["history"]:
        return [html.H3("History"), html.P("Nothing recorded here yet.", className="soft")]
    return [
        html.H3("History"),
        html.Ol([_record(record) for record in panel["history"]], className="history"),
    ]


def _record(record: dict[str, str]) -> html.Li:
    lines: list[Component] = [
        html.P([html.Span(record["when"], className="when"), html.Span(record["ago"], className="soft")]),
        html.P([record["what"], html.Strong(f": {record['outcome']}") if record["outcome"] else ""]),
    ]
    if record["note"]:
        lines.append(html.P(record["note"], className="note"))
    return html.Li(lines)


def _bars(rows: list[dict[str, Any]], words: str) -> html.Ul:
    return html.Ul(
        [
            html.Li(
                [
                    html.Span(row[words], className="bar-words"),
                    html.Span(row["percent"], className="bar-figure"),
                    html.Span(
                        html.Span(style={"width": f"{100 * min(max(row['share'], 0.0), 1.0):.1f}%"}),
                        className="bar",
                        **{"aria-hidden": "true"},
                    ),
                ]
            )
            for row in rows
        ],
        className="bars",
    )
