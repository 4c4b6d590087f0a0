"""An accepted programme beside what came of it, in words: departed, as promised, or nobody can tell yet."""

from __future__ import annotations

from collections.abc import Iterator

from spread.programmes.accepted import INFESTED, PAID, Accepted
from spread.programmes.held import (
    COURSE,
    LEAST_MONTHS,
    LEAST_RUNS,
    LEAST_VISITS,
    POWER,
    TIMES,
    UNREADY,
    Departure,
    Held,
    LikelyCause,
    Place,
)
from spread.words.choice import called
from spread.words.figures import spanned
from spread.words.month import money
from spread.words.saying import say
from spread.words.voice import Voice, upper

SHOWN = (INFESTED, "finds", "visits", "shut", "treatments", "reports", "again", "move-ins", PAID)
"""Rows of the table, the question of an owner first."""


def quantity_name(quantity: str, voice: Voice, *, by_fees: bool = True) -> str:
    """Return what a quantity counts."""
    names = {
        INFESTED: voice.text("units infested"),
        "visits": voice.text("visits to a door"),
        "shut": voice.text("doors that stayed shut"),
        "reports": voice.text("new complaints"),
        "finds": voice.text("new finds"),
        "treatments": voice.text("treatment visits"),
        "again": voice.text("finds in units cleared within half a year"),
        "move-ins": voice.text("households moved in"),
        UNREADY: voice.text("treatment visits to homes that were not ready"),
        COURSE: voice.text("treatment visits for each find"),
    }
    paid = voice.text("the owner’s bill") if by_fees else voice.text("the work at its cost")
    return names.get(quantity, paid)


@say.register
def _(fact: Accepted, voice: Voice) -> str:
    """Say which programme was accepted, and the forecast's two chances of nil."""
    told = voice.text(
        "{programme}, accepted on {day} with its forecast of {weeks} weeks from {runs} futures.",
        programme=called(fact.name, voice), day=voice.day(fact.on), weeks=fact.weeks,
        runs=voice.number(fact.runs),
    )  # fmt: skip
    nil = voice.text(
        "The chance of no infested unit at some time was put at {some}, and of none at the end at {end}.",
        some=voice.percent(fact.nil_by), end=voice.percent(fact.nil_at_end),
    )  # fmt: skip
    return f"{told} {nil}"


@say.register
def _(fact: Held, voice: Voice) -> str:
    """Say the answer; what calms needs the ground that its verdict asks for."""
    day = voice.day(fact.until)
    if fact.verdict == "departed":
        return voice.text("The building has left the forecast of the accepted programme.")
    if fact.verdict == "as-promised":
        return voice.text("Up to {day} it goes as the accepted programme forecast.", day=day)
    return voice.text("Whether it goes as the accepted programme forecast cannot be told yet.")


@say.register
def _(fact: Departure, voice: Voice) -> str:
    what, day = quantity_name(fact.quantity, voice), voice.day(fact.until)
    if fact.more:
        return voice.text("More than forecast by {day}: {what}.", what=what, day=day)
    return voice.text("Fewer than forecast by {day}: {what}.", what=what, day=day)


@say.register
def _(fact: LikelyCause, voice: Voice) -> str:
    """Say which rate of the log is another than the programme assumed."""
    share = {"assumed": voice.percent(fact.assumed), "actual": voice.percent(fact.actual)}
    each = {"assumed": voice.number(fact.assumed, 1), "actual": voice.number(fact.actual, 1)}
    if fact.cause == "access":
        return voice.text(
            "access: at {actual} of {of} visits the door stayed shut; {assumed} was assumed",
            of=fact.of, **share,
        )  # fmt: skip
    if fact.cause == "preparation":
        return voice.text(
            "preparation: at {actual} of {of} treatment visits the home was not ready; {assumed} was assumed",
            of=fact.of, **share,
        )  # fmt: skip
    if fact.cause == "treatment":
        return voice.text(
            "failing treatment: {actual} treatment visits for each of {of} finds; {assumed} were assumed",
            of=fact.of, **each,
        )  # fmt: skip
    return voice.text("arrivals: {actual} households moved in each month; {assumed} were assumed", **each)


def why_lines(held: Held, voice: Voice) -> Iterator[str]:
    """Yield what the answer rests on: departures with what the log shows of a reason, or what is lacking."""
    if held.verdict == "departed":
        yield from (say(one, voice) for one in held.departures)
        if held.causes:
            causes = "; ".join(say(one, voice) for one in held.causes)
            yield voice.text("Likely reason, as far as the log shows one: {causes}.", causes=causes)
        else:
            yield voice.text("The log does not show why.")
        if any(not one.more and one.quantity in ("finds", "reports", INFESTED) for one in held.departures):
            yield voice.text("Fewer finds or complaints are no proof of fewer bugs, and clear no unit.")
        return
    yield _lacking(held, voice)


def _lacking(held: Held, voice: Voice) -> str:
    seen = voice.text(
        "half of the visits, or {times} times the finds, would have been noticed by now with a "
        "chance of {chance}",
        times=TIMES, chance=voice.percent(held.seen),
    )  # fmt: skip
    return {
        "": voice.text(
            "This rests on looks in {looked} units since then, and on this: {seen}. It clears no unit.",
            looked=held.looked, seen=seen,
        ),
        "early": voice.many(
            "{number} month is over; before {least} nothing is called as promised.",
            "{number} months are over; before {least} nothing is called as promised.",
            held.month, least=LEAST_MONTHS,
        ),
        "runs": voice.text(
            "The forecast has too few futures to tell chance from a departure; {least} are asked for.",
            least=LEAST_RUNS,
        ),
        "silent": voice.text(
            "The log is too silent: at least {least} visits since then, and some in each of the last "
            "{months} months, are asked for.", least=LEAST_VISITS, months=LEAST_MONTHS,
        ),
        "looks": voice.text(
            "{looked} units were looked at since then with an answer that proves something; at least "
            "{needed} are asked for.", looked=held.looked, needed=held.needed,
        ),
        "unsettled": voice.text("The calculation did not settle, so its figures carry no such sentence."),
        "reach": voice.text("How many units are infested is not known far enough back."),
        "infested": voice.text("More units may be infested than the forecast had; that is not sure yet."),
        "outside": voice.text(
            "Something lies outside of its band, which by chance happens often; the table says what."
        ),
        "power": voice.text(
            "Nothing stands out, but {seen}; {least} is asked for.", seen=seen, least=voice.percent(POWER)
        ),
    }[held.why_not]  # fmt: skip


def rows(held: Held, voice: Voice) -> list[tuple[str, str, str]]:
    """Return the table: what, what is known up to the last month that is over, and what was promised."""
    by_name = {place.quantity: place for place in held.places}
    return [
        (
            upper(quantity_name(name, voice, by_fees=held.by_fees)),
            _known(by_name[name], held, voice),
            _promised(by_name[name], held, voice),
        )
        for name in SHOWN
        if name in by_name
    ]


def heads(held: Held, voice: Voice) -> tuple[str, str, str]:
    """Return the head of the table."""
    since, until = voice.day(held.accepted), voice.day(held.until)
    return (
        voice.text("After {since}, up to {until}", since=since, until=until),
        voice.text("Is"),
        voice.text("Was promised (90 %)"),
    )


def path_rows(held: Held, voice: Voice) -> list[tuple[str, str, str]]:
    """Return units infested by month: known today, and promised."""
    return [
        (
            voice.text("month {number}", number=place.month),
            _known(place, held, voice),
            _promised(place, held, voice),
        )
        for place in held.path
    ]


def _known(place: Place, held: Held, voice: Voice) -> str:
    if place.actual is None:
        return voice.text("not known") if place.month <= held.month else ""
    if place.actual_low is None or place.actual_high is None:
        return _amount(place.actual, place, held, voice)
    return spanned(voice, *(voice.number(one) for one in (place.actual, place.actual_low, place.actual_high)))


def _promised(place: Place, held: Held, voice: Voice) -> str:
    middle, low, high = (_amount(x, place, held, voice) for x in (place.median, place.low, place.high))
    return spanned(voice, middle, low, high)


def _amount(value: float, place: Place, held: Held, voice: Voice) -> str:
    return money(value, held.currency, voice) if place.quantity == PAID else voice.number(value)


def renewed_line(newest: Accepted, voice: Voice) -> str:
    """Return that there is a newer forecast, what it says, and that the old one stands."""
    low, middle, high = newest.bands[INFESTED][-1]
    return voice.text(
        "A new forecast of {day} stands beside the old one: {median} units infested at the end ({low} to "
        "{high}). The programme is still held to the one that was accepted.",
        day=voice.day(newest.on), median=voice.number(middle), low=voice.number(low), high=voice.number(high),
    )  # fmt: skip
