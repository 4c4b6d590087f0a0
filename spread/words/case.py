"""The case of a unit in words: since when it is open, what was done, and who must act."""

from __future__ import annotations

from spread.decisions.case.case import Act, Case
from spread.decisions.case.failing import Cause, Failing
from spread.decisions.case.survival import Survival
from spread.decisions.case.traps import Traps
from spread.trade.registry import TREATMENTS
from spread.words.saying import say
from spread.words.terms import method_name, place_name
from spread.words.voice import Voice

LIKELY = 0.8  #: Chance from which one of two is called likely (judgement)
TOLD_FROM = (
    0.5  #: Chance of a home that resists treatment from which it is told (judgement; 0.31 are taken to)
)


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


@say.register
def _(fact: Cause, voice: Voice) -> str:
    """Say what to check."""
    return {
        "seating": voice.text("sofas and chairs: no row says that anybody looked there"),
        "belongings": voice.text("closets, luggage, books and toys: no row says that anybody looked there"),
        "neighbours": voice.text(
            "the homes beside, above and below: open them before this one is treated again"
        ),
        "same-method": voice.text(
            "the method: {method} was used twice in a row", method=_way(fact.method, voice)
        ),
        "late": voice.text("the days between: {days} days, in which new adults lay", days=fact.days),
        "covers": voice.text("encasements and traps under every leg: no encasement is on record"),
        "resistance": voice.text("resistance, a question for the licensed firm"),
        "brought-in": voice.text("what is carried in: visits, second-hand things, work, school"),
    }[fact.kind]


@say.register
def _(fact: Failing, voice: Voice) -> str:
    """Say that the treatment fails, by which counts, what to check and what to change; never a dose."""
    number = len(fact.treatments)
    if fact.counts:
        counts = ", ".join(str(one.count) for one in fact.counts)
        told = voice.text(
            "The treatment is failing: after {number} treatments the counts are {counts}, where trials would "
            "leave about {expected} or fewer.",
            number=number, counts=counts, expected=voice.number(round(fact.expected)),
        )  # fmt: skip
    else:
        told = voice.text(
            "The treatment is failing: after {number} treatments bugs are still seen alive.", number=number
        )
    check = "; ".join(say(cause, voice) for cause in fact.causes)
    return " ".join(
        [
            told,
            voice.text("Do not do the same again. Check: {causes}.", causes=check),
            voice.text(
                "Next: look at the whole home first, then another method than {methods}. What is used and "
                "how is for the licensed firm and the label to say.",
                methods=voice.either([_way(way, voice) for way in fact.last_methods]),
            ),
        ]
    )


@say.register
def _(fact: Survival, voice: Voice) -> str:
    """Say whether bugs outlived the course or came in since, or that it cannot be told."""
    given = {
        "day": voice.day(fact.since),
        "survived": voice.percent(fact.survived),
        "arrived": voice.percent(fact.arrived),
    }
    if fact.survived >= LIKELY:
        told = voice.text(
            "By the model the bugs that are there came through the treatments since {day} (chance "
            "{survived}) and were not brought in since ({arrived}).",
            **given,
        )
    elif fact.arrived >= LIKELY:
        told = voice.text(
            "By the model the bugs that are there came in after the treatment of {day} (chance {arrived}): "
            "look where from; it is less likely that they came through ({survived}).",
            **given,
        )
    else:
        told = voice.text(
            "The model cannot tell whether the bugs came through the treatments since {day} ({survived}) or "
            "came in since ({arrived}): check both.",
            **given,
        )
    if fact.resists is None or fact.resists < TOLD_FROM:
        return told
    resists = voice.text(
        "Chance that treatment takes less in this home than elsewhere: {chance}.",
        chance=voice.percent(fact.resists),
    )
    return f"{told} {resists}"


def _way(method: str, voice: Voice) -> str:
    return (
        voice.term("treatment", TREATMENTS[method].short)
        if method in TREATMENTS
        else method_name(method, voice)
    ).lower()


@say.register
def _(fact: Traps, voice: Voice) -> str:
    """Say which traps stand and since when."""
    if fact.set_on is None:
        return voice.text("No row says that traps stand here.")
    told = voice.many(
        "{number} trap stands since {day}: {places}.",
        "{number} traps stand since {day}: {places}.",
        len(fact.places),
        day=voice.day(fact.set_on),
        places=", ".join(place_name(place, voice) for place in fact.places),
    )
    if fact.read_on is None:
        return told
    return " ".join([told, voice.text("Last read on {day}.", day=voice.day(fact.read_on))])
