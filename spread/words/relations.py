"""How one unit lies to another, in words that go on after its name: ``shares 6.2 m of wall with 304``."""

from __future__ import annotations

from collections.abc import Sequence

from spread.contacts import relations as facts
from spread.words.saying import say
from spread.words.voice import Voice


@say.register
def _(fact: facts.SharedWall, voice: Voice) -> str:
    return voice.text(
        "shares {length} of wall with {unit}", length=voice.distance(fact.metres, 1), unit=fact.unit
    )


@say.register
def _(fact: facts.SharedFloor, voice: Voice) -> str:
    if fact.partly:
        told = voice.text("partly above {unit}") if fact.above else voice.text("partly below {unit}")
    else:
        told = voice.text("directly above {unit}") if fact.above else voice.text("directly below {unit}")
    return told.format(unit=fact.unit)


@say.register
def _(fact: facts.SameRiser, voice: Voice) -> str:
    if not fact.floors:
        return voice.text("on the same riser as {unit}", unit=fact.unit)
    apart = floors_apart(fact.floors, voice)
    return voice.text("on the same riser, {floors} from {unit}", floors=apart, unit=fact.unit)


@say.register
def _(fact: facts.AcrossHallway, voice: Voice) -> str:
    return voice.text("across the hallway from {unit}", unit=fact.unit)


@say.register
def _(fact: facts.AlongHallway, voice: Voice) -> str:
    if fact.opposite:
        return voice.many(
            "across and {number} door along the hallway from {unit}",
            "across and {number} doors along the hallway from {unit}",
            fact.doors,
            unit=fact.unit,
        )
    if fact.doors == 1:
        return voice.text("next door along the hallway from {unit}", unit=fact.unit)
    return voice.many(
        "{number} door along the hallway from {unit}",
        "{number} doors along the hallway from {unit}",
        fact.doors,
        unit=fact.unit,
    )


@say.register
def _(fact: facts.ByStairs, voice: Voice) -> str:
    return voice.text(
        "{floors} and {length} by the stairs from {unit}",
        floors=floors_apart(fact.floors, voice),
        length=voice.distance(fact.metres),
        unit=fact.unit,
    )


@say.register
def _(fact: facts.Tied, voice: Voice) -> str:
    # The words of a row may be translated; a house wrote its own ties in its own language.
    return f"{voice.term('tie', fact.words)} {fact.unit}"


@say.register
def _(fact: facts.RingPlace, voice: Voice) -> str:
    names = {
        "beside": voice.text("beside"),
        "above": voice.text("above"),
        "below": voice.text("below"),
        "across": voice.text("across the hallway from"),
    }
    sides = voice.joined([names[side] for side in fact.sides])
    return voice.text("{sides} {unit}", sides=sides, unit=fact.unit)


def places(facts: Sequence[facts.RingPlace], voice: Voice) -> str:
    """Return how a unit lies to every unit whose ring asks for it: ``beside 304; above 205``."""
    return "; ".join(say(fact, voice) for fact in facts)


def floors_apart(floors: int, voice: Voice) -> str:
    """Return ``2 floors up`` or, of a negative number, ``2 floors down``."""
    if floors > 0:
        return voice.many("{number} floor up", "{number} floors up", floors)
    return voice.many("{number} floor down", "{number} floors down", -floors)
