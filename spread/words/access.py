"""When a unit may be entered, in words; why it is there is said as its building wrote it."""

from __future__ import annotations

from spread.plan.access import MIDNIGHT, Access, AccessRule, clock_of
from spread.words.saying import say
from spread.words.voice import Voice


@say.register
def _(fact: Access, voice: Voice) -> str:
    if fact.kind == "shut":
        told = voice.text("do not enter")
    elif fact.kind == "another-day":
        told = voice.text("not on this day")
    else:
        told = voice.text("only {hours}", hours=voice.joined([_hours(*one, voice) for one in fact.windows]))
    return ": ".join(filter(None, (told, "; ".join(fact.reasons))))


def rule_words(rule: AccessRule, voice: Voice) -> str:
    """Return an ``[[access]]`` table in words."""
    if rule.do_not_enter:
        return ": ".join(filter(None, (voice.text("do not enter"), rule.why)))
    told = _hours(rule.opens, rule.closes, voice)
    if rule.days:
        days = ", ".join(voice.term("weekday", day) for day in rule.days)
        told = voice.text("{hours} on {days}", hours=told, days=days)
    return f"{told} ({rule.why})" if rule.why else told


def _hours(opens: int, closes: int, voice: Voice) -> str:
    ends = "24:00" if closes == MIDNIGHT else clock_of(closes)
    return voice.text("{opens} to {closes}", opens=clock_of(opens), closes=ends)
