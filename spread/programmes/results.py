"""What the runs say: figures of each programme, how two compare, and where money turns the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.figures import Figure, Share, Solved, bands, figure, share, solved
from spread.programmes.money import KINDS, Prices, costs, hours
from spread.programmes.run import Runs, Simulated

SURE = 0.9
"""Chance from which one programme is said to beat another; between this and its complement they cannot be
told apart (judgement)."""


@dataclass(frozen=True)
class Outcome:
    """The figures of one programme.

    Parameters
    ----------
    key, name, words
        The programme.
    infested
        Shape (5, W + 1): 5, 25, 50, 75 and 95 % points of the units infested at the start of each week.
    known
        Shape (W + 1,): courses of treatment under way, mean.
    visits_a_week
        Shape (W,): doors stood at, mean.
    figures
        By name: ``infested unit-weeks``, ``infested at the end``, ``new infestations``,
        ``new units infested``, ``units found``, ``relapses``, ``closed while infested``,
        ``false finds``, ``false alerts``, ``reports``, ``visits``, ``hours``, ``cost``, ``cost with what is
        left`` (the cost, and a mean course of treatment for every unit infested at the end: a programme that
        finds little leaves bills behind).
    cost_by_kind, hours_by_kind
        By :data:`spread.programmes.money.KINDS`.
    weeks_to_nil
        Weeks until no unit is infested, in truth; infinite in runs where that never was.
    nil_by
        Chance that by the week asked for no unit was infested at some time.
    nil_at_end
        Chance that none is at the end.
    cost_per_averted
        Money for each infested unit-week averted against the reference; None for the reference, and where
        none is averted.
    """

    key: str
    name: str
    words: str
    infested: Floats
    known: Floats
    visits_a_week: Floats
    figures: Mapping[str, Figure]
    cost_by_kind: Mapping[str, Figure]
    hours_by_kind: Mapping[str, Figure]
    weeks_to_nil: Figure
    nil_by: Share
    nil_at_end: Share
    cost_per_averted: Solved | None


@dataclass(frozen=True, slots=True)
class Pair:
    """How programme ``a`` does against ``b`` in the same futures.

    Parameters
    ----------
    a, b
        Keys.
    cheaper, fewer_bugs
        Chance that ``a`` costs less, and that it has fewer infested unit-weeks; a draw counts half.
    cost, bug_weeks
        ``a`` less ``b``.
    """

    a: str
    b: str
    cheaper: Share
    fewer_bugs: Share
    cost: Figure
    bug_weeks: Figure

    @property
    def cost_verdict(self) -> str:
        """``cheaper``, ``dearer`` or ``cannot be told apart``."""
        return _verdict(self.cheaper.chance, "cheaper", "dearer")

    @property
    def bug_verdict(self) -> str:
        """``fewer``, ``more`` or ``cannot be told apart``."""
        return _verdict(self.fewer_bugs.chance, "fewer", "more")


@dataclass(frozen=True, slots=True)
class BreakEven:
    """Where a programme and the reference cost the same on average.

    Parameters
    ----------
    key
        The programme.
    survey_price
        All-in price of one planned look (survey or ranked doors) at which they cost the same, everything else
        as priced; below it the programme is the cheaper one. None where it plans no more looks.
    survey_price_now
        What such a look costs by the prices used.
    loss
        Loss of one infested unit-week (rent, claims) at which they cost the same; above it the programme is
        the cheaper one. None where it averts none.
    """

    key: str
    survey_price: Solved | None
    survey_price_now: float | None
    loss: Solved | None


@dataclass(frozen=True, slots=True)
class Regret:
    """What choosing a programme costs against the best choice of each future, on average."""

    key: str
    cost: Figure
    bug_weeks: Figure
    best_in_cost: Share
    best_in_bugs: Share


@dataclass(frozen=True)
class Comparison:
    """Programmes side by side.

    Parameters
    ----------
    outcomes
        One a programme, in the order asked for.
    pairs
        Every two of them, each once.
    break_even, regrets
        One a programme (no break-even for the reference).
    reference
        Key of the programme that costs and bug-weeks are compared with.
    weeks, by_week, runs, asked, units
        Weeks simulated, the week of :attr:`Outcome.nil_by`, runs done and asked for, units.
    currency
        Of all money.
    """

    outcomes: tuple[Outcome, ...]
    pairs: tuple[Pair, ...]
    break_even: tuple[BreakEven, ...]
    regrets: tuple[Regret, ...]
    reference: str
    weeks: int
    by_week: int
    runs: int
    asked: int
    units: int
    currency: str

    def of(self, key: str) -> Outcome:
        """Return one programme's figures."""
        return next(outcome for outcome in self.outcomes if outcome.key == key)

    def pair(self, a: str, b: str) -> Pair:
        """Return how ``a`` does against ``b``."""
        found = next(pair for pair in self.pairs if {pair.a, pair.b} == {a, b})
        return found if found.a == a else _turned(found)


_COUNTED = {
    "infested unit-weeks": c.BUG_WEEKS,
    "new infestations": c.NEW,
    "new units infested": c.NEW_UNITS,
    "units infested": c.UNITS_INFESTED,
    "units found": c.UNITS_FOUND,
    "relapses": c.RELAPSES,
    "closed while infested": c.CLOSED_INFESTED,
    "false finds": c.FALSE_FINDS,
    "false alerts": c.FALSE_ALERTS,
    "reports": c.REPORTS,
    "visits": c.VISITS,
}


def summarise(
    simulated: Simulated,
    prices: Prices | None = None,
    *,
    reference: str | None = None,
    by_week: int | None = None,
) -> Comparison:
    """Turn runs into figures.

    Parameters
    ----------
    simulated
        From :func:`spread.programmes.run.simulate`, with at least one run done.
    prices
        What things cost; changing them needs no new simulation.
    reference
        Key of the programme to compare with; the first if None.
    by_week
        The week of the chance of nil by a date; the last if None.

    Raises
    ------
    ValueError
        When no run is done, or ``by_week`` is past the end.
    """
    prices = prices or Prices()
    weeks = simulated.settings.weeks
    by_week = weeks if by_week is None else by_week
    if not simulated.done:
        raise ValueError("no run is done yet")
    if not 0 <= by_week <= weeks:
        raise ValueError(f"by_week is {by_week}, expected 0 to {weeks}")
    keys = [runs.programme.key for runs in simulated.runs]
    reference = reference or keys[0]
    money = {runs.programme.key: costs(runs.counts, prices).sum(axis=1) for runs in simulated.runs}
    bugs = {runs.programme.key: runs.counts[:, c.BUG_WEEKS].astype(float) for runs in simulated.runs}
    base = simulated.of(reference)
    course = course_price(simulated, prices)
    return Comparison(
        outcomes=tuple(_outcome(runs, prices, base, by_week, course) for runs in simulated.runs),
        pairs=tuple(_pair(a, b, money, bugs) for place, a in enumerate(keys) for b in keys[place + 1 :]),
        break_even=tuple(
            _break_even(runs, base, prices) for runs in simulated.runs if runs.programme.key != reference
        ),
        regrets=_regrets(keys, money, bugs),
        reference=reference,
        weeks=weeks,
        by_week=by_week,
        runs=simulated.done,
        asked=simulated.settings.runs,
        units=simulated.units,
        currency=prices.currency,
    )


def weeks_to_nil(infested: NDArray[np.int32]) -> Floats:
    """Return the first week in which no unit is infested, shape (R,); infinite where there is none."""
    nil = infested == 0
    return np.where(nil.any(axis=1), nil.argmax(axis=1).astype(float), np.inf)


def course_price(simulated: Simulated, prices: Prices) -> float:
    """Return the mean cost of treatment of one course, over all programmes and runs; 0 if there was none."""
    spent = sum(costs(runs.counts, prices)[:, KINDS.index("treatment")].sum() for runs in simulated.runs)
    begun = sum(int(runs.counts[:, [c.FINDS, c.FALSE_FINDS]].sum()) for runs in simulated.runs)
    return float(spent) / begun if begun else 0.0


def _outcome(runs: Runs, prices: Prices, base: Runs, by_week: int, course: float) -> Outcome:
    programme, kept = runs.programme, runs.kept
    by_kind, hour_kinds = costs(kept.counts, prices), hours(kept.counts, prices)
    figures = {name: figure(kept.counts[:, column]) for name, column in _COUNTED.items()}
    figures["infested at the end"] = figure(kept.infested[:, -1])
    figures["hours"] = figure(hour_kinds.sum(axis=1))
    figures["cost"] = figure(by_kind.sum(axis=1))
    figures["cost with what is left"] = figure(by_kind.sum(axis=1) + course * kept.infested[:, -1])
    nil = weeks_to_nil(kept.infested)
    averted = None
    if runs is not base:
        more = by_kind.sum(axis=1) - costs(base.counts, prices).sum(axis=1)
        fewer = (base.counts[:, c.BUG_WEEKS] - kept.counts[:, c.BUG_WEEKS]).astype(float)
        averted = solved(lambda rows: _ratio(more[rows], fewer[rows]), len(more))
    return Outcome(
        key=programme.key,
        name=programme.name,
        words=programme.words,
        infested=bands(kept.infested),
        known=kept.known.mean(axis=0),
        visits_a_week=kept.visits.mean(axis=0),
        figures=figures,
        cost_by_kind={kind: figure(by_kind[:, i]) for i, kind in enumerate(KINDS)},
        hours_by_kind={kind: figure(hour_kinds[:, i]) for i, kind in enumerate(KINDS)},
        weeks_to_nil=figure(nil),
        nil_by=share(nil <= by_week),
        nil_at_end=share(kept.infested[:, -1] == 0),
        cost_per_averted=averted,
    )


def _ratio(above: Floats, below: Floats) -> float | None:
    """Return the ratio of two means; None where the lower is not above nothing."""
    return float(above.mean() / below.mean()) if below.mean() > 1e-9 else None


def _pair(a: str, b: str, money: Mapping[str, Floats], bugs: Mapping[str, Floats]) -> Pair:
    cost, weeks = money[a] - money[b], bugs[a] - bugs[b]
    return Pair(a, b, _beats(cost), _beats(weeks), figure(cost), figure(weeks))


def _beats(difference: Floats) -> Share:
    """Return the share of runs with less; a draw counts half."""
    less, draws = share(difference < 0), float((difference == 0).mean())
    return Share(less.chance + 0.5 * draws, less.error)


def _turned(pair: Pair) -> Pair:
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


def _verdict(chance: float, yes: str, no: str) -> str:
    if chance >= SURE:
        return yes
    return no if chance <= 1.0 - SURE else "cannot be told apart"


def _break_even(runs: Runs, base: Runs, prices: Prices) -> BreakEven:
    """Solve what is linear in money for the price that makes the mean costs equal."""
    programme = runs.programme
    more = costs(runs.counts, prices).sum(axis=1) - costs(base.counts, prices).sum(axis=1)
    planned = runs.counts - base.counts
    looks = (planned[:, c.SURVEY_LOOKS] + planned[:, c.RANKED_LOOKS]).astype(float)
    fewer = -planned[:, c.BUG_WEEKS].astype(float)
    reason = programme.survey or programme.ranked
    price = None
    now = prices.of_look(reason.method) if reason else None
    if now is not None and looks.mean() > 0.0:
        known = now

        def price_of(rows: NDArray[np.intp]) -> float | None:
            each = _ratio(more[rows], looks[rows])
            return None if each is None else known - each

        price = solved(price_of, len(more))
    without = more + prices.loss * fewer
    loss = solved(lambda rows: _ratio(without[rows], fewer[rows]), len(more))
    return BreakEven(programme.key, price, now, loss if loss.value is not None else None)


def _regrets(
    keys: Sequence[str], money: Mapping[str, Floats], bugs: Mapping[str, Floats]
) -> tuple[Regret, ...]:
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
