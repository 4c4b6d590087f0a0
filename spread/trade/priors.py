"""Gamma priors of the learned rates, matched to the median and 90 % range that the facts give."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from spread.trade import routes
from spread.trade.sources import Sourced


def gamma_cdf(shape: float, x: float) -> float:
    """Return P(X <= x) for a Gamma variable of unit rate (series of the incomplete gamma function).

    From memory of Abramowitz & Stegun 6.5.29; checked against an outside library in the tests.
    """
    if x <= 0.0:
        return 0.0
    term = total = 1.0 / shape
    n = shape
    while term > total * 1e-16:
        n += 1.0
        term *= x / n
        total += term
    return min(1.0, total * math.exp(shape * math.log(x) - x - math.lgamma(shape)))


def gamma_quantile(shape: float, p: float) -> float:
    """Return the x with P(X <= x) = p for a Gamma variable of unit rate, by bisection."""
    low, high = 0.0, shape + 1.0
    while gamma_cdf(shape, high) < p:
        high *= 2.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if gamma_cdf(shape, middle) < p else (low, middle)
    return 0.5 * (low + high)


@lru_cache(maxsize=64)
def gamma_prior(number: Sourced) -> tuple[float, float]:
    """Return shape and rate of the Gamma prior of a rate.

    Its median is the central value, and the ratio of its 95 % to its 5 % point is that of the
    range: a Gamma has two parameters, so the ends themselves need not match both.

    ``number``: the rate with its low, central and high value, all above 0.
    """
    wanted = math.log(number.high / number.low)

    def ratio(shape: float) -> float:
        return math.log(gamma_quantile(shape, 0.95) / gamma_quantile(shape, 0.05))

    low, high = 0.05, 200.0
    for _ in range(40):
        middle = math.sqrt(low * high)
        # The wider the range, the smaller the shape.
        low, high = (middle, high) if ratio(middle) > wanted else (low, middle)
    shape = math.sqrt(low * high)
    return shape, gamma_quantile(shape, 0.5) / number.central


Often = tuple[float, float, float]
"""Chance that another Gamma prior holds of what comes with a move-in, its shape and its rate."""
NEVER_OFTEN: Often = (0.0, 1.0, 1.0)


def often() -> Often:
    """Return what is believed of buildings into which people come from infested places."""
    return (routes.MOVE_INS_OFTEN, *gamma_prior(routes.MOVE_IN_OFTEN))


def mixed_quantile(p: float, shape: float, rate: float, other: Often) -> float:
    """Return the x with P(X <= x) = p where one of two Gamma distributions holds, by bisection.

    ``shape``, ``rate``: of the usual one; ``other``: chance, shape and rate of the other one.
    """
    chance, *apart = other
    if chance == 0.0:
        return gamma_quantile(shape, p) / rate
    low, high = sorted(gamma_quantile(a, p) / b for a, b in ((shape, rate), apart))
    for _ in range(60):
        x = 0.5 * (low + high)
        below = (1.0 - chance) * gamma_cdf(shape, rate * x) + chance * gamma_cdf(apart[0], apart[1] * x)
        low, high = (x, high) if below < p else (low, x)
    return 0.5 * (low + high)


RATES: Mapping[str, Sourced] = MappingProxyType(
    {
        "brought in": routes.BROUGHT_IN,
        "building-wide": routes.MIXING,
        **{key: row.rate for key, row in routes.BY_KEY.items()},
        "moved in": routes.MOVE_IN,
    }
)
"""Every learned rate by its name, in the order of the model."""
OUTSIDE = ("brought in", "moved in")
"""Rates of what comes from outside: how a building is run does not change them."""
_SPAN = 2 * 1.6448536269514722


def rates_believed(believed: Mapping[str, tuple[float, float]] | None = None) -> dict[str, Sourced]:
    """Return every learned rate with its range: the general one, or a firm's own.

    ``believed``: mean and standard deviation of the logarithm, by name; what is not in it stays general.
    """
    rates = dict(RATES)
    for name, (mean, sd) in (believed or {}).items():
        if name in rates:
            half = 0.5 * _SPAN * sd
            central, low, high = (math.exp(mean + side * half) for side in (0.0, -1.0, 1.0))
            unit = rates[name].unit
            rates[name] = Sourced(central, low, high, unit, "the firm's own buildings", "B", "fitted")
    return rates


def rate_priors(
    scale: float = 1.0, believed: Mapping[str, tuple[float, float]] | None = None
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return shapes and rates of the priors: brought in, building-wide, the routes in order, moved in.

    ``scale``: factor on the routes and building-wide mixing, for proofs in other worlds; ``believed``: as for
    :func:`rates_believed`.
    """
    pairs = {name: gamma_prior(number) for name, number in rates_believed(believed).items()}
    rates = (rate if name in OUTSIDE else rate / scale for name, (_, rate) in pairs.items())
    return tuple(shape for shape, _ in pairs.values()), tuple(rates)
