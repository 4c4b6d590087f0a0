"""The planned week as text and as JSON."""

from __future__ import annotations

from typing import Any

from spread.decisions.week.plan import PlannedDay, WeekPlan
from spread.facts import as_json
from spread.plan.access import clock_of
from spread.report.lines import folded
from spread.report.text import warned_lines
from spread.report.week import WeekView, listed_reasons, waiting
from spread.session import Session
from spread.words import ENGLISH, Voice, say
from spread.words.plan_week import day_head, door_why, lead_words, let_go_words
from spread.words.trust import warnings_data


def week_text(session: Session, shown: WeekView, voice: Voice = ENGLISH) -> str:
    """Return the planned week as a list a day."""
    week, text = shown.plan, voice.text
    lines = [
        text("{building}: the week from {day}", building=session.plan.name, day=voice.day(week.on)),
        *warned_lines(session, voice),
    ]
    if lead := lead_words(week, voice):
        lines.append(lead)
    reasons = listed_reasons(session, voice)
    for one in week.days:
        lines += ["", f"{voice.day(one.day)}: {day_head(week, one, voice)}"]
        lines += _stops(week, one, reasons, voice)
    if week.waits:
        lines += ["", text("On no day of this week:")]
        for why, units in waiting(week, voice):
            lines.append(folded(f"{', '.join(units)}: {why}", "  "))
    if told := let_go_words(week, voice):
        lines += ["", *told]
    if any(week.to_announce(one.day) for one in week.days):
        how = text("Doors marked * wait for a notice: spread week BUILDING --notices DAY --pdf FILE.")
        lines += ["", how]
    return "\n".join(lines)


def _stops(week: WeekPlan, one: PlannedDay, reasons: dict[str, str], voice: Voice) -> list[str]:
    lines = []
    for code, path in zip(one.technicians, one.round.paths, strict=True):
        if path.stops:
            lines.append("  " + voice.text("Technician {code}", code=code))
        for stop in path.stops:
            door = week.doors[stop.unit]
            mark = " " if door.entry.lawful_on(one.day) else "*"
            head = f"  {clock_of(one.round.begins + stop.begin)} {mark}{stop.unit:<6} "
            lines.append(folded(door_why(door, reasons[stop.unit], voice), head))
    return lines


def week_data(session: Session, shown: WeekView) -> dict[str, Any]:
    """Return the planned week ready for JSON."""
    week = shown.plan
    reasons = listed_reasons(session, ENGLISH)
    days = [
        {
            "day": one.day.isoformat(),
            "technicians": [
                {
                    "code": code,
                    "minutes": round(path.finish, 1),
                    "doors": [
                        {
                            "unit": stop.unit,
                            "at": clock_of(one.round.begins + stop.begin),
                            "why": door_why(week.doors[stop.unit], reasons[stop.unit], ENGLISH),
                            "notice": "on record"
                            if week.doors[stop.unit].entry.lawful_on(one.day)
                            else "to give",
                            "moved": stop.unit in week.moved,
                            "facts": as_json(week.doors[stop.unit]),
                        }
                        for stop in path.stops
                    ],
                }
                for code, path in zip(one.technicians, one.round.paths, strict=True)
            ],
        }
        for one in week.days
    ]
    return {
        "building": session.plan.name,
        "on": week.on.isoformat(),
        "rules": shown.rules.id,
        "days": days,
        "waits": [
            {"unit": one.door.unit, "what": one.what, "words": say(one, ENGLISH)} for one in week.waits
        ],
        "let_go": [
            {"unit": one.unit, "day": one.day.isoformat(), "what": one.kind, "words": say(one, ENGLISH)}
            for one in week.let_go
        ],
        "warnings": warnings_data(session.warnings()),
    }
