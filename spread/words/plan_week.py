"""The planned week in words: what a door waits for, and why it cannot be moved."""

from __future__ import annotations

from spread.decisions.round.parts import ForDuty
from spread.decisions.week.doors import Door
from spread.decisions.week.entry import Entry
from spread.decisions.week.plan import NoMove, PlannedDay, Waits, WeekPlan
from spread.words.duties import span
from spread.words.musts import must_words
from spread.words.saying import say
from spread.words.voice import Voice


@say.register
def _(fact: Entry, voice: Voice) -> str:
    """Say what stands between a unit and a lawful entry; nothing where nothing does."""
    if fact.state == "refused" and fact.refused is not None:
        return voice.text(
            "entry was refused on {day}: talk to the resident, agree on a day, and give notice for it",
            day=voice.day(fact.refused),
        )
    if fact.state == "running":
        return voice.text("notice given, good for {day}", day=voice.day(fact.first))
    if fact.state != "needed":
        return ""
    return {
        "never": voice.text("notice to give"),
        "used": voice.text("notice to give anew: the last one was used"),
        "lapsed": voice.text("notice to give anew: the last one has lapsed"),
        "short": voice.text("notice to give anew: the last one was too short"),
    }[fact.why or "never"]


@say.register
def _(fact: Waits, voice: Voice) -> str:
    """Say what a door on no day of the week waits for."""
    entry = fact.door.entry
    if fact.what == "refused":
        return say(entry, voice)
    if fact.what == "time" and entry.first == entry.last:
        return voice.text(
            "announced for {day}, whose hours are full: give that day more time, or take the notice back",
            day=voice.day(entry.first),
        )
    if fact.what == "time":
        return voice.text("the hours of the week are full")
    if fact.what == "access" and fact.access is not None:
        return say(fact.access, voice)
    return voice.text("no working day of the week is lawful: the first is {day}", day=voice.day(entry.first))


@say.register
def _(fact: NoMove, voice: Voice) -> str:
    """Say why a unit cannot be put on a day."""
    unit, day = fact.unit, voice.day(fact.day)
    first = "" if fact.first is None else voice.day(fact.first)
    return {
        "notice": voice.text(
            "{unit} may not be entered on {day}: its notice of entry has not run before {first}.",
            unit=unit, day=day, first=first,
        ),
        "promised": voice.text(
            "The resident of {unit} was told {first}: take that notice back first, then give one for {day}.",
            unit=unit, day=day, first=first,
        ),
        "refused": voice.text(
            "Entry to {unit} was refused: agree on a day with the resident first.", unit=unit
        ),
        "access": voice.text("{unit} is shut on {day} by the house's own marks.", unit=unit, day=day),
        "window": voice.text(
            "A visit to {unit} tells nothing before {first}: it is too early.", unit=unit, first=first
        ),
        "day": voice.text("Nobody works on {day}.", day=day),
        "full": voice.text("The hours of {day} are full without {unit}.", day=day, unit=unit),
        "past": voice.text("{day} has gone by.", day=day),
        "tried": voice.text("Somebody was at {unit} today already.", unit=unit),
        "unit": voice.text("There is nothing to do at {unit} this week.", unit=unit),
    }[fact.kind]  # fmt: skip


def let_go_words(week: WeekPlan, voice: Voice) -> tuple[str, ...]:
    """Return which doors that somebody moved the plan had to put elsewhere, and why."""
    return tuple(
        voice.text(
            "{unit} does not stay on {day}, where somebody put it: {why}",
            unit=one.unit, day=voice.day(one.day), why=say(one, voice),
        )
        for one in week.let_go
    )  # fmt: skip


def lead_words(week: WeekPlan, voice: Voice) -> str:
    """Return which notice the rule set asks for, once for the whole week; empty where none."""
    notices = dict.fromkeys(d.entry.notice for d in week.doors.values() if d.entry.notice is not None)
    spans = voice.either([span(one.lead, voice) for one in notices])
    return voice.text("Notice of entry at least {span} before.", span=spans) if notices else ""


def door_why(door: Door, listed: str, voice: Voice) -> str:
    """Return why somebody comes; ``listed`` where nothing but the list asks for it."""
    duty = door.why.duty if isinstance(door.why, ForDuty) else None
    told = (
        voice.text("duty: {duty}", duty=say(duty, voice)) if duty else must_words(door.why, voice) or listed
    )
    return voice.text("{why}; animals were met there", why=told) if door.animals else told


def day_head(week: WeekPlan, day: PlannedDay, voice: Voice) -> str:
    """Return how many doors a day has, and how many notices go out for it."""
    doors = voice.many("{number} door", "{number} doors", len(day.round.units))
    notices = len(week.to_announce(day.day))
    if not notices:
        return doors
    more = voice.many("{number} notice to give", "{number} notices to give", notices)
    return f"{doors}, {more}"
