"""Duties and notices: what is owed, by when, by which rule and what proves it; notices printed and ticked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from flask import Blueprint, Flask, Response, request

from dashboard.desk.keeping import just_kept, keep, said
from dashboard.desk.notices import asked_window, checked, give, notices_page, purpose_of, take_back
from dashboard.pages import Page
from dashboard.signin.who import may
from dashboard.web.bar import desk_frame
from dashboard.web.files import filled
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import Duty, duties
from spread.decisions.week.entry import Entry, notices_on_record
from spread.errors import SpreadError
from spread.people.roles import RECORD
from spread.records.kinds import said_by
from spread.report.duties_text import AT_THE_DOOR, NOTE_OF_STEP, group, group_names
from spread.session import Session
from spread.trade.rule_set import ALWAYS_SAY
from spread.words import Voice
from spread.words import duties as words
from spread.words.followup import visit_kind
from spread.words.records import describe
from spread.words.refusals import refusal
from spread.words.voice import upper

PATH = "/duties"
FEW = 5
"""Units up to which what is owed is shown unit by unit at once."""


def add_duties(server: Flask, session: Session) -> None:
    """Put the page, the notices and what is ticked on a server."""
    pages = Blueprint("duties", __name__)

    @pages.get(PATH)
    def duties_page() -> str:
        return filled(
            "desk/duties.html",
            **desk_frame(PATH, "desk/page.js"),
            **context(session, _day(request.args.get("day", "")), desk_voice()),
            kept=just_kept(session, request.args.get("after", "")[:64]),
            may_record=may(RECORD),
        )

    @pages.get(f"{PATH}/notices")
    def notices() -> Response:
        try:
            day, window = _notice_day(request.args.get("day", "")), asked_window(request.args)
            units = checked(
                session, _units(request.args.getlist("units"), request.args.get("other", "")), day
            )
        except SpreadError as error:
            return Response(refusal(error, desk_voice()), status=400, mimetype="text/plain")
        return notices_page(session, {unit: purpose_of(session, unit) for unit in units}, day, window)

    @pages.post(f"{PATH}/given")
    def given() -> Response:
        sent = sent_json()
        try:
            day, window = _notice_day(str(sent.get("day") or "")), asked_window(sent)
            units = checked(session, _units(sent.get("units"), str(sent.get("other") or "")), day)
        except SpreadError as error:
            return said(refusal(error, desk_voice()), ok=False)
        return give(session, units, day, window)

    @pages.post(f"{PATH}/back")
    def back() -> Response:
        try:
            return take_back(session, _notice_day(str(sent_json().get("day") or "")))
        except SpreadError as error:
            return said(refusal(error, desk_voice()), ok=False)

    @pages.post(f"{PATH}/done")
    def done() -> Response:
        """Record that a step on paper was taken for some units: the row that proves it."""
        sent = sent_json()
        method, units = NOTE_OF_STEP.get(str(sent.get("step"))), _units(sent.get("units"), "")
        if method is None or not units:
            return said("Choose the units for which it is done.", ok=False)
        return keep(session, [{"unit": unit, "kind": "note", "method": method} for unit in units])

    server.register_blueprint(pages)


def _units(told: object, other: str) -> list[str]:
    """Return unit codes that boxes and a line of text name, each once."""
    chosen = [one for one in told if isinstance(one, str)] if isinstance(told, list) else []
    return list(dict.fromkeys([*chosen, *other.replace(",", " ").split()]))


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        return None


def _notice_day(text: str) -> dt.date:
    day = _day(text)
    if day is None:
        raise SpreadError.at("The notice", "day", f"{text[:20]!r} is no day", "choose the day of the visit")
    return day


def context(session: Session, day: dt.date | None, voice: Voice) -> dict[str, Any]:
    """Return what the template shows, ready made; ``day``: of the visits that notices are given for."""
    view, rules, on = session.view, session.rules, session.on
    owed = duties(view.log, view.graph, rules, on)
    entries = session.entries()
    first = max((one.again for one in entries.values()), default=on)
    day = first if day is None else day
    groups, names = group(owed, on), group_names(voice)
    days_off = rules.calendar.days if rules.calendar else ()
    return {
        "building": session.plan.name,
        "on": voice.day(on),
        "version": session.version,
        "counted": {key: len(found) for key, found in groups.items()},
        "groups": [
            (names[key], key, _blocks(session, found, voice)) for key, found in groups.items() if found
        ],
        "rules": rules,
        "holidays": [voice.day(one) for one in days_off if one >= on],
        "always_say": voice.term("law", ALWAYS_SAY),
        "day": day.isoformat(),
        "first": voice.day(first),
        "least": on.isoformat(),
        "wanting": _wanting(session, owed, entries, day, voice),
        "on_record": _on_record(session, voice),
    }


def _blocks(session: Session, found: Sequence[Duty], voice: Voice) -> list[dict[str, Any]]:
    """Return what a rule asks for, each once with the units that it is owed in; doors before paper."""
    asked: dict[str, list[Duty]] = {}
    for duty in found:
        asked.setdefault(duty.deadline.key, []).append(duty)
    blocks = []
    for same in sorted(asked.values(), key=lambda same: same[0].step not in AT_THE_DOOR):
        deadline = same[0].deadline
        dues = sorted(day_of(duty.due) for duty in same if duty.due is not None)
        blocks.append(
            {
                "title": words.asked(deadline, voice),
                "terms": upper(words.terms(deadline, voice)),
                "source": deadline.origin.source,
                "read": voice.term("read", deadline.origin.read),
                "due": voice.day(dues[0]) if dues else "",
                "step": deadline.step if deadline.step in NOTE_OF_STEP and same[0].status != "done" else "",
                "open": len(same) <= FEW and same[0].status != "done",
                "rows": [_owed(session, duty, voice) for duty in same],
            }
        )
    return blocks


def _owed(session: Session, duty: Duty, voice: Voice) -> dict[str, Any]:
    by_id, state = session.view.log.by_id, []
    if duty.status == "done":
        row = by_id[duty.proof]
        state.append(f"{voice.short_day(row.when)}: {describe(row, voice)}")
    elif duty.notice_proof:
        given = voice.short_day(by_id[duty.notice_proof].when)
        state.append(voice.text("notice of entry given {day}", day=given))
    elif duty.notice is not None:
        ahead = words.span(duty.notice.lead, voice)
        state.append(voice.text("notice of entry at least {span} before", span=ahead))
    if duty.attempts:
        state.append(words.tried(len(duty.attempts), voice))
    return {
        "unit": duty.unit,
        "by": words.moment(duty.due, voice) if duty.due is not None else "",
        "late": words.late((session.on - day_of(duty.due)).days, voice)
        if duty.late and duty.due is not None and duty.status != "done"
        else voice.text("done late")
        if duty.late
        else "",
        "why": words.reason(duty, voice, more=True),
        "state": "; ".join(state),
    }


def _wanting(
    session: Session, owed: Sequence[Duty], entries: Mapping[str, Entry], day: dt.date, voice: Voice
) -> list[dict[str, Any]]:
    """Return the units that somebody has to enter and whose notice of that day is not on record."""
    why: dict[str, str] = {}
    for duty in owed:
        if duty.status != "done" and duty.step in AT_THE_DOOR:
            why.setdefault(duty.unit, words.asked(duty.deadline, voice))
    for unit, one in session.view.followups.items():
        if one.visit is not None and one.status in ("treat", "revisit"):
            why.setdefault(unit, upper(visit_kind(one.visit.kind, voice)))
    return [
        {
            "unit": unit,
            "why": why[unit],
            "early": voice.day(entries[unit].again) if entries[unit].again > day else "",
            "refused": entries[unit].state == "refused",
        }
        for unit in session.plan.units
        if unit in why and entries[unit].state != "free" and not entries[unit].lawful_on(day)
    ]


def _on_record(session: Session, voice: Voice) -> list[dict[str, Any]]:
    """Return the notices that are on record for days to come, by day."""
    coming = sorted(
        {
            row.job.day
            for row in session.view.log.current
            if said_by(row) == "entry-notice" and row.job and row.job.day and row.job.day >= session.on
        }
    )
    return [
        {
            "day": day.isoformat(),
            "title": voice.day(day),
            "units": sorted(notices_on_record(session.view, day)),
        }
        for day in coming
    ]


PAGE = Page(PATH, "Duties", "duties and notices", routes=add_duties, in_bar=False, desk=True)
