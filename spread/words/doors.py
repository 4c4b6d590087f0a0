"""A door of the list in words: what its chance rests on, what a visit is worth, what asks for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from spread.decisions.doors.looking import AnotherLook
from spread.decisions.doors.ranking import DoorDuty, DoorRow
from spread.decisions.doors.told import Sure
from spread.decisions.trust import Warned
from spread.facts import Fact, as_json
from spread.words.duties import cause, origin
from spread.words.followup import window_words
from spread.words.relations import places
from spread.words.saying import say
from spread.words.terms import method_name
from spread.words.trust import warnings_data
from spread.words.voice import ENGLISH, Voice


def sure_words(sure: Sure, voice: Voice) -> str:
    """Return what a chance rests on, in a few words; none of them says that a unit is clear."""
    words: dict[Sure, str] = {
        "unsettled": voice.text("figures not settled yet"),
        "find": voice.text("a find to go on"),
        "treated": voice.text("not looked at since the treatment"),
        "looked": voice.text("well looked at"),
        "little": voice.text("little to go on"),
        "report": voice.text("a report to go on"),
        "neighbours": voice.text("nothing but neighbours to go on"),
        "nothing": voice.text("nothing to go on"),
    }
    return words[sure]


def reason_words(reasons: Sequence[Fact], voice: Voice) -> tuple[str, ...]:
    """Return the reasons of a door, a sentence each."""
    return tuple(say(reason, voice) for reason in reasons)


def reason_text(reasons: Sequence[Fact], voice: Voice) -> str:
    """Return the reasons of a door in one text."""
    return " ".join(reason_words(reasons, voice))


def order_words(order: str, voice: Voice) -> str:
    """Return what doors are ranked by, a word of :data:`spread.settings.ORDERS`."""
    if order == "find":
        return voice.text("finds a knock: the chance to be let in times that of a find")
    return voice.text("unit-weeks averted per minute at the door")


def weighed_words(costs: Sequence[float], voice: Voice) -> str:
    """Return how unit-weeks are weighed by level; empty where every one counts the same.

    ``costs``: of a week at each infested level, trace to heavy, as a view has them.
    """
    if len(set(costs)) == 1:
        return ""
    trace, low, moderate, heavy = (voice.number(cost, 1) for cost in costs)
    return voice.text(
        "Unit-weeks are weighed by level: one of a trace counts {trace}, low {low}, moderate {moderate}, "
        "heavy {heavy}.",
        trace=trace,
        low=low,
        moderate=moderate,
        heavy=heavy,
    )


def worth_words(row: DoorRow, voice: Voice) -> str:
    """Return what a find saves and what the visit costs: ``a find saves about 11 unit-weeks; ...``."""
    hour = voice.number(row.per_hour, 1) if row.per_hour >= 0.05 else voice.text("under 0.1")
    return voice.text(
        "{saves}; {minutes} at the door; {hour} unit-weeks averted an hour",
        saves=saves_words(row, voice),
        minutes=minutes_words(row, voice),
        hour=hour,
    )


def access_words(row: DoorRow, voice: Voice) -> str:
    """Return the chance of being let in and what it rests on: ``let in 17% (1 of 6 times, refused)``."""
    chance, tried = voice.percent(row.opens), row.tries
    tries = tried.let_in + tried.shut
    if tries == 0:
        return voice.text("let in {chance}", chance=chance)
    said = {"chance": chance, "let_in": voice.number(tried.let_in)}
    if tried.refused:
        return voice.many(
            "let in {chance} ({let_in} of {number} time so far, refused {refused})",
            "let in {chance} ({let_in} of {number} times so far, refused {refused})",
            tries,
            refused=voice.number(tried.refused),
            **said,
        )
    return voice.many(
        "let in {chance} ({let_in} of {number} time so far)",
        "let in {chance} ({let_in} of {number} times so far)",
        tries,
        **said,
    )


@say.register
def _(fact: AnotherLook, voice: Voice) -> str:
    said = {
        "method": method_name(fact.method, voice).lower(),
        "ago": voice.ago(fact.days),
        "share": voice.percent(fact.share),
        "instead": method_name(fact.instead, voice).lower(),
    }
    if fact.again is None:
        return voice.text(
            "Looked at {ago} ({method}), nothing found, which clears nothing. The same look by the same "
            "person repeats that answer {share} of the time, whatever is there: use another method "
            "({instead}) or send somebody else.",
            **said,
        )
    return voice.text(
        "Looked at {ago} ({method}), nothing found, which clears nothing. The same look by the same person "
        "repeats that answer {share} of the time, whatever is there: use another method ({instead}), send "
        "somebody else, or look again from {day} on. What a rule asks for is not put off by that.",
        day=voice.day(fact.again),
        **said,
    )


def saves_words(row: DoorRow, voice: Voice) -> str:
    """Return ``a find saves about 11 unit-weeks``."""
    if row.worth_of_find < 1:
        return voice.text("a find saves under 1 unit-week")
    weeks = round(row.worth_of_find)
    return voice.many(
        "a find saves about {number} unit-week", "a find saves about {number} unit-weeks", weeks
    )


def minutes_words(row: DoorRow, voice: Voice) -> str:
    """Return ``10 minutes``: expected, a door that stays shut counted in."""
    return voice.many("{number} minute", "{number} minutes", max(1, round(row.minutes)))


@say.register
def _(fact: DoorDuty, voice: Voice) -> str:
    return _duty(fact, voice, short=False)


def short_duty(duty: DoorDuty | None, voice: Voice) -> str:
    """Return the look that a rule set asks for in a few words, such as ``look by 24 Nov``; or nothing."""
    return "" if duty is None else _duty(duty, voice, short=True)


def _duty(duty: DoorDuty, voice: Voice, *, short: bool) -> str:
    if duty.due is None:
        told = voice.text("look, no date") if short else voice.text("look, the rule gives no date")
    else:
        day = voice.short_day(duty.due) if short else voice.day(duty.due)
        told = voice.text("look was due by {day}") if duty.late else voice.text("look by {day}")
        told = told.format(day=day)
    if duty.status != "cannot":
        return told
    if short:
        return voice.text("{duty}, no access", duty=told)
    return voice.text("{duty}, tried without access", duty=told)


def because_words(duty: DoorDuty, voice: Voice) -> str:
    """Return what started a duty: ``beside 1405; find in 1405 on Fri 13 Nov 2026``."""
    return cause(duty.places, duty.started, voice)


def visit_words(row: DoorRow, on: dt.date, voice: Voice) -> str:
    """Return the window of a unit's next visit; empty where it is not to be revisited."""
    return window_words(row.visit, on, voice) if row.visit else ""


def asked_words(row: DoorRow, voice: Voice) -> str:
    """Return what asks for a door whatever its rank: a duty, a ring or both; or nothing."""
    duty = say(row.duty, voice) if row.duty else ""
    return "; ".join(filter(None, (duty, places(row.ring, voice))))


def door_data(row: DoorRow, on: dt.date, warnings: Sequence[Warned] = ()) -> dict[str, Any]:
    """Return a door ready for JSON: figures, texts in English, and the reasons as facts.

    ``warnings``: what the chance is to be read with (:mod:`spread.decisions.trust`).
    """
    reasons = reason_words(row.reasons, ENGLISH)
    duty = row.duty
    owed = duty and {
        "words": say(duty, ENGLISH),
        "due": duty.due.isoformat() if duty.due else "",
        "status": duty.status,
        "because": because_words(duty, ENGLISH),
        "rule": duty.rule,
        "source": origin(duty.origin, ENGLISH),
    }
    return {
        "unit": row.unit,
        "rank": row.rank,
        "chance": row.chance,
        "chance_of_find": row.chance_of_find,
        "reason": " ".join(reasons),
        "rule": places(row.ring, ENGLISH),
        "status": row.status,
        "sure": sure_words(row.sure, ENGLISH),
        "opens": row.opens,
        "tries": as_json(row.tries),
        "finds": row.finds,
        "instead": say(row.instead, ENGLISH) if row.instead else "",
        "instead_fact": as_json(row.instead),
        "worth_of_find": row.worth_of_find,
        "worth": row.worth,
        "minutes": row.minutes,
        "per_hour": row.per_hour,
        "duty": owed,
        "reasons": list(reasons),
        "visit": row.visit.status if row.visit else "",
        "visit_words": visit_words(row, on, ENGLISH),
        "mandatory": row.mandatory,
        "reasons_facts": as_json(row.reasons),
        "ring_facts": as_json(row.ring),
        "duty_fact": as_json(row.duty),
        "sure_fact": row.sure,
        "warnings": warnings_data(warnings),
    }
