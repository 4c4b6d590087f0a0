"""What the page asks of the server; each callback asks the session and hands on the view."""

from __future__ import annotations

import logging
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, html, no_update

from dashboard.plan import looks, panel, view
from dashboard.plan.answers import fields_of
from dashboard.plan.layout import busy_words, geometry_of
from dashboard.signin.who import recorded
from dashboard.times import weeks_of
from dashboard.web.voice import desk_voice
from spread.errors import SpreadError
from spread.session import Session
from spread.words import say

log = logging.getLogger(__name__)

NOT_KEPT = "The answer could not be kept. What you typed is still here; try again, or write it down."


def register(app: Dash, session: Session) -> None:
    """Put every callback on ``app`` (never on Dash's global list, which two apps would share)."""
    geometry_of(session)  # now, so that the first reader need not wait for it
    _server_side(app, session)
    _browser_side(app)


def _server_side(app: Dash, session: Session) -> None:
    @app.callback(
        Output("paint", "data"),
        Output("headline", "children"),
        Output("as-of-day", "children"),
        Input("seen", "data"),
        Input("show", "data"),
        Input("voice", "data"),
        prevent_initial_call=True,
    )
    def repaint(_seen: object, show: object, _voice: object) -> tuple[dict[str, Any], str, html.Time]:
        voice = desk_voice()
        day = html.Time(voice.day(session.on), dateTime=session.on.isoformat())
        return looks.paint(session, show, voice=voice), view.headline(session), day

    @app.callback(Output("weeks", "data"), Input("time-asked", "data"), prevent_initial_call=True)
    def look_back(_asked: object) -> dict[str, Any]:
        return weeks_of(session)

    @app.callback(
        Output("taught", "children"), Output("past", "data"), Input("seen", "data"), Input("voice", "data")
    )
    def teach(_seen: object, _voice: object) -> tuple[Any, Any]:
        taught = view.taught(session, voice=desk_voice())
        return panel.taught_part(taught), taught["weeks"]

    @app.callback(
        Output("lists", "data"),
        Input("ask", "data"),
        Input("seen", "data"),
        Input("voice", "data"),
        prevent_initial_call=True,
    )
    def relist(ask: object, _seen: object, _voice: object) -> dict[str, Any]:
        return view.lists(session, ask, voice=desk_voice())

    @app.callback(
        Output("panel-first", "children"),
        Output("panel-rest", "children"),
        Output("panel-history", "children"),
        Output("trail", "data"),
        Output("arrows", "data"),
        Output("bed", "data"),
        Input("selected", "data"),
        Input("seen", "data"),
        Input("voice", "data"),
        prevent_initial_call=True,
    )
    def show_unit(unit: object, _seen: object, _voice: object) -> tuple[Any, ...]:
        if not unit:
            return (no_update,) * 6
        shown = view.unit_panel(session, unit, voice=desk_voice())
        if shown is None:
            return html.P(panel.NO_SUCH_UNIT), [], [], None, None, None
        first = [*panel.first_part(shown), *panel.links_part(shown)]
        parts = first, panel.rest_part(shown), panel.history_part(shown)
        trail = {"weeks": shown["trail"], "events": [[one["day"], one["kind"]] for one in shown["history"]]}
        return *parts, trail, shown["arrows"], shown["bed"]

    @app.callback(
        Output("reply", "data"),
        Output("seen", "data"),
        Output("poll", "disabled"),
        Output("busy", "children"),
        Input("answer", "data"),
        prevent_initial_call=True,
    )
    def keep(answer: object) -> tuple[Any, Any, Any, Any]:
        return keep_answer(session, answer)

    @app.callback(
        Output("seen", "data", allow_duplicate=True),
        Output("poll", "disabled", allow_duplicate=True),
        Output("busy", "children", allow_duplicate=True),
        Input("poll", "n_intervals"),
        Input("wake", "data"),
        State("seen", "data"),
        prevent_initial_call=True,
    )
    def look_for_news(_ticks: object, _wake: object, seen: object) -> tuple[Any, bool, str]:
        busy = session.busy  # before the version: a refit that ends between the two is then seen
        version = session.version
        return (no_update if version == seen else version), not busy, busy_words(busy)


def keep_answer(session: Session, answer: object) -> tuple[Any, Any, Any, Any]:
    """Record an answer; return the reply, the new version, whether to stop asking, and the busy words."""
    echo = str(answer.get("id", ""))[:64] if isinstance(answer, dict) else ""
    try:
        fields = fields_of(answer, session.plan, session.today)
        kept = recorded(session, fields)
    except SpreadError as error:
        return {"id": echo, "ok": False, "words": str(error)}, no_update, no_update, no_update
    except OSError:
        log.exception("the records file could not be written")
        return {"id": echo, "ok": False, "words": NOT_KEPT}, no_update, no_update, no_update
    undoable = kept.new and not kept.record.supersedes
    reply = {
        "id": echo,
        "ok": True,
        "unit": kept.record.unit,
        "words": say(kept.told, desk_voice()),
        "undo": kept.record.id if undoable else "",
    }
    busy = session.busy  # before the version: a refit that ends between the two is then seen
    return reply, session.version, not busy, busy_words(busy)


def _browser_side(app: Dash) -> None:
    def here(name: str, *inputs: Input) -> None:
        app.clientside_callback(ClientsideFunction("spread", name), *inputs)

    here("words", Input("words", "data"))
    here(
        "plan",
        Input("geometry", "data"),
        Input("floor", "data"),
        Input("paint", "data"),
        Input("selected", "data"),
        Input("shape", "data"),
    )
    here("weeks", Input("weeks", "data"))
    here("floors", Input("lists", "data"), Input("floor", "data"))
    here("doors", Input("lists", "data"), Input("selected", "data"))
    here("unit", Input("selected", "data"))
    here("shown", Input("panel-first", "children"))
    here("reply", Input("reply", "data"))
    here("trail", Input("trail", "data"))
    here("arrows", Input("arrows", "data"))
    here("bed", Input("bed", "data"))
    here("past", Input("past", "data"))
