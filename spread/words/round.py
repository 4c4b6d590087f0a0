"""A round in words: what it takes and finds, its stops, and why it has none."""

from __future__ import annotations

from spread.decisions.round.making import TIERS
from spread.decisions.round.parts import (
    AllBarred,
    AllShut,
    HeldBack,
    NothingLeft,
    NoWindow,
    Round,
    TooFar,
)
from spread.plan.access import clock_of
from spread.words.saying import say
from spread.words.voice import Voice


@say.register
def _(fact: AllBarred, voice: Voice) -> str:
    return voice.many(
        "No door may be entered today: {number} waits for its notice of entry.",
        "No door may be entered today: {number} wait for their notice of entry.",
        fact.doors,
    )


@say.register
def _(fact: AllShut, voice: Voice) -> str:
    return voice.text(
        "No door can be entered today: all {doors} doors of this round are outside their access times.",
        doors=fact.doors,
    )


@say.register
def _(fact: NothingLeft, voice: Voice) -> str:
    names = {
        "look": voice.text("to look at"),
        "treat": voice.text("to treat"),
        "revisit": voice.text("to revisit"),
    }
    return voice.text(
        "There is no door {kinds} that was not done today.",
        kinds=voice.either([names[kind] for kind in fact.kinds]),
    )


@say.register
def _(fact: TooFar, voice: Voice) -> str:
    return voice.text(
        "No door can be reached: the nearest takes {needed} minutes with the walk and {left} are left; give "
        "the round more time.",
        needed=voice.number(fact.needed),
        left=voice.number(fact.left),
    )


@say.register
def _(fact: NoWindow, voice: Voice) -> str:
    return voice.text(
        "No door can be entered from {begins} to {ends}: their access times leave none worth a visit.",
        begins=clock_of(fact.begins),
        ends=clock_of(fact.ends),
    )


def no_door(planned: Round, voice: Voice) -> str:
    """Return why a round has no stop; empty where it has one."""
    return "" if planned.no_door is None else say(planned.no_door, voice)


def doors_many(count: int, voice: Voice) -> str:
    """Return ``1 door``, ``12 doors``."""
    return voice.many("{number} door", "{number} doors", count)


def carry_words(planned: Round, voice: Voice) -> str:
    """Return in which order a round goes, why, and what that may cost."""
    told = voice.text(
        "The likeliest doors early; those taken for infested last, to limit carry-over. Plan again after "
        "each answer."
    )
    return f"{told} {say(planned.held_back, voice)}" if planned.held_back else told


@say.register
def _(fact: HeldBack, voice: Voice) -> str:
    return voice.text(
        "Last for that reason, though not confirmed: {units}. A round cut short before them misses {finds} "
        "expected finds: keep their time free, or send somebody who goes there alone.",
        units=voice.joined(fact.units),
        finds=voice.number(fact.finds, 2),
    )


def tier_name(tier: str, voice: Voice) -> str:
    """Return what a tier of doors is called (:data:`spread.decisions.round.making.TIERS`)."""
    names = (voice.text("likely clear"), voice.text("suspect"), voice.text("likely infested"))
    return names[TIERS.index(tier)]
