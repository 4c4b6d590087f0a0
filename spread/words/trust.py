"""Who reports, finds and resists, and where the log contradicts the model, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spread.decisions.departures import Departs
from spread.decisions.grades.grades import OffPromise
from spread.decisions.shared_room import SharedRoom
from spread.decisions.trust import (
    FalseAlerts,
    LittleFound,
    LittleReported,
    ManyNeverReport,
    ManyResist,
    Trait,
    Unexpected,
    Warned,
)
from spread.facts import as_json
from spread.words.saying import say
from spread.words.terms import method_name
from spread.words.voice import ENGLISH, Voice


def trait_name(fact: Trait, voice: Voice) -> str:
    """Return what a learned quantity is called."""
    named = {
        "reports-light": voice.text("A low infestation is reported, a week"),
        "reports-heavy": voice.text("A heavy infestation is reported, a week"),
        "reports-nothing": voice.text("Somebody complains of nothing, a week"),
        "never-report": voice.text("Units that never report"),
        "resist": voice.text("Units where treatment does little"),
        "began": voice.text("Infested at the start"),
        "people": voice.text("How much people differ, log odds of a find"),
    }
    if fact.kind in named:
        return named[fact.kind]
    if fact.kind == "method":
        return voice.text("{method}: a low one is found", method=method_name(fact.whose, voice))
    if fact.kind == "person":
        return voice.text("{who}: odds of a find, times the usual", who=fact.whose)
    return voice.text("{who}: alerts in clear units", who=fact.whose)


def _value(fact: Trait, value: float, voice: Voice) -> str:
    if fact.kind in ("people", "person"):
        return voice.number(value, 2)
    return voice.percent(value, 2 if fact.kind == "reports-nothing" else 1)


def trait_range(fact: Trait, prior: bool, voice: Voice) -> str:
    """Return the middle and the 90 % interval of a learned quantity, before or after the log."""
    span = fact.prior if prior else fact.posterior
    return voice.text(
        "{median} ({low} to {high})",
        median=_value(fact, span.median, voice),
        low=_value(fact, span.low, voice),
        high=_value(fact, span.high, voice),
    )


def pooled_persons(traits: Sequence[Trait], voice: Voice) -> str:
    """Return who was believed what the firm's other buildings showed of them; empty where nobody was."""
    codes = [trait.whose for trait in traits if trait.pooled]
    if not codes:
        return ""
    return voice.text(
        "The firm pools by work code: the odds of a find of {who} begin from what its other buildings "
        "showed. They are odds given the model and no measure of diligence or character: never use them for "
        "pay or discipline. docs/persons.md says what is inferred, and how to turn it off.",
        who=voice.joined(codes),
    )


@say.register
def _(fact: LittleReported, voice: Voice) -> str:
    said = {"share": voice.percent(fact.factor), "sure": voice.percent(fact.sure)}
    if fact.light:
        return voice.text(
            "Light infestations are reported here about {share} as often as elsewhere (sure: {sure}): "
            "silence says little. Residents may not notice or may fear to speak; ask at the door and look "
            "without waiting.",
            **said,
        )
    return voice.text(
        "Moderate and heavy infestations are reported here about {share} as often as elsewhere (sure: "
        "{sure}): silence clears nobody. Residents may fear to speak or may have given up; look without "
        "waiting for complaints.",
        **said,
    )


@say.register
def _(fact: ManyNeverReport, voice: Voice) -> str:
    return voice.text(
        "About {share} of units seem never to report, whatever they have (sure: {sure}): where nobody "
        "speaks, only a look tells.",
        share=voice.percent(fact.share),
        sure=voice.percent(fact.sure),
    )


@say.register
def _(fact: LittleFound, voice: Voice) -> str:
    whose = fact.whose if fact.by_person else method_name(fact.whose, voice).lower()
    return voice.text(
        "Looks by {whose} miss more than looks like these do elsewhere (odds of a find {odds} of the usual, "
        "sure: {sure}). Rooms may be hard to search or looks too short; have units that they found clear "
        "looked at again by somebody else, or by another method.",
        whose=whose,
        odds=voice.percent(fact.odds),
        sure=voice.percent(fact.sure),
    )


@say.register
def _(fact: FalseAlerts, voice: Voice) -> str:
    return voice.text(
        "The dog team {team} seems to alert in {share} of clear units (sure: {sure}): an alert proves "
        "nothing until a look confirms it. Ask how the team is tested.",
        team=fact.team or voice.text("without a name"),
        share=voice.percent(fact.chance),
        sure=voice.percent(fact.sure),
    )


@say.register
def _(fact: ManyResist, voice: Voice) -> str:
    return voice.text(
        "Treatment seems to do little in about {share} of units (sure: {sure}): finds after visits are "
        "rather what was left than new arrivals. Clutter, preparation or the product may be the cause; "
        "change the plan.",
        share=voice.percent(fact.share),
        sure=voice.percent(fact.sure),
    )


@say.register
def _(fact: SharedRoom, voice: Voice) -> str:
    if not fact.learned:
        return voice.text(
            "A room or a helper shared by units, that no plan shows: the log tells of none (chance {chance}; "
            "before the log {before}), and does not rule one out.",
            chance=voice.percent(fact.chance),
            before=voice.percent(fact.before),
        )
    return voice.text(
        "Infestations spread between units that no wall joins (sure: {sure}): is there a laundry, a shared "
        "room, a helper who goes from door to door? First of all between {units}. Ask, and write down who "
        "shares what; programmes and their costs leave it out.",
        sure=voice.percent(fact.chance),
        units=voice.joined(fact.units),
    )


@say.register
def _(fact: Unexpected, voice: Voice) -> str:
    numbers = {
        "seen": voice.number(fact.seen),
        "expected": voice.number(fact.expected, 1),
        "trials": voice.number(fact.trials),
    }
    if fact.kind == "complaints":
        return voice.text(
            "One quarter has {seen} complaints where the model expects {expected}: something happened that "
            "it does not know, such as a campaign, a notice or a change in who writes them down.",
            **numbers,
        )
    if fact.kind == "grade":
        return voice.text(
            "{seen} of {trials} finds are graded moderate or heavy where the model expects {expected}: "
            "grades may mean something else here, or infestations are found later or sooner than it thinks.",
            **numbers,
        )
    names = {
        "method": voice.text("looks by {method}", method=method_name(fact.whose, voice).lower())
        if fact.kind == "method"
        else "",
        "person": voice.text("looks by {who}", who=fact.whose),
        "after-complaint": voice.text("looks after a complaint"),
        "after-alert": voice.text("looks after an alert"),
        "beside-find": voice.text("looks beside a find"),
    }
    return voice.text(
        "{seen} of {trials} {looks} found something where the model expects {expected}: it does not describe "
        "them, and chances that rest on them are less sure than they look.",
        looks=names[fact.kind],
        **numbers,
    )


@say.register
def _(fact: Departs, voice: Voice) -> str:
    times = voice.number(fact.times, 0 if fact.times >= 10.0 else 1)
    whose = fact.whose or voice.text("without a name")
    said = {
        "silent": voice.text(
            "Residents here may report far more rarely than in published buildings (the log is {times} times "
            "likelier at under half of the usual): silence says little. Look without waiting for complaints, "
            "and ask at the door.",
            times=times,
        ),
        "silent-heavy": voice.text(
            "Moderate and heavy infestations may be reported here far more rarely than in published "
            "buildings (the log is {times} times likelier at under half of the usual): silence clears "
            "nobody. Residents may fear to speak or may have given up; look without waiting for complaints.",
            times=times,
        ),
        "silent-light": voice.text(
            "Light infestations may be reported here far more rarely than in published buildings (the log "
            "is {times} times likelier at under half of the usual): silence says little. Residents may not "
            "notice or may fear to speak; ask at the door and look without waiting.",
            times=times,
        ),
        "never": voice.text(
            "Far more units than usual may never report, whatever they have (the log is {times} times "
            "likelier at twice the usual share): where nobody speaks, only a look tells. Look there without "
            "waiting for complaints.",
            times=times,
        ),
        "looks": voice.text(
            "Looks here may miss far more than looks like these do elsewhere, whatever the method (the log "
            "is {times} times likelier at under half of the usual odds of a find). Rooms may be hard to "
            "search or looks too short; a look that found nothing clears little: look again, by another "
            "method or somebody else.",
            times=times,
        ),
        "looks-by": voice.text(
            "Looks by {whose} may miss more than those of others (the log is {times} times likelier at under "
            "half of the usual odds of a find): have units that they found clear looked at again by somebody "
            "else.",
            whose=whose,
            times=times,
        ),
        "alerts": voice.text(
            "The dog team {team} may alert in clear units far more often than others (the log is {times} "
            "times likelier at twice the usual): an alert proves nothing until a look confirms it. Ask how "
            "the team is tested.",
            team=whose,
            times=times,
        ),
        "resist": voice.text(
            "Treatment may do little in far more units than usual (the log is {times} times likelier at "
            "twice the usual share): finds after visits may be what was left rather than new arrivals. "
            "Clutter, preparation or the product may be the cause; look again after the last visit before a "
            "unit counts as clear.",
            times=times,
        ),
        "moved-in": voice.text(
            "Bugs may come with a move-in far more often than usual (the log is {times} times likelier at "
            "three times the usual): look at a unit soon after somebody has moved in, and again some weeks "
            "later.",
            times=times,
        ),
        "complaints": voice.text(
            "Far more complaints than usual may be about something else than bed bugs (the log is {times} "
            "times likelier at over three times as many): a complaint alone says less here, and the chances "
            "allow for that. Every complaint still needs its look; ask what bites or was seen.",
            times=times,
        ),
        "room": voice.text(
            "Some units may share a room or a helper that no plan shows (the log is {times} times likelier "
            "with one than without; not sure). Ask whether there is a laundry, a shared room or somebody who "
            "goes from door to door, and write down who shares what.",
            times=times,
        ),
    }
    return said[fact.kind]


@say.register
def _(fact: OffPromise, voice: Voice) -> str:
    numbers = {
        "looks": voice.number(fact.looks),
        "promised": voice.number(fact.promised, 1),
        "low": voice.number(fact.low),
        "high": voice.number(fact.high),
        "made": voice.number(fact.made),
    }
    if fact.more:
        return voice.text(
            "The lists of this building promise too little: in {looks} looks they promised {promised} finds "
            "(95 % sure: {low} to {high}), and {made} were made. There is more here than the chances say; a "
            "low chance clears no unit.",
            **numbers,
        )
    return voice.text(
        "The lists of this building promise too much: in {looks} looks they promised {promised} finds (95 % "
        "sure: {low} to {high}), and {made} were made. Looks may miss more than they do elsewhere, or there "
        "is less here than the chances say; only other looks tell which, and units where nothing was found "
        "are not cleared by this.",
        **numbers,
    )


def warning_words(warnings: Sequence[Warned], voice: Voice) -> tuple[str, ...]:
    """Return the sentences of all warnings; empty where there is nothing to warn of."""
    return tuple(say(each, voice) for each in warnings)


def warnings_data(warnings: Sequence[Warned]) -> list[dict[str, Any]]:
    """Return the warnings ready for JSON: each fact with its words in English."""
    return [{**as_json(each), "words": say(each, ENGLISH)} for each in warnings]  # type: ignore[dict-item]
