"""The page: a list, a plan and a unit's panel. Pure: a session gives components."""

from __future__ import annotations

import weakref
from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboard.plan import looks, view
from dashboard.plan.facts import ONLY
from dashboard.plan.geometry import plan_geometry
from dashboard.signin.who import may_open
from dashboard.web.address import here
from dashboard.web.voice import desk_voice
from dashboard.words import CLASS_FLOORS, CLASS_WORDS
from spread.contacts.exposure import ExposureSettings
from spread.records.kinds import EVIDENCE, LEVELS, MONITORS, TURNOVERS
from spread.records.words import METHOD_WORDS
from spread.session import Session
from spread.trade.registry import TREATMENTS
from spread.words import ENGLISH, Voice
from spread.words.terms import level_choice, sign_choice
from spread.words.trust import warning_words

KNOWN_STEPS = (
    (0, "nothing", "not on record (–)"),
    (1, "looked", "nothing found at the last look"),
    (2, "hint", "an alert, unsure, or no entry"),
    (3, "reported", "not looked at since"),
    (4, "treated", "dots: to be looked at again"),
    (5, "found", "not treated since"),
)
"""What was on record of a unit by a week, by the step of the scale that shows it."""
REPORT_WORDS = (
    ("seen", "Bugs were seen"),
    ("bitten", "Bites or marks only"),
    ("nothing", "Asked; nothing was noticed"),
)
"""What a resident may report, by the keys of :data:`dashboard.plan.answers.REPORTS`."""
BED_REACH = ExposureSettings().bed_reach
"""Metres around a bed within which most bugs stay; its source is beside it."""
POLL_MS = 1200
"""How often the page asks for news, only while a refit runs."""


_drawn: weakref.WeakKeyDictionary[Session, dict[str, Any]] = weakref.WeakKeyDictionary()


def layout(session: Session) -> html.Main:
    """Return the whole page for a session; its plan's geometry is worked out once."""
    return build_layout(session, geometry_of(session), voice=desk_voice())


def geometry_of(session: Session) -> dict[str, Any]:
    """Return the geometry of a session's plan, worked out once."""
    if session not in _drawn:
        _drawn[session] = plan_geometry(session.plan)
    return _drawn[session]


def build_layout(session: Session, geometry: dict[str, Any], voice: Voice = ENGLISH) -> html.Main:
    """Return the whole page with its first data inside, so that nothing need be asked to draw it."""
    painted = looks.paint(session, voice=voice)
    return html.Main(
        [
            _stores(session, geometry, painted, voice),
            _head(session, voice),
            *_warned(session, voice),
            html.Div([_doors_part(), _plan_part(), _panel_part()], id="desk", className="desk"),
            _said_part(),
        ],
        id="page",
    )


def _warned(session: Session, voice: Voice) -> list[html.Section]:
    """Return what the log contradicts, before any list that rests on it; nothing where it does not."""
    told = warning_words(session.warnings(), voice)
    if not told:
        return []
    title = html.H2(voice.text("The log speaks against the model"))
    items = html.Ul([html.Li(one) for one in told])
    return [html.Section([title, items], id="warnings", className="warnings", **{"aria-live": "polite"})]


def _stores(session: Session, geometry: dict[str, Any], painted: dict[str, Any], voice: Voice) -> html.Div:
    ask = {"method": session.method, "limit": view.FIRST_DOORS, "floor": ""}
    filled = {
        "geometry": geometry,
        "words": form_words(session),
        "paint": painted,
        "lists": view.lists(session, voice=voice),
        "floor": view.first_floor(session),
        "selected": None,
        "ask": ask,
        "show": {"show": "chance", "only": ""},
        "shape": "one",
        "time-asked": None,
        "weeks": None,
        "seen": painted["version"],
    }
    stores = [
        dcc.Store(id=name) if data is None else dcc.Store(id=name, data=data) for name, data in filled.items()
    ]
    later = ("wake", "answer", "reply", "trail", "arrows", "bed", "past")
    stores += [dcc.Store(id=name) for name in later]
    return html.Div(
        [*stores, dcc.Interval(id="poll", interval=POLL_MS, disabled=not session.busy)], hidden=True
    )


def form_words(session: Session) -> dict[str, Any]:
    """Return the choices of the answer form; the session's usual method comes first."""
    method = session.method
    ways = [method, *(way for way in view.WAYS_TO_LOOK if way != method)]
    return {
        "methods": [[way, METHOD_WORDS[way]] for way in ways],
        "monitors": list(MONITORS),
        "levels": [level_choice(level, ENGLISH) for level in LEVELS],
        "evidence": [sign_choice(sign, ENGLISH) for sign in EVIDENCE],
        "classes": list(CLASS_WORDS),
        "floors": [round(100 * lowest) for lowest in CLASS_FLOORS],
        "today": session.today.isoformat(),
        "treatments": [[way, row.short] for way, row in TREATMENTS.items()],
        "turnovers": [["", "One out, one in"], *([way, METHOD_WORDS[way]] for way in TURNOVERS)],
        "reports": [list(pair) for pair in REPORT_WORDS],
        "known": [word for _, word, _ in KNOWN_STEPS],
        "views": {key: _view_words(look) for key, look in looks.VIEWS.items()},
        "only": [[key, name] for key, name in ONLY.items()],
    }


def _view_words(look: looks.Look) -> dict[str, Any]:
    words = {step: word for step, word, _ in look.steps}
    return {"name": look.name, "say": look.say, "classes": [words.get(step, "") for step in range(6)]}


def _head(session: Session, voice: Voice) -> html.Header:
    return html.Header(
        [
            html.Div(
                [
                    html.H1(session.plan.name),
                    html.P(
                        [
                            html.Span(
                                [
                                    "As of ",
                                    html.Strong(
                                        html.Time(voice.day(session.on), dateTime=session.on.isoformat()),
                                        id="as-of-day",
                                    ),
                                ],
                                className="as-of",
                            ),
                            html.Span(view.headline(session), id="headline"),
                        ],
                        className="headline",
                    ),
                ]
            ),
            html.P(busy_words(session.busy), id="busy", className="busy", role="status"),
        ],
        className="head",
    )


def busy_words(busy: bool) -> str:
    """Return what the header says while a refit runs, or nothing."""
    return "Refining the figures…" if busy else ""


def _doors_part() -> html.Section:
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Next doors", id="doors-title"),
                    html.A("To the floor plan", href="#plan-title", className="to-plan", id="to-plan"),
                ],
                className="doors-head",
            ),
            html.Div(id="doors-tools", className="tools"),
            html.Div(id="doors"),
        ],
        className="doors",
        **{"aria-labelledby": "doors-title"},
    )


def _plan_part() -> html.Section:
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Floor plan", id="plan-title"),
                    html.P(id="floor-words", className="floor-words"),
                    *([html.A("Change the plan", href=here("/change"))] if may_open("/change") else []),
                    html.Button(
                        "Wall print",
                        id="wall",
                        type="button",
                        className="quiet",
                        title="The plan with its legend on one page",
                    ),
                    html.Div(id="find-place", className="find-place"),
                ],
                className="plan-head",
            ),
            html.Div(id="plan-tools", className="plan-tools"),
            html.P(id="only-words", className="only-words", role="status"),
            html.Div(id="time-bar", className="time-bar", hidden=True),
            html.Div(id="floors", className="floors", role="group", **{"aria-label": "Floors, lowest first"}),
            html.Div(html.Div(id="plan", className="plan"), className="plan-box"),
            legend(),
            taught_part(),
        ],
        className="floor-plan",
        **{"aria-labelledby": "plan-title"},
    )


def legend() -> html.Div:
    """Return what the colours mean, in words: a part for each view, of which one is shown, and the marks."""
    parts = [_scale(key, look.title, look.steps, hidden=key != "chance") for key, look in looks.VIEWS.items()]
    chance = looks.VIEWS["chance"]
    parts.append(
        _scale("believed", "Chance in that week, as it is believed today", chance.steps, hidden=True)
    )
    parts.append(_scale("known", "What was on record by that week", KNOWN_STEPS, hidden=True))
    marks = [
        ("m-t", "treat", "found, never closed"),
        ("m-r", "revisit", "treated, to be visited again"),
        ("m-o", "ring", "a rule asks for this door"),
        ("m-s", "selected", ""),
        ("m-a", "likely source", "of the selected unit; wider is likelier"),
        ("m-d", "door", ""),
        ("m-p", "riser", "pipes or cables from floor to floor"),
        ("m-b", "bed", ""),
        ("m-u", "outlet", "or jack: power off before its cover comes off"),
        ("m-n", "reach of the bed", f"{BED_REACH:g} m; banded walls, ringed risers and outlets first"),
    ]
    kinds = [_swatch(name, word, words) for name, word, words in marks]
    return html.Div(
        [*parts, html.Ul(kinds, className="marks", **{"data-measured": ""})], id="legend", className="legend"
    )


def _swatch(name: str, word: str, words: str) -> html.Li:
    told = [html.B(word), html.Small(words)] if words else [html.B(word)]
    return html.Li([html.Span(className=f"swatch {name}", **{"aria-hidden": "true"}), html.Span(told)])


def _scale(key: str, title: str, steps: Sequence[tuple[int, str, str]], *, hidden: bool) -> html.Div:
    rows = [_swatch(f"c{step}", word, span) for step, word, span in steps]
    return html.Div(
        [html.P(title, className="legend-title"), html.Ul(rows, className="scale")],
        hidden=hidden,
        **{"data-legend": key},
    )


def taught_part() -> html.Details:
    """Return the place for what the building taught; it is filled after the page is drawn."""
    return html.Details(
        [
            html.Summary("What this building taught us"),
            html.H3("Infested units through the weeks"),
            html.Div(id="past-chart", className="trail"),
            html.Div(id="taught"),
            html.P(html.A("The past in figures, with tables", href=here("/past"))),
        ],
        id="taught-part",
        className="taught",
    )


def _panel_part() -> html.Section:
    return html.Section(
        [
            html.Div(
                [
                    html.H2("", id="panel-title", tabIndex="-1"),
                    html.Button("On the plan", id="peek", className="quiet", type="button"),
                    html.Button("Close", id="close", className="quiet", type="button"),
                ],
                className="panel-head",
            ),
            html.Div(id="panel-first"),
            html.Div(id="form"),
            html.Div(id="panel-rest"),
            html.Div(
                [html.H3("Chance over time"), html.Div(id="trail-chart")],
                id="trail-part",
                className="trail",
                hidden=True,
            ),
            html.Div(id="panel-history"),
        ],
        id="panel",
        className="panel",
        hidden=True,
        **{"aria-labelledby": "panel-title"},
    )


def _said_part() -> html.Div:
    return html.Div(
        [
            html.P(id="said", role="status"),
            html.Div(
                [
                    html.Button("Take it back", id="undo", className="quiet", type="button", hidden=True),
                    html.Button("Next door", id="next-door", type="button", hidden=True),
                    html.Button("Hide", id="hide-said", className="quiet", type="button"),
                ],
                className="said-buttons",
            ),
        ],
        id="said-bar",
        className="said-bar quiet-bar",
    )
