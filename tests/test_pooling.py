"""What buildings teach one another, against answers that are known without any of our steps."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from buildings import view_of
from scipy.special import digamma, polygamma

from spread.firm.pooled import (
    has_moved,
    moments_of_share,
    quantities_of,
    share_of_moments,
    taught_by,
)  # fmt: skip
from spread.firm.pooling import Pooled, Quantity, Taught, departing
from spread.posterior.dynamics import central_dynamics
from spread.posterior.rates import MOVE_IN
from spread.posterior.seeing import believed_of
from spread.trade.experience import Experience
from spread.trade.priors import NEVER_OFTEN, RATES, gamma_quantile, often
from spread.trade.registry import LOOKING

WIDE = 1.0


def building(key, form, seen, prior_mean, prior_sd, draws=1e9):
    """Return a building whose log says ``seen`` with a precision, fitted alone under a wide prior."""
    before = np.diag(np.asarray(prior_sd, dtype=float) ** -2.0)
    cover = np.linalg.inv(form + before)
    mean = cover @ (form @ np.asarray(seen) + before @ np.asarray(prior_mean))
    number = len(mean)
    middle, sd = np.asarray(prior_mean, float), np.asarray(prior_sd, float)
    return Taught(key, mean, cover, middle, sd, -(mean - middle) / sd**2, sd**-2.0, np.full(number, draws))


def test_a_building_that_departs_from_what_the_others_taught_is_named():
    rng = np.random.default_rng(8)
    quantity, keys = Quantity("q", 0.0, WIDE), tuple(f"b{k}" for k in range(60))
    truth = 1.0 + 0.2 * rng.standard_normal(60)
    seen = truth + 0.1 * rng.standard_normal(60)
    centre, spread = 1.0 + 0.03 * rng.standard_normal((600, 1)), 0.2 + 0.02 * rng.standard_normal((600, 1))
    pooled = Pooled((quantity,), keys, centre, spread, seen[:, None], np.array([True]))

    def taught(seen, keys):
        told = zip(keys, seen, strict=True)
        return {key: building(key, np.array([[0.4**-2]]), [y], [0.0], [WIDE]) for key, y in told}

    assert departing(pooled, taught(seen, keys)) == ()
    seen[7] = 4.0
    for judged in (taught(seen, keys), taught(seen[7:8], ["not among those who taught"])):
        (apart,) = departing(pooled, judged)
        assert apart.key in ("b7", "not among those who taught")
        assert apart.factor > 5.0
    silent = {"b7": building("b7", np.array([[0.01]]), [4.0], [0.0], [WIDE])}
    assert departing(pooled, silent) == (), "a log that says nearly nothing is not judged"


def test_shares_keep_their_moments_through_log_odds():
    for a, b in ((0.9, 5.1), (2.0, 8.0), (30.0, 10.0)):
        mean, width = moments_of_share(a, b)
        assert mean == pytest.approx(digamma(a) - digamma(b), abs=1e-3)
        assert width**2 == pytest.approx(polygamma(1, a) + polygamma(1, b), rel=1e-2)
    a, b = share_of_moments(-2.0, 0.3)
    assert moments_of_share(a, b) == (pytest.approx(-2.0, abs=0.05), pytest.approx(0.3, abs=0.03))


def test_beliefs_in_use_change_only_where_somebody_could_see_it():
    used = {"wall": (-5.0, 0.4), "share:never": (3.0, 17.0)}
    assert not has_moved(dict(used), used)
    assert not has_moved(used | {"wall": (-4.95, 0.42)}, used)
    assert has_moved(used | {"wall": (-4.85, 0.4)}, used)
    assert has_moved(used | {"wall": (-5.0, 0.52)}, used)
    assert has_moved(used | {"share:never": (6.0, 14.0)}, used)
    assert has_moved(used | {"odds:brief-visual": (0.0, 0.3)}, used)


def test_a_fit_begins_from_what_the_firm_taught():
    believed = {"wall": (-4.0, 0.2), "moved in": (-3.0, 0.3), "share:never": (6.0, 14.0)}
    taught = Experience(40, dt.date(2026, 11, 1), believed | {"odds:brief-visual": (-0.5, 0.2)})
    dynamics, usual = central_dynamics(rate_scale=0.5, experience=taught), central_dynamics(rate_scale=0.5)
    place = list(RATES).index("wall")
    shape, rate = (part[place] for part in dynamics.rate_priors)
    assert gamma_quantile(shape, 0.5) / rate == pytest.approx(0.5 * np.exp(-4.0)), (
        "with the building's own factor"
    )
    assert dynamics.rates[0] == pytest.approx(0.5 * np.exp(-4.0))
    assert dynamics.move_in == pytest.approx(np.exp(-3.0)), "what comes from outside has no factor"
    assert dynamics.often == NEVER_OFTEN, "a firm's own spread is believed of move-ins, and no other kind"
    assert usual.often == often()
    assert dynamics.rate_priors[0][0] == usual.rate_priors[0][0], "what nobody taught stays general"
    believed = believed_of(["brief-visual", "interceptors"], dynamics.believed)
    assert (believed["share:never"], believed["odds:brief-visual"]) == ((6.0, 14.0), (-0.5, 0.2))
    assert believed["odds:interceptors"] == believed_of(["interceptors"])["odds:interceptors"]


def test_a_log_that_says_nothing_of_move_ins_teaches_nothing_of_them():
    """Draws of both priors are read as draws of the usual one, in which buildings teach one another."""
    dynamics, rng, many = central_dynamics(), np.random.default_rng(6), 40_000
    shapes, rates = (np.array(part) for part in dynamics.rate_priors)
    drawn = rng.gamma(shapes, 1.0 / rates, size=(many, len(shapes)))
    other = rng.random(many) < dynamics.often[0]
    drawn[other, MOVE_IN] = rng.gamma(dynamics.often[1], 1.0 / dynamics.often[2], size=other.sum())
    usual = np.log(rng.gamma(shapes[MOVE_IN], 1.0 / rates[MOVE_IN], size=many))
    assert np.log(drawn[:, MOVE_IN]).mean() > usual.mean() + 0.1
    posterior = view_of().posterior
    draws = np.zeros((many, len(posterior.units)), dtype=np.int8)
    told = replace(posterior, rates=drawn, draws=draws, log_weights=np.zeros(many), traits=None)
    taught = taught_by("a", told, dynamics)
    at = [one.name for one in quantities_of(tuple(LOOKING))].index("moved in")
    assert taught.mean[at] == pytest.approx(usual.mean(), abs=0.02)
    assert taught.covariance[at, at] == pytest.approx(usual.var(), rel=0.05)
    assert taught.slope[at] == pytest.approx(0.0, abs=0.05)
