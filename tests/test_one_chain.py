"""One chain over a firm's buildings, against fits of each by itself that are weighed by importance."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from spread.building import load_building
from spread.firm.centres import (
    DIFFER_LOG,
    Shared,
    gamma_of,
    of_rates,
    of_shares,
    shift,
    spread_log,
    spreads_of,
)
from spread.firm.house import Member
from spread.firm.one_chain import together
from spread.firm.pooled import quantities_of
from spread.firm.simulated import make_building
from spread.posterior.diagnostics import effective_size
from spread.posterior.dynamics import network_of
from spread.posterior.fit import FitSettings, fit
from spread.posterior.seeing import FACTORS, LIGHT
from spread.session import dynamics_of
from spread.trade.experience import Experience
from spread.trade.priors import RATES
from spread.weeks import monday_of, week_of

LAST = week_of(dt.date(2026, 11, 22))
ON = monday_of(LAST) + dt.timedelta(days=6)


@pytest.fixture(scope="module")
def four(tmp_path_factory):
    """Four small buildings."""
    home = tmp_path_factory.mktemp("four")
    for k in range(4):
        make_building(home / f"b{k}", f"B{k}", np.random.default_rng([3, k]), 2, 6, 78, LAST)
    return [load_building(home / f"b{k}") for k in range(4)]


def test_a_gamma_distribution_is_as_wide_as_asked():
    for width in (0.02, 0.1, 0.4, 1.07):
        shape, median = gamma_of(width)
        told = stats.gamma(shape)
        assert np.log(told.ppf(0.95) / told.ppf(0.05)) == pytest.approx(
            2 * stats.norm.ppf(0.95) * width, rel=1e-3
        )
        assert median == pytest.approx(told.ppf(0.5), rel=1e-3)


def weights(name, draws, wide, centres, spreads):
    """Return the log of how much likelier a log is under each centre and spread than under a wide belief."""
    out = np.empty((len(centres), len(spreads)))
    for i, c in enumerate(centres):
        for j, s in enumerate(spreads):
            if name in RATES:
                (k, median), (k0, median0) = gamma_of(s), gamma_of(wide[1])
                logs = stats.gamma.logpdf(draws, k, scale=np.exp(c) / median)
                logs = logs - stats.gamma.logpdf(draws, k0, scale=np.exp(wide[0]) / median0)
            else:
                points = np.log(FACTORS)
                new, old = (-0.5 * ((points - m) / w) ** 2 for m, w in ((c, s), wide))
                ratio = new - np.logaddexp.reduce(new) - old + np.logaddexp.reduce(old)
                logs = np.interp(np.log(draws), points, ratio)
            out[i, j] = np.logaddexp.reduce(logs) - np.log(len(draws))
    return out


@pytest.mark.slow
@pytest.mark.parametrize("name", ["brought in", "report:light"])
def test_four_buildings_in_one_chain_agree_with_fits_of_each_that_are_weighed(four, name):
    quantity = next(one for one in quantities_of(()) if one.name == name)
    wide = (quantity.centre, 1.0)
    centres = quantity.centre + quantity.apart * np.linspace(-3, 3, 41)
    spreads = spreads_of(quantity)
    log = -0.5 * ((centres - quantity.centre) / quantity.apart)[:, None] ** 2
    log = log + np.logaddexp.reduce(spread_log(quantity) + DIFFER_LOG[:, None], axis=0)
    for k, building in enumerate(four):
        taught = Experience(9, ON, {name: wide})
        settings = FitSettings(sweeps=2000, most_sweeps=2000, seed=k, workers=1)
        network = network_of(building.contacts)
        told = fit(
            network, building.log.current, dynamics_of(replace(building, experience=taught)),
            on=ON, settings=settings,
        )  # fmt: skip
        draws = told.rates[:, list(RATES).index(name)] if name in RATES else told.traits.draws[:, LIGHT]
        log = log + weights(name, draws, wide, centres, spreads)
    share = np.exp(log - log.max())
    share /= share.sum()
    mean = (share.sum(axis=1) * centres).sum()
    sd = ((share.sum(axis=1) * centres**2).sum() - mean**2) ** 0.5
    between = (share.sum(axis=0) * spreads).sum()
    members = [Member(f"b{k}", building, k) for k, building in enumerate(four)]
    pooled = together(members, ON, quantities=[quantity], warm=200, kept=2000)
    centre, spread = pooled.centre[:, 0], pooled.spread[:, 0]
    error = centre.std() / effective_size(centre[None, :, None])[0] ** 0.5
    assert error < 0.1 * sd
    assert centre.mean() == pytest.approx(mean, abs=0.2 * sd)
    assert centre.std() == pytest.approx(sd, rel=0.15)
    assert spread.mean() == pytest.approx(between, rel=0.1)
    assert sd < 0.9 * quantity.apart or name != "brought in", "of this the four logs say something"


def test_counts_are_as_likely_as_with_the_buildings_own_rates_and_shares_summed_over():
    table, centres = np.array([gamma_of(s) for s in (0.1, 0.5)]), np.log([0.01, 0.03])
    counts, exposed = np.array([3.0, 0.0, 12.0]), np.array([200.0, 50.0, 400.0])
    ours = of_rates(counts, exposed, table, centres)
    for i, c in enumerate(centres):
        for j, (shape, median) in enumerate(table):
            rate = median / np.exp(c)
            known = stats.nbinom.logpmf(counts, shape, rate / (rate + exposed))
            known = known - stats.poisson.logpmf(counts, exposed) - exposed  # but for what no rate is in
            assert ours[i, j] == pytest.approx(known.sum(), abs=1e-6)
    pairs = np.array([[[2.0, 5.0], [20.0, 50.0]]])
    ours = of_shares(np.array([[3.0, 4.0], [0.0, 6.0]]), pairs)
    for j in range(2):
        known = stats.betabinom.logpmf([3, 0], [7, 6], *pairs[0, j]) - np.log([35.0, 1.0])
        assert ours[0, j] == pytest.approx(known.sum(), abs=1e-6)


def test_centre_and_spread_drawn_in_turn_keep_to_all_points_of_both():
    grid = Shared(next(one for one in quantities_of(()) if one.name == "wall"))
    counts, exposed = [2.0, 0.0, 9.0, 4.0, 30.0], [900.0, 300.0, 700.0, 800.0, 900.0]
    houses = [
        SimpleNamespace(counts=np.full(9, n), exposed=np.full(8, of))
        for n, of in zip(counts, exposed, strict=True)
    ]
    log = grid.around[:, None] + grid.between[3]
    log = log + of_rates(np.array(counts), np.array(exposed), grid.table, grid.centres)
    share = np.exp(log - log.max())
    share /= share.sum()
    rng, met = np.random.default_rng(7), []
    for _ in range(6000):
        grid.draw(houses, 3, rng)
        met.append(grid.at)
    for side, drawn in enumerate(np.array(met[100:]).T):
        chances = share.sum(axis=1 - side)
        points = np.arange(len(chances))
        mean = chances @ points
        sd = (chances @ points**2 - mean**2) ** 0.5
        assert drawn.mean() == pytest.approx(mean, abs=0.1 * sd)
        assert drawn.std() == pytest.approx(sd, rel=0.1)


def test_centres_that_move_with_all_rates_keep_to_their_chances():
    """Two rates that events hardly tell apart, against all points of both grids."""
    rng = np.random.default_rng(4)
    grids = [Shared(one) for one in quantities_of(()) if one.name in ("wall", "floor")]
    theta = np.array([np.exp([-7.0, -6.0, -5.0, -5.3, -7.0, -5.5, -5.5, -4.0])] * 2)
    houses = []
    for k in range(2):
        shares = np.zeros((12, 9))
        shares[:, 0], shares[:, 2:4] = 1.0, rng.uniform(0.0, 4.0, (12, 2))
        worth = np.array([[0.0, 1.0]] * 10 + [[0.7, 0.4]] * 2)
        chain = SimpleNamespace(theta=theta[k].copy())
        exposed = np.array([3000.0, 0.0, 1500.0, 1200.0, 0.0, 0.0, 0.0, 0.0])
        houses.append(SimpleNamespace(chain=chain, rates=8, shares=shares, worth=worth, exposed=exposed))
    first = [grid.at[0] for grid in grids]

    def likely(wall, floor):
        by = np.ones(8)
        by[2:4] = np.exp([(wall - first[0]) * grids[0].step, (floor - first[1]) * grids[1].step])
        total = grids[0].around[wall] + grids[1].around[floor]
        for k, house in enumerate(houses):
            hazard = house.shares[:, :8] @ (theta[k] * by)
            hit = -np.expm1(-hazard)
            total += np.log(hit * house.worth[:, 1] + (1 - hit) * house.worth[:, 0]).sum() + hazard.sum()
            total -= house.exposed @ (theta[k] * by)
        return total

    log = np.array([[likely(i, j) for j in range(0, 121, 3)] for i in range(0, 121, 3)])
    share = np.exp(log - log.max())
    share /= share.sum()
    met = []
    for _ in range(800):
        shift(houses, grids, rng)
        met.append([grid.at[0] for grid in grids])
    met = np.array(met[50:])
    points = np.arange(0, 121, 3)
    for side in range(2):
        chances = share.sum(axis=1 - side)
        mean = chances @ points
        sd = (chances @ points**2 - mean**2) ** 0.5
        assert met[:, side].mean() == pytest.approx(mean, abs=0.2 * sd)
        assert met[:, side].std() == pytest.approx(sd, rel=0.2)
    moved = np.log(houses[0].chain.theta / theta[0])
    assert moved[2] == pytest.approx((grids[0].at[0] - first[0]) * grids[0].step)
    assert moved[0] == pytest.approx(0.0), "what is not shared stays"


def test_buildings_without_a_word_teach_nothing(tmp_path):
    members = []
    for k in range(3):
        home = tmp_path / f"b{k}"
        make_building(home, f"B{k}", np.random.default_rng([3, k]), 2, 4, 4, LAST)
        head = (home / "records.csv").read_text(encoding="utf-8").splitlines()[0]
        (home / "records.csv").write_text(head + "\n", encoding="utf-8")
        members.append(Member(f"b{k}", load_building(home), k))
    pooled = together(members, ON, warm=20, kept=400)
    assert {one.name for one in pooled.quantities} == {one.name for one in quantities_of(())}
    assert pooled.next_building == {}
