"""The verdict on programmes in words, the same for page, document and command."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from spread.programmes.choice import MATTERS, Against, Choice
from spread.programmes.looking_first import LookingFirst
from spread.words import figures as f
from spread.words.saying import say
from spread.words.terms import within
from spread.words.voice import Voice, upper

if TYPE_CHECKING:
    from spread.programmes.figures import Figure, Share
    from spread.programmes.pairs import BreakEven, Pair
    from spread.programmes.results import Comparison

Names = Mapping[str, str]
"""What programmes are called, by key."""


def names_of(comparison: Comparison, voice: Voice) -> dict[str, str]:
    """Return what each programme is called in a person's language; one's own is called as its file has it."""
    return {outcome.key: called(outcome.name, voice) for outcome in comparison.outcomes}


def called(name: str, voice: Voice) -> str:
    """Return a programme's name, or what it does, in a person's language."""
    return voice.term("programme", name) if name else ""


# Two programmes.


def cost_verdict(pair: Pair, voice: Voice) -> str:
    """Return in a word or two whether the first of a pair is the cheaper one."""
    words = {"fewer": voice.text("cheaper"), "more": voice.text("dearer")}
    return words.get(pair.cost_verdict) or voice.text("cannot be told apart")


def bug_verdict(pair: Pair, voice: Voice) -> str:
    """Return in a word or two whether the first of a pair has fewer infested unit-weeks."""
    words = {"fewer": voice.text("fewer"), "more": voice.text("more")}
    return words.get(pair.bug_verdict) or voice.text("cannot be told apart")


def money_clause(pair: Pair, currency: str, voice: Voice) -> str:
    """Return how the money of the first of a pair compares: the mean with its interval, and in how many."""
    amounts = _ends(pair.cost, voice, f"{currency} ")
    share = f.share(pair.cheaper, voice)
    if pair.cost_verdict == "fewer":
        return voice.text(
            "{amount} less on average ({low} to {high}), less in {share} of futures",
            **amounts,
            share=share,
        )
    if pair.cost_verdict == "more":
        return voice.text(
            "{amount} more on average ({low} to {high}), less in {share} of futures",
            **amounts,
            share=share,
        )
    return voice.text(
        "cost cannot be told apart on average ({low} to {high}), less in {share} of futures",
        low=amounts["from"], high=amounts["to"], share=share,
    )  # fmt: skip


def bugs_clause(pair: Pair, voice: Voice) -> str:
    """Return how the infested unit-weeks of the first of a pair compare."""
    amounts = _ends(pair.bug_weeks, voice, "")
    share = f.share(pair.fewer_bugs, voice)
    if pair.bug_verdict == "fewer":
        return voice.text(
            "{amount} infested unit-weeks fewer on average ({low} to {high}), fewer in {share} of futures",
            **amounts, share=share,
        )  # fmt: skip
    if pair.bug_verdict == "more":
        return voice.text(
            "{amount} infested unit-weeks more on average ({low} to {high}), fewer in {share} of futures",
            **amounts, share=share,
        )  # fmt: skip
    return voice.text(
        "infested unit-weeks cannot be told apart on average ({low} to {high}), fewer in {share} of futures",
        low=amounts["from"], high=amounts["to"], share=share,
    )  # fmt: skip


def _ends(difference: Figure, voice: Voice, unit: str) -> dict[str, str]:
    """Return a mean difference without its sign, its interval alike, and the interval with signs."""
    near, far = sorted((abs(difference.least), abs(difference.most)))
    return {
        "amount": unit + f.number(abs(difference.mean), voice),
        "low": f.number(near, voice),
        "high": f.number(far, voice),
        "from": unit + f.signed(difference.least, voice),
        "to": f.signed(difference.most, voice),
    }


def pair_line(pair: Pair, currency: str, voice: Voice) -> str:
    """Return in a clause how one programme does against another."""
    return f"{money_clause(pair, currency, voice)}; {bugs_clause(pair, voice)}"


def duel(comparison: Comparison, pair: Pair, voice: Voice) -> tuple[str, str, str]:
    """Return how the second of a pair does against the first: names, then bugs and cost in words."""
    turned, names = comparison.pair(pair.b, pair.a), names_of(comparison, voice)
    title = voice.text("{second} against {first}", second=names[pair.b], first=names[pair.a])
    money = money_clause(turned, comparison.currency, voice)
    return title, f"{upper(bugs_clause(turned, voice))}.", f"{upper(money)}."


def even_lines(even: BreakEven, comparison: Comparison, voice: Voice) -> list[str]:
    """Return in sentences where money turns the answer; nothing where it cannot be told which way.

    It says of no programme that it is cheaper: the verdict does that.
    """
    names, money = names_of(comparison, voice), comparison.currency
    pair = comparison.pair(even.key, comparison.reference)
    told = {"name": names[even.key], "other": names[comparison.reference]}
    lines = []
    price, loss = even.survey_price, even.loss
    if price is not None and price.value is not None and price.value >= 0.01:
        at = "" if even.survey_price_now is None else voice.number(even.survey_price_now, 2)
        lines.append(
            voice.text(
                "{name} and {other} cost the same on average at {price} a planned look{now}.",
                price=f"{money} {f.solved(price, voice)}",
                now=at and voice.text(", which is {currency} {price} now", currency=money, price=at),
                **told,
            )
        )
    elif price is not None and price.high is not None and price.high < 0.0:
        lines.append(
            voice.text("At no price of a planned look does {name} cost as little as {other}.", **told)
        )
    if pair.bug_verdict == "fewer" and pair.cost_verdict == "fewer":
        lines.append(
            voice.text(
                "{name} pays whatever an infested unit-week costs the owner: it has less of both.",
                name=told["name"],
            )
        )
    elif pair.bug_verdict == "fewer" and pair.cost_verdict == "more" and loss is not None:
        lines.append(
            voice.text(
                "{name} pays once an infested unit-week costs the owner {loss} or more.",
                name=told["name"],
                loss=f"{money} {f.solved(loss, voice)}",
            )
        )
    return lines


# The verdict.


def choice_lines(choice: Choice, names: Names, voice: Voice) -> list[str]:
    """Return the verdict in sentences: which and why, how sure, and against what else."""
    return [
        *headline(choice, names, voice),
        *(f"{title}: {words}." for title, words in against_rows(choice, names, voice)),
        nil_line(choice, voice),
        *aside_lines(choice, names, voice),
        *([] if choice.looking is None else [say(choice.looking, voice)]),
    ]


def aside_lines(choice: Choice, names: Names, voice: Voice) -> list[str]:
    """Return what to set aside so that it is enough in a share of the futures, where that was asked for."""
    if not choice.reserve:
        return []
    amount = f"{choice.currency} {f.number(choice.aside, voice)}"
    told = {"amount": amount, "name": names[choice.proposed], "share": voice.percent(choice.reserve)}
    return [voice.text("{amount} set aside pays for {name} in {share} of the futures.", **told)]


def headline(choice: Choice, names: Names, voice: Voice) -> list[str]:
    """Return which programme, why, how sure, and what the firm made of it."""
    chosen = choice.chosen
    name = names[chosen.key]
    first = {
        "cheapest": voice.text("{name} costs least on average of those compared.", name=name),
        "fewer-bugs": voice.text(
            "{name}: no other compared surely costs less on average, and of those that cost as little it has "
            "the fewest infested unit-weeks.",
            name=name,
        ),
        "tie": voice.text(
            "{name} and {others} cannot be told apart, in money or in infested unit-weeks, by {runs} "
            "futures; either will do, and the first is proposed.",
            name=name,
            others=voice.joined([names[key] for key in chosen.ties]),
            runs=voice.number(choice.runs),
        ),
        "only-one": voice.text(
            "{name} is the only one compared that does not have more infested unit-weeks than doing as now.",
            name=name,
        ),
    }[chosen.reason]
    counted = (
        voice.text(
            "The treatment of what is left at the end and your losses of {loss} an infested unit-week are "
            "weighed with it.",
            loss=f"{choice.currency} {voice.number(choice.loss, 2)}",
        )
        if choice.loss
        else voice.text("The treatment of what is left at the end is counted with it.")
    )
    lines = [first, counted]
    if choice.discount:
        lines.append(
            voice.text(
                "Money that is paid later counts less where programmes are compared, by {share} a year.",
                share=voice.percent(choice.discount),
            )
        )
    if chosen.right == chosen.right:
        lines.append(
            voice.text(
                "Chance that none of the others is cheaper by more than {matters} on average: {right}, as "
                "far as the number of futures goes.",
                matters=voice.percent(MATTERS),
                right=voice.percent(chosen.right),
            )
        )
    if choice.here is not None:
        lines.append(
            voice.text(
                "The chance of that for this building, whose pace and infested units are not known: {here}.",
                here=voice.percent(choice.here),
            )
        )
    if choice.overruled is not None:
        lines.append(
            voice.text(
                "The firm proposes {name} instead, against this verdict: {words}.",
                name=names[choice.proposed],
                words=pair_line(choice.overruled, choice.currency, voice),
            )
        )
    return lines


def against_rows(choice: Choice, names: Names, voice: Voice) -> list[tuple[str, str]]:
    """Return what the proposed programme is held against, and how it does."""
    return [
        (against_title(one, names, voice), pair_line(one.pair, choice.currency, voice))
        for one in choice.against
    ]


def against_title(one: Against, names: Names, voice: Voice) -> str:
    """Return what a programme is held against."""
    if one.what == "wait":
        return voice.many(
            "Against beginning it {number} month later",
            "Against beginning it {number} months later",
            one.months,
        )
    return {
        "now": lambda: voice.text("Against doing as now ({name})", name=names[one.key]),
        "nothing": lambda: voice.text("Against doing nothing"),
        "programme": lambda: voice.text("Against {name}", name=names[one.key]),
    }[one.what]()


def nil_line(choice: Choice, voice: Voice) -> str:
    """Return both chances of nil: at some time, and at the end."""
    return voice.text(
        "No unit infested at some time by week {week}: {ever}; none at the end of week {end}: {last}.",
        week=choice.by_week,
        ever=_share(choice.nil_by, voice),
        end=choice.weeks,
        last=_share(choice.nil_at_end, voice),
    )


@say.register
def _(fact: LookingFirst, voice: Voice) -> str:
    told = {
        "method": within(fact.method, voice),
        "units": fact.units,
        "effect": _saving(fact.saves, fact.currency, voice),
        "price": f"{fact.currency} {f.number(fact.price, voice)}",
        "ceiling": f"{fact.currency} {f.number(fact.ceiling, voice)}",
    }
    return {
        "more": lambda: voice.text(
            "Worth of looking first: choosing by what a look at all {units} units ({method}) finds would "
            "{effect}, and the looks cost {price}, so they pay "
            "for themselves.",
            **told,
        ),
        "fewer": lambda: voice.text(
            "Worth of looking first: choosing by what a look at all {units} units ({method}) finds would "
            "{effect}, and the looks cost {price}, so they do not pay for themselves; knowing "
            "every future would save {ceiling}. What they would find and have treated sooner is not in this.",
            **told,
        ),
        "cannot-tell": lambda: voice.text(
            "Worth of looking first: choosing by what a look at all {units} units ({method}) finds would "
            "{effect}; whether they save more than the {price} that they "
            "cost cannot be told. What they would find and have treated sooner is not in this.",
            **told,
        ),
    }[fact.pays]()


def _saving(saves: Figure, currency: str, voice: Voice) -> str:
    """Return what is saved on average; a saving below nothing is said as what it costs more."""
    mean, low, high = (f.signed(one, voice) for one in (saves.mean, saves.least, saves.most))
    if round(saves.mean) >= 0:
        return voice.text("save {saved} on average", saved=f"{currency} {f.spanned(voice, mean, low, high)}")

    def end(value: float) -> str:
        amount = f.number(abs(value), voice)
        return (
            voice.text("{amount} more", amount=amount)
            if value < 0
            else voice.text("{amount} less", amount=amount)
        )

    amounts = f.spanned(voice, f"{currency} {end(saves.mean)}", end(saves.least), end(saves.most))
    return voice.text("cost {amounts} on average", amounts=amounts)


def _share(chance: Share, voice: Voice) -> str:
    return f.share_with_error(chance, voice)


@say.register
def _(fact: Choice, voice: Voice) -> str:
    return " ".join(choice_lines(fact, _Keys(), voice))


@say.register
def _(fact: Against, voice: Voice) -> str:
    return f"{against_title(fact, _Keys(), voice)}: {pair_line(fact.pair, '', voice).strip()}."


class _Keys(dict[str, str]):
    """Programmes called by their keys, where nobody has their names."""

    def __missing__(self, key: str) -> str:
        return key
