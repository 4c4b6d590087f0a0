"""Which method next, in words."""

from __future__ import annotations

from spread.decisions.doors.choice import MethodRow
from spread.words.saying import say
from spread.words.terms import method_name
from spread.words.voice import Voice


@say.register
def _(fact: MethodRow, voice: Voice) -> str:
    names = {
        "interceptors": voice.text("Interceptors for {days} days", days=voice.number(fact.days)),
        "dog": voice.text("Dog, then a brief look to confirm an alert"),
    }
    figures = {
        "method": names.get(fact.method) or method_name(fact.method, voice),
        "minutes": voice.number(fact.minutes),
        "visits": voice.text("two visits") if fact.visits == 2 else voice.text("one visit"),
        "finds": voice.number(fact.finds, 2),
        "weeks": voice.number(fact.worth, 2),
        "hour": voice.number(60 * fact.per_minute, 1),
    }
    told = voice.text(
        "{method}: {minutes} minutes in {visits}, {finds} finds expected, {weeks} infested-unit-weeks "
        "averted ({hour} an hour).",
        **figures,
    )
    fall = {"before": voice.percent(fact.chance), "after": voice.percent(fact.chance_if_nothing)}
    if fact.method == "dog":
        nothing = voice.text(
            "If the dog finds nothing that a look confirms, the chance falls from {before} to {after}; that "
            "clears nothing.",
            **fall,
        )
    elif fact.method == "interceptors":
        nothing = voice.text("If nothing is caught, the chance falls from {before} to {after}.", **fall)
    else:
        nothing = voice.text("If nothing is found, the chance falls from {before} to {after}.", **fall)
    return f"{told} {nothing}"
