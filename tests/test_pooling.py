"""What buildings teach one another, against answers that are known without any of our steps."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.special import digamma, polygamma

from spread.firm.pooled import (
    has_moved,
    moments_of_share,
    moments_under_rate,
    quantities_of,
    share_of_moments,
)  # fmt: skip
from spread.firm.pooling import (
    CENTRE_SHARE,
    LEAST_SPREAD,
    MOST_SPREAD,
    SPREAD_SHARE,
    Quantity,
    Taught,
    departing,
    pool,
)  # fmt: skip
from spread.posterior.dynamics import central_dynamics
from spread.posterior.seeing import believed_of
from spread.trade.experience import Experience
from spread.trade.priors import RATES, gamma_quantile, rate_priors

WIDE = 1.0


def building(key, form, seen, prior_mean, prior_sd, draws=1e9):
    """Return a building whose log says ``seen`` with a precision, fitted alone under a wide prior."""
    before = np.diag(np.asarray(prior_sd, dtype=float) ** -2.0)
    cover = np.linalg.inv(form + before)
    mean = cover @ (form @ np.asarray(seen) + before @ np.asarray(prior_mean))
    number = len(mean)
    middle, sd = np.asarray(prior_mean, float), np.asarray(prior_sd, float)
    return Taught(key, mean, cover, middle, sd, -(mean - middle) / sd**2, sd**-2.0, np.full(number, draws))


def normal_buildings(seen, error):
    """Return buildings whose logs say ``seen`` of one quantity, each with an error."""
    told = zip(seen, error, strict=True)
    made = [building(f"b{k}", np.array([[sd**-2]]), [y], [0.0], [WIDE]) for k, (y, sd) in enumerate(told)]
    return Quantity("q", 0.0, WIDE), made


def on_a_grid(log_likelihood, centre=0.0, width=WIDE, fine=150):
    """Return mean and sd of centre and spread from a fine grid, by the stated priors."""
    mus = centre + np.linspace(-3.5, 3.5, fine) * width
    taus = np.linspace(LEAST_SPREAD, MOST_SPREAD, fine) * width
    mu, tau = np.meshgrid(mus, taus, indexing="ij")
    log = log_likelihood(mu, tau)
    log += stats.norm.logpdf(mu, centre, width * CENTRE_SHARE**0.5) - tau**2 / (2 * SPREAD_SHARE * width**2)
    share = np.exp(log - log.max())
    share /= share.sum()
    moments = [((share * x).sum(), (share * x**2).sum()) for x in (mu, tau)]
    return share, mu, tau, [(m, (s - m**2) ** 0.5) for m, s in moments]


def test_centre_spread_and_buildings_agree_with_a_normal_hierarchy_known_exactly():
    rng = np.random.default_rng(4)
    error = rng.uniform(0.3, 0.9, 12)
    seen = rng.normal(0.8, 0.4, 12) + error * rng.standard_normal(12)
    quantity, taught = normal_buildings(seen, error)
    pooled = pool([quantity], taught, steps=4000)

    def likely(mu, tau):
        return sum(stats.norm.logpdf(y, mu, np.hypot(sd, tau)) for y, sd in zip(seen, error, strict=True))

    share, mu, tau, (centre, spread) = on_a_grid(likely)
    assert pooled.taught.all()
    assert pooled.centre.mean() == pytest.approx(centre[0], abs=0.2 * centre[1])
    assert pooled.centre.std() == pytest.approx(centre[1], rel=0.25)
    assert pooled.spread.mean() == pytest.approx(spread[0], abs=0.25 * spread[1])
    assert pooled.spread.std() == pytest.approx(spread[1], rel=0.3)
    for b in range(len(taught)):
        weight = 1 / (1 + (error[b] / tau) ** 2)
        exact = (share * (weight * seen[b] + (1 - weight) * mu)).sum()
        assert pooled.means[b, 0] == pytest.approx(exact, abs=0.03)


def test_four_buildings_with_counts_agree_with_their_joint_posterior():
    """Poisson counts and Gamma priors, as the rates of a fit have them; the joint answer by quadrature."""
    rng = np.random.default_rng(5)
    rate = RATES["wall"]
    quantity = Quantity("wall", float(np.log(rate.central)), float(np.log(rate.high / rate.low) / 3.29))
    shape, scale = (part[list(RATES).index("wall")] for part in rate_priors())
    counts, exposed = np.array([14, 30, 9, 22]), np.array([700.0, 1300.0, 600.0, 900.0])
    points = np.linspace(quantity.centre - 4, quantity.centre + 4, 201)
    taught = []
    for n, e in zip(counts, exposed, strict=True):
        theta = rng.gamma(shape + n, 1 / (scale + e), 20_000)
        about = moments_under_rate(np.log(theta), shape, scale)
        log = np.log(theta)
        taught.append(Taught(f"{n}", *(np.array([x]) for x in (log.mean(), [log.var()], *about, 20_000.0))))
    pooled = pool([quantity], taught, steps=4000)

    def likely(mu, tau):
        total = np.zeros_like(mu)
        for n, e in zip(counts, exposed, strict=True):
            log_like = n * points - e * np.exp(points)
            parts = stats.norm.logpdf(points, mu[..., None], tau[..., None]) + log_like
            total += np.logaddexp.reduce(parts, axis=-1)
        return total

    *_, (centre, spread) = on_a_grid(likely, quantity.centre, quantity.width, fine=70)
    assert pooled.centre.mean() == pytest.approx(centre[0], abs=0.25 * centre[1])
    assert pooled.centre.std() == pytest.approx(centre[1], rel=0.3)
    assert pooled.spread.mean() == pytest.approx(spread[0], abs=0.3 * spread[1])


def _spread_log(tau, phi, mu):
    """Log density of spreads given all else, with the step of their logarithm."""
    off = ((phi - mu) ** 2).sum(axis=0)
    return (1 - len(phi)) * np.log(tau) - off / (2 * tau**2) - tau**2 / (2 * SPREAD_SHARE)


def test_quantities_that_a_log_confuses_are_weighed_together():
    """Two rates of which a log knows the sum well, against a Gibbs sampler over all buildings at once."""
    rng = np.random.default_rng(6)
    number, between = 8, np.array([0.3, 0.3])
    truth = np.array([0.6, -0.5]) + between * rng.standard_normal((number, 2))
    form = np.array([[9.0, 7.5], [7.5, 9.0]])
    cover = np.linalg.inv(form)
    seen = np.array([rng.multivariate_normal(t, cover) for t in truth])
    quantities = [Quantity("a", 0.0, WIDE), Quantity("b", 0.0, WIDE)]
    taught = [building(f"b{k}", form, y, [0.0, 0.0], [WIDE, WIDE]) for k, y in enumerate(seen)]
    pooled = pool(quantities, taught, steps=4000)
    assert pooled.taught.all()

    mu, tau, phi, kept = np.zeros(2), np.full(2, 0.5), seen.copy(), []
    for _ in range(6000):
        precision = form + np.diag(tau**-2)
        cov = np.linalg.inv(precision)
        phi = (cov @ (form @ seen.T + (mu / tau**2)[:, None])).T
        phi += rng.standard_normal((number, 2)) @ np.linalg.cholesky(cov).T
        v = 1 / (number / tau**2 + 1 / CENTRE_SHARE)
        mu = v * phi.sum(axis=0) / tau**2 + v**0.5 * rng.standard_normal(2)
        new = tau * np.exp(0.5 * rng.standard_normal(2))
        odds = _spread_log(new, phi, mu) - _spread_log(tau, phi, mu)
        taken = (new > LEAST_SPREAD) & (new < MOST_SPREAD) & (np.log(rng.random(2)) < odds)
        tau = np.where(taken, new, tau)
        kept.append((*mu, *tau))
    exact = np.array(kept[1000:])
    ours = np.concatenate([pooled.centre, pooled.spread], axis=1)
    sd = exact.std(axis=0)
    assert np.all(np.abs(ours.mean(axis=0) - exact.mean(axis=0)) < 0.4 * sd)
    assert ours.std(axis=0) == pytest.approx(sd, rel=0.35)


def test_before_any_building_is_known_a_firm_is_believed_what_the_literature_says():
    quantities = quantities_of(["brief-visual", "interceptors"])
    middle, width = (np.array([getattr(one, name) for one in quantities]) for name in ("centre", "width"))
    number = len(quantities)
    silent = [building(f"b{k}", np.zeros((number, number)), middle, middle, width, 500.0) for k in range(40)]
    # Draws are few: a log that says nothing seems to say a little, this way and that.
    rng = np.random.default_rng(1)
    noisy = [
        replace(
            one,
            mean=one.mean + (off := width * rng.standard_normal(number) / 500**0.5),
            slope=-off / width**2,
            covariance=one.covariance
            * (1 + rng.standard_normal(number)[:, None] * np.eye(number) / 250**0.5),
        )
        for one in silent
    ]
    assert pool(quantities, noisy).next_building == {}, (
        "nothing counts as taught, and nothing is believed anew"
    )
    for one, centre, spread in zip(quantities, *_moments(pool(quantities, silent, steps=2000)), strict=True):
        assert centre[0] == pytest.approx(one.centre, abs=0.15 * one.width)
        assert np.hypot(centre[1], spread) == pytest.approx(one.width, rel=0.15)


def _moments(pooled):
    """Return mean and sd of each centre, and the root mean square of each spread."""
    centres = [(c.mean(), c.std()) for c in pooled.centre.T]
    return centres, [(s**2).mean() ** 0.5 for s in pooled.spread.T]


def test_the_more_buildings_agree_the_surer_one_more_is_and_one_apart_is_named():
    rng = np.random.default_rng(8)
    widths = []
    for number in (6, 60):
        truth = 1.0 + 0.2 * rng.standard_normal(number)
        error = np.full(number, 0.4)
        quantity, taught = normal_buildings(truth + error * rng.standard_normal(number), error)
        pooled = pool([quantity], taught, steps=600)
        mean, width = pooled.next_building["q"]
        assert mean == pytest.approx(1.0, abs=0.35)
        widths.append(width)
        assert departing(pooled, {one.key: one for one in taught}) == ()
    assert widths[1] < widths[0]
    truth[7] = 4.0
    quantity, taught = normal_buildings(truth + 0.1 * rng.standard_normal(60), error)
    apart = departing(pool([quantity], taught, steps=600), {one.key: one for one in taught})
    assert [one.key for one in apart] == ["b7"]
    assert apart[0].factor > 5.0


def test_what_a_building_lacks_teaches_nothing():
    quantities = [Quantity("q", 0.0, WIDE), Quantity("rare", 0.0, WIDE)]
    form = np.eye(2) / 0.3**2
    made = [building(f"b{k}", form, [1.0, 1.0], [0.0, 0.0], [WIDE, WIDE]) for k in range(8)]
    lacks = np.array([np.nan, np.nan])
    for k in range(4, 8):
        mean, cover = made[k].mean.copy(), made[k].covariance.copy()
        mean[1], cover[1], cover[:, 1] = np.nan, lacks, lacks
        made[k] = replace(made[k], mean=mean, covariance=cover)
    told = pool(quantities, made).next_building
    assert told["q"][1] < told["rare"][1]
    assert told["rare"][0] == pytest.approx(1.0, abs=0.4)


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
    assert dynamics.rate_priors[0][0] == usual.rate_priors[0][0], "what nobody taught stays general"
    believed = believed_of(["brief-visual", "interceptors"], dynamics.believed)
    assert (believed["share:never"], believed["odds:brief-visual"]) == ((6.0, 14.0), (-0.5, 0.2))
    assert believed["odds:interceptors"] == believed_of(["interceptors"])["odds:interceptors"]
