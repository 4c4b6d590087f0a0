"""Why a unit stands where it stands, in words: its sources, when it began, what to do next."""

from __future__ import annotations

import datetime as dt
from typing import Any

from spread.contacts.relations import SharedFloor, SharedWall, Way
from spread.decisions.case.followup import FollowUp
from spread.decisions.doors.levels import Heavier
from spread.decisions.doors.sources import Attribution, Origin, SourceShare
from spread.decisions.doors.why import (
    ConfirmAlert,
    LookForReport,
    LookForRing,
    LookInTurn,
    PlanTreatment,
    VisitAgain,
)
from spread.decisions.span import Span
from spread.words.relations import places
from spread.words.saying import say
from spread.words.terms import level_name, method_name
from spread.words.voice import ENGLISH, Voice


@say.register
def _(fact: SourceShare, voice: Voice) -> str:
    if fact.unit:
        ways = [_way(way, voice) for way in fact.ways]
        between = voice.text(", or ") if fact.of == "came-from" else voice.text(", and ")
        return f"{fact.unit}: {between.join(ways)}"
    if fact.since is not None:
        day = voice.day(fact.since)
        return voice.text("there before {day}, when the window begins", day=day)
    if fact.route == "brought in":
        return voice.text("brought in from outside")
    if fact.route == "moved in":
        return voice.text("moved in with the people")
    if fact.route == "shared room":
        told = voice.text("through a room or a helper shared by units, that no plan shows")
    elif fact.of == "came-from":
        told = voice.text("visits, laundry and lounges, from a unit that cannot be named")
    else:
        told = voice.text("visits, laundry and lounges, building-wide")
    return told


def _way(way: Way, voice: Voice) -> str:
    """Return by what a contact reaches a unit."""
    if isinstance(way, SharedWall):
        return voice.text("through {length} of shared wall", length=voice.distance(way.metres, 1))
    if isinstance(way, SharedFloor):
        return voice.text("through the ceiling") if way.above else voice.text("through the floor")
    return say(way, voice)


def sources_title(attribution: Attribution, voice: Voice) -> str:
    """Return what stands over the sources of a unit."""
    if not isinstance(attribution, Origin):
        return bears_title(voice)
    if attribution.known:
        return voice.text("The infestation most likely came from")
    return voice.text("If it is infested, it most likely came from")


def bears_title(voice: Voice) -> str:
    """Return what stands over what bears on a unit."""
    return voice.text("What bears on it from now on")


def bears_note(voice: Voice) -> str:
    """Return what the shares of what bears on a unit are shares of."""
    return voice.text("Shares of the pressure on it over the last 26 weeks.")


def sources_note(attribution: Attribution, voice: Voice) -> str:
    """Return when an infestation began and how fresh that is, or why no source is named."""
    if not isinstance(attribution, Origin):
        if attribution.unlikely:
            why_not = voice.text("Too unlikely to name a source.")
        else:
            why_not = voice.text("The last full fit can name no source for it yet.")
        shares = voice.text("Shares of the pressure over the last 26 weeks.")
        return f"{why_not} {shares}"
    began = say(attribution.began, voice)
    told = (
        voice.text("It began {span}.")
        if attribution.known
        else voice.text("If it is infested, that began {span}.")
    )
    told = told.format(span=began)
    if not attribution.as_of_fit:
        return told
    stale = voice.text("As of the last full fit; answers since have moved the chance.")
    return f"{stale} {told}"


@say.register
def _(fact: Heavier, voice: Voice) -> str:
    """Say in one sentence why a heavier level is likelier than the one that was found."""
    why = []
    if fact.grew:
        why.append(voice.text("untreated, it has had time to grow since"))
    if fact.earlier:
        earlier, ago = level_name(fact.earlier, voice), voice.ago(fact.earlier_days)
        why.append(voice.text("a {level} infestation was found there {ago}", level=earlier, ago=ago))
    # A look sees part of the bugs whatever else is known: this always bears on it.
    why.append(
        voice.text(
            "of 100 finds in {level} infestations some {number} say no more than that, for a look sees part "
            "of the bugs",
            level=level_name(fact.likely, voice), number=voice.number(max(1, round(100 * fact.under))),
        )
    )  # fmt: skip
    return voice.text(
        "The find of {ago} said {said}, and {likely} is likelier today: {why}.",
        ago=voice.ago(fact.days), said=level_name(fact.said, voice), likely=level_name(fact.likely, voice),
        why="; ".join(why),
    )  # fmt: skip


def never_closed(followup: FollowUp | None, chance: float, voice: Voice) -> str:
    """Return what tells a find that nothing has closed from the chance of today; empty where none is open."""
    if followup is None or followup.status != "treat" or followup.found_on is None:
        return ""
    return voice.text(
        "Found on {day} and never closed: nothing on record since has treated or corrected it, so that it is "
        "to be treated. The {chance} is another thing: how likely bugs are there today.",
        day=voice.day(followup.found_on), chance=voice.percent(chance),
    )  # fmt: skip


@say.register
def _(fact: Span, voice: Voice) -> str:
    start = voice.day(fact.window)
    if fact.high is None:
        return voice.text("before {start}, when the window begins", start=start)
    high = voice.day(fact.high)
    if fact.median is None:
        return voice.text("before {start} (90 % sure: from before then to {high})", start=start, high=high)
    about = voice.day(fact.median)
    if fact.low is None:
        return voice.text(
            "about {about} (90 % sure: from before {start}, when the window begins, to {high})",
            about=about,
            start=start,
            high=high,
        )
    return voice.text(
        "about {about} (90 % sure: between {low} and {high})", about=about, low=voice.day(fact.low), high=high
    )


@say.register
def _(fact: PlanTreatment, voice: Voice) -> str:
    return voice.text(
        "Plan a treatment and tell the resident how to prepare; the neighbours around it are due a look."
    )


@say.register
def _(fact: VisitAgain, voice: Voice) -> str:
    when = voice.text("now") if fact.due is None else voice.text("about {day}", day=voice.day(fact.due))
    if fact.lacks:
        return voice.text("Visit again {when}; it is not cleared yet.", when=when)
    return voice.text("Visit again {when}, to keep watch.", when=when)


@say.register
def _(fact: ConfirmAlert, voice: Voice) -> str:
    return voice.text(
        "Confirm by eye or with interceptors before anything is treated; an alert alone proves nothing."
    )


@say.register
def _(fact: LookForRing, voice: Voice) -> str:
    return voice.text("Look at it: the ring rule asks for it ({places}).", places=places(fact.places, voice))


@say.register
def _(fact: LookForReport, voice: Voice) -> str:
    return voice.text(
        "{method} before the doors that nobody asks for: bugs were reported there {ago} and nobody has "
        "looked since.",
        method=method_name(fact.method, voice),
        ago=voice.ago(fact.days),
    )


@say.register
def _(fact: LookInTurn, voice: Voice) -> str:
    return voice.text("{method} when its turn comes.", method=method_name(fact.method, voice))


def span_data(span: Span | None) -> dict[str, Any] | None:
    """Return a span ready for JSON, with its words in English."""
    if span is None:
        return None
    days = {name: _iso(getattr(span, name)) for name in ("low", "median", "high", "window")}
    return {**days, "before": span.before, "words": say(span, ENGLISH)}


def _iso(day: dt.date | None) -> str | None:
    return None if day is None else day.isoformat()


def source_data(source: SourceShare) -> dict[str, Any]:
    """Return a source ready for JSON, with its words in English."""
    return {
        "unit": source.unit,
        "route": source.route,
        "share": source.share,
        "words": say(source, ENGLISH),
        "by_route": dict(source.by_route),
    }
