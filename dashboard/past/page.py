"""The building through time, when it began, one unit's chance, and what the log taught, in figures."""

from __future__ import annotations

from dash import Dash, Input, Output, dcc, html, no_update
from dash.development.base_component import Component
from flask import has_request_context

from dashboard.figures.building import began_figure, past_figure, rates_figure, sources_figure, trail_figure
from dashboard.figures.drawn import Drawn
from dashboard.figures.graph import STYLE, filled, graph, outputs
from dashboard.pages import Page
from dashboard.signin.who import may, require
from dashboard.web.address import asked_path, here
from dashboard.web.voice import desk_voice
from spread.people.roles import UNITS
from spread.session import Session
from spread.weeks import monday_of
from spread.words import ENGLISH, Voice
from spread.words.learned import learned_words, not_learned, past_words

PATH = "/past"


def layout(session: Session) -> html.Main:
    """Return the page; an address below its own, such as ``/past/203``, names the unit to begin with."""
    return build_layout(session, asked_unit(session), desk_voice() if has_request_context() else ENGLISH)


def asked_unit(session: Session) -> str:
    """Return the unit that the address names, else the likeliest one."""
    named = asked_path().removeprefix(PATH).strip("/")
    if named in session.plan.units:
        return named
    chances = session.chances()
    return max(chances, key=lambda unit: chances[unit])


def build_layout(session: Session, unit: str, voice: Voice = ENGLISH) -> html.Main:
    """Return the page with its figures, and with one unit's."""
    past, learned = session.past(), session.learned()
    first: list[Component] = [html.H2(voice.text("The building"))]
    if past is None:
        first.append(html.P(voice.text("This fit kept no past.")))
    else:
        first += [graph("past-units", past_figure(past, voice), voice), _list(past_words(past, voice))]
        first.append(graph("past-began", began_figure(past, voice), voice))
    rates: list[Component] = [html.H2(voice.text("What this building taught us"))]
    if learned is None:
        rates.append(html.P(not_learned(voice)))
    else:
        rates += [
            graph("past-rates", rates_figure(learned, voice), voice),
            graph("past-sources", sources_figure(learned, voice), voice),
            _list(learned_words(learned, voice)),
        ]
    one: list[Component] = [
        html.H2(voice.text("One unit")),
        html.Label(
            [
                voice.text("Unit"),
                dcc.Input(id="past-unit", type="text", value=unit, list="past-codes", debounce=True),
                html.Datalist([html.Option(value=each) for each in session.plan.units], id="past-codes"),
            ],
            className="field",
        ),
        graph("past-trail", trail_of(session, unit, voice), voice),
    ]
    bare = voice.text(
        "Nothing is recorded yet: the figures are general experience and not this building’s past"
    )
    head = html.Div(
        [
            html.H1(voice.text("The past")),
            html.P(
                [
                    html.Span(session.plan.name),
                    html.Span(voice.text("As of {day}", day=voice.day(session.on))),
                    html.Span(voice.text("As today’s fit sees it, with all that is on record since")),
                    html.Span(html.A(voice.text("Promised and found"), href=here("/grades"))),
                    *([] if session.view.log.current else [html.Span(bare)]),
                ],
                className="headline",
            ),
        ]
    )
    shown = (first, one, rates) if may(UNITS) else (first, rates)
    left, *right = (html.Section(parts, className="past-box") for parts in shown)
    return html.Main(
        [
            html.Header(head, className="head"),
            html.Div([left, html.Div(right, className="past-side")], className="past-desk"),
        ],
        id="page",
        className="past-page",
    )


def trail_of(session: Session, unit: str, voice: Voice = ENGLISH) -> Drawn:
    """Return the figure of one unit's chance."""
    posterior = session.view.posterior
    chances = posterior.weekly[posterior.units.index(unit)].tolist()
    mondays = [monday_of(posterior.first_week + week).isoformat() for week in range(len(chances))]
    chances[-1] = session.chances()[unit]  # with the answers since the fit, as the plan shows it
    return trail_figure(unit, mondays, chances, session.view.log.of(unit), voice)


def register(app: Dash, session: Session) -> None:
    """Put the page's callback on the app: another unit."""

    @app.callback(
        *(Output(identity, prop) for identity, prop in outputs("past-trail")),
        Input("past-unit", "value"),
        prevent_initial_call=True,
    )
    def other_unit(unit: object) -> tuple[object, ...]:
        require(UNITS)
        wanted = unit.strip() if isinstance(unit, str) else ""
        if wanted not in session.plan.units:
            return (no_update,) * len(outputs("past-trail"))
        return filled(trail_of(session, wanted, desk_voice()))


def _list(sentences: tuple[str, ...]) -> html.Ul:
    return html.Ul([html.Li(sentence) for sentence in sentences], className="reasons")


PAGE = Page(
    PATH, "Past", "The past", layout=layout, register=register, styles=(STYLE, "past/past.css"), below=True
)
