"""What a firm's buildings taught one another, from their kept posteriors; kept beside them, nowhere else."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from spread.errors import SpreadError
from spread.firm.keeping import KeptPosterior
from spread.firm.pooling import Floats, Pooled, Quantity, Taught, pool
from spread.posterior.rates import theta_names
from spread.posterior.seeing import FACTORS, FIRST_ODDS, HEAVY, LIGHT, NEVER, ODDS, RESIST, believed_of
from spread.trade.experience import FORMAT
from spread.trade.priors import RATES
from spread.trade.registry import LOOKING
from spread.trade.routes import ROUTES

LEAST = 5
"""Fewest buildings that teach: of fewer the centre is hardly known, and each would learn most from itself."""
DRAWS = 400
"""Draws of a building that are weighed."""
MOVED, WIDENED = 0.2, 0.15
"""Parts of its width by which a belief has to move, or to widen, before buildings are fitted anew.

Judgement: less moves no chance by what anybody sees, and would cost a night of fits.
"""
_SPAN = 2 * 1.6448536269514722
_TAIL = {"report:light": LIGHT, "report:heavy": HEAVY, "share:never": NEVER, "share:resist": RESIST}


def quantities_of(methods: Sequence[str]) -> tuple[Quantity, ...]:
    """Return what buildings share, as the literature has it; ``methods``: of looking that are used."""
    shared = [
        Quantity(name, float(np.log(rate.central)), float(np.log(rate.high / rate.low)) / _SPAN)
        for name, rate in RATES.items()
    ]
    for name, (a, b) in believed_of(methods).items():
        if name.startswith("share:"):
            shared.append(Quantity(name, *moments_of_share(a, b)))
        else:
            grid = FACTORS if name.startswith("report:") else ODDS
            shared.append(Quantity(name, a, b, np.log(grid)))
    return tuple(shared)


def taught_by(key: str, kept: KeptPosterior, quantities: Sequence[Quantity]) -> Taught:
    """Return a building's draws on the scale of each quantity, with the prior that they were drawn under."""
    believed = kept.stamp.believed
    rates, names = kept.arrays["rates"], kept.names
    tail = kept.arrays.get("traits_draws")
    few = np.linspace(0, len(rates) - 1, DRAWS).round().astype(np.int64)
    values, priors = [], []
    for one in quantities:
        column = prior = np.full(DRAWS, np.nan)
        pair = believed.get(one.name)
        method = one.name.removeprefix("odds:")
        if one.name in RATES and pair is not None:
            column = np.log(rates[few, theta_names(ROUTES).index(one.name)])
            prior = pair[0] * column - pair[1] * np.exp(column)
        elif one.name in _TAIL and pair is not None and tail is not None:
            draws = tail[few, _TAIL[one.name]]
            if one.name.startswith("share:"):
                column = np.log(draws) - np.log1p(-draws)
                prior = pair[0] * column - (pair[0] + pair[1]) * np.logaddexp(0.0, column)
            else:
                column = np.log(draws)
                prior = -0.5 * ((column - pair[0]) / pair[1]) ** 2
        elif pair is not None and tail is not None and names is not None and method in names.methods:
            column = np.log(tail[few, FIRST_ODDS + names.methods.index(method)])
            prior = -0.5 * ((column - pair[0]) / pair[1]) ** 2
        values.append(column)
        priors.append(prior)
    return Taught(key, np.stack(values, axis=1), np.stack(priors, axis=1))


def pool_kept(
    kept: Iterable[tuple[str, KeptPosterior]], *, seed: int = 1
) -> tuple[Pooled, dict[str, Taught]]:
    """Let buildings teach one another; ``kept``: their posteriors by key, looked at one after the other.

    Raises SpreadError where they are too few.
    """
    every = quantities_of(tuple(LOOKING))
    taught = {key: taught_by(key, one, every) for key, one in kept}
    if len(taught) < LEAST:
        what = f"{len(taught)} buildings have a fit, expected {LEAST} or more to teach one another"
        raise SpreadError.at("portfolio", "", what, "fit more: spread portfolio fit")
    known = np.any([np.isfinite(one.values[0]) for one in taught.values()], axis=0)
    quantities = [one for one, is_known in zip(every, known, strict=True) if is_known]
    taught = {
        key: replace(one, values=one.values[:, known], log_prior=one.log_prior[:, known])
        for key, one in sorted(taught.items())
    }
    return pool(quantities, list(taught.values()), seed=seed), taught


def beliefs_of(pooled: Pooled) -> dict[str, tuple[float, float]]:
    """Return what one more building is believed, as a fit takes it."""
    return {
        name: share_of_moments(*pair) if name.startswith("share:") else pair
        for name, pair in pooled.next_building.items()
    }


def has_moved(new: dict[str, tuple[float, float]], used: dict[str, tuple[float, float]]) -> bool:
    """Return whether beliefs differ from those in use by more than nobody would see."""
    if new.keys() != used.keys():
        return True
    for name, pair in new.items():
        share = name.startswith("share:")
        (mean, width), (old, old_width) = (
            (moments_of_share(*one) if share else one) for one in (pair, used[name])
        )
        if abs(mean - old) > MOVED * old_width or abs(np.log(width / old_width)) > WIDENED:
            return True
    return False


def file_of(
    pooled: Pooled, in_use: dict[str, tuple[float, float]], on: dt.date, *, rounds: int
) -> dict[str, Any]:
    """Return what is kept: the beliefs in use, and centre and spread of each quantity with 90 % intervals."""
    learned = {}
    for q, one in enumerate(pooled.quantities):
        centre, spread = (
            [round(float(x), 4) for x in np.quantile(draws[:, q], (0.05, 0.5, 0.95))]
            for draws in (pooled.centre, pooled.spread)
        )
        learned[one.name] = {
            "centre": centre,
            "spread": spread,
            "general": [round(one.centre, 4), round(one.width, 4)],
        }
    return {
        "format": FORMAT,
        "on": on.isoformat(),
        "buildings": len(pooled.keys),
        "rounds": rounds,
        "rough": pooled.rough,
        "effective_draws": round(float(np.median(pooled.effective)), 1),
        "in_use": {name: [round(a, 6), round(b, 6)] for name, (a, b) in in_use.items()},
        "learned": learned,
    }


def text_of(told: dict[str, Any]) -> str:
    """Return what is kept as the text of a file."""
    return json.dumps(told, indent=1, sort_keys=True) + "\n"


_LOG_ODDS = np.linspace(-16.0, 16.0, 3201)


def moments_of_share(a: float, b: float) -> tuple[float, float]:
    """Return mean and standard deviation of the log odds of a share that has a Beta distribution."""
    log = a * _LOG_ODDS - (a + b) * np.logaddexp(0.0, _LOG_ODDS)
    return _moments(_LOG_ODDS, log)


def share_of_moments(mean: float, width: float) -> tuple[float, float]:
    """Return the Beta distribution with mean and variance of a share whose log odds are normal."""
    at = mean + width * np.linspace(-8.0, 8.0, 1601)
    middle, sd = _moments(1.0 / (1.0 + np.exp(-at)), -0.5 * ((at - mean) / width) ** 2)
    strength = max(middle * (1.0 - middle) / sd**2 - 1.0, 0.01)
    return middle * strength, (1.0 - middle) * strength


def _moments(values: Floats, log: Floats) -> tuple[float, float]:
    share = np.exp(log - log.max())
    share /= share.sum()
    mean = float(share @ values)
    return mean, float(np.sqrt(share @ (values - mean) ** 2))
