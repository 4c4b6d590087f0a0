"""What the runs say: figures of each programme, and all of them side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats
from spread.programmes import columns as c
from spread.programmes.books import Books, books_of
from spread.programmes.crew import crew_days, with_trips
from spread.programmes.fees import Fees
from spread.programmes.figures import Figure, Share, Solved, bands, figure, ratio, share, solved
from spread.programmes.money import KINDS, Prices, hours
from spread.programmes.pairs import BreakEven, Pair, Regret, break_even_of, pair_of, regrets_of, turned
from spread.programmes.price_list import PriceBasis, price_basis
from spread.programmes.run import Runs, Simulated
from spread.trade.prices import SURVEY_MINUTES


@dataclass(frozen=True)
class Outcome:
    """The figures of one programme."""

    #: key, name, words: The programme
    key: str
    name: str
    words: str
    #: Shape (5, W + 1): 5, 25, 50, 75 and 95 % points of the units infested at the start of each week
    infested: Floats
    known: Floats  #: Shape (W + 1,): courses of treatment under way, mean
    #: visits_a_week, days_a_week: Shape (W,): doors stood at, and crew-days, mean
    visits_a_week: Floats
    days_a_week: Floats
    #: By name: those of :data:`_COUNTED`, ``infested-at-end``, ``hours``, ``crew-days``, ``cost``
    #: (of the work to the firm), ``cost-with-rest`` (what programmes are compared by: what is paid, and a
    #: mean course of treatment for every unit infested at the end), ``loss`` (the owner's, in no cost), and,
    #: with a fee schedule, ``bill`` (what the owner pays) and ``guarantee`` (what the guarantee took off it)
    figures: Mapping[str, Figure]
    #: cost_by_kind, hours_by_kind: By :data:`spread.programmes.money.KINDS`
    cost_by_kind: Mapping[str, Figure]
    hours_by_kind: Mapping[str, Figure]
    weeks_to_nil: Figure  #: Weeks until no unit is infested, in truth; infinite in runs where that never was
    nil_by: Share  #: Chance that by the week asked for no unit was infested at some time
    nil_at_end: Share  #: Chance that none is at the end
    #: Money for each infested unit-week averted against the reference; None for the reference, and where none
    #: is averted
    cost_per_averted: Solved | None


@dataclass(frozen=True)
class Comparison:
    """Programmes side by side."""

    outcomes: tuple[Outcome, ...]  #: One a programme, in the order asked for
    pairs: tuple[Pair, ...]  #: Every two of them, each once
    #: break_even, regrets: One a programme (no break-even for the reference)
    break_even: tuple[BreakEven, ...]
    regrets: tuple[Regret, ...]
    reference: str  #: Key of the programme that costs and bug-weeks are compared with
    #: weeks, by_week, runs, asked, units: Weeks simulated, the week of :attr:`Outcome.nil_by`, runs done and
    #: asked for, units
    weeks: int
    by_week: int
    runs: int
    asked: int
    units: int
    currency: str  #: Of all money
    basis: PriceBasis  #: Whose the prices of the work are
    survey_time_is_own: bool  #: Whether the time of a surveyed unit is not the published one
    fees: Fees | None = None  #: What the owner pays by; None where the work is paid at its cost
    #: day_hours, crew: Hours at doors in a crew-day, and people in a crew
    day_hours: float = 0.0
    crew: float = 1.0

    def of(self, key: str) -> Outcome:
        """Return one programme's figures."""
        return next(outcome for outcome in self.outcomes if outcome.key == key)

    def pair(self, a: str, b: str) -> Pair:
        """Return how ``a`` does against ``b``."""
        found = next(pair for pair in self.pairs if {pair.a, pair.b} == {a, b})
        return found if found.a == a else turned(found)


_COUNTED = {
    "infested unit-weeks": c.BUG_WEEKS,
    "new infestations": c.NEW,
    "new-units": c.NEW_UNITS,
    "units infested": c.UNITS_INFESTED,
    "units found": c.UNITS_FOUND,
    "relapses": c.RELAPSES,
    "closed-infested": c.CLOSED_INFESTED,
    "false finds": c.FALSE_FINDS,
    "false alerts": c.FALSE_ALERTS,
    "reports": c.REPORTS,
    "visits": c.VISITS,
    "put-off": c.PUT_OFF,
}


def summarise(
    simulated: Simulated,
    prices: Prices | None = None,
    *,
    reference: str | None = None,
    by_week: int | None = None,
    fees: Fees | None = None,
) -> Comparison:
    """Turn runs into figures.

    Raises ValueError when no run is done, or ``by_week`` is past the end.

    Parameters
    ----------
    simulated : From :func:`spread.programmes.run.simulate`, with at least one run done
    prices : What things cost; changing them needs no new simulation
    reference : Key of the programme to compare with; the first if None
    by_week : The week of the chance of nil by a date; the last if None
    fees : What the owner pays by; None for the work at its cost
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
    books = books_of(simulated.runs, prices, fees)
    money = {key: each.compared for key, each in books.items()}
    bugs = {runs.programme.key: runs.counts[:, c.BUG_WEEKS].astype(float) for runs in simulated.runs}
    base = simulated.of(reference)
    return Comparison(
        outcomes=tuple(_outcome(runs, prices, books, base, by_week) for runs in simulated.runs),
        pairs=tuple(pair_of(a, b, money, bugs) for place, a in enumerate(keys) for b in keys[place + 1 :]),
        break_even=tuple(
            break_even_of(runs, base, books, prices)
            for runs in simulated.runs
            if runs.programme.key != reference
        ),
        regrets=regrets_of(keys, money, bugs),
        reference=reference,
        weeks=weeks,
        by_week=by_week,
        runs=simulated.done,
        asked=simulated.settings.runs,
        units=simulated.units,
        currency=prices.currency,
        basis=price_basis(prices),
        survey_time_is_own=prices.survey_minutes != SURVEY_MINUTES.central or prices.survey is not None,
        fees=fees,
        day_hours=prices.day_hours,
        crew=prices.crew,
    )


def weeks_to_nil(infested: NDArray[np.int32]) -> Floats:
    """Return the first week in which no unit is infested, shape (R,); infinite where there is none."""
    nil = infested == 0
    return np.where(nil.any(axis=1), nil.argmax(axis=1).astype(float), np.inf)


def _outcome(runs: Runs, prices: Prices, all_books: Mapping[str, Books], base: Runs, by_week: int) -> Outcome:
    programme, kept = runs.programme, runs.kept
    books, base_books = all_books[programme.key], all_books[base.programme.key]
    by_kind, hour_kinds = books.work, hours(with_trips(kept, prices), prices)
    days = crew_days(kept, prices)
    figures = {name: figure(kept.counts[:, column]) for name, column in _COUNTED.items()}
    figures["infested-at-end"] = figure(kept.infested[:, -1])
    figures["hours"] = figure(hour_kinds.sum(axis=1))
    figures["crew-days"] = figure(days.sum(axis=1))
    figures["cost"] = figure(by_kind.sum(axis=1))
    figures["cost-with-rest"] = figure(books.compared)
    figures["loss"] = figure(books.losses)
    if books.bill is not None and books.given is not None:
        figures |= {"bill": figure(books.bill), "guarantee": figure(books.given)}
    nil = weeks_to_nil(kept.infested)
    averted = None
    if runs is not base:
        more = books.compared - base_books.compared
        fewer = (base.counts[:, c.BUG_WEEKS] - kept.counts[:, c.BUG_WEEKS]).astype(float)
        averted = solved(lambda rows: ratio(more[rows], fewer[rows]), len(more))
    return Outcome(
        key=programme.key,
        name=programme.name,
        words=programme.words,
        infested=bands(kept.infested),
        known=kept.known.mean(axis=0),
        visits_a_week=kept.visits.mean(axis=0),
        days_a_week=days.mean(axis=0),
        figures=figures,
        cost_by_kind={kind: figure(by_kind[:, i]) for i, kind in enumerate(KINDS)},
        hours_by_kind={kind: figure(hour_kinds[:, i]) for i, kind in enumerate(KINDS)},
        weeks_to_nil=figure(nil),
        nil_by=share(nil <= by_week),
        nil_at_end=share(kept.infested[:, -1] == 0),
        cost_per_averted=averted,
    )
