"""Which method next, in words."""

from __future__ import annotations

from spread.decisions.doors.choice import MethodRow
from spread.words.saying import say
from spread.words.terms import carried_through, caution_of, if_nothing
from spread.words.voice import Voice


@say.register
def _(fact: MethodRow, voice: Voice) -> str:
    figures = {
        "method": carried_through(fact.method, voice),
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
    nothing, caution = if_nothing(fact.method, voice), caution_of(fact.method, voice)
    if caution:
        falls = voice.text(
            "If {nothing}, the chance falls from {before} to {after}; {caution}.",
            nothing=nothing,
            caution=caution,
            **fall,
        )
    else:
        falls = voice.text(
            "If {nothing}, the chance falls from {before} to {after}.", nothing=nothing, **fall
        )
    return f"{told} {falls}"
