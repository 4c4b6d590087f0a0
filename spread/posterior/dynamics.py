"""The numbers of the hidden process as plain arrays: one weekly step of a unit.

Units of time are weeks and hazards are per week throughout (``model.md`` 1-3 gives the
mathematics; every default stands beside its source in :mod:`spread.trade`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from spread.trade import biology, building_stock, priors, routes
from spread.trade.experience import Experience

Floats = NDArray[np.float64]

LEVELS = len(biology.LEVEL_NAMES)  #: Number of hidden levels: clear, trace, low, moderate, heavy


@dataclass(frozen=True)
class Dynamics:
    """How infestations arrive, grow, shed and end."""

    #: Shape (routes,): weekly hazard from one heavy contact at exposure 1, in the order of
    #: :data:`spread.trade.routes.ROUTES`
    rates: Floats
    #: Weekly hazard of an infestation carried in from outside. Always above zero: without it the sampler
    #: could not leave some states.
    brought_in: float
    #: Weekly hazard from one heavy unit through visits, laundry and lounges, spread evenly over all units
    mixing: float
    move_in: float  #: Extra hazard, once, in the week somebody moves in
    #: Shape (levels,): share of a heavy unit's export at each level; 0 for clear, 1 for heavy
    shedding: Floats
    #: Shape (2, levels, levels): weekly steps of an infested unit, occupied then vacant; rows sum to one and
    #: row 0 is not used
    growth: Floats
    prevalence: float  #: Chance that a unit was infested before anything was known of it
    level_mix: Floats  #: Shape (levels - 1,): levels of those infested units, trace first
    vacant_target: float = 1.0  #: Factor on the pressure upon an empty unit
    vacant_source: float = 1.0  #: Factor on what an empty unit sheds in its first weeks without a host
    vacant_source_weeks: int = 0  #: How many weeks that factor lasts
    #: Shapes and rates of the Gamma priors of brought in, mixing, the routes and moved in, in that order
    rate_priors: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())
    #: And the other prior that may hold of moved in (:func:`spread.trade.priors.often`)
    often: priors.Often = priors.NEVER_OFTEN
    #: What a firm's buildings taught beside the rates (:class:`spread.trade.experience.Experience`), and how
    #: many they are; nothing where the general experience is believed
    believed: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    taught_by: int = 0
    room: bool = True  #: Whether a shared room that no plan shows is learned where rates are

    def __post_init__(self) -> None:
        if self.brought_in <= 0:
            raise ValueError("brought_in must be above zero, or the sampler cannot leave some states")
        if not np.allclose(self.growth.sum(axis=2), 1.0):
            raise ValueError("every row of growth must sum to one")
        steps = np.subtract.outer(np.arange(LEVELS), np.arange(LEVELS))
        if np.any(self.growth[:, np.abs(steps) > 1] > 0.0):
            raise ValueError("growth moves a unit by one level a week at most")
        if self.shedding[0] != 0.0:
            raise ValueError("a clear unit sheds nothing: shedding[0] must be 0")

    @property
    def theta(self) -> Floats:
        """The numbers that may be learned, in the order of :func:`spread.posterior.rates.theta_names`."""
        return np.concatenate([[self.brought_in, self.mixing], self.rates, [self.move_in]])

    @property
    def start(self) -> Floats:
        """Shape (levels,): chance of each level in the first week of the window."""
        return np.concatenate([[1.0 - self.prevalence], self.prevalence * self.level_mix])


def central_dynamics(
    *, prevalence: float = 0.05, rate_scale: float = 1.0, experience: Experience | None = None
) -> Dynamics:
    """Return the central values of :mod:`spread.trade`, or of a firm's own experience.

    Parameters
    ----------
    prevalence
        Share of units infested at the start of the window; 0.05 lies between the 2 % of market-rate stock
        and the 12.3 % of US low-income buildings (judgement).
    rate_scale
        Factor on every route and on building-wide mixing: for proofs and benchmarks in faster and slower
        worlds.
    experience
        What the firm's buildings taught one another, in place of the literature's figures.
    """
    believed = experience.believed if experience else {}
    rates = {name: number.central for name, number in priors.rates_believed(believed).items()}
    return Dynamics(
        rates=np.array([rates[route] for route in routes.ROUTES]) * rate_scale,
        brought_in=rates["brought in"],
        mixing=rates["building-wide"] * rate_scale,
        move_in=rates["moved in"],
        shedding=biology.shedding(),
        growth=np.stack([biology.growth_matrix(), biology.vacant_matrix()]),
        prevalence=prevalence,
        level_mix=building_stock.level_mix(),
        vacant_target=routes.VACANT_TARGET.central,
        vacant_source=routes.VACANT_SOURCE.central,
        vacant_source_weeks=routes.VACANT_SOURCE_WEEKS,
        rate_priors=priors.rate_priors(rate_scale, believed),
        # What a firm's own buildings taught of it has a spread of its own.
        often=priors.NEVER_OFTEN if "moved in" in believed else priors.often(),
        believed=believed,
        taught_by=experience.buildings if experience else 0,
    )


@dataclass(frozen=True)
class Network:
    """The contact graph as arrays (compressed rows, both directions stored)."""

    units: tuple[str, ...]  #: Unit codes in array order
    #: indptr, indices: Contacts of unit ``i`` are ``indices[indptr[i]:indptr[i + 1]]``
    indptr: NDArray[np.int64]
    indices: NDArray[np.int64]
    exposure: Floats  #: Shape (contacts, routes): exposure of each stored contact by route
    index: dict[str, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "index", {unit: i for i, unit in enumerate(self.units)})

    @property
    def size(self) -> int:
        """Number of units."""
        return len(self.units)

    def weights(self, rates: Floats) -> Floats:
        """Return the weekly hazard along each stored contact from a heavy unit, shape (contacts,)."""
        return self.exposure @ rates

    def dense(self, rates: Floats) -> Floats:
        """Return the same as a matrix, shape (units, units); row is the source."""
        matrix = np.zeros((self.size, self.size))
        rows = np.repeat(np.arange(self.size), np.diff(self.indptr))
        matrix[rows, self.indices] = self.weights(rates)
        return matrix


def network_of(graph: object) -> Network:
    """Turn a contact graph (:mod:`spread.contacts.graph`) into arrays.

    Parameters
    ----------
    graph : A ``networkx.MultiGraph`` whose edges carry ``route`` and ``exposure``. Nodes keep their order.
    """
    units = tuple(graph.nodes)  # type: ignore[attr-defined]
    index = {unit: i for i, unit in enumerate(units)}
    pairs: dict[tuple[int, int], Floats] = {}
    for a, b, data in graph.edges(data=True):  # type: ignore[attr-defined]
        if a == b:
            continue  # no unit presses upon itself
        route = routes.ROUTES.index(data["route"])
        for i, j in ((index[a], index[b]), (index[b], index[a])):
            row = pairs.setdefault((i, j), np.zeros(len(routes.ROUTES)))
            row[route] += data["exposure"]
    order = sorted(pairs)
    counts = np.bincount([i for i, _ in order], minlength=len(units)) if order else np.zeros(len(units), int)
    return Network(
        units=units,
        indptr=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        indices=np.array([j for _, j in order], dtype=np.int64),
        exposure=np.array([pairs[key] for key in order]).reshape(len(order), len(routes.ROUTES)),
    )
