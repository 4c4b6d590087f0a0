"""Open cases: one row a unit, what is known of it apart from today's chance, and complaints taken in."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Flask, Response, request

from dashboard.desk.keeping import just_kept, keep_answer
from dashboard.pages import Page
from dashboard.signin.who import may
from dashboard.web.bar import desk_frame
from dashboard.web.files import filled
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from dashboard.words import chance_class
from spread.decisions.case.case import Proof
from spread.decisions.case.followup import FollowUp
from spread.people.roles import RECORD
from spread.session import Session
from spread.words import Voice, say
from spread.words.followup import days_late
from spread.words.terms import level_name
from spread.words.voice import upper

PATH = "/cases"
STAGES = {
    "infested": "Found, not treated since",
    "open": "Found or treated, never closed",
    "asked": "Reported or alerted, nobody has looked since",
}
"""Stages of an open case, what is known first."""
REPORTED = {"bitten": "Bites or marks", "seen": "Bugs seen"}


def add_cases(server: Flask, session: Session) -> None:
    """Put the page and its form on a server."""
    pages = Blueprint("cases", __name__)

    @pages.get(PATH)
    def cases_page() -> str:
        return filled(
            "desk/cases.html",
            **desk_frame(PATH, "desk/page.js"),
            **context(session, desk_voice()),
            kept=just_kept(session, request.args.get("after", "")[:64]),
            may_record=may(RECORD),
        )

    @pages.post(f"{PATH}/report")
    def report() -> Response:
        return keep_answer(session, {**sent_json(), "answer": "report"})

    @pages.post(f"{PATH}/back")
    def back() -> Response:
        return keep_answer(session, {**sent_json(), "answer": "undo"})

    server.register_blueprint(pages)


def context(session: Session, voice: Voice) -> dict[str, Any]:
    """Return what the template shows, ready made."""
    found = [one for one in session.view.followups.values() if one.case.stage in STAGES]
    found.sort(
        key=lambda one: (
            list(STAGES).index(one.case.stage),
            _due(one),
            session.contacts.nodes[one.unit]["index"],
        )
    )
    groups = [
        (stage, words, [_row(session, one, voice) for one in found if one.case.stage == stage])
        for stage, words in STAGES.items()
    ]
    return {
        "building": session.plan.name,
        "on": voice.day(session.on),
        "version": session.version,
        "groups": [group for group in groups if group[2]],
        "summary": voice.many("{number} open case", "{number} open cases", len(found)),
        "known": sum(one.case.stage in ("infested", "open") for one in found),
        "units": list(session.plan.units),
        "today": session.today.isoformat(),
        "reported": REPORTED,
        "stages": STAGES,
    }


def _due(one: FollowUp) -> str:
    days = [act.since for act in one.case.acts] or [one.case.on]
    return min([one.visit.target] if one.visit else days).isoformat()


def _row(session: Session, one: FollowUp, voice: Voice) -> dict[str, Any]:
    case, visit = one.case, one.visit
    rows = session.view.log.of(one.unit, session.on)
    since = [row for row in rows if case.opened is not None and row.when >= case.opened]
    reports = [row for row in since if row.is_complaint]
    find = session.view.log.by_id.get(case.find.row) if case.find else None
    late = (session.on - visit.latest).days if visit is not None else 0
    return {
        "unit": one.unit,
        "opened": voice.day(case.opened) if case.opened else "",
        "reports": f"{len(reports)}, {voice.short_day(reports[-1].when)}" if reports else "",
        "found": ", ".join(
            filter(
                None, [_day(case.find, voice), level_name(find.level, voice) if find and find.level else ""]
            )
        ),
        "treated": f"{case.treatments}, {_day(case.treatment, voice)}" if case.treatments else "",
        "acts": upper("; ".join(say(act, voice) for act in case.acts)),
        "due": voice.text(
            "{first} to {last}", first=voice.short_day(visit.earliest), last=voice.short_day(visit.latest)
        )
        if visit
        else "",
        "late": days_late(late, voice) if late > 0 else "",
        "failing": case.failing is not None,
        "chance": voice.percent(one.chance),
        "shade": chance_class(one.chance),
    }


def _day(proof: Proof | None, voice: Voice) -> str:
    return voice.short_day(proof.when) if proof else ""


PAGE = Page(PATH, "Cases", "open cases", routes=add_cases, in_bar=False, desk=True)
