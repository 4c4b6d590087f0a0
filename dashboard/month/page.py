"""The owner's month: the answer first, then what it rests on; any period, and copies to print."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from urllib.parse import urlencode

from dash import dcc, html
from dash.development.base_component import Component
from flask import Blueprint, Flask, Response, has_request_context, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from dashboard.figures.building import past_figure
from dashboard.figures.graph import STYLE, graph, table
from dashboard.pages import Page
from dashboard.signin.who import may
from dashboard.web.address import asked_path, here
from dashboard.web.voice import asked_voice, desk_voice
from spread.decisions.month.month import last_month
from spread.errors import SettingsError, SpreadError
from spread.people.roles import UNITS
from spread.records.sense import EARLIEST, LATEST
from spread.report.document import Paper
from spread.report.held import HeldView, held_lines
from spread.report.held import title as held_title
from spread.report.html import write_html
from spread.report.month import (
    MonthView,
    caution,
    counts_of,
    headline,
    money_words,
    month_document,
    month_view,
    path_of,
    reasons,
    rows_of,
    title_of,
)
from spread.report.pdf import write_pdf
from spread.session import Session
from spread.words import ENGLISH, Voice, say
from spread.words.month import promised_words
from spread.words.trust import warning_words

PATH = "/month"
MONTHS = 12
"""Months that the page links to."""


def layout(session: Session) -> html.Main:
    """Return the page; an address below its own names the period: ``/month/2026-10-01/2026-10-31``."""
    voice = desk_voice() if has_request_context() else ENGLISH
    since, until = (*asked_path().removeprefix(PATH).strip("/").split("/"), "")[:2]
    try:
        return build_layout(session, asked_view(session, since, until), voice, board=not may(UNITS))
    except SpreadError as error:
        words = [html.P(str(one), className="grades-trouble", role="alert") for one in error.problems]
        return _page([html.H1(voice.text("How it stands"))], [*words, _form(session, since, until, voice)])


def asked_view(session: Session, since: str, until: str) -> MonthView:
    """Return the period that texts name; the last whole month where they are empty.

    Raises SettingsError for a text that is no day, and for days that are no period of the past.
    """
    return month_view(session, _day(since, "from"), _day(until, "to"))


def _day(text: str, field: str) -> dt.date | None:
    if not text.strip():
        return None
    try:
        day = dt.date.fromisoformat(text.strip())
    except ValueError:
        day = dt.date.min
    if EARLIEST <= day <= LATEST:
        return day
    raise SettingsError.at("month", field, f"{text[:20]!r} is not a day", "write one such as 2026-11-25")


def build_layout(
    session: Session, shown: MonthView, voice: Voice = ENGLISH, *, board: bool = False
) -> html.Main:
    """Return the page of a period; ``board``: without the code of any unit."""
    month, text = shown.month, voice.text
    head: list[Component] = [
        html.H1(text("How it stands")),
        html.P(
            [
                html.Span(session.plan.name),
                html.Span(title_of(month, voice)),
                html.Span(text("As of {day}", day=voice.day(session.on))),
            ],
            className="headline",
        ),
    ]
    told = [html.P(one) for one in reasons(shown, voice, board=board)]
    warned = () if board else warning_words(session.warnings(), voice)
    first: list[Component] = [
        html.P(headline(month, voice), className="month-answer", id="month-answer"),
        *told,
        *(html.P([html.Strong(f"{text('Warning')}: "), one], className="grades-trouble") for one in warned),
    ]
    if counts := counts_of(month, voice):
        heads = [text("Units infested, of {units}", units=month.units), text("By what is known today")]
        first.append(_table([*heads, text("As said then")], counts, text("Units infested")))
    past = session.past()
    if past is not None and (weeks := path_of(session, month)):
        first.append(graph("month-units", past_figure(replace(past, weeks=weeks), voice), voice))
    heads = [text("What"), text("Units"), text("Which, or how")]
    side: list[Component] = [
        html.H2(text("What was done, and what comes next")),
        _table(heads, rows_of(month, voice, board=board), text("What was done, and what comes next")),
        html.H2(text("Promised and found")),
        html.P(promised_words(month.promised, voice)),
        html.H2(text("Money")),
        html.P(money_words(shown, voice)),
        html.P(caution(voice), className="soft"),
    ]
    asked = {"since": month.since.isoformat(), "until": month.until.isoformat()}
    copies = [("pdf", "", text("PDF")), ("document", "", text("A page to print"))]
    if not board:
        copies.append(("pdf", "1", text("PDF for a board, without units")))
    links = [
        html.A(name, href=f"{here(PATH)}/{file}?{urlencode(asked | {'board': copy})}")
        for file, copy, name in copies
    ]
    tools = [_form(session, asked["since"], asked["until"], voice), html.P(links, className="month-links")]
    return _page(
        head,
        [
            html.Div(tools, className="month-tools"),
            html.Div(
                [
                    html.Section(first, className="past-box"),
                    html.Section(side, className="past-box month-rest"),
                ],
                className="past-desk",
            ),
            *([_held(shown.held, voice)] if shown.held is not None else []),
        ],
    )


def _held(held: HeldView, voice: Voice) -> html.Section:
    """Return the section on the accepted programme; it names no unit."""
    from dashboard.figures.held import held_figure  # noqa: PLC0415 - its words load the programmes' kernel
    from spread.words.held import heads, rows  # noqa: PLC0415

    departed = held.held.verdict == "departed"
    parts: list[Component] = [
        html.H2(held_title(voice)),
        html.P(
            say(held.held, voice), className="month-answer grades-trouble" if departed else "month-answer"
        ),
        html.Ul([html.Li(line) for line in held_lines(held, voice)]),
    ]
    if held.held.places:
        parts.append(_table([*heads(held.held, voice)], rows(held.held, voice), held_title(voice)))
    parts.append(graph("month-held", held_figure(held, voice), voice))
    return html.Section(parts, className="past-box month-held", id="month-held-section")


def _page(head: list[Component], body: list[Component]) -> html.Main:
    return html.Main(
        [html.Header(html.Div(head), className="head"), *body], id="page", className="past-page month-page"
    )


def _table(heads: list[str], rows: list[tuple[str, str, str]], name: str) -> html.Div:
    return html.Div(
        table(heads, rows),
        className="figure figure-table",
        role="region",
        tabIndex="0",
        **{"aria-label": name},
    )


def _form(session: Session, since: str, until: str, voice: Voice) -> html.Details:
    """Return what chooses a period: two days, and the last months."""

    def field(identity: str, name: str, value: str) -> html.Label:
        given = dcc.Input(
            id=f"month-{identity}", name=identity, type="text", value=value, placeholder="2026-11-01"
        )
        return html.Label([name, given], className="field")

    months, day = [], session.on
    for _ in range(MONTHS):
        first, last = last_month(day)
        months.append(html.A(voice.month(first), href=f"{here(PATH)}/{first}/{last}"))
        day = first
    form = html.Form(
        [
            field("since", voice.text("From"), since),
            field("until", voice.text("To"), until),
            html.Button(voice.text("Show"), type="submit"),
        ],
        action=f"{here(PATH)}/show",
        method="get",
        className="month-form",
    )
    nav = html.Nav(months, className="month-months", **{"aria-label": voice.text("Months")})
    return html.Details([html.Summary(voice.text("Another period")), form, nav], className="month-period")


def add_copies(server: Flask, session: Session) -> None:
    """Put the copies to print on a server, and the address of its form."""
    copies = Blueprint("month", __name__)

    @copies.get(f"{PATH}/show")
    def show() -> AnyResponse:
        since, until = (request.args.get(name, "").strip()[:20] for name in ("since", "until"))
        kept = [part.replace("/", "-") for part in (since, until) if part]
        return redirect("/".join([here(PATH), *kept]), 303)

    @copies.get(f"{PATH}/<any(document, pdf):kind>")
    def copy(kind: str) -> Response:
        board, voice = bool(request.args.get("board")) or not may(UNITS), asked_voice()
        try:
            shown = asked_view(session, *(request.args.get(name, "") for name in ("since", "until")))
            made = month_document(session, shown, voice, board=board)
            paper: Paper = "letter" if request.args.get("paper") == "letter" else "a4"
            if kind == "pdf":
                response = Response(write_pdf(made, paper), mimetype="application/pdf")
                response.headers["Content-Disposition"] = f'inline; filename="month-{shown.month.since}.pdf"'
            else:
                response = Response(write_html(made, paper), mimetype="text/html")
        except SpreadError as error:
            response = Response(str(error), status=400, mimetype="text/plain")
        response.headers["Cache-Control"] = "no-store"
        return response

    server.register_blueprint(copies)


PAGE = Page(
    PATH,
    "Month",
    "How it stands",
    layout=layout,
    routes=add_copies,
    styles=(STYLE, "past/past.css", "grades/grades.css", "month/month.css"),
    below=True,
)
