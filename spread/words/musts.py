"""Why a door goes into a round first, and why one was left out, in words."""

from __future__ import annotations

from spread.decisions.round.parts import AskedFor, ForDuty, ForRevisit, ForRing, GaveWay, Must, NoTime
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
