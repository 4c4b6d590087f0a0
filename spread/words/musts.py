"""Why a door goes into a round first, and why one was left out, in words."""

from __future__ import annotations

from spread.decisions.round.parts import (
    AskedFor,
    Barred,
    ForDuty,
    ForRevisit,
    ForRing,
    ForTreatment,
    GaveWay,
    Must,
    NoTime,
)
from spread.words.followup import window_words
from spread.words.relations import places
from spread.words.saying import say
from spread.words.voice import Voice


@say.register
def _(fact: AskedFor, voice: Voice) -> str:
    return voice.text("asked for")


@say.register
def _(fact: ForDuty, voice: Voice) -> str:
    return voice.text("duty: {duty}, {rule}", duty=say(fact.duty, voice), rule=fact.duty.rule)


@say.register
def _(fact: ForRing, voice: Voice) -> str:
    return voice.text("ring: {places}", places=places(fact.places, voice))


@say.register
def _(fact: ForRevisit, voice: Voice) -> str:
    return voice.text("revisit, {window}", window=window_words(fact.visit, fact.on, voice))


@say.register
def _(fact: ForTreatment, voice: Voice) -> str:
    return voice.text("treat, {window}", window=window_words(fact.visit, fact.on, voice))


@say.register
def _(fact: Barred, voice: Voice) -> str:
    if fact.state == "refused":
        return voice.text("entry was refused: arrange a day first, and give notice anew")
    day = voice.day(fact.first)
    if fact.state == "running":
        return voice.text("notice of entry was given, for {day}", day=day)
    return voice.text("no notice of entry on record; given today it has run by {day}", day=day)


@say.register
def _(fact: NoTime, voice: Voice) -> str:
    why = say(fact.must, voice)
    return voice.text("must be visited ({why}) and does not fit into the time", why=why)


@say.register
def _(fact: GaveWay, voice: Voice) -> str:
    why = say(fact.must, voice)
    return voice.text("asked for ({why}); the duties and doors worth more take the time", why=why)


def must_words(must: Must | None, voice: Voice) -> str:
    """Return why a door goes in first; empty where it does not."""
    return "" if must is None else say(must, voice)
