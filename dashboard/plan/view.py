"""From a session to the JSON that the page draws. Pure: no Dash, no files, no clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.plan.beds import beds_of
from dashboard.plan.facts import kept_by
from dashboard.words import (
    CLASS_WORDS,
    EVIDENCE_WORDS,
    FOUND_WORDS,
    KIND_WORDS,
    LEVEL_WORDS,
    chance_class,
    floor_title,
    one_or_many,
)
from spread.decisions.case.revisits import revisit_words
from spread.decisions.doors.ranking import DoorRow
from spread.decisions.doors.sources import SourceShare
from spread.decisions.doors.why import Why
from spread.decisions.words import as_percent
from spread.plan.model import Plan
from spread.records.kinds import Record
from spread.records.words import METHOD_WORDS
from spread.report.text import ORDER_WORDS, worth_words
from spread.session import Session
from spread.trade.registry import LOOKING
from spread.weeks import speak_ago, speak_date

LEAST_ARROW = 0.05
"""Sources under this share are listed and not drawn."""
MOST_ARROWS = 3
NOT_LEARNED = "The rates were held at the general experience: nothing was learned from this log."
NOTHING_YET = (
    "nothing recorded yet: the figures are general experience; open a unit and record what is known of it"
)
FIRST_DOORS = 15
"""A day's round; what the list opens with and what floors count as due."""
MOST_DOORS = 500
WAYS_TO_LOOK = tuple(LOOKING)


def paint(session: Session) -> dict[str, Any]:
    """Return what colours the plan: ``{"version", "units": {id: [class, label, mark]}}``.

    A mark is ``t`` (treat), ``r`` (revisit), ``o`` (a rule asks for it) or empty.
    """
    version = session.version
    marks = {row.unit: _mark(row) for row in session.doors()}
    units = {
        unit: [chance_class(chance), as_percent(chance), marks.get(unit, "")]
        for unit, chance in session.chances().items()
    }
    return {"version": version, "units": units}


def _mark(row: DoorRow) -> str:
    if row.status in ("treat", "revisit"):
        return row.status[0]
    return "o" if row.mandatory else ""


def lists(session: Session, ask: object = None) -> dict[str, Any]:
    """Return the lists and what each floor says on its button.

    ``asked`` holds the doors that a rule asks for and that stand lower than the list goes.

    Parameters
    ----------
    session
        The open building.
    ask
        What the page asked for: ``method``, ``limit`` and ``floor``. It comes from the
        browser, so that anything not understood falls back to its default.
    """
    wanted = ask if isinstance(ask, Mapping) else {}
    method = wanted.get("method")
    if not isinstance(method, str) or method not in WAYS_TO_LOOK:
        method = session.method
    limit = wanted.get("limit")
    if not isinstance(limit, int) or isinstance(limit, bool):
        limit = FIRST_DOORS
    limit = min(max(limit, 1), MOST_DOORS)
    floor = wanted.get("floor")
    if not isinstance(floor, str) or floor not in session.plan.floors:
        floor = ""
    plan = session.plan
    doors = session.doors(method)
    kept = kept_by(session, wanted.get("only"))
    listed = [row for row in doors if kept is None or row.unit in kept]
    look = [row for row in listed if row.status == "look"]
    due = [row for row in doors if row.status == "look"]
    here = [row for row in look if not floor or floor in plan.units[row.unit].parts]
    result: dict[str, Any] = {
        "method": method,
        "method_words": METHOD_WORDS[method],
        "floor": floor,
        "only": wanted.get("only") if kept is not None else "",
        "by": ORDER_WORDS[session.order],
        "next": [_row(row, plan) for row in here[:limit]],
        "asked": [_row(row, plan) for row in here[limit:] if row.mandatory],
        "more": max(len(here) - limit, 0),
        "limit": limit,
        "floors": _floors(plan, doors, due[:FIRST_DOORS]),
    }
    for status in ("treat", "revisit"):
        apart = [row for row in listed if row.status == status]
        result[status] = [_row(row, plan) for row in apart[:MOST_DOORS]]
    return result


def _row(row: DoorRow, plan: Plan) -> dict[str, Any]:
    return {
        "u": row.unit,
        "r": row.rank,
        "f": " and ".join(floor_title(floor) for floor in plan.units[row.unit].parts),
        "c": chance_class(row.chance),
        "p": as_percent(row.chance),
        "w": CLASS_WORDS[chance_class(row.chance)],
        "find": as_percent(row.chance_of_find),
        "why": row.reason,
        "rule": row.rule,
        "duty": duty_words(row),
        "saves": f"saves {max(1, round(row.worth_of_find))} unit-weeks, {max(1, round(row.minutes))} min",
        "worth": worth_words(row),
        "sure": row.sure,
        "visit": row.visit_words,
    }


def duty_words(row: DoorRow) -> str:
    """Return the look that a rule set asks for in a few words, such as ``look by 24 Nov``; or nothing."""
    duty = row.duty
    if duty is None:
        return ""
    if not duty.due:
        return "look, no date" + (", no access" if duty.status == "cannot" else "")
    day = dt.date.fromisoformat(duty.due)
    short = duty.words.replace(speak_date(day), f"{day.day} {day:%b}")
    return short.replace("tried without access", "no access")


def _floors(plan: Plan, doors: Sequence[DoorRow], due: Sequence[DoorRow]) -> list[dict[str, Any]]:
    """For each floor, lowest first: its highest class and how many of the next doors are on it."""
    highest = dict.fromkeys(plan.floors, 0)
    waiting = dict.fromkeys(plan.floors, 0)
    for row in doors:
        for floor in plan.units[row.unit].parts:
            highest[floor] = max(highest[floor], chance_class(row.chance))
    for row in due:
        for floor in plan.units[row.unit].parts:
            waiting[floor] += 1
    return [
        {
            "name": floor,
            "title": floor_title(floor),
            "c": highest[floor],
            "words": CLASS_WORDS[highest[floor]],
            "due": waiting[floor],
            "doors": one_or_many(waiting[floor], "door due", "doors due"),
        }
        for floor in plan.floors
    ]


def headline(session: Session) -> str:
    """Return the line under the building's name: date, size, what is open."""
    doors = session.doors()
    treat = sum(row.status == "treat" for row in doors)
    parts = [
        f"{one_or_many(len(session.plan.units), 'unit', 'units')} on "
        f"{one_or_many(len(session.plan.floors), 'floor', 'floors')}",
        f"{treat} to treat",
        revisit_words(session.view.followups),
    ]
    if not session.view.log.current:
        parts.append(NOTHING_YET)
    return " · ".join(parts)


def first_floor(session: Session) -> str:
    """Return the floor to open with: the one with the first door of the list."""
    for row in session.doors():
        for floor in session.plan.units[row.unit].parts:
            return floor
    return session.plan.floors[0] if session.plan.floors else ""


def unit_panel(session: Session, unit: object) -> dict[str, Any] | None:
    """Return everything the unit panel shows, or None when the building has no such unit."""
    if not isinstance(unit, str) or unit not in session.plan.units:
        return None
    why = session.why(unit)
    row = next(row for row in session.doors() if row.unit == unit)
    return {
        "unit": unit,
        "floors": " and ".join(floor_title(floor) for floor in session.plan.units[unit].parts),
        "chance": as_percent(why.chance),
        "c": chance_class(why.chance),
        "words": CLASS_WORDS[chance_class(why.chance)],
        "sure": why.sure,
        "status": why.status,
        "visit": row.visit_words,
        "rule": why.rule,
        "duty": duty_words(row),
        "duty_note": _duty_note(row),
        "worth": f"{worth_words(row)}." if why.status == "look" else "",
        "next_step": why.next_step,
        "reasons": list(why.reasons),
        "levels": [
            {"name": LEVEL_WORDS.get(level, level), "share": share, "percent": as_percent(share)}
            for level, share in why.levels.items()
        ],
        "sources_kind": why.sources_kind,
        "sources_title": why.sources_title,
        "sources_note": why.sources_note,
        "sources": _sources(why.sources[:6]),
        "pressure": _sources(why.pressure[:6]) if why.sources_kind == "came-from" else [],
        "arrows": _arrows(why),
        "bed": beds_of(session.plan, unit),
        "doubts": [
            {
                "words": doubt.words,
                "rows": f"{'Row' if len(doubt.rows) == 1 else 'Rows'} {', '.join(doubt.rows)}",
            }
            for doubt in why.doubts
        ],
        "history": [_history(record, session) for record in why.history],
        "followup": _followup(why),
        "trail": [[monday, round(float(chance), 3)] for monday, chance in why.trail],
    }


def _followup(why: Why) -> dict[str, Any] | None:
    """Return where a unit is between a find and the end of the watch; None where nothing was ever known."""
    followup = why.followup
    if followup is None or followup.since is None:
        return None
    return {"title": followup.title, "words": list(followup.words)}


def _duty_note(row: DoorRow) -> str:
    duty = row.duty
    return f"{duty.because} (rule set {duty.rule}). Check your local code." if duty else ""


def _sources(sources: Sequence[SourceShare]) -> list[dict[str, Any]]:
    return [
        {
            "unit": source.unit,
            "words": source.words,
            "share": source.share,
            "percent": as_percent(source.share),
        }
        for source in sources
        if source.share >= 0.005
    ]


def _arrows(why: Why) -> dict[str, Any]:
    """Return the likely sources that are units, for the plan: ``{"unit", "from": [[unit, share]]}``."""
    named = [source for source in why.sources if source.unit and source.share >= LEAST_ARROW]
    if why.sources_kind != "came-from":
        named = []
    return {
        "unit": why.unit,
        "from": [[s.unit, round(s.share, 3)] for s in named[:MOST_ARROWS]],
    }


def taught(session: Session) -> dict[str, Any]:
    """Return what the building taught: sentences on its past and its rates, and the curve's weeks.

    Returns
    -------
    dict
        ``past`` and ``rates`` are sentences; ``weeks`` are ``[monday, low, lower, median, upper, high]``.
    """
    past, learned = session.past(), session.learned()
    return {
        "past": list(past.words) if past else [],
        "weeks": [[w.monday, w.low, w.lower, w.median, w.upper, w.high] for w in past.weeks] if past else [],
        "rates": list(learned.words) if learned else [NOT_LEARNED],
    }


def _history(record: Record, session: Session) -> dict[str, str]:
    what = [KIND_WORDS.get(record.kind, record.kind)]
    if record.method:
        what.append(METHOD_WORDS.get(record.method, record.method).lower())
    outcome = [FOUND_WORDS[record.found]] if record.found in FOUND_WORDS else []
    if record.level:
        outcome.append(LEVEL_WORDS.get(record.level, record.level).lower())
    if record.count is not None:
        outcome.append(one_or_many(record.count, "bug", "bugs"))
    if record.evidence:
        outcome.append(
            " and ".join(EVIDENCE_WORDS.get(word, word).lower() for word in sorted(record.evidence))
        )
    if record.days:
        outcome.append(f"over {one_or_many(record.days, 'day', 'days')}")
    return {
        "id": record.id,
        "kind": record.kind,
        "day": record.when.isoformat(),
        "when": speak_date(record.when),
        "ago": speak_ago((session.on - record.when).days),
        "what": ", ".join(what),
        "outcome": ", ".join(outcome),
        "note": record.note,
        "by": record.by,
    }
