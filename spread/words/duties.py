"""What rule sets ask for, in words: for the week, the list of duties, a door and the calendar alike."""

from __future__ import annotations

import datetime as dt

from spread.decisions.duties.deadlines import When, day_of
from spread.decisions.duties.owed import Duty, Started
from spread.trade.rule_set import STEPS, Deadline, Origin, Span
from spread.words.saying import say
from spread.words.voice import Voice, upper


def step_name(step: str, voice: Voice) -> str:
    """Return what a step is, in words that follow "must"."""
    return voice.term("step", STEPS[step])


def span(length: Span, voice: Voice) -> str:
    """Return a length of time as a rule counts it, such as ``5 business days``."""
    if length.counted_in == "hours":
        return voice.many("{number} hour", "{number} hours", length.amount)
    if length.counted_in == "calendar days":
        return voice.many("{number} calendar day", "{number} calendar days", length.amount)
    return voice.many("{number} business day", "{number} business days", length.amount)


def origin(of: Origin, voice: Voice) -> str:
    """Return where a rule stands, how it was read, and how far to trust it."""
    read = voice.term("read", of.read)
    return voice.text(
        "{source} ({read}, confidence {grade})", source=of.source, read=read, grade=of.confidence
    )


def when_due(deadline: Deadline, voice: Voice) -> str:
    """Return when a step is due, in words that follow it: ``within 5 business days of the report``."""
    if deadline.within is None:
        treated = deadline.with_treatment
        return voice.text("before or with the first treatment") if treated else deadline.words
    length = span(deadline.within, voice)
    return {
        "report": voice.text("within {span} of the report", span=length),
        "find": voice.text("within {span} of the find", span=length),
        "confirmed-find": voice.text("within {span} of the confirmed find", span=length),
        "inspection": voice.text("within {span} of the inspection", span=length),
        "order": voice.text("within {span} of the order", span=length),
    }[deadline.event]


def moment(when: When, voice: Voice) -> str:
    """Return a day, or a day and the hour."""
    return voice.day(day_of(when)) + (f", {when:%H:%M}" if isinstance(when, dt.datetime) else "")


@say.register
def _(fact: Started, voice: Voice) -> str:
    where = {"unit": fact.unit, "day": voice.day(fact.when)}
    return {
        "report": voice.text("report in {unit} on {day}", **where),
        "find": voice.text("signs in {unit} on {day}", **where),
        "confirmed-find": voice.text("find in {unit} on {day}", **where),
        "inspection": voice.text("inspection of {unit} on {day}", **where),
        "order": voice.text("order for {unit} on {day}", **where),
    }[fact.event]


def reason(duty: Duty, voice: Voice, *, more: bool = False) -> str:
    """Return how the unit lies to what started its duty, and what that was: ``beside 304; find in 304 ...``.

    ``more``: whether to say how many other records started it too.
    """
    return cause(duty.places, duty.started, voice) + (
        voice.text(" and {number} more", number=len(duty.because) - 1) if more and duty.because[1:] else ""
    )


def cause(places: tuple[tuple[object, ...], ...], started: Started, voice: Voice) -> str:
    """Return how a unit lies to what started a duty, and what that was."""
    return "; ".join(filter(None, [place(places, voice), say(started, voice)]))


def place(places: tuple[tuple[object, ...], ...], voice: Voice) -> str:
    """Return how a unit lies to every unit that started a duty; empty for that unit itself."""
    return "; ".join(voice.joined([say(way, voice) for way in ways]) for ways in places)


def asked(deadline: Deadline, voice: Voice) -> str:
    """Return what a rule asks for: ``Inspect neighbours``."""
    step = step_name(deadline.step, voice)
    return upper(voice.text("{step} neighbours", step=step) if deadline.of == "neighbours" else step)


def terms(deadline: Deadline, voice: Voice) -> str:
    """Return by when and by whom, as far as the rule says: ``within 3 days of the find, by the owner``."""
    by = deadline.who and voice.text("by {who}", who=deadline.who)
    return ", ".join(filter(None, [when_due(deadline, voice), by]))


def late(days: int, voice: Voice) -> str:
    """Return ``1 day late``."""
    return voice.many("{number} day late", "{number} days late", days)


def tried(attempts: int, voice: Voice) -> str:
    """Return how often somebody stood at a shut door."""
    if attempts == 1:
        return voice.text("tried once without access")
    return voice.text("tried {times} times without access", times=attempts)
