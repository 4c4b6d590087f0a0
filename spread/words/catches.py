"""What traps have caught in words: by sleeping place, and where most seem to come from."""

from __future__ import annotations

from spread.decisions.case.catches import Catches, CaughtAt
from spread.words.saying import say
from spread.words.terms import place_name
from spread.words.voice import Voice


@say.register
def _(fact: CaughtAt, voice: Voice) -> str:
    """Say a place with its catches, the last period last."""
    by_day = ", ".join(
        voice.text("{number} on {day}", number=count, day=voice.short_day(day)) for day, count in fact.caught
    )
    place = place_name(fact.place, voice)
    if not fact.caught:
        return voice.text("{place}: not read yet", place=place)
    return voice.text("{place}: {catches}", place=place, catches=by_day)


@say.register
def _(fact: Catches, voice: Voice) -> str:
    """Say what the catches point to, or that they cannot: a hint, and never that a place is free."""
    if not fact.places or not any(one.total for one in fact.places):
        return voice.text(
            "Nothing in these traps says where bugs are; traps miss many, and empty ones clear nothing."
        )
    if len(fact.places) == 1:
        return voice.text(
            "All traps stand at one sleeping place, so their catches cannot be compared with another."
        )
    best = fact.points_to
    if best is None:
        return voice.text("The catches do not tell yet at which place most bugs are: look at all of them.")
    return voice.text(
        "Most bugs a trap are caught at {place} (chance {chance}): look there and behind it first, then at "
        "the others all the same.",
        place=place_name(best.place, voice),
        chance=voice.percent(best.most),
    )
