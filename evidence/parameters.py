"""What the fit moves: numbers of the trade as a vector, their priors, and the simulator's tables from them.

Every parameter is standard normal in the vector ``u``; 0 in all is the middle of the priors, which is not
what the package ships. :data:`SHIPPED` is that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from evidence import before
from spread.posterior.dynamics import central_dynamics
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
    shipped: float  #: What the package stands at
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
SHIPPED = {name: prior.shipped for name, prior in PRIORS.items()}
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


def trade_of(values: Mapping[str, float]) -> Trade:
    """Return the simulator's numbers: those of :mod:`evidence.before`, moved by a vector."""
    found, _ = look_tables()
    for place, numbers, by in (
        (BRIEF, before.LOOK, values["look"]),
        (TRAPS, before.TRAPS, values["traps"]),
        (INTERVIEW, before.INTERVIEW, values["interview"]),
        (THOROUGH, before.THOROUGH, 0.0),
    ):
        found[place, 1:] = [_shift(p, by) for p in numbers]
    found[WHOLE_PROTOCOL] = 1.0 - (1.0 - found[BRIEF]) * (1.0 - found[TRAPS])
    report = np.stack([np.array(before.REPORT), vacant_report_chance()])
    report[0, 1:3] *= values["report_light"]
    report[0, 3:] *= values["report_heavy"]
    report[0] = np.minimum(report[0], 0.5)
    strong = np.stack([treatment.effect_matrix(m) for m in TREATMENTS])
    for name, method in MOVED.items():
        strong[TREATMENTS.index(method)] = _effect(method, values[name])
    weak = (1.0 - seeing.RESIST_EFFECT) * np.eye(strong.shape[1]) + seeing.RESIST_EFFECT * strong
    share = values["resists"]
    growth = np.stack([_growth(values), biology.vacant_matrix()])
    plain = tables_of(central_dynamics(), found=found, report=report)
    plain = plain._replace(
        grow=np.cumsum(growth, axis=2),
        growth=growth,
        shedding=np.array([0.0, *(s ** values["shedding"] for s in before.SHEDDING)]),
    )
    usual, stubborn, mean = (
        plain._replace(effect=e, act=np.cumsum(e, axis=2))
        for e in (strong, weak, (1.0 - share) * strong + share * weak)
    )
    rates = np.array([before.BROUGHT_IN, before.MIXING, *(before.ROUTES[key] for key in routes.ROUTES)])
    rates[0] *= values["brought_in"]
    rates[1:] *= values["routes"]
    rates[1] *= values["mixing"]
    return Trade(mean, usual, stubborn, rates, values["between"], share)


def _growth(values: Mapping[str, float]) -> Floats:
    """Return :func:`spread.trade.biology.growth_matrix` with another growth and other chances to fall."""
    down = np.array(before.DECLINE)
    down[:2] *= values["dying_light"]
    down[2:] *= values["dying_heavy"]
    down = np.minimum(down, 0.45)
    up = np.minimum(1.0 / biology.weeks_to_pass(values["growth"]), 0.5)
    matrix = np.eye(5)
    for level in range(1, 5):
        matrix[level, level - 1] = down[level - 1]
        if level < 4:
            matrix[level, level + 1] = up[level - 1]
        matrix[level, level] = 0.0
        matrix[level, level] = 1.0 - matrix[level].sum()
    return matrix


def _effect(method: str, shift: float) -> Floats:
    """Return a treatment's matrix with its log odds of elimination moved, and its knock-down kept."""
    matrix, drop = treatment.effect_matrix(method), treatment.drop_chance(method)
    for level in range(1, 5):
        gone = _shift(before.ELIMINATION[method][level - 1], shift)
        matrix[level] = 0.0
        matrix[level, level - 1] = (1.0 - gone) * drop[level - 1]
        matrix[level, 0] += gone
        matrix[level, level] = 1.0 - matrix[level].sum()
    return matrix


def _shift(p: float, by: float) -> float:
    """Return a chance with its log odds moved; 0 and 1 stay."""
    return p / (p + (1.0 - p) * math.exp(-by)) if 0.0 < p < 1.0 else p
