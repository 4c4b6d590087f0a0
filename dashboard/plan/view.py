"""From a session to the JSON that the page draws. Pure: no Dash, no files, no clock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.plan.beds import beds_of
from dashboard.plan.facts import kept_by
from dashboard.words import CLASS_WORDS, chance_class, floor_title, one_or_many
from spread.decisions.doors.ranking import DoorRow
from spread.decisions.doors.sources import SourceShare
from spread.decisions.doors.why import Why
from spread.plain import harmless
from spread.plan.model import Plan
from spread.records.kinds import Record
from spread.session import Session
from spread.trade.registry import LOOKING
from spread.words import ENGLISH, Voice, say
from spread.words.doors import (
    access_words,
    because_words,
    order_words,
    reason_text,
    reason_words,
    short_duty,
    sure_words,
    visit_words,
    weighed_words,
    worth_words,
)
from spread.words.followup import revisit_words, sentences, title
from spread.words.learned import learned_words, not_learned, past_words
from spread.words.records import heading, items_words, outcome_words
from spread.words.relations import places
from spread.words.terms import level_name, method_name
from spread.words.voice import upper
from spread.words.why import never_closed, sources_note, sources_title

LEAST_ARROW = 0.05
"""Sources under this share are listed and not drawn."""
MOST_ARROWS = 3
NOTHING_YET = (
    "nothing recorded yet: the figures are general experience; open a unit and record what is known of it"
)
FIRST_DOORS = 15
"""A day's round; what the list opens with and what floors count as due."""
MOST_DOORS = 500
WAYS_TO_LOOK = tuple(LOOKING)


def paint(session: Session, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return what colours the plan: ``{"version", "units": {id: [class, label, mark]}}``.

    A mark is ``t`` (treat), ``r`` (revisit), ``o`` (a rule asks for it) or empty.
    """
    version = session.version
    marks = {row.unit: _mark(row) for row in session.doors()}
    units = {
        unit: [chance_class(chance), voice.percent(chance), marks.get(unit, "")]
        for unit, chance in session.chances().items()
    }
    return {"version": version, "units": units}


def _mark(row: DoorRow) -> str:
    if row.status in ("treat", "revisit"):
        return row.status[0]
    return "o" if row.mandatory else ""


def lists(session: Session, ask: object = None, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return the lists and what each floor says on its button.

    ``asked`` holds the doors that a rule asks for and that stand lower than the list goes.

    ``ask``: what the page asked for: ``method``, ``limit`` and ``floor``. It comes from the browser, so that
    anything not understood falls back to its default.
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
    session.promise("plan", [*here[:limit], *(row for row in here[limit:] if row.mandatory)], method)
    result: dict[str, Any] = {
        "method": method,
        "method_words": method_name(method, voice),
        "floor": floor,
        "only": wanted.get("only") if kept is not None else "",
        "by": order_words(session.order, voice),
        "weighed": weighed_words(session.view.week_costs, voice),
        "next": [_row(row, session, voice) for row in here[:limit]],
        "asked": [_row(row, session, voice) for row in here[limit:] if row.mandatory],
        "more": max(len(here) - limit, 0),
        "limit": limit,
        "floors": _floors(plan, doors, due[:FIRST_DOORS], bare=not session.view.log.current),
    }
    for status in ("treat", "revisit"):
        apart = [row for row in listed if row.status == status]
        result[status] = [_row(row, session, voice) for row in apart[:MOST_DOORS]]
    return result


def _row(row: DoorRow, session: Session, voice: Voice) -> dict[str, Any]:
    return {
        "u": row.unit,
        "r": row.rank,
        "f": " and ".join(floor_title(floor) for floor in session.plan.units[row.unit].parts),
        "c": chance_class(row.chance),
        "p": voice.percent(row.chance),
        "w": CLASS_WORDS[chance_class(row.chance)],
        "find": voice.percent(row.chance_of_find),
        "why": reason_text(row.reasons, voice),
        "rule": places(row.ring, voice),
        "duty": short_duty(row.duty, voice),
        "saves": voice.text(
            "saves {weeks} unit-weeks, {minutes} min",
            weeks=voice.number(max(1, round(row.worth_of_find))),
            minutes=voice.number(max(1, round(row.minutes))),
        ),
        "worth": worth_words(row, voice),
        "access": access_words(row, voice),
        "instead": say(row.instead, voice) if row.instead else "",
        "sure": sure_words(row.sure, voice),
        "visit": visit_words(row, session.on, voice),
    }


def _floors(
    plan: Plan, doors: Sequence[DoorRow], due: Sequence[DoorRow], *, bare: bool
) -> list[dict[str, Any]]:
    """For each floor, lowest first: how many are expected, where most likely, and its next doors.

    ``bare``: whether nothing is on record; the usual chances of any building then name no unit and no number.
    """
    on = {floor: [row for row in doors if floor in plan.units[row.unit].parts] for floor in plan.floors}
    top = {floor: max(rows, key=lambda row: row.chance, default=None) for floor, rows in on.items()}
    waiting = dict.fromkeys(plan.floors, 0)
    for row in due:
        for floor in plan.units[row.unit].parts:
            waiting[floor] += 1
    return [
        {
            "name": floor,
            "title": floor_title(floor),
            "c": chance_class(most.chance) if (most := top[floor]) and not bare else 0,
            "where": f"{most.unit} {ENGLISH.percent(most.chance)}" if most and not bare else "",
            "number": "nothing recorded" if bare else _expected(sum(row.chance for row in on[floor])),
            "due": waiting[floor],
            "doors": one_or_many(waiting[floor], "door due", "doors due"),
        }
        for floor in plan.floors
    ]


def _expected(number: float) -> str:
    """Return how many units are expected to be infested: the sum of their chances, never said to be none."""
    return f"about {round(number)} infested" if round(number) else "under 1 infested"


def headline(session: Session) -> str:
    """Return the line under the building's name: date, size, what is open."""
    doors = session.doors()
    treat = sum(row.status == "treat" for row in doors)
    parts = [
        f"{one_or_many(len(session.plan.units), 'unit', 'units')} on "
        f"{one_or_many(len(session.plan.floors), 'floor', 'floors')}",
        f"{treat} to treat",
        revisit_words(session.view.followups, ENGLISH),
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


def unit_panel(session: Session, unit: object, voice: Voice = ENGLISH) -> dict[str, Any] | None:
    """Return everything the unit panel shows, or None when the building has no such unit."""
    if not isinstance(unit, str) or unit not in session.plan.units:
        return None
    why = session.why(unit)
    row = next(row for row in session.doors() if row.unit == unit)
    return {
        "unit": unit,
        "floors": " and ".join(floor_title(floor) for floor in session.plan.units[unit].parts),
        "chance": voice.percent(why.chance),
        "c": chance_class(why.chance),
        "words": CLASS_WORDS[chance_class(why.chance)],
        "sure": sure_words(why.sure, voice),
        "status": why.status,
        "visit": visit_words(row, session.on, voice),
        "rule": places(why.ring, voice),
        "duty": short_duty(row.duty, voice),
        "duty_note": _duty_note(row, voice),
        "worth": upper(f"{worth_words(row, voice)}.") if why.status == "look" else "",
        "next_step": say(why.next_step, voice),
        "reasons": list(reason_words(why.reasons, voice)),
        "levels": [
            {"name": upper(level_name(level, voice)), "share": share, "percent": voice.percent(share)}
            for level, share in why.levels.items()
        ],
        "heavier": say(why.heavier, voice) if why.heavier else "",
        "open_find": never_closed(why.followup, why.chance, voice),
        "sources_kind": why.sources_kind,
        "sources_title": sources_title(why.attribution, voice),
        "sources_note": sources_note(why.attribution, voice),
        "sources": _sources(why.sources[:6], voice),
        "pressure": _sources(why.pressure[:6], voice) if why.sources_kind == "came-from" else [],
        "arrows": _arrows(why, bare=not session.view.log.current),
        "bed": beds_of(session.plan, unit, voice),
        "doubts": [
            {
                "words": say(doubt, voice),
                "rows": voice.text("Rows {rows}", rows=", ".join(doubt.rows))
                if len(doubt.rows) > 1
                else voice.text("Row {row}", row=doubt.rows[0]),
            }
            for doubt in why.doubts
        ],
        "history": [_history(record, session, voice) for record in why.history],
        "followup": _followup(why, voice),
        "trail": [[monday, round(float(chance), 3)] for monday, chance in why.trail],
    }


def _followup(why: Why, voice: Voice) -> dict[str, Any] | None:
    """Return where a unit is between a find and the end of the watch; None where nothing was ever known."""
    followup = why.followup
    if followup is None or followup.since is None:
        return None
    return {"title": title(followup, voice), "words": list(sentences(followup, voice))}


def _duty_note(row: DoorRow, voice: Voice) -> str:
    if row.duty is None:
        return ""
    return voice.text(
        "{because} (rule set {rule}). Check your local code.",
        because=because_words(row.duty, voice),
        rule=row.duty.rule,
    )


def _sources(sources: Sequence[SourceShare], voice: Voice) -> list[dict[str, Any]]:
    return [
        {
            "unit": source.unit,
            "words": say(source, voice),
            "share": source.share,
            "percent": voice.percent(source.share),
        }
        for source in sources
        if source.share >= 0.005
    ]


def _arrows(why: Why, *, bare: bool) -> dict[str, Any]:
    """Return the likely sources that are units, for the plan: ``{"unit", "from": [[unit, share]]}``.

    ``bare``: whether nothing is on record: an arrow would accuse a neighbour of whom nobody said anything.
    """
    named = [source for source in why.sources if source.unit and source.share >= LEAST_ARROW]
    if bare or why.sources_kind != "came-from":
        named = []
    return {"unit": why.unit, "from": [[s.unit, round(s.share, 3)] for s in named[:MOST_ARROWS]]}


def taught(session: Session, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return what the building taught: sentences on its past and its rates, and the curve's weeks.

    ``past`` and ``rates`` are sentences; ``weeks`` are ``[monday, low, lower, median, upper, high]``.
    """
    past, learned = session.past(), session.learned()
    return {
        "past": list(past_words(past, voice)) if past else [],
        "weeks": [[w.monday, w.low, w.lower, w.median, w.upper, w.high] for w in past.weeks] if past else [],
        "rates": list(learned_words(learned, voice)) if learned else [not_learned(voice)],
    }


def _history(record: Record, session: Session, voice: Voice) -> dict[str, str]:
    parts = (outcome_words(record, voice), items_words(record, voice))
    return {
        "id": record.id,
        "kind": record.kind,
        "day": record.when.isoformat(),
        "when": voice.day(record.when),
        "ago": voice.ago((session.on - record.when).days),
        "what": heading(record, voice),
        "outcome": "; ".join(filter(None, parts)),
        "note": harmless(record.note),
        "by": record.by,
    }
