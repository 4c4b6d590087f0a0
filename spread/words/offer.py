"""An offer in words: fees, term, guarantee, and what each side does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from spread.programmes.fees import Fees
from spread.programmes.offer import Terms
from spread.programmes.price_list import PriceBasis
from spread.words import figures as f
from spread.words.saying import say
from spread.words.voice import Voice, upper

if TYPE_CHECKING:
    from spread.programmes.results import Outcome


def field_name(name: str, voice: Voice) -> str:
    """Return what an entry of an offer is called."""
    return {
        "set_up": voice.text("Set-up, once"),
        "unit_month": voice.text("A unit and month"),
        "visit": voice.text("A visit that somebody could make"),
        "treatment": voice.text("The first treatment visit of a unit"),
        "retreatment": voice.text("Each further treatment visit of it"),
        "year": voice.text("Year of these prices"),
        "term_months": voice.text("Term"),
        "notice_days": voice.text("Notice, either side"),
        "refund": voice.text("Paid back if a unit is still under treatment at the end"),
        "renewal": voice.text("When the term is over"),
        "retreats": voice.text("Found again within 26 weeks of closing: treated for nothing"),
        "scope": voice.text("What is in and what is out"),
        "owner": voice.text("What the owner does besides"),
        "ends": voice.text("What ends it besides"),
    }[name]


def renewal_name(renewal: str, voice: Voice) -> str:
    """Return what happens when the term is over."""
    return {
        "ends": voice.text("it ends"),
        "monthly": voice.text("it goes on month by month"),
        "yearly": voice.text("it goes on year by year"),
    }[renewal]


def fee_rows(fees: Fees, currency: str, voice: Voice) -> tuple[tuple[str, str], ...]:
    """Return what is asked, a row a fee."""
    return tuple(
        (field_name(name, voice), money(amount, currency, voice))
        for name in ("set_up", "unit_month", "visit", "treatment", "retreatment")
        if (amount := getattr(fees, name))
    )


def money(amount: float, currency: str, voice: Voice) -> str:
    """Return an amount with its currency; one with parts of a unit has both digits."""
    return f"{currency}\N{NO-BREAK SPACE}{voice.number(amount, 0 if amount == round(amount) else 2)}"


def comes_to(outcome: Outcome, weeks: int, currency: str, voice: Voice) -> str:
    """Return what the programme costs who pays for it over the simulated futures."""
    paid = outcome.figures.get("bill") or outcome.figures["cost"]
    return voice.text(
        "{mean} on average over {weeks} weeks; in nine futures of ten between {low} and {high}",
        mean=money(round(paid.mean), currency, voice),
        weeks=weeks,
        low=f.number(paid.low90, voice),
        high=f.number(paid.high90, voice),
    )


def guarantee_lines(fees: Fees, outcome: Outcome | None, currency: str, voice: Voice) -> list[str]:
    """Return what is guaranteed in plain words, and what it would have cost in the simulated futures."""
    lines = []
    if fees.retreats:
        lines.append(
            voice.text(
                "A unit that is found again within 26 weeks of its closing is treated again for nothing."
            )
        )
    if fees.refund:
        lines.append(
            voice.text(
                "If any unit is still under treatment at the end, {share} of the fees is paid back.",
                share=voice.percent(fees.refund) if fees.refund < 1.0 else voice.text("all"),
            )
        )
    if not lines:
        return [voice.text("There is no guarantee: no programme can promise that no bug is left.")]
    given = outcome.figures.get("guarantee") if outcome is not None else None
    if given is not None:
        lines.append(
            voice.text(
                "In the simulated futures this takes {mean} off the bill on average, at most {most} in nine "
                "of ten.",
                mean=money(round(given.mean), currency, voice),
                most=money(round(given.high90), currency, voice),
            )
        )
    return lines


def term_line(fees: Fees, voice: Voice) -> str:
    """Return how long it is agreed for, and what then."""
    return voice.text(
        "It is agreed for {months}; then {renewal}. Either side gives {days} notice.",
        months=voice.many("{number} month", "{number} months", fees.term_months),
        renewal=renewal_name(fees.renewal, voice),
        days=voice.many("{number} day's", "{number} days'", fees.notice_days),
    )


@say.register
def _(fact: Fees, voice: Voice) -> str:
    return " ".join([term_line(fact, voice), *guarantee_lines(fact, None, "", voice)])


@say.register
def _(fact: Terms, voice: Voice) -> str:
    return say(fact.fees, voice)


@say.register
def _(fact: PriceBasis, voice: Voice) -> str:
    """Say whose the prices of the work are; one that was changed is called published no more."""
    kinds = [
        (fact.own, voice.many("{number} is the firm's own", "{number} are the firm's own", fact.own)),
        (fact.published, voice.many("{number} is published", "{number} are published", fact.published)),
        (fact.judged, voice.many("{number} is judged", "{number} are judged", fact.judged)),
    ]
    said = voice.joined([words for count, words in kinds if count])
    year = voice.text("of {year}", year=fact.year) if fact.year else voice.text("of a year nobody named")
    return upper(
        voice.text("prices in {currency} {year}: {kinds}.", currency=fact.currency, year=year, kinds=said)
    )
