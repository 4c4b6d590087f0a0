"""The case of a unit in words: since when it is open, what was done, and who must act."""

from __future__ import annotations

from spread.decisions.case.case import Act, Case
from spread.words.saying import say
from spread.words.voice import Voice


@say.register
def _(fact: Act, voice: Voice) -> str:
    """Say what somebody owes, so that it can follow "to do:"."""
    since = voice.day(fact.since)
    return {
        "acknowledge": voice.text("the office acknowledges the report of {day}", day=since),
        "look": voice.text("a technician looks, because of the sign of {day}", day=since),
        "treat": voice.text("a licensed firm treats what was found on {day}", day=since),
        "follow-up": voice.text("a technician comes again, after {day}", day=since),
        "watch": voice.text("a technician keeps the watch"),
    }[fact.what]


@say.register
def _(fact: Case, voice: Voice) -> str:
    """Say what the records hold of an open case, and who must act; nothing of a unit without one."""
    if fact.opened is None or not fact.acts:
        return ""
    acts = voice.joined([say(act, voice) for act in fact.acts])
    if not fact.treatments:
        return voice.text("Open since {day}. To do: {acts}.", day=voice.day(fact.opened), acts=acts)
    return voice.many(
        "Open since {day}, {number} treatment. To do: {acts}.",
        "Open since {day}, {number} treatments. To do: {acts}.",
        fact.treatments,
        day=voice.day(fact.opened),
        acts=acts,
    )
