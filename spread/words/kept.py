"""What recording a row did, in words."""

from __future__ import annotations

from spread.decisions.kept import Kept, KeptBefore, KeptForLater, Moved
from spread.words.saying import say
from spread.words.voice import Voice


@say.register
def _(_fact: KeptBefore, voice: Voice) -> str:
    return voice.text("This answer was already recorded.")


@say.register
def _(fact: KeptForLater, voice: Voice) -> str:
    return voice.text("Recorded for {day}; it counts from then on.", day=voice.day(fact.when))


@say.register
def _(fact: Moved, voice: Voice) -> str:
    moved = {"before": voice.percent(fact.before), "after": voice.percent(fact.after)}
    return voice.text("{unit} {before} to {after}", unit=fact.unit, **moved)


@say.register
def _(fact: Kept, voice: Voice) -> str:
    here, percent = fact.here, voice.percent
    told = [
        voice.text("Taken back.") if fact.taken_back else voice.text("Recorded."),
        voice.text(
            "{unit}: {before} before, {after} now.",
            unit=here.unit,
            before=percent(here.before),
            after=percent(here.after),
        ),
    ]
    if fact.others:
        moves = ", ".join(say(one, voice) for one in fact.others)
        told.append(voice.text("Moved most: {moves}.", moves=moves))
    if fact.refitting:
        told.append(voice.text("The log is being fitted again; the figures follow."))
    return " ".join(told)
