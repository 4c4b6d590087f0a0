"""The shortest way to clear a unit in words: what is needed, and from when at the earliest.

These sentences hold out a day: each says that nothing is clear before it, and what else has to hold.
"""

from __future__ import annotations

from typing import Any

from spread.decisions.case.shortest import LOOK, READ, SET_TRAPS, TREAT, CleanVisit, WayToClear
from spread.facts import as_json
from spread.words.saying import say
from spread.words.voice import ENGLISH, Voice, upper


@say.register
def _(fact: CleanVisit, voice: Voice) -> str:
    """Say the first day of a visit and what is done at it."""
    acts = {
        TREAT: voice.text("treat"),
        SET_TRAPS: voice.text("set traps"),
        READ: voice.text("read the traps"),
        LOOK: voice.text("look"),
    }
    done = voice.joined([acts[act] for act in fact.acts])
    return voice.text("{day}: {done}", day=voice.day(fact.day), done=done)


@say.register
def _(fact: WayToClear, voice: Voice) -> str:
    """Say what is needed, the earliest day, and what else has to hold on it."""
    told = short(fact, voice)
    return told if fact.earliest is None else f"{told} {holds_if(voice)}"


def holds_if(voice: Voice) -> str:
    """Return what has to hold for every day that a way names; said once where several stand together."""
    return voice.text(
        "An earliest day holds only if every reading and look is clean and the model's chance is low enough "
        "by then; nothing is clear before."
    )


def short(way: WayToClear, voice: Voice) -> str:
    """Return the way in one line: ``Two trap readings and one look: Sat 9 Jan 2027 at the earliest.``."""
    if way.stopped == "cool":
        return voice.text(
            "No day can be named: in rooms this cool nobody knows when the last eggs hatch. Warm them first."
        )
    if way.stopped:
        return voice.text("No day can be named: the rule of the house is met by no further visits alone.")
    if way.earliest is None and not way.settled:
        return voice.text(
            "The records have all; the chance is not settled, as the fit's chains do not agree."
        )
    if way.earliest is None:
        most, now = voice.percent(way.most, 1), voice.percent(way.chance, 1)
        return voice.text(
            "The records have all; the model's chance is {now} and has to be {most} or less.",
            most=most,
            now=now,
        )
    told = voice.text(
        "{needed}: {day} at the earliest.", needed=upper(needed(way, voice)), day=voice.day(way.earliest)
    )
    if way.refused is None:
        return told
    first = voice.text("Entry was refused on {day}: arrange it first.", day=voice.day(way.refused))
    return f"{told} {first}"


def needed(way: WayToClear, voice: Voice) -> str:
    """Return what is still needed, such as ``two trap readings and one look``; empty where no visit helps."""
    reads, looks = way.times(READ), way.times(LOOK)
    parts = [voice.text("one treatment")] if way.times(TREAT) else []
    parts += [voice.text("traps set")] if way.times(SET_TRAPS) else []
    if reads:
        parts.append(
            voice.many("{count} trap reading", "{count} trap readings", reads, count=voice.count(reads))
        )
    if looks:
        look = voice.many("{count} look", "{count} looks", looks, count=voice.count(looks))
        covers = voice.text("{looks}, encasements intact", looks=look)
        parts.append(covers if way.covers else look)
    return voice.joined(parts)


def way_data(way: WayToClear, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return a way ready for JSON: the facts, and the words that pages and lists show."""
    data: dict[str, Any] = dict(as_json(way))  # type: ignore[call-overload]
    return data | {
        "words": say(way, voice),
        "needed": needed(way, voice),
        "visit_words": [say(visit, voice) for visit in way.visits],
    }
