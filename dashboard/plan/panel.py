"""A unit's panel: from the view's JSON to components."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from dash import html
from dash.development.base_component import Component

from dashboard.pages import pages
from dashboard.web.address import here
from spread.words import ENGLISH, Voice
from spread.words.why import bears_title

NO_SUCH_UNIT = "This building has no such unit. Choose one on the plan or in the list."


def first_part(panel: dict[str, Any], voice: Voice = ENGLISH) -> list[Component]:
    """Return how likely, how sure, what to do next and the reasons."""
    chips = []
    if panel["status"] != "look":
        chips.append(html.Span(_status(panel, voice), className="chip"))
    if panel["rule"]:
        chips.append(html.Span(voice.text("ring: {places}", places=panel["rule"]), className="chip ring"))
    if panel["duty"]:
        duty = voice.text("duty: {duty}", duty=panel["duty"])
        chips.append(html.Span(duty, className="chip ring", title=panel["duty_note"]))
    worth = panel["worth"]
    return [
        html.Div(
            [
                html.Span(panel["chance"], className=f"big c{panel['c']}"),
                html.Div(
                    [
                        html.P([html.Strong(panel["words"]), " " + voice.text("chance of infestation")]),
                        html.P(f"{panel['floors']} · {panel['sure']}", className="soft"),
                    ]
                ),
            ],
            className="verdict",
        ),
        *([html.Div(chips, className="chips")] if chips else []),
        *([html.P(panel["open_find"])] if panel["open_find"] else []),
        *([html.P(worth, className="soft")] if worth else []),
        *(
            [html.P(voice.text("Duty: {note}", note=panel["duty_note"]), className="soft")]
            if panel["duty"]
            else []
        ),
        html.P([html.Strong(voice.text("Next step:") + " "), panel["next_step"]], className="next-step"),
        *_followup(panel["followup"], voice),
        html.H3(voice.text("Why")),
        _listed(panel["reasons"]),
    ]


def _status(panel: dict[str, Any], voice: Voice) -> str:
    if panel["status"] == "treat":
        return voice.text("Found and never closed: treat.")
    return (
        voice.text("Revisit, {window}.", window=panel["visit"]) if panel["visit"] else voice.text("Revisit")
    )


def _followup(followup: dict[str, Any] | None, voice: Voice) -> list[Component]:
    if followup is None:
        return []
    parts = [
        html.H3(voice.text("Follow-up: {state}", state=followup["title"])),
        _listed(followup["words"]),
    ]
    if any(page.path == "/week" for page in pages()):
        link = html.A(
            voice.text("Calendar file"),
            href=here("/week/export/icalendar"),
            download="",
            className="calendar-file",
        )
        parts.append(html.P([link, " " + voice.text("of duties and visits that are due")], className="soft"))
    return parts


def links_part(panel: dict[str, Any], voice: Voice = ENGLISH) -> list[Component]:
    """Return the links from a unit to its other pages, as far as they are there."""
    if not any(page.path == "/room" for page in pages()):
        return []
    return [
        html.A(
            voice.text("Room sheet and findings"),
            href=here(f"/room/{quote(panel['unit'], safe='')}"),
            className="link-out",
        )
    ]


def rest_part(panel: dict[str, Any], voice: Voice = ENGLISH) -> list[Component]:
    """Return the levels, the likely sources (a figure, words and a small bar) and odd records."""
    parts: list[Component] = [
        html.Div([html.P(words) for words in panel["bed"]["words"]], id="bed-words", className="soft"),
        html.H3(voice.text("How heavy, if at all")),
        _bars(panel["levels"], "name"),
        *([html.P(panel["heavier"], className="soft")] if panel["heavier"] else []),
    ]
    if panel["sources"]:
        parts += [
            html.H3(panel["sources_title"]),
            html.P(panel["sources_note"], className="soft"),
            _bars(panel["sources"], "words"),
        ]
    if panel["pressure"]:
        bears = [
            html.Summary(bears_title(voice)),
            html.P(voice.text("Shares of the pressure over the last 26 weeks."), className="soft"),
            _bars(panel["pressure"], "words"),
        ]
        parts.append(html.Details(bears, className="more-of-it"))
    if panel["doubts"]:
        told = [
            html.Li([html.P(one["words"]), html.P(one["rows"], className="soft")]) for one in panel["doubts"]
        ]
        parts += [html.H3(voice.text("Records that do not go together")), html.Ul(told, className="doubts")]
    return parts


def taught_part(taught: dict[str, Any], voice: Voice = ENGLISH) -> list[Component]:
    """Return what the building taught, as two short lists of sentences."""
    return [
        *([_listed(taught["past"])] if taught["past"] else []),
        html.H3(voice.text("By which ways, and how fast")),
        _listed(taught["rates"]),
    ]


def _listed(sentences: list[str]) -> html.Ul:
    return html.Ul([html.Li(sentence) for sentence in sentences], className="reasons")


def history_part(panel: dict[str, Any], voice: Voice = ENGLISH) -> list[Component]:
    """Return the unit's records, newest first."""
    if not panel["history"]:
        words = voice.text("Nothing recorded here yet. The first look, report or monitor is recorded above.")
        return [html.H3(voice.text("History")), html.P(words, className="soft")]
    return [
        html.H3(voice.text("History")),
        html.Ol([_record(record, voice) for record in panel["history"]], className="history"),
    ]


def _record(record: dict[str, str], voice: Voice) -> html.Li:
    back = html.Button(
        voice.text("Take back"),
        type="button",
        className="quiet take-back",
        **{
            "data-undoes": record["id"],
            "aria-label": voice.text("Take back: {row}, {day}", row=record["what"], day=record["when"]),
        },
    )
    lines: list[Component] = [
        html.P(
            [
                html.Time(record["when"], dateTime=record["day"], className="when"),
                html.Span(record["ago"], className="soft"),
                back,
            ]
        ),
        html.P([record["what"], html.Strong(f": {record['outcome']}") if record["outcome"] else ""]),
    ]
    if record["note"]:
        lines.append(html.P(record["note"], className="note"))
    return html.Li(lines, className=f"h-{record['kind']}")


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
