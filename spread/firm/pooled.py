"""What a firm's buildings taught one another, from their kept posteriors; kept beside them, nowhere else."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from spread.errors import SpreadError
from spread.firm.keeping import Stamp
from spread.firm.pooling import Floats, Pooled, Quantity, Taught
from spread.posterior.diagnostics import effective_size
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Dynamics
from spread.posterior.rates import MOVE_IN, theta_names
from spread.posterior.seeing import FACTORS, FIRST_ODDS, HEAVY, LIGHT, ODDS, RESIST, believed_of
from spread.trade.experience import FORMAT
from spread.trade.priors import RATES
from spread.trade.registry import LOOKING
from spread.trade.routes import ROUTES

LEAST = 5
"""Fewest buildings that teach: of fewer the centre is hardly known, and each would learn most from itself."""
MOVED, WIDENED = 0.25, 0.2
"""Parts of its width by which a belief has to move, or to widen, before buildings are fitted anew.

Judgement: less moves no chance by what anybody sees, and would cost a night of fits.
"""
ALONE = ("share:never",)
"""Learned in each building and not shared: a log tells units that never report from units that report seldom
by so little that a firm's belief in both would be worse than the literature's (measured, proofs.pooling)."""
FIRM = 0.8
"""Standard deviation of a firm's own centre, of the logarithm of a rate or of readiness to report.

Judgement: the literature's width is what all published buildings together leave open of the average building.
A firm works in one town, among its own residents and in its own kind of building: published prevalence of
communities spans 2 to 30 %, and the 90 % range of that logarithm has this deviation. Any one rate of a firm
may be as far off. How much its buildings differ from one another is believed as the literature has it.
"""
_SPAN = 2 * 1.6448536269514722
_TAIL = {"report:light": LIGHT, "report:heavy": HEAVY, "share:resist": RESIST}


def quantities_of(methods: Sequence[str]) -> tuple[Quantity, ...]:
    """Return what buildings share, as the literature has it; ``methods``: of looking that are used."""
    shared = [
        Quantity(name, float(np.log(rate.central)), float(np.log(rate.high / rate.low)) / _SPAN, FIRM)
        for name, rate in RATES.items()
    ]
    for name, (a, b) in believed_of(methods).items():
        if name in ALONE:
            continue
        if name.startswith("share:"):
            shared.append(Quantity(name, *moments_of_share(a, b)))
        else:
            shared.append(Quantity(name, a, b, FIRM if name in _TAIL else 0.0))
    return tuple(shared)


def taught_by(key: str, posterior: Posterior, dynamics: Dynamics) -> Taught:
    """Return what a building teaches that was fitted alone, for :func:`quantities_of` all ways of looking.

    ``posterior``: fitted under ``dynamics``, which must be those of the literature.
    """
    posterior = _as_usual(posterior, dynamics)
    names, tail = posterior.names, posterior.traits.draws if posterior.traits is not None else None
    methods = names.methods if names else ()
    believed = believed_of(methods, dynamics.believed)
    gammas = dict(zip(RATES, zip(*dynamics.rate_priors, strict=True), strict=True))
    columns, about = [], []
    for one in quantities_of(tuple(LOOKING)):
        method = one.name.removeprefix("odds:")
        if one.name in RATES and posterior.rates is not None:
            column = np.log(posterior.rates[:, theta_names(ROUTES).index(one.name)])
            columns.append(column)
            about.append(moments_under_rate(column, *gammas[one.name]))
        elif tail is not None and one.name in _TAIL and one.name.startswith("share:"):
            share = tail[:, _TAIL[one.name]]
            columns.append(np.log(share) - np.log1p(-share))
            about.append(moments_under_share(share, *believed[one.name]))
        elif tail is not None and (one.name in _TAIL or method in methods):
            place = _TAIL[one.name] if one.name in _TAIL else FIRST_ODDS + methods.index(method)
            columns.append(np.log(tail[:, place]))
            grid = np.log(FACTORS if one.name in _TAIL else ODDS)
            mean, sd = believed[one.name]
            mean, sd = _moments(grid, -0.5 * ((grid - mean) / sd) ** 2)
            about.append((mean, sd, float(mean - columns[-1].mean()) / sd**2, sd**-2.0))
        else:
            columns.append(np.full(len(posterior.draws), np.nan))
            about.append((np.nan,) * 4)
    values = np.stack(columns, axis=1)
    chained = values.reshape(posterior.diagnostics.chains, -1, values.shape[1])
    worth = np.maximum(effective_size(chained), 4.0)
    covariance = np.cov(values, rowvar=False)
    mean, sd, slope, curve = np.array(about).T
    return Taught(key, values.mean(axis=0), covariance, mean, sd, slope, curve, worth)


def _as_usual(posterior: Posterior, dynamics: Dynamics) -> Posterior:
    """Return a posterior with draws as though what comes with a move-in had its usual prior alone.

    Draws are weighted by one prior over the other and drawn anew, in order. None counts for less than a
    hundredth: where all would, the log says by itself how far from the usual the building is.
    """
    rates, (chance, *often), traits = posterior.rates, dynamics.often, posterior.traits
    if rates is None or chance == 0.0:
        return posterior
    moved = rates[:, MOVE_IN]
    usual, other = (
        a * math.log(b) - math.lgamma(a) + a * np.log(moved) - b * moved
        for a, b in ((part[MOVE_IN] for part in dynamics.rate_priors), often)
    )
    share = np.maximum(1.0 / (1.0 - chance + chance * np.exp(np.minimum(other - usual, 50.0))), 0.01).cumsum()
    rows = np.searchsorted(share, (np.arange(len(share)) + 0.5) / len(share) * share[-1])
    traits = None if traits is None else traits._replace(draws=traits.draws[rows])
    return replace(posterior, rates=rates[rows], traits=traits)


def as_text(taught: Taught, stamp: Stamp, persons: dict[str, Any] | None = None) -> str:
    """Return what a building teaches as JSON.

    ``persons``: what its log shows of work codes, where the firm pools by person; else nothing is a person's.
    """
    told = {name: np.asarray(value).tolist() for name, value in vars(taught).items() if name != "key"}
    names = [one.name for one in quantities_of(tuple(LOOKING))]
    made = {"format": FORMAT, "stamp": asdict(stamp), "names": names, "told": told}
    if persons is not None:
        made["persons"] = persons
    return json.dumps(made, default=dt.date.isoformat)


def stamp_of_text(text: bytes) -> Stamp | None:
    """Return where what a building teaches comes from; None where there is nothing, or it is spoilt."""
    if of_text("", text) is None:
        return None
    return Stamp.told(json.loads(text)["stamp"])


def of_text(key: str, text: str | bytes) -> Taught | None:
    """Return what a building teaches; None where there is nothing, or another version wrote it."""
    if not text:
        return None
    try:
        told = json.loads(text)
        Stamp.told(told["stamp"])
        names = [one.name for one in quantities_of(tuple(LOOKING))]
        values = {name: np.array(value, dtype=np.float64) for name, value in told["told"].items()}
        made = Taught(key, **values)
        lengths = {value.shape[0] for value in values.values()}
        whole = told["format"] == FORMAT and told["names"] == names and lengths == {len(names)}
    except (ValueError, TypeError, KeyError, AttributeError, IndexError, RecursionError):
        return None
    return made if whole else None


def enough(taught: Mapping[str, Taught]) -> tuple[str, ...]:
    """Return the keys of the buildings that teach. Raises SpreadError where they are too few."""
    if len(taught) < LEAST:
        what = f"{len(taught)} buildings have a fit, expected {LEAST} or more to teach one another"
        raise SpreadError.at("portfolio", "", what, "fit more: spread portfolio fit")
    return tuple(sorted(taught))


def of_quantities(one: Taught, quantities: Sequence[Quantity]) -> Taught:
    """Return what a building teaches of some quantities alone, in their order."""
    every = [each.name for each in quantities_of(tuple(LOOKING))]
    at = [every.index(each.name) for each in quantities]
    return Taught(
        one.key, one.mean[at], one.covariance[np.ix_(at, at)], one.prior_mean[at], one.prior_sd[at],
        one.slope[at], one.curve[at], one.draws[at],
    )  # fmt: skip


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
            "taught": bool(pooled.taught[q]),
        }
    return {
        "format": FORMAT,
        "on": on.isoformat(),
        "buildings": len(pooled.keys),
        "rounds": rounds,
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


def moments_under_rate(log: Floats, shape: float, rate: float) -> tuple[float, float, float, float]:
    """Return mean and sd of the logarithm of a Gamma prior, and its slope and curvature over draws of it."""
    at = np.log(shape / rate) + np.linspace(-12.0, 6.0, 3601) / np.sqrt(min(shape, 4.0))
    mean, sd = _moments(at, shape * at - rate * np.exp(at))
    met = rate * float(np.exp(log).mean())
    return mean, sd, shape - met, met / shape / sd**2


def moments_under_share(share: Floats, a: float, b: float) -> tuple[float, float, float, float]:
    """Return the same of the log odds of a Beta prior, over draws of the share."""
    mean, sd = moments_of_share(a, b)
    met = float((share * (1.0 - share)).mean()) * (a + b) * (a + b + 1.0) / (a * b)
    return mean, sd, a - (a + b) * float(share.mean()), met / sd**2


def _moments(values: Floats, log: Floats) -> tuple[float, float]:
    share = np.exp(log - log.max())
    share /= share.sum()
    mean = float(share @ values)
    return mean, float(np.sqrt(share @ (values - mean) ** 2))
