"""What a look at every unit would be worth before a programme is chosen.

A preposterior analysis on the paired runs: the levels that a run begins with are the truth of a building, the
look at it is drawn with the trade's own chances, and the programme is chosen by what was found. What each
programme leads to after a result is the regression of its runs on the result, so that no run is nested in
another (regression-based expected value of sample information: Strong, Oakley, Brennan and Breeze 2015,
doi 10.1177/0272989X15575286, from memory). Each run's choice is made by a regression that has not seen it,
which keeps the value from growing with the number of things regressed upon.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spread.decisions.view import View
from spread.facts import Fact
from spread.posterior.dynamics import Floats
from spread.programmes.begin import Begin, begin_of
from spread.programmes.columns import METHODS
from spread.programmes.figures import Figure, figure
from spread.programmes.futures import tables_of_runs
from spread.programmes.money import Prices
from spread.programmes.programme import Survey
from spread.programmes.run import Simulated
from spread.programmes.tables import Tables, tables_of
from spread.programmes.told import Verdict
from spread.trade.pace import Pace

METHOD = Survey().method  #: How everything is looked at
TRIES = Survey().tries  #: Knocks before a shut door is given up
FOLDS = 10
HEAVIER = 3  #: The least level of a moderate or heavy infestation
LEAST_RUNS = 40
"""Fewer runs say nothing about what a result of a look leads to."""


@dataclass(frozen=True, slots=True)
class LookingFirst(Fact):
    """What choosing after a look at every unit saves against choosing now; what is found is not treated."""

    method: str
    units: int
    saves: Figure  #: Money of the choice now less that of the choice after the look, in the same futures
    price: float  #: What the looks cost
    #: What knowing each future whole, its luck included, would save in the mean: no look saves more
    ceiling: float
    currency: str

    @property
    def pays(self) -> Verdict:
        """Whether it saves less than it costs (``fewer``) or more, or whether that cannot be told."""
        if self.saves.least > self.price:
            return "more"
        return "fewer" if self.saves.most < self.price else "cannot-tell"


def looking_first(
    weighed: Mapping[str, Floats], seen: Floats, *, units: int, prices: Prices
) -> LookingFirst | None:
    """Return what the look is worth; None for one programme alone, or for too few runs.

    ``weighed``: money of every run by key, of the programmes that may be chosen; ``seen``: from
    :func:`seen_of`.
    """
    runs = len(seen)
    if len(weighed) < 2 or runs < LEAST_RUNS:
        return None
    gain, perfect = gains({key: row[:runs] for key, row in weighed.items()}, seen)
    price = units * prices.of_look(METHOD)
    return LookingFirst(METHOD, units, figure(gain), price, float(perfect.mean()), prices.currency)


def gains(weighed: Mapping[str, Floats], seen: Floats) -> tuple[Floats, Floats]:
    """Return what every run saves by a choice after the look, and by the best choice for that very run.

    Both against the choice without a look, the cheapest in the mean; shape (R,) each. No choice is made by
    the run that it is judged by, neither with the look nor without.

    ``weighed``: money of every run, by key; ``seen``: shape (R, results).
    """
    keys = sorted(weighed, key=lambda key: (weighed[key].mean(), key))
    money = np.stack([weighed[key] for key in keys])
    apart = money - money[0]  # what all have in common blurs nothing

    def chosen_by(results: Floats) -> Floats:
        choice = np.argmin(expected(apart, results), axis=0)
        return np.asarray(np.take_along_axis(money, choice[None], axis=0)[0])

    now = chosen_by(seen[:, :0])
    return now - chosen_by(seen), now - money.min(axis=0)


def expected(values: Floats, seen: Floats) -> Floats:
    """Return what each value is expected to be after a result, shape (K, R), by runs of the other folds.

    A least-squares regression on the results, their squares and their product.

    ``values``: shape (K, R); ``seen``: shape (R, results).
    """
    scale = seen.std(axis=0)
    x = (seen[:, scale > 0.0] - seen[:, scale > 0.0].mean(axis=0)) / scale[scale > 0.0]
    across = [x[:, i] * x[:, j] for i in range(x.shape[1]) for j in range(i, x.shape[1])]
    design = np.column_stack([np.ones(len(x)), x, *across])
    fold = np.arange(len(x)) % FOLDS
    out = np.empty_like(values, dtype=np.float64)
    for each in range(FOLDS):
        mine = fold == each
        fit = np.linalg.lstsq(design[~mine], values[:, ~mine].T, rcond=None)[0]
        out[:, mine] = (design[mine] @ fit).T
    return out


def chance_here(weighed: Mapping[str, Floats], key: str, about: Floats, within: float) -> float:
    """Return the share of runs whose building, as far as it is told, has no other that is cheaper by more.

    The chance of a right choice for the building itself, which no number of runs makes larger.

    ``weighed``: money of every run by key; ``about``: shape (R, things), what tells a run's building from
    others; ``within``: a difference of money that does not matter.
    """
    less = np.stack([row - weighed[key] for row in weighed.values()])
    return float((expected(less, about).min(axis=0) >= -within - 1e-9).mean())


def seen_of(view: View, simulated: Simulated, *, pace: Pace) -> Floats:
    """Return what a look at every unit would find at the start of each run, shape (runs, 2).

    Units found with a light infestation and with a heavier one, of those that nobody treats yet.

    ``view``, ``pace``: those of ``simulated``.
    """
    settings = simulated.settings
    begin = begin_of(view, runs=settings.runs, seed=settings.seed, pace=pace)
    tables = tables_of_runs(tables_of(view.dynamics, view.posterior.odds), begin, settings.seed)
    return found_in(begin, tables, np.random.default_rng([settings.seed, 15]))[: simulated.done]


def found_in(begin: Begin, tables: tuple[Tables, ...], rng: np.random.Generator) -> Floats:
    """Return the finds of a look at every unit of each run; see :func:`seen_of`."""
    units = begin.levels.shape[1]
    method = METHODS.index(METHOD)
    chances = np.stack([one.found[method] for one in tables])
    found = np.take_along_axis(chances, begin.levels.astype(np.int64), axis=1)
    entered = 1.0 - (begin.shut[:units] ** TRIES).mean(axis=1)
    entered = np.where(begin.vacant == 1, 1.0, entered * (1.0 - begin.refuses))
    finds = (rng.random(found.shape) < found * entered) & (begin.case == 0)
    heavier = finds & (begin.levels >= HEAVIER)
    return np.stack([(finds & ~heavier).sum(axis=1), heavier.sum(axis=1)], axis=1).astype(np.float64)
