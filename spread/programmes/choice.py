"""The one verdict on programmes that were run in the same futures: which, why, how sure, against what else.

Page, document and commands say this verdict and work out none of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import Literal

import numpy as np

from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.books import Books, books_of, course_price
from spread.programmes.by_pace import ByPace, by_pace
from spread.programmes.fees import Fees
from spread.programmes.figures import Figure, Share, figure, share
from spread.programmes.looking_first import LEAST_RUNS, LookingFirst, chance_here, looking_first
from spread.programmes.money import Prices
from spread.programmes.pairs import Pair, pair_of, verdict_of
from spread.programmes.results import Comparison, weeks_to_nil
from spread.programmes.run import Simulated

Reason = Literal["only-one", "cheapest", "fewer-bugs", "tie"]
"""Why a programme is chosen: nothing else is compared or allowed; it surely is the cheapest; it is as cheap
as any and has fewer infested unit-weeks than those as cheap; or it cannot be told from those named."""
Other = Literal["programme", "now", "nothing", "wait"]
"""What the proposed programme is held against."""
MATTERS = 0.02
"""A difference of means under this share of the money is no wrong choice (judgement): it is less than prices
are known to."""
WAITS = MappingProxyType({1: 4, 3: 13, 6: 26})  #: Weeks of the months that waiting is shown for
NOTHING = "nothing"
_WORLDS = 4000  #: Draws of the means for the chance of a right choice


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which of several programmes, from the money and infested unit-weeks of each run."""

    key: str
    reason: Reason
    ties: tuple[str, ...]  #: Those that cannot be told from it, in money and in infested unit-weeks
    #: Chance that no other of them is cheaper by more than :data:`MATTERS`, as far as more runs would tell
    right: float
    rivals: tuple[str, ...] = ()  #: Those whose money cannot be told from the cheapest's, itself left out


@dataclass(frozen=True, slots=True)
class Against(Fact):
    """The proposed programme against something else, in the same futures."""

    what: Other
    key: str  #: Of the other programme
    months: int  #: Waited, with the same programme; 0 otherwise
    pair: Pair  #: The proposed less the other; money with the treatment of what is left at the end


@dataclass(frozen=True, slots=True)
class Choice(Fact):
    """What is proposed for a building, and why."""

    chosen: Chosen
    proposed: str  #: The chosen one, unless the firm overruled it
    overruled: Pair | None  #: The proposed less the chosen one where the firm overruled it
    now: str  #: The programme that is run today
    against: tuple[Against, ...]
    #: nil_by, by_week, nil_at_end: Chance that no unit is infested at some time by a week, and at the end
    nil_by: Share
    by_week: int
    nil_at_end: Share
    paid: Figure  #: What the proposed costs who pays for it
    by_fees: bool  #: Whether that is a bill by a fee schedule; the work at its cost otherwise
    loss: float  #: What the owner loses by an infested unit-week, as far as anybody said
    currency: str
    runs: int
    weeks: int
    looking: LookingFirst | None = None  #: What a look at every unit is worth before choosing
    #: Chance that the chosen one is right for this building, which may be faster or slower, more or less
    #: infested; None where too few runs tell, or nothing else is compared
    here: float | None = None
    discount: float = 0.0  #: Share a year by which money paid later counts less where programmes are compared
    #: reserve, aside: Share of the futures in which money set aside is to be enough, and how much that is
    reserve: float = 0.0
    aside: float = 0.0
    #: Whether the answer on money turns with the building's pace, the proposed held against what is done
    #: today; against another where that is proposed; None where there is no other or too few runs
    by_pace: ByPace | None = None

    def to(self, what: Other, months: int = 0, key: str = "") -> Against | None:
        """Return one of the comparisons."""
        found = (a for a in self.against if a.what == what and a.months == months and key in ("", a.key))
        return next(found, None)


def choose(
    money: Mapping[str, Floats], bugs: Mapping[str, Floats], *, now: str = "", loss: float = 0.0
) -> Chosen:
    """Choose the cheapest, and of those that are as cheap the one with the fewest infested unit-weeks.

    Money is the programme's and, where an owner said what an infested unit-week costs, the losses too. What
    surely has more infested unit-weeks than doing as now is not chosen, however cheap.

    ``money``, ``bugs``: of every run, by key, in the same futures; ``now``: key of what is done today, which
    may be none of them; ``loss``: of an infested unit-week.
    """
    weighed = weighed_of(money, bugs, now=now, loss=loss)
    keys = list(weighed)
    least = min(keys, key=lambda key: (weighed[key].mean(), key))
    near = [
        key
        for key in keys
        if key == least or verdict_of(figure(weighed[key] - weighed[least])) == "cannot-tell"
    ]
    # Of those as cheap, whoever surely has more infested unit-weeks than another is out.
    kept = [
        key
        for key in near
        if not any(verdict_of(figure(bugs[key] - bugs[other])) == "more" for other in near if other != key)
    ]
    key = min(kept, key=lambda key: (weighed[key].mean(), key))
    ties = tuple(other for other in kept if other != key)
    reason: Reason = "tie" if ties else "cheapest" if len(near) == 1 else "fewer-bugs"
    if len(keys) == 1:
        reason = "only-one"
    rivals = tuple(other for other in near if other != least)
    return Chosen(key, reason, ties, chance_right(weighed, key), rivals)


def weighed_of(
    money: Mapping[str, Floats], bugs: Mapping[str, Floats], *, now: str, loss: float
) -> dict[str, Floats]:
    """Return what is weighed of the programmes that may be chosen, by key; see :func:`choose`."""
    return {
        key: row + loss * bugs[key]
        for key, row in money.items()
        if key == now or now not in bugs or verdict_of(figure(bugs[key] - bugs[now])) != "more"
    }


def chance_right(weighed: Mapping[str, Floats], key: str, seed: int = 18) -> float:
    """Return the chance that no other mean is lower by more than :data:`MATTERS` of it.

    The means of paired runs are normal with the covariance that the runs show (central limit theorem).
    """
    others = [each for each in weighed if each != key]
    runs = len(weighed[key])
    if not others:
        return 1.0
    if runs < 3:
        return float("nan")
    less = np.stack([weighed[key] - weighed[other] for other in others])
    spread = np.atleast_2d(np.cov(less)) / runs
    means = np.random.default_rng(seed).multivariate_normal(
        less.mean(axis=1), spread, _WORLDS, method="svd", check_valid="ignore"
    )
    within = MATTERS * abs(float(weighed[key].mean()))
    return float((means <= within + 1e-9).all(axis=1).mean())


def choice_of(
    simulated: Simulated,
    prices: Prices,
    *,
    now: str,
    by_week: int,
    fees: Fees | None = None,
    proposed: str = "",
    beside: Simulated | None = None,
    seen: Floats | None = None,
) -> Choice:
    """Return the verdict.

    ``simulated``: the programmes compared; ``now``: key of the one that is run today. ``proposed``: what a
    firm proposes; the chosen one if empty. ``beside``: runs of :func:`spread.programmes.beside.beside`
    for the proposed one; without them it is held against the programmes alone. ``seen``: from
    :func:`spread.programmes.looking_first.seen_of`, for what a look first is worth. Others as in
    :func:`spread.programmes.results.summarise`.
    """
    books = books_of(simulated.runs, prices, fees)
    bugs = {each.programme.key: _bugs(each.counts) for each in simulated.runs}
    money = {key: each.compared for key, each in books.items()}
    chosen = choose(money, bugs, now=now, loss=prices.loss)
    weighed = weighed_of(money, bugs, now=now, loss=prices.loss)
    key = proposed or chosen.key
    pairs = [
        Against("now" if other == now else "programme", other, 0, pair_of(key, other, money, bugs))
        for other in money
        if other != key
    ]
    if beside is not None:
        course = course_price(simulated.runs, prices, fees)
        rows = min(simulated.done, beside.done)
        money = {name: each[:rows] for name, each in money.items()}
        bugs = {name: each[:rows] for name, each in bugs.items()}
        for each in beside.runs:
            name = each.programme.key
            months = next((m for m in WAITS if name == f"{key}+{m}"), 0)
            if not months and name != NOTHING:
                continue  # of a programme that is not proposed any more
            made: Books = books_of([each], prices, fees, course=course)[name]
            both = {key: money[key], name: made.compared[:rows]}
            weeks = {key: bugs[key], name: _bugs(each.counts)[:rows]}
            pairs.append(
                Against("wait" if months else "nothing", name, months, pair_of(key, name, both, weeks))
            )
    runs = simulated.of(key)
    return Choice(
        chosen=chosen,
        proposed=key,
        overruled=None if key == chosen.key else pair_of(key, chosen.key, money, bugs),
        now=now,
        against=tuple(pairs),
        nil_by=share(weeks_to_nil(runs.infested) <= by_week),
        by_week=by_week,
        nil_at_end=share(runs.infested[:, -1] == 0),
        paid=figure(books[key].paid),
        by_fees=fees is not None,
        loss=prices.loss,
        currency=prices.currency,
        runs=simulated.done,
        weeks=simulated.settings.weeks,
        looking=None if seen is None else looking_first(weighed, seen, units=simulated.units, prices=prices),
        discount=prices.discount / 100.0,
        reserve=prices.reserve / 100.0,
        aside=float(np.quantile(books[key].paid, prices.reserve / 100.0, method="inverted_cdf")),
        here=None if seen is None else _here(simulated, weighed, chosen.key, seen),
        by_pace=_by_pace(simulated, prices, key, now, fees),
    )


def verdict_on(
    simulated: Simulated,
    prices: Prices,
    comparison: Comparison,
    *,
    others: Callable[[str], Simulated | None],
    seen: Callable[[], Floats | None],
    proposed: str = "",
) -> Choice:
    """Return the verdict on runs, held against doing nothing and beginning later where such runs are there.

    ``others``: gives those runs for the key of the proposed programme, or None; ``seen``: asked after it.
    ``proposed`` and what they give: as in :func:`choice_of`.
    """
    choice = partial(
        choice_of, simulated, prices, now=comparison.reference, by_week=comparison.by_week,
        fees=comparison.fees, proposed=proposed,
    )  # fmt: skip
    first = choice()
    held = others(first.proposed)
    return first if held is None else choice(beside=held, seen=seen())


def _here(simulated: Simulated, weighed: Mapping[str, Floats], key: str, seen: Floats) -> float | None:
    if len(seen) < LEAST_RUNS or len(weighed) < 2:
        return None
    pace = np.maximum(simulated.pace[: len(seen)], 1e-12)
    about = np.column_stack([seen, np.log(pace)])
    return chance_here(weighed, key, about, MATTERS * abs(float(weighed[key].mean())))


def _by_pace(simulated: Simulated, prices: Prices, key: str, now: str, fees: Fees | None) -> ByPace | None:
    others = [each.programme.key for each in simulated.runs if each.programme.key != key]
    if not others:
        return None
    both = by_pace(simulated, prices, key, now if now in others else others[0], fees)
    return None if both is None else both[0]


def _bugs(counts: np.ndarray) -> Floats:
    return counts[:, c.BUG_WEEKS].astype(float)
