"""Revisits: who is to be visited again and when, and the shortest way to clear each unit."""

from __future__ import annotations

import datetime as dt
from typing import Any

from flask import Blueprint, Flask

from dashboard.desk.feed import add_feed, keys_shown
from dashboard.pages import Page
from dashboard.signin.who import may
from dashboard.web.bar import desk_frame
from dashboard.web.files import filled
from dashboard.web.voice import desk_voice
from dashboard.words import chance_class
from spread.decisions.case.followup import FollowUp
from spread.decisions.case.shortest import WayToClear, ways_to_clear
from spread.decisions.case.visits import Visit
from spread.people.roles import EXPORT
from spread.report.followup_text import visit_groups
from spread.session import Session
from spread.trade.clearance import NEVER
from spread.words import Voice, say
from spread.words.followup import days_late, notes, opening, revisit_words, states_counted, visit_kind
from spread.words.shortest import holds_if, needed, short
from spread.words.voice import upper

PATH = "/revisits"
_TOLD = ("confirm", "watch")  # of the other visits the state of the unit tells what for


def add_revisits(server: Flask, session: Session) -> None:
    """Put the page on a server."""
    pages = Blueprint("revisits", __name__)

    @pages.get(PATH)
    def revisits_page() -> str:
        voice = desk_voice()
        return filled(
            "desk/revisits.html",
            **desk_frame(PATH, "desk/page.js"),
            **context(session, voice),
            keys=keys_shown(session, voice) if may(EXPORT) else None,
        )

    add_feed(server, session)
    server.register_blueprint(pages)


def context(session: Session, voice: Voice) -> dict[str, Any]:
    """Return what the template shows, ready made."""
    view, text = session.view, voice.text
    ways = ways_to_clear(view, session.entries())
    groups = [
        (title, [_row(one, visit, ways.get(one.unit), session.on, voice) for one, visit in group])
        for title, group in visit_groups(view.followups, voice).items()
    ]
    open_ = [one for one in view.followups.values() if one.state == "not cleared" and one.visit is None]
    rest = [_row(one, None, ways.get(one.unit), session.on, voice) for one in open_]
    groups.append((text("Not cleared; doors to look at again, with no visit window"), rest))
    return {
        "building": session.plan.name,
        "on": voice.day(session.on),
        "version": session.version,
        "summary": upper(revisit_words(view.followups, voice)),
        "states": states_counted(view.followups, voice),
        "groups": [(title, rows) for title, rows in groups if rows],
        "holds_if": holds_if(voice),
        "never": voice.term("line", NEVER),
        "most": voice.percent(view.clearance.chance, 1),
    }


def _row(
    one: FollowUp, visit: Visit | None, way: WayToClear | None, on: dt.date, voice: Voice
) -> dict[str, Any]:
    told: dict[str, Any] = {
        "unit": one.unit,
        "stands": opening(one, voice),
        "chance": voice.percent(one.chance, 1),
        "shade": chance_class(one.chance),
        "notes": notes(one, voice),
        "needed": "",
        "earliest": "",
        "stopped": "",
        "visits": (),
        "come": "",
        "window": "",
        "late": "",
    }
    if way is not None:
        dated = way.earliest is not None
        told |= {
            "needed": upper(needed(way, voice)) if dated else "",
            "earliest": voice.day(way.earliest) if way.earliest is not None else "",
            "stopped": "" if dated else short(way, voice),
            "refused": voice.day(way.refused) if way.refused is not None else "",
            "visits": [say(visit, voice) for visit in way.visits],
        }
    if visit is not None:
        window = {"first": voice.short_day(visit.earliest), "last": voice.short_day(visit.latest)}
        told |= {
            "come": visit_kind(visit.kind, voice) if visit.kind in _TOLD else "",
            "window": voice.text("{first} to {last}", **window),
            "late": days_late((on - visit.latest).days, voice) if visit.status == "overdue" else "",
        }
    return told


PAGE = Page(PATH, "Revisits", "revisits", routes=add_revisits, in_bar=False, desk=True)
