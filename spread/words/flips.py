"""What would turn the verdict, in words."""

from __future__ import annotations

from collections.abc import Mapping

from spread.programmes.choice import Choice
from spread.programmes.flips import Flip, Flips, Turn
from spread.words import figures as f
from spread.words.programmes import driver_names
from spread.words.saying import say
from spread.words.voice import Voice, upper

MOST = 3
"""Drivers named on a first page."""


def flip_lines(
    found: Flips, names: Mapping[str, str], currency: str, voice: Voice, *, short: bool = False
) -> list[str]:
    """Return in a few sentences what would turn the verdict, or that nothing tried does; strongest first.

    ``short``: of a page with little room: what turns it, and not what moves figures without turning it.
    """
    turning = [flip for flip in found.by_money if flip.turns]
    most = MOST - 1 if short else MOST
    lines = [_turning(flip, names, voice) for flip in turning[:most]]
    if len(turning) > most:
        left = [driver_names(voice)[flip.name] for flip in turning[most:]]
        lines.append(voice.text("It turns at an end of these too: {names}.", names=voice.joined(left)))
    if not turning:
        lines.append(
            voice.text(
                "None of {number} things, each set to the ends of what it may be, turns the verdict.",
                number=voice.number(len(found.by_money)),
            )
        )
    if short:
        return lines
    rest = [flip for flip in found.by_money if not flip.turns]
    money = [_moved(flip, flip.money, currency, voice) for flip in rest[:2] if flip.money >= 1.0]
    bugs = [_moved(flip, flip.bugs, "", voice) for flip in found.by_bugs if not flip.turns and flip.bugs][:2]
    if money:
        lines.append(
            voice.text("Money is moved most by {names}; none of these turns it.", names=voice.joined(money))
        )
    if bugs:
        lines.append(
            voice.text(
                "Infested unit-weeks are moved most by {names}; none of these turns it.",
                names=voice.joined(bugs),
            )
        )
    return lines


def pace_lines(choice: Choice, voice: Voice) -> list[str]:
    """Return in one sentence whether the answer turns with the building's pace, if that was told."""
    if choice.by_pace is None:
        return []
    fact = choice.by_pace
    often = voice.text(
        "{first} costs less than {second} in {slow} of the slowest third of futures and in {fast} of the "
        "fastest",
        first=voice.term("programme", fact.a),
        second=voice.term("programme", fact.b),
        slow=f.share(fact.less[0], voice),
        fast=f.share(fact.less[2], voice),
    )
    turns = {
        "flips": voice.text(
            "The building's pace turns it, and one log tells little of that: {often}.", often=often
        ),
        "holds": voice.text("The building's pace does not turn it: {often}.", often=often),
        "even": voice.text("Whether the building's pace turns it cannot be told: {often}.", often=often),
    }
    return [turns[fact.turn]]


def _moved(flip: Flip, amount: float, currency: str, voice: Voice) -> str:
    shown = " ".join(filter(None, [currency, f.number(amount, voice)]))
    return voice.text("{name} (up to {amount})", name=driver_names(voice)[flip.name], amount=shown)


def _turning(flip: Flip, names: Mapping[str, str], voice: Voice) -> str:
    ways = [
        _way(say(turn, voice), say(end, voice), names[turn.to], voice)
        for end, turn in ((flip.low, flip.below), (flip.high, flip.above))
        if turn is not None
    ]
    return voice.text("{name}: {ways}.", name=upper(driver_names(voice)[flip.name]), ways="; ".join(ways))


def _way(at: str, end: str, other: str, voice: Voice) -> str:
    if at == end:
        return voice.text("at {end}, {other} is better", end=end, other=other)
    return voice.text("from about {at} on, towards {end}, {other} is better", at=at, end=end, other=other)


def holds(flip: Flip, voice: Voice) -> str:
    """Return the range in which the verdict holds, of what was tried."""
    low, high = (
        say(end if turn is None else turn.at, voice)
        for end, turn in ((flip.low, flip.below), (flip.high, flip.above))
    )
    return voice.text("{low} to {high}", low=low, high=high)


@say.register
def _(fact: Flips, voice: Voice) -> str:
    names = {each.to: each.to for flip in fact.by_money for each in (flip.below, flip.above) if each}
    return " ".join(flip_lines(fact, names, "", voice))


@say.register
def _(fact: Flip, voice: Voice) -> str:
    return voice.text("{name}: {ways}.", name=upper(driver_names(voice)[fact.name]), ways=holds(fact, voice))


@say.register
def _(fact: Turn, voice: Voice) -> str:
    return say(fact.at, voice)
