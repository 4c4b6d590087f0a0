"""What programmes plan and what their runs say, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from spread.programmes import told
from spread.programmes.by_pace import ByPace
from spread.records.words import METHOD_WORDS
from spread.trade.methods import looks, monitors
from spread.trade.registry import LOOKING, MONITORS, TREATMENTS
from spread.words import figures as f
from spread.words.choice import called
from spread.words.saying import say
from spread.words.terms import method_name, within
from spread.words.voice import Voice, upper

if TYPE_CHECKING:
    from spread.programmes.price_list import Price
    from spread.programmes.programme import Programme
    from spread.programmes.results import Comparison

PROTOCOL_PARTS = (looks.INTERVIEW, looks.BRIEF, monitors.INTERCEPTORS)


def part_of(method: str, voice: Voice) -> str:
    """Return what a method, or the survey protocol, is called within a sentence."""
    if method in LOOKING:
        return within(method, voice)
    if method in METHOD_WORDS:
        return method_name(method, voice).lower()
    return voice.joined([method_name(row.key, voice).lower() for row in PROTOCOL_PARTS])


def figure_names(voice: Voice) -> dict[str, str]:
    """Return what each figure of a programme is called, in the order of a table."""
    return {
        "infested-at-end": voice.text("Units infested at the end"),
        "infested unit-weeks": voice.text("Infested unit-weeks"),
        "new-units": voice.text("Units newly infested"),
        "units found": voice.text("Units found infested"),
        "relapses": voice.text("Found again within 26 weeks of closing"),
        "closed-infested": voice.text("Closed though bugs were left"),
        "false finds": voice.text("Treated by mistake"),
        "false alerts": voice.text("False alerts of dogs"),
        "visits": voice.text("Visits"),
        "put-off": voice.text("Visits put off by a week for want of crew"),
        "hours": voice.text("Technician hours"),
        "crew-days": voice.text("Crew-days, a trip each"),
        "cost": voice.text("Cost of the work"),
        "bill": voice.text("Price by the fee schedule"),
        "guarantee": voice.text("Taken off it by the guarantee"),
        "cost-with-rest": voice.text("With the treatment of what is left"),
        "loss": voice.text("The owner's losses"),
    }


def driver_names(voice: Voice) -> dict[str, str]:
    """Return what each thing is called that drives the figures (:mod:`spread.programmes.drivers`)."""
    return {
        "spread": voice.text("rates of spread"),
        "brought-in": voice.text("brought in from outside"),
        "growth": voice.text("growth"),
        "sensitivity": voice.text("sensitivity of looks"),
        "false-finds": voice.text("false finds and alerts"),
        "treatment": voice.text("effect of treatment"),
        "preparation": voice.text("treatment visits to units that were not prepared"),
        "shut-doors": voice.text("shut doors"),
        "refusals": voice.text("households that refuse"),
        "turnover": voice.text("how long households stay"),
        "reports": voice.text("residents' reports"),
        "hour": voice.text("price of an hour"),
        "treatment-minutes": voice.text("time of a treatment"),
    }


def survey_note(comparison: Comparison, voice: Voice) -> str:
    """Return what decides between surveys and ranked doors; empty where no survey is compared.

    A time of one's own is never called the published one.
    """
    surveyed = any(outcome.hours_by_kind["surveys"].mean > 0.0 for outcome in comparison.outcomes)
    if comparison.survey_time_is_own or not surveyed:
        return ""
    return voice.text(
        "A survey by interview, brief look and interceptors is taken to last the published 14.4 minutes a "
        "unit (Wang et al. 2016) unless you give your own; by the minutes this package takes for its parts "
        "it would last 35, and surveys would lose by that."
    )


def nil_at_end(voice: Voice) -> str:
    """Return the name of the chance that no unit is infested at the end."""
    return voice.text("No unit infested at the end")


def nil_by(comparison: Comparison, voice: Voice) -> str:
    """Return the name of the chance that no unit is infested by the week asked for."""
    return voice.text("No unit infested at some time by week {week}", week=comparison.by_week)


def programme_name(programme: Programme, voice: Voice) -> str:
    """Return a programme's own name, or what a search put together."""
    return called(programme.name, voice) or (say(programme.made, voice) if programme.made else programme.key)


def _weeks(count: int, voice: Voice) -> str:
    return voice.text("one week") if count == 1 else voice.many("{number} week", "{number} weeks", count)


def _soon(weeks: int, voice: Voice) -> str:
    return _weeks(weeks, voice) if weeks else voice.text("the same week")


@say.register
def _(fact: told.SurveyOfAll, voice: Voice) -> str:
    return voice.text("survey of every unit by {method}", method=part_of(fact.method, voice))


@say.register
def _(fact: told.MonitorsRead, voice: Voice) -> str:
    return voice.text("fetch and read the monitors")


@say.register
def _(fact: told.RankedBegins, voice: Voice) -> str:
    size = (
        voice.many("{number} ranked door", "{number} ranked doors", fact.doors)
        if fact.doors
        else voice.text("ranked doors for {minutes} minutes", minutes=voice.number(fact.minutes))
    )
    if fact.every_weeks == 1:
        return voice.text("from here on {size} every week", size=size)
    return voice.text("from here on {size} every {weeks} weeks", size=size, weeks=fact.every_weeks)


@say.register
def _(fact: told.AfterReport, voice: Voice) -> str:
    method, soon = part_of(fact.method, voice), _soon(fact.within_weeks, voice)
    return voice.text("After a report: {method} within {weeks}.", method=method, weeks=soon)


@say.register
def _(fact: told.AroundFind, voice: Voice) -> str:
    weeks = _weeks(fact.within_weeks, voice)
    return voice.text("After a find: the units around it within {weeks}.", weeks=weeks)


@say.register
def _(fact: told.CourseAfterFind, voice: Voice) -> str:
    between = heavy = ""
    if fact.monitor:
        those = voice.term("those", MONITORS[fact.monitor].those)
        between = voice.text(", the {monitors} between them included", monitors=those)
    if fact.heavy_visits > fact.clean_visits:
        heavy = voice.text(" ({visits} where it was heavy)", visits=fact.heavy_visits)
    course = voice.text(
        "After a find: {method} within {weeks}, then a visit every {every} until {visits} visits in a row "
        "find nothing{between}{heavy}.",
        method=part_of(fact.method, voice),
        weeks=_soon(fact.within_weeks, voice),
        every=_weeks(fact.every_weeks, voice),
        visits=fact.clean_visits,
        between=between,
        heavy=heavy,
    )
    if not fact.encase:
        return course
    return f"{course} {voice.text('The first treatment visit puts encasements on the beds.')}"


@say.register
def _(fact: told.WatchAfter, voice: Voice) -> str:
    return voice.text(
        "After a course has ended: {method} every {every} for {weeks}.",
        method=part_of(fact.method, voice),
        every=_weeks(fact.every_weeks, voice),
        weeks=_weeks(fact.weeks, voice),
    )


@say.register
def _(fact: told.WhenEmpty, voice: Voice) -> str:
    return voice.text("When people leave: {method} in the empty unit.", method=part_of(fact.method, voice))


@say.register
def _(fact: told.Candidate, voice: Voice) -> str:
    parts = [voice.text("complaints") if fact.complaints else voice.text("no complaints")]
    parts += [voice.text("ring")] if fact.ring else []
    parts += [voice.text("{doors} ranked doors a week", doors=fact.doors)] if fact.doors else []
    if fact.survey_weeks:
        how = {"method": fact.survey_method, "weeks": fact.survey_weeks}
        parts.append(voice.text("survey by {method} every {weeks} weeks", **how))
    parts += [say(fact.treated, voice)] if fact.treated is not None else []
    return upper(", ".join(parts))


@say.register
def _(fact: told.TreatedEvery, voice: Voice) -> str:
    name = voice.term("treatment", TREATMENTS[fact.method].short)
    return voice.text("treated every {weeks} ({name})", weeks=_weeks(fact.weeks, voice), name=name)


@say.register
def _(fact: told.SurveyEvery, voice: Voice) -> str:
    return voice.text("Survey every {weeks} weeks", weeks=fact.weeks)


@say.register
def _(fact: told.DoorsAWeek, voice: Voice) -> str:
    if not fact.doors:
        return voice.text("No ranked doors")
    return voice.text("{doors} ranked doors a week", doors=fact.doors)


@say.register
def _(fact: ByPace, voice: Voice) -> str:
    parts = dict(
        zip(("slow", "middle", "fast"), (f.share(part, voice) for part in fact.less), strict=True),
        first=fact.a,
        second=fact.b,
    )
    often = (
        voice.text(
            "{first} costs less than {second} in {slow} of the futures of the slowest third of plausible "
            "paces, {middle} of the middle third, {fast} of the fastest.",
            **parts,
        )
        if fact.of == "cost"
        else voice.text(
            "{first} has fewer infested unit-weeks than {second} in {slow} of the futures of the slowest "
            "third of plausible paces, {middle} of the middle third, {fast} of the fastest.",
            **parts,
        )
    )
    turns = {
        "flips": voice.text("The answer flips with the building's pace, which one log tells little of."),
        "holds": voice.text("The answer does not flip with the building's pace."),
        "even": voice.text("Whether it flips with the building's pace cannot be told."),
    }
    return f"{often} {turns[fact.turn]}"


@say.register
def _(fact: told.PaceKnown, voice: Voice) -> str:
    begin, end = fact.published
    return voice.text(
        "How fast bugs spread differs between buildings: in a published one under usual service {begin} % "
        "of units became {end} % in a year (Wang et al. 2019), in another they fell; simulated from there "
        "they become {simulated} %. This building starts from that pace, moved by its own log. Where spread "
        "is slower, waiting costs less than is shown; where it is faster, more.",
        begin=begin,
        end=end,
        simulated=fact.simulated,
    )


@say.register
def _(fact: told.DriverEnd, voice: Voice) -> str:
    if not fact.values and fact.share < 1.0:
        return voice.text(
            "{share} of the way from the middle to the {end} end",
            share=voice.percent(fact.share), end=voice.term("end", fact.end),
        )  # fmt: skip
    value = fact.values[0] if fact.values else 0.0
    which, times = voice.term("end", fact.end), voice.significant(value, 2)
    return {
        "times-the-mean": lambda: (
            voice.text("the mean, the building's own range")
            if times == "1"
            else voice.text("{times} times the mean, the building's own range", times=times)
        ),
        "a-unit-week": lambda: voice.text("{rate} a unit-week", rate=voice.significant(value, 2)),
        "a-day": lambda: voice.text("{rate} a day", rate=voice.significant(value, 3)),
        "of-every-method": lambda: voice.text("{end} of every method", end=which),
        "at-every-level": lambda: voice.text("{end} at every level", end=which),
        "of-knocks": lambda: voice.text("{share} of knocks", share=f"{value:.0%}"),
        "share": lambda: f"{value:.0%}",
        "an-hour": lambda: f"{fact.currency} {voice.number(value)}",
        "weeks": lambda: voice.many("{number} week", "{number} weeks", round(value)),
        "minutes": lambda: voice.text(
            "{minutes} minutes", minutes=" / ".join(map(voice.number, fact.values))
        ),
    }[fact.unit]()


# What prices are called.


def price_group(group: str, voice: Voice) -> str:
    """Return what a group of prices is called."""
    return {
        "hour": voice.text("Hour and loss"),
        "survey": voice.text("Survey by interview, look and interceptors"),
        "door": voice.text("At the door and around it"),
        "crew": voice.text("Crew and trips"),
        "time": voice.text("Money through time"),
        "look": voice.text("Looks and monitors"),
        "treatment": voice.text("Treatment visits"),
    }[group]


def price_name(key: str, voice: Voice) -> str:
    """Return what a price is called, by its key (:class:`spread.programmes.price_list.Price`)."""
    kind, _, part = key.partition(".")
    if kind == "treat":
        return {
            "light": voice.text("A visit, up to 12 bugs"),
            "moderate": voice.text("A visit, 13 to 50 bugs"),
            "heavy": voice.text("A visit, more than 50 bugs"),
        }[part]
    if kind == "material":
        return voice.text("{name}: material", name=voice.term("treatment", TREATMENTS[part].short))
    if part:
        name = method_name(part, voice)
        if kind == "check":
            return voice.text("{name}: check", name=name)
        if kind == "fee":
            return voice.text("{name}: fee or material", name=name)
        return voice.text("{name}: set", name=name) if part in MONITORS else name
    return {
        "hour": voice.text("A technician's hour"),
        "loss": voice.text("Owner's loss (rent, claims, turnover), an infested unit-week"),
        "survey": voice.text("A unit, everything in it"),
        "survey_minutes": voice.text("Time of a unit"),
        "knock": voice.text("A knock"),
        "encase": voice.text("Encasements: putting them on, a household"),
        "encasement": voice.text("Encasements: material, a household"),
        "report": voice.text("A report taken in"),
        "notice": voice.text("An entry notice"),
        "trip": voice.text("The way there and back, a trip"),
        "trip_fee": voice.text("A trip, beside the time"),
        "crew": voice.text("People who come together"),
        "day_hours": voice.text("Hours at doors in a crew-day"),
        "discount": voice.text("Money paid later counts less, a year"),
        "reserve": voice.text("Futures that money set aside is to pay for; 0 asks for none"),
        "crew_days_a_week": voice.text("Crew-days a week for this building; 0 is as many as it takes"),
    }[kind]


def price_mark(mark: str, voice: Voice) -> str:
    """Return in a word or two what kind of source a price has."""
    return voice.term("source", {"none": "no source"}.get(mark, mark))


def price_source(price: Price, voice: Voice) -> str:
    """Return where a price is from: its citation, or who sets it."""
    if price.mark == "own":
        return voice.text("your building's or firm's own file")
    if price.mark == "yours" and price.key != "loss":
        return voice.text("no source: one person, no limit and no fee until the firm says its own")
    if price.mark == "yours":
        return voice.text(
            "no default: what a week of an infested unit costs the owner is for the owner to say"
        )
    return price.source
