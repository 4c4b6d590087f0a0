"""What the log taught about a building's own rates: prior against posterior."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from spread.decisions.shared_room import SharedRoom, shared_room_of
from spread.decisions.view import View
from spread.facts import Fact
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Dynamics, Floats, Network
from spread.posterior.observations import Conditions
from spread.posterior.rates import BROUGHT_IN, FIRST_ROUTE, MIXING, MOVE_IN, theta_names
from spread.trade.priors import NEVER_OFTEN, Often, mixed_quantile
from spread.trade.routes import ROUTES

WEEKS_A_YEAR = 365.25 / 7
SAME = 0.80  #: Overlap of posterior and prior from which a log has told nothing worth saying (judgement)
BINS = 20  #: The overlap is counted over so many stretches of equal prior mass
ENOUGH = 500  #: About so many draws, evenly spaced, give the pace of today; more would only make answers wait
BLOCK = 100  #: Draws worked on at a time, to bound memory on large buildings


@dataclass(frozen=True, slots=True)
class Range(Fact):
    """A quantity that is known by chance: its 5 %, 50 % and 95 % points."""

    #: low, median, high: The points, in the unit of the quantity
    low: float
    median: float
    high: float


@dataclass(frozen=True, slots=True)
class RateReport(Fact):
    """One rate before and after the log."""

    name: str  #: ``brought in``, ``building-wide``, a route or ``moved in``
    #: prior, posterior: Per week, as the model has it: brought in per unit; building-wide and routes from one
    #: heavy unit (at exposure 1 for a route); moved in at one move-in
    prior: Range
    posterior: Range
    overlap: float  #: Shared area of prior and posterior, 0 to 1; 1 where the log told nothing
    learned: bool  #: Whether the overlap is under :data:`SAME`
    taught_by: int = 0  #: Of how many buildings of the firm the prior is; 0 where it is general experience


@dataclass(frozen=True, slots=True)
class Comparison(Fact):
    """Which of two routes carries more out of a typical infested unit."""

    #: more, less: Routes
    more: str
    less: str
    #: sure, sure_before: Probability that ``more`` carries more, by the draws and by the prior alone
    sure: float
    sure_before: float
    learned: bool  #: Whether the log moved either of the two rates


@dataclass(frozen=True, slots=True)
class Learned(Fact):
    """What the log taught about the building."""

    #: In the order of the model; routes that the building does not have are left out
    rates: tuple[RateReport, ...]
    #: Neighbours in the order of what a typical infested unit gives off, most first
    comparisons: tuple[Comparison, ...]
    brought_in_per_year: Range  #: Infestations brought into the whole building a year, move-ins not counted
    #: By source: new infestations a year at the pace of today, brought in and building-wide included
    new_per_year: dict[str, Range]
    new_in_all: Range  #: The same of all sources together
    room: SharedRoom | None = None  #: Of a shared room that no plan shows; its share is in building-wide


def what_was_learned(view: View) -> Learned | None:
    """Compare the rates before and after the log.

    Returned: None when the fit held the rates at the general experience.
    """
    posterior, priors = view.posterior, view.dynamics.rate_priors
    if posterior.rates is None or not priors[0] or not np.ptp(posterior.rates[:, BROUGHT_IN]) > 0.0:
        return None
    draws, w = posterior.rates, posterior.weights
    reaches = view.network.exposure.sum(axis=0) / max(1, view.network.size)
    has = [BROUGHT_IN, MIXING, *(FIRST_ROUTE + r for r in range(len(ROUTES)) if reaches[r] > 0)]
    names = theta_names(ROUTES)
    dynamics = view.dynamics
    rates = tuple(
        replace(
            _report(
                names[r], draws[:, r], w, priors[0][r], priors[1][r], dynamics.often if r < 0 else NEVER_OFTEN
            ),
            taught_by=dynamics.taught_by if names[r] in dynamics.believed else 0,
        )
        for r in [*has, MOVE_IN]
    )
    learned = {rate.name: rate.learned for rate in rates}
    comparisons = tuple(_comparisons(draws, w, priors, reaches, learned))
    brought = _range(draws[:, BROUGHT_IN] * WEEKS_A_YEAR * view.network.size, w)
    few = slice(None, None, max(1, len(draws) // ENOUGH))
    new, share = _new_per_year(posterior, view.network, view.dynamics, few), w[few] / w[few].sum()
    new_ranges = {names[r]: _range(new[:, r], share) for r in has}
    return Learned(
        rates,
        comparisons,
        brought,
        new_ranges,
        _range(new[:, has].sum(axis=1), share),
        shared_room_of(posterior),
    )


def overlap(draws: Floats, weights: Floats, shape: float, rate: float, often: Often = NEVER_OFTEN) -> float:
    """Return the area that draws of a rate share with its Gamma prior, 0 to 1.

    Counted over :data:`BINS` stretches of equal prior mass, so that no bandwidth need be chosen.

    ``draws``, ``weights``: shape (K,); the weights sum to one; ``shape``, ``rate``: of the prior;
    ``often``: another that may hold (:func:`spread.trade.priors.often`).
    """
    edges = [mixed_quantile(k / BINS, shape, rate, often) for k in range(1, BINS)]
    mass = np.bincount(np.searchsorted(edges, draws), weights=weights, minlength=BINS)
    return float(np.minimum(mass, 1.0 / BINS).sum())


def quantiles(values: Floats, weights: Floats, points: tuple[float, ...]) -> Floats:
    """Return quantiles of weighted draws.

    ``values``: shape (K,); ``weights``: shape (K,), summing to one; ``points``: probabilities.
    """
    order = np.argsort(values, kind="stable")
    places = np.searchsorted(np.cumsum(weights[order]), np.array(points) - 1e-12)
    return np.asarray(values[order][np.minimum(places, len(values) - 1)], dtype=np.float64)


def _range(values: Floats, weights: Floats) -> Range:
    return Range(*(float(v) for v in quantiles(values, weights, (0.05, 0.5, 0.95))))


def _report(name: str, draws: Floats, w: Floats, shape: float, rate: float, often: Often) -> RateReport:
    prior = Range(*(mixed_quantile(p, shape, rate, often) for p in (0.05, 0.5, 0.95)))
    posterior = _range(draws, w)
    shared = overlap(draws, w, shape, rate, often)
    return RateReport(name, prior, posterior, shared, shared < SAME)


def _comparisons(
    draws: Floats,
    w: Floats,
    priors: tuple[tuple[float, ...], tuple[float, ...]],
    reaches: Floats,
    learned: dict[str, bool],
) -> Iterator[Comparison]:
    """Compare the routes one after the other in the order of what they carry."""
    carried = draws[:, FIRST_ROUTE:MOVE_IN] * reaches
    rng = np.random.default_rng(len(draws))
    shape, rate = (np.array(part)[FIRST_ROUTE:MOVE_IN] for part in priors)
    before = rng.gamma(shape, 1.0 / rate, size=(20_000, len(shape))) * reaches
    order = sorted(np.flatnonzero(reaches > 0), key=lambda r: -quantiles(carried[:, r], w, (0.5,))[0])
    for a, b in pairwise(order):
        more, less = ROUTES[a], ROUTES[b]
        sure = float(w[carried[:, a] > carried[:, b]].sum())
        sure_before = float((before[:, a] > before[:, b]).mean())
        moved = learned[more] or learned[less]
        yield Comparison(more, less, sure, sure_before, moved)


def _new_per_year(posterior: Posterior, network: Network, dynamics: Dynamics, few: slice) -> Floats:
    """Return new infestations a year by rate at the pace of today, shape (draws of ``few``, rates).

    Who will move in is not known: that column is 0.
    """
    assert posterior.rates is not None
    rates, levels = posterior.rates[few], posterior.draws[few]
    n = network.size
    conditions = posterior.conditions or Conditions(
        np.zeros(n, bool), np.full(n, dynamics.brought_in), np.ones(n), np.ones(n)
    )
    rows = np.repeat(np.arange(n), np.diff(network.indptr))
    result, room = np.zeros_like(rates), np.zeros(len(rates))
    for start in range(0, len(rates), BLOCK):
        x = levels[start : start + BLOCK]
        shed = dynamics.shedding[x] * conditions.export
        # A unit that is infested already cannot be newly so.
        open_to = (x == 0) * conditions.openness
        push = (shed[:, network.indices] * open_to[:, rows]) @ network.exposure
        block = result[start : start + BLOCK]
        block[:, BROUGHT_IN] = (x == 0).sum(axis=1)
        block[:, MIXING] = shed.sum(axis=1) * open_to.sum(axis=1) / max(1, n)
        block[:, FIRST_ROUTE:MOVE_IN] = push
        if posterior.shared is not None:  # hazards, not exposures: they are not multiplied by a rate below
            pairs = posterior.shared.pairs
            room[start : start + BLOCK] = ((shed @ pairs) * open_to).sum(axis=1)
    new = result * rates
    new[:, MIXING] += room
    return np.asarray(new * WEEKS_A_YEAR)
