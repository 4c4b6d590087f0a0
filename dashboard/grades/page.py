"""What the lists of the building promised and what was found."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component
from flask import has_request_context

from dashboard.figures.grades import promised_figure, reliability_figure
from dashboard.figures.graph import STYLE, graph, table
from dashboard.pages import Page
from dashboard.web.voice import desk_voice
from spread.report.grades import (
    day_row,
    heads,
    scope_words,
    score_words,
    sum_row,
    trouble_words,
    verdict_words,
)
from spread.session import Session
from spread.words import ENGLISH, Voice
from spread.words.terms import method_name

PATH = "/grades"


def layout(session: Session) -> html.Main:
    """Return the page; it has sums and shares only, and names no unit."""
    return build_layout(session, desk_voice() if has_request_context() else ENGLISH)


def build_layout(session: Session, voice: Voice = ENGLISH) -> html.Main:
    """Return the page in a voice."""
    grades = session.grades()
    told = [voice.text("No list is kept yet")]
    if grades.since is not None:
        told = [
            voice.many("{number} list kept", "{number} lists kept", grades.lists),
            voice.text("Since {day}", day=voice.day(grades.since)),
        ]
    headline = [session.plan.name, voice.text("As of {day}", day=voice.day(session.on)), *told]
    head = html.Div(
        [
            html.H1(voice.text("Promised and found")),
            html.P([html.Span(one) for one in headline], className="headline"),
        ]
    )
    verdict: list[Component] = [
        html.H2(voice.text("Do the lists keep their promises?")),
        *(html.P(one, className="grades-trouble") for one in trouble_words(grades, voice)),
        html.P(verdict_words(grades, voice), id="grades-verdict"),
    ]
    if grades.days:
        verdict.append(graph("grades-sum", promised_figure(grades, voice), voice))
    right = [_box(voice.text("How this is graded"), [_list(scope_words(grades, voice))])]
    if grades.enough:
        by_method = [sum_row(method_name(one.name, voice), one, voice) for one in grades.methods]
        scores: list[Component] = [
            graph("grades-bands", reliability_figure(grades, voice), voice),
            _list(score_words(grades, voice)),
            _table(voice.text("By method"), heads(voice.text("Method"), "95 %", voice), by_method),
        ]
        right.insert(0, _box(voice.text("Chance by chance"), scores))
    if grades.days:
        by_day = [day_row(day, voice) for day in reversed(grades.days)]
        verdict.append(_table(voice.text("By day"), heads(voice.text("Lists of"), "90 %", voice), by_day))
    desk = [html.Section(verdict, className="past-box"), html.Div(right, className="past-side")]
    return html.Main(
        [html.Header(head, className="head"), html.Div(desk, className="past-desk")],
        id="page",
        className="past-page",
    )


def _box(title: str, parts: Sequence[Component]) -> html.Section:
    return html.Section([html.H2(title), *parts], className="past-box")


def _list(sentences: Sequence[str]) -> html.Ul:
    return html.Ul([html.Li(sentence) for sentence in sentences], className="reasons")


def _table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> html.Div:
    return html.Div(
        [html.H3(title), table(head, rows)],
        className="figure figure-table",
        role="region",
        tabIndex="0",
        **{"aria-label": title},
    )


PAGE = Page(
    PATH,
    "Grades",
    "Promised and found",
    layout=layout,
    styles=(STYLE, "past/past.css", "grades/grades.css"),
    in_bar=False,
)
"""The past page links here, so that the bar keeps room on a phone."""
