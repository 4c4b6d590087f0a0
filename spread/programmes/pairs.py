"""How two programmes compare in the same futures: who beats whom, break-even, regret."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.books import Books
from spread.programmes.figures import Figure, Share, Solved, figure, ratio, share, solved
from spread.programmes.money import Prices
from spread.programmes.run import Runs
from spread.programmes.told import Verdict


@dataclass(frozen=True, slots=True)
class Pair:
    """How programme ``a`` does against ``b`` in the same futures.

    One beats the other where the interval of the mean difference excludes nothing at all; in how many of the
    futures it does is said beside that and names no winner.
    """

    #: a, b: Keys
    a: str
    b: str
    #: cheaper, fewer_bugs: Chance that ``a`` costs less, and that it has fewer infested unit-weeks; a draw
    #: counts half
    cheaper: Share
    fewer_bugs: Share
    #: cost, bug_weeks: ``a`` less ``b``; money as :attr:`spread.programmes.books.Books.compared`
    cost: Figure
    bug_weeks: Figure

    @property
    def cost_verdict(self) -> Verdict:
        """Whether ``a`` costs less (``fewer``) or more, or whether that cannot be told."""
        return verdict_of(self.cost)

    @property
    def bug_verdict(self) -> Verdict:
        """Whether ``a`` has fewer infested unit-weeks or more, or whether that cannot be told."""
        return verdict_of(self.bug_weeks)


@dataclass(frozen=True, slots=True)
class BreakEven:
    """Where a programme and the reference cost the same on average."""

    key: str  #: The programme
    #: All-in price of one planned look (survey or ranked doors) at which they cost the same in the mean,
    #: everything else as priced. None where it plans no more looks, or where fees are paid.
    survey_price: Solved | None
    survey_price_now: float | None  #: What such a look costs by the prices used
    #: Loss of one infested unit-week (rent, claims) at which money and losses of both are the same; above it
    #: the programme pays. None where it averts none.
    loss: Solved | None


@dataclass(frozen=True, slots=True)
class Regret:
    """What choosing a programme costs against the best choice of each future, on average."""

    key: str
    cost: Figure
    bug_weeks: Figure
    best_in_cost: Share
    best_in_bugs: Share


def pair_of(a: str, b: str, money: Mapping[str, Floats], bugs: Mapping[str, Floats]) -> Pair:
    """Return how one programme does against another, from the runs' money and infested unit-weeks by key."""
    cost, weeks = money[a] - money[b], bugs[a] - bugs[b]
    return Pair(a, b, beats(cost), beats(weeks), figure(cost), figure(weeks))


def beats(difference: Floats) -> Share:
    """Return the share of runs with less; a draw counts half."""
    less, draws = share(difference < 0), float((difference == 0).mean())
    return Share(less.chance + 0.5 * draws, less.error)


def turned(pair: Pair) -> Pair:
    """Return the same pair seen from its other side."""

    def minus(f: Figure) -> Figure:
        return Figure(
            -f.mean, -f.median, -f.high50, -f.low50, -f.high90, -f.low90, f.error, f.median_error
        )  # fmt: skip

    return Pair(
        pair.b,
        pair.a,
        Share(1.0 - pair.cheaper.chance, pair.cheaper.error),
        Share(1.0 - pair.fewer_bugs.chance, pair.fewer_bugs.error),
        minus(pair.cost),
        minus(pair.bug_weeks),
    )


def verdict_of(difference: Figure) -> Verdict:
    """Return what a paired difference says: nothing is told where its interval holds 0, or is not known."""
    if difference.most < 0.0:
        return "fewer"
    return "more" if difference.least > 0.0 else "cannot-tell"


def break_even_of(runs: Runs, base: Runs, books: Mapping[str, Books], prices: Prices) -> BreakEven:
    """Solve what is linear in money for the price that makes the mean money equal.

    The price of a look is solved where the work is paid at its cost; a fee schedule has none.
    """
    programme, base_key = runs.programme, base.programme.key
    more = books[programme.key].compared - books[base_key].compared
    planned = runs.counts - base.counts
    looks = (planned[:, c.SURVEY_LOOKS] + planned[:, c.RANKED_LOOKS]).astype(float)
    fewer = -planned[:, c.BUG_WEEKS].astype(float)
    reason = programme.survey or programme.ranked
    price = None
    at_cost = books[base_key].bill is None
    now = prices.of_look(reason.method) if reason and at_cost else None
    if now is not None and looks.mean() > 0.0:
        known = now

        def price_of(rows: NDArray[np.intp]) -> float | None:
            each = ratio(more[rows], looks[rows])
            return None if each is None else known - each

        price = solved(price_of, len(more))
    loss = solved(lambda rows: ratio(more[rows], fewer[rows]), len(more))
    return BreakEven(programme.key, price, now, loss if loss.value is not None else None)


def regrets_of(
    keys: Sequence[str], money: Mapping[str, Floats], bugs: Mapping[str, Floats]
) -> tuple[Regret, ...]:
    """Return what each programme loses against the best of every run, in money and in infested unit-weeks."""
    dear, many = np.stack([money[key] for key in keys]), np.stack([bugs[key] for key in keys])
    least_dear, least_many = dear.min(axis=0), many.min(axis=0)
    return tuple(
        Regret(
            key,
            figure(dear[i] - least_dear),
            figure(many[i] - least_many),
            share(dear[i] == least_dear),
            share(many[i] == least_many),
        )
        for i, key in enumerate(keys)
    )
