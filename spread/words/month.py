"""The owner's month in words: better, worse or nobody can tell, and why; what was done, and what it cost."""

from __future__ import annotations

from spread.decisions.grades.grades import ENOUGH, Sum
from spread.decisions.month.change import SURE, Change, Count, Shift
from spread.decisions.month.month import Tally
from spread.programmes.spent import Spent
from spread.records.summaries import Said
from spread.words.saying import say
from spread.words.terms import method_name
from spread.words.voice import Voice


@say.register
def _(fact: Count, voice: Voice) -> str:
    return band_words(fact.median, fact.low, fact.high, voice)


def band_words(median: int, low: int, high: int, voice: Voice) -> str:
    """Return a number of units with the interval that holds 90 %."""
    return voice.text("about {median} (90 % sure: {low} to {high})", median=median, low=low, high=high)


@say.register
def _(fact: Change, voice: Voice) -> str:
    """Say whether it is better, worse or as it was; what calms needs the ground that its verdict asks for."""
    day = voice.day(fact.then.day)
    if fact.verdict == "better":
        return voice.text(
            "Better: fewer units are infested than on {day} (chance {chance}).", day=day,
            chance=voice.percent(fact.fell),
        )  # fmt: skip
    if fact.verdict == "worse":
        return voice.text(
            "Worse: more units are infested than on {day} (chance {chance}).", day=day,
            chance=voice.percent(fact.rose),
        )  # fmt: skip
    if fact.verdict == "same":
        return voice.text(
            "No change: as many units are infested as on {day} (chance {chance}).", day=day,
            chance=voice.percent(fact.same),
        )  # fmt: skip
    return voice.text("It cannot be told whether it is better or worse than on {day}.", day=day)


def verdict_name(verdict: str, voice: Voice) -> str:
    """Return a verdict in a word or two, for a table."""
    return {
        "better": voice.text("better"),
        "worse": voice.text("worse"),
        "same": voice.text("no change"),
    }.get(verdict, voice.text("cannot be told"))


def ground(fact: Change, voice: Voice) -> str:
    """Return why a change is called what it is called."""
    fell, rose = voice.percent(fact.fell), voice.percent(fact.rose)
    if fact.why_not == "looks":
        return voice.many(
            "{number} unit was looked at with an answer that proves something; at least {needed} are asked "
            "for before anything is called better or unchanged.",
            "{number} units were looked at with an answer that proves something; at least {needed} are asked "
            "for before anything is called better or unchanged.",
            fact.looked,
            needed=voice.number(fact.needed),
        )
    if fact.verdict in ("better", "same"):
        return voice.many(
            "This rests on looks in {number} unit in the period.",
            "This rests on looks in {number} units in the period.",
            fact.looked,
        )
    return {
        "unsettled": voice.text("The calculation did not settle, so its figures carry no such sentence."),
        "nothing": voice.text(
            "Nothing was looked at, reported or treated, so the figures only say what is usual."
        ),
        "chance": voice.text(
            "The chance that fewer units are infested is {fell}, that more are {rose}; it is called a change "
            "from {sure} on.",
            fell=fell,
            rose=rose,
            sure=voice.percent(SURE),
        ),
        "treated": voice.text(
            "The figures fall (chance {fell}), but mostly in units that nobody has looked at since; what a "
            "treatment usually does is no proof of what this one did.",
            fell=fell,
        ),
        "": voice.text("This rests on the looks, reports and treatments on record in the period."),
    }[fact.why_not]


def other_than_said(said: Said, known: Count, voice: Voice) -> str:
    """Return that today's knowledge tells a day otherwise than was said then; empty where it does not."""
    if (said.low, said.median, said.high) == (known.low, known.median, known.high):
        return ""
    return voice.text(
        "On {day} it was said to be {said}. What was recorded since has changed that: by what is known today "
        "it was {known}.",
        day=voice.day(said.on),
        said=band_words(said.median, said.low, said.high, voice),
        known=say(known, voice),
    )


@say.register
def _(fact: Shift, voice: Voice) -> str:
    return voice.text(
        "{unit} from {then} to {now}",
        unit=fact.unit,
        then=voice.percent(fact.then),
        now=voice.percent(fact.now),
    )


@say.register
def _(fact: Tally, voice: Voice) -> str:
    return voice.text(
        "{method} {number}", method=method_name(fact.method, voice), number=voice.number(fact.number)
    )


def promised_words(fact: Sum, voice: Voice) -> str:
    """Return what lists promised of a period and what was made; of few looks, that nobody can tell."""
    if not fact.looks:
        return voice.text("No look of the period followed a list that named its unit, so nothing is graded.")
    values = {"promised": voice.number(fact.promised, 1), "made": voice.number(fact.made)}
    if fact.looks < ENOUGH:
        return voice.many(
            "In {number} look {promised} finds were promised and {made} made: too few looks to tell chance "
            "from a fault.",
            "In {number} looks {promised} finds were promised and {made} made: too few looks to tell chance "
            "from a fault.",
            fact.looks,
            **values,
        )
    told = voice.text(
        "In {looks} looks {promised} finds were promised (95 % sure: {low} to {high}) and {made} were made.",
        looks=voice.number(fact.looks),
        low=voice.number(fact.low),
        high=voice.number(fact.high),
        **values,
    )
    if fact.inside:
        return told
    return f"{told} {voice.text('That is outside of what was promised: the lists were off.')}"


@say.register
def _(fact: Spent, voice: Voice) -> str:
    """Say what the work on record cost, and what was set aside for it."""
    total = money(fact.total, fact.currency, voice)
    hours = voice.number(fact.hours, 1)
    told = voice.text(
        "The work on record comes to {total} and {hours} hours by the building’s own prices.",
        total=total,
        hours=hours,
    )
    if fact.budget is None:
        return f"{told} {voice.text('No plan for its money is on file.')}"
    left = fact.budget - fact.total
    plan = {
        "budget": money(fact.budget, fact.currency, voice),
        "rest": money(abs(left), fact.currency, voice),
    }
    if left >= 0:
        return f"{told} {voice.text('Set aside were {budget}; {rest} are left.', **plan)}"
    return f"{told} {voice.text('Set aside were {budget}; it is {rest} more.', **plan)}"


def money(amount: float, currency: str, voice: Voice) -> str:
    """Return an amount in whole units of its currency."""
    return f"{currency} {voice.number(amount)}"
