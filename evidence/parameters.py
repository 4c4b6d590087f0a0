"""What the fit moves: numbers of the trade as a vector, their priors, and the simulator's tables from them.

Every parameter is standard normal in the vector ``u``; 0 in all is the middle of the priors, which is not
what the package stood at before the fit; :data:`BEFORE` is that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evidence import before
from spread.posterior.dynamics import Dynamics, central_dynamics
from spread.programmes.columns import METHODS, TREATMENTS
from spread.programmes.tables import BRIEF, TRAPS, WHOLE_PROTOCOL, Tables, look_tables, tables_of
from spread.trade import biology, routes, seeing, treatment
from spread.trade.detection import vacant_report_chance
from spread.trade.registry import LOOKING

Floats = NDArray[np.float64]
INTERVIEW = METHODS.index("interview")
THOROUGH = next(METHODS.index(key) for key, row in LOOKING.items() if row.thorough)


class Prior(NamedTuple):
    """How a parameter follows from a standard normal number."""

    middle: float  #: Median
    width: float  #: Standard deviation of its log (of its log odds or its own scale where so said)
    link: str  #: ``log``, ``odds`` or ``plain``
    before: float  #: What the package stood at before the fit
    why: str  #: Where middle and width are from


PRIORS: Mapping[str, Prior] = {
    "routes": Prior(0.5, 0.7, "log", 1.0, "factor on route rates: 0.1 to 1 in five data sets"),
    "mixing": Prior(1.0, 0.7, "log", 1.0, "further factor on building-wide mixing: no direct number"),
    "between": Prior(0.4, 0.6, "log", 1e-9, "deviation of a building's log pace and log introductions"),
    "brought_in": Prior(1.5, 0.6, "log", 1.0, "factor; 0.0001 to 0.0015 a week around 0.0004"),
    "growth": Prior(0.022, 0.45, "log", 0.035, "a day; laboratory 0.054 is a ceiling, field 0.015 and up"),
    "dying_light": Prior(1.5, 0.6, "log", 1.0, "factor on falling a level from trace and low, untreated"),
    "dying_heavy": Prior(2.0, 0.7, "log", 1.0, "the same from moderate and heavy: people's own efforts"),
    "shedding": Prior(1.0, 0.3, "log", 1.0, "exponent of a level's export: 0.03, 0.1, 0.4, 1"),
    "report_light": Prior(1.0, 0.5, "log", 1.0, "factor on reports at trace and low"),
    "report_heavy": Prior(1.0, 0.5, "log", 1.0, "factor on reports at moderate and heavy"),
    "look": Prior(0.0, 0.5, "plain", 0.0, "shift of the log odds that a brief look finds"),
    "traps": Prior(0.0, 0.5, "plain", 0.0, "shift of the log odds that interceptors find"),
    "interview": Prior(0.0, 0.5, "plain", 0.0, "shift of the log odds that a resident knows"),
    "spray": Prior(0.0, 0.6, "plain", 0.0, "shift of the log odds that a spray eliminates"),
    "combined": Prior(0.0, 0.6, "plain", 0.0, "the same with steam, dust and product together"),
    "non_chemical": Prior(0.0, 0.6, "plain", 0.0, "the same without a product"),
    "resists": Prior(0.15, 0.9, "odds", 0.0, "share of units where treatment does 0.3 of its work"),
}  # fmt: skip
NAMES = tuple(PRIORS)
BEFORE = {name: prior.before for name, prior in PRIORS.items()}
MOVED = {"spray": "spray", "combined": "combined", "non_chemical": "steam-dust-encase"}


def values_of(u: Floats) -> dict[str, float]:
    """Return the parameters of a vector of standard normal numbers, by name."""
    out = {}
    for name, x in zip(NAMES, u, strict=True):
        prior = PRIORS[name]
        if prior.link == "log":
            out[name] = prior.middle * math.exp(prior.width * x)
        elif prior.link == "odds":
            out[name] = _shift(prior.middle, prior.width * x)
        else:
            out[name] = prior.middle + prior.width * x
    return out


@dataclass(frozen=True)
class Trade:
    """The numbers of one vector as the simulator takes them."""

    tables: Tables  #: With the mean effect of treatments over units that resist and units that do not
    usual: Tables  #: Treatments in units that do not resist
    stubborn: Tables  #: Treatments in units that do
    rates: Floats  #: Brought in, mixing and the routes
    between: float
    resists: float

    def rates_of(self, buildings: int, rng: np.random.Generator) -> Floats:
        """Return rates of so many buildings, shape (buildings, 2 + routes): each with its own pace."""
        luck = np.exp(self.between * rng.standard_normal((2, buildings)) - 0.5 * self.between**2)
        out = np.tile(self.rates, (buildings, 1))
        out[:, 0] *= luck[0]
        out[:, 1:] *= luck[1][:, None]
        return out


class Numbers(NamedTuple):
    """Numbers of :mod:`spread.trade` at a vector: those of :mod:`evidence.before`, moved by it."""

    routes: Floats  #: In the order of :data:`spread.trade.routes.ROUTES`
    brought_in: float
    mixing: float
    growth: float
    decline: Floats  #: Trace first, as all that is by level
    shedding: Floats
    report: Floats  #: Clear first
    look: Floats
    thorough: Floats
    traps: Floats
    interview: Floats
    elimination: Mapping[str, Floats]  #: By treatment


def numbers_of(values: Mapping[str, float]) -> Numbers:
    """Return the trade's numbers at a vector: what the package ships, at the centre of the draws."""

    def shifted(numbers: Sequence[float], by: float) -> Floats:
        return np.array([_shift(p, by) for p in numbers])

    by_level = np.repeat([values["dying_light"], values["dying_heavy"]], 2)
    readiness = np.repeat([1.0, values["report_light"], values["report_heavy"]], [1, 2, 2])
    return Numbers(
        routes=values["routes"] * np.array([before.ROUTES[key] for key in routes.ROUTES]),
        brought_in=before.BROUGHT_IN * values["brought_in"],
        mixing=before.MIXING * values["routes"] * values["mixing"],
        growth=values["growth"],
        decline=np.minimum(before.DECLINE * by_level, 0.45),
        shedding=np.array(before.SHEDDING) ** values["shedding"],
        report=np.minimum(before.REPORT * readiness, 0.5),
        look=shifted(before.LOOK, values["look"]),
        thorough=shifted(before.THOROUGH, values["look"]),
        traps=shifted(before.TRAPS, values["traps"]),
        interview=shifted(before.INTERVIEW, values["interview"]),
        elimination={
            method: shifted(before.ELIMINATION[method], values[name]) for name, method in MOVED.items()
        },
    )


def trade_of(values: Mapping[str, float]) -> Trade:
    """Return the simulator's numbers: those of :mod:`evidence.before`, moved by a vector."""
    numbers = numbers_of(values)
    found, _ = look_tables()
    found[BRIEF, 1:], found[TRAPS, 1:], found[INTERVIEW, 1:] = numbers.look, numbers.traps, numbers.interview
    # Only the trials' first survey is by the thorough look; every draw was made with it where it stood.
    found[THOROUGH, 1:] = before.THOROUGH
    found[WHOLE_PROTOCOL] = 1.0 - (1.0 - found[BRIEF]) * (1.0 - found[TRAPS])
    report = np.stack([numbers.report, vacant_report_chance()])
    strong = np.stack([treatment.effect_matrix(m) for m in TREATMENTS])
    for method, gone in numbers.elimination.items():
        strong[TREATMENTS.index(method)] = _effect(method, gone)
    weak = (1.0 - seeing.RESIST_EFFECT) * np.eye(strong.shape[1]) + seeing.RESIST_EFFECT * strong
    share = values["resists"]
    growth = np.stack([_growth(numbers), biology.vacant_matrix()])
    plain = tables_of(central_dynamics(), found=found, report=report)
    plain = plain._replace(
        grow=np.cumsum(growth, axis=2),
        growth=growth,
        shedding=np.array([0.0, *numbers.shedding]),
    )
    usual, stubborn, mean = (
        plain._replace(effect=e, act=np.cumsum(e, axis=2))
        for e in (strong, weak, (1.0 - share) * strong + share * weak)
    )
    rates = np.array([numbers.brought_in, numbers.mixing, *numbers.routes])
    return Trade(mean, usual, stubborn, rates, values["between"], share)


def dynamics_before(*, prevalence: float = 0.05, rate_scale: float = 1.0) -> Dynamics:
    """Return the process at the numbers before the fit: of the demo buildings, and of what set those numbers.

    ``prevalence``, ``rate_scale``: as in :func:`spread.posterior.dynamics.central_dynamics`.
    """
    old = trade_of(BEFORE)
    return replace(
        central_dynamics(prevalence=prevalence),
        brought_in=float(old.rates[0]),
        mixing=float(old.rates[1]) * rate_scale,
        rates=old.rates[2:] * rate_scale,
        shedding=old.tables.shedding,
        growth=old.tables.growth,
        level_mix=np.array(before.LEVEL_MIX),
    )


def _growth(numbers: Numbers) -> Floats:
    """Return :func:`spread.trade.biology.growth_matrix` for any vector: no chance to rise is over a half."""
    down = numbers.decline
    up = np.minimum(1.0 / biology.weeks_to_pass(numbers.growth), 0.5)
    matrix = np.eye(5)
    for level in range(1, 5):
        matrix[level, level - 1] = down[level - 1]
        if level < 4:
            matrix[level, level + 1] = up[level - 1]
        matrix[level, level] = 0.0
        matrix[level, level] = 1.0 - matrix[level].sum()
    return matrix


def _effect(method: str, elimination: Floats) -> Floats:
    """Return a treatment's matrix with other chances of elimination, and its knock-down kept."""
    matrix, drop = treatment.effect_matrix(method), treatment.drop_chance(method)
    for level in range(1, 5):
        gone = elimination[level - 1]
        matrix[level] = 0.0
        matrix[level, level - 1] = (1.0 - gone) * drop[level - 1]
        matrix[level, 0] += gone
        matrix[level, level] = 1.0 - matrix[level].sum()
    return matrix


def _shift(p: float, by: float) -> float:
    """Return a chance with its log odds moved; 0 and 1 stay."""
    return p / (p + (1.0 - p) * math.exp(-by)) if 0.0 < p < 1.0 else p
