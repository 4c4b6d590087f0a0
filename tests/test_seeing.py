"""Who reports, finds and resists: steps against the model and enumeration, and the rules of reading looks.

Gates as in ``test_geweke`` and ``test_sampler``: fixed seeds, |z| < 4; what is broken is seen.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import replace

import enumeration as exact
import numpy as np
import pytest
from posterior_buildings import PAIR, contacts, mean_and_error, row, strong

from proofs import joint_seeing
from spread.posterior import arrays, seeing_steps
from spread.posterior.chain import Learning, new_kept, new_sums, run
from spread.posterior.dynamics import LEVELS
from spread.posterior.looks import last_looks, look_likelihood
from spread.posterior.seeing import (
    FACTORS,
    FIRST_ODDS,
    HEAVY,
    ODDS,
    OF_NOTHING,
    REPORTED,
    SILENT,
    first_tail,
    resisting,
)
from spread.records.repeats import repeats


@functools.cache
def plain():
    made = joint_seeing.scene()
    return made, joint_seeing.from_the_model(made, 20_000, np.random.default_rng(1))


@pytest.mark.slow
def test_chain_and_model_agree_in_everything_that_is_learned():
    made, model = plain()
    z = joint_seeing.z_values(joint_seeing.from_the_chain(made, cycles=10_000, chains=2, seed=2), model)
    assert {name: value for name, value in z.items() if abs(value) >= 4} == {}


def deaf_to_flags(m, s, g, tail, rng):
    """The steps of the product, but every treated unit is taken for one that does not resist."""
    seeing_steps.draw_seeing(m, s, g, tail, rng)
    m.treated[:] = np.where(m.treated < 0, -1, m.treated % g.kinds)


def taking_all_for_nothing(m, s, g, tail, rng):
    """The steps of the product, but complaints of infested units count as complaints of nothing, too."""
    seeing_steps.draw_seeing(m, s, g, tail, rng)
    chance = np.minimum(g.report[0] * ODDS, 0.9)
    said = (g.silence == REPORTED).sum()
    logs = g.nothing_prior + said * np.log(chance) + (g.silence == SILENT).sum() * np.log(1.0 - chance)
    share = np.exp(logs - logs.max())
    tail[OF_NOTHING] = rng.choice(ODDS, p=share / share.sum())


@pytest.mark.slow
@pytest.mark.parametrize("draw", [deaf_to_flags, taking_all_for_nothing])
def test_a_wrong_step_is_caught(draw):
    made, model = plain()
    chain = joint_seeing.from_the_chain(made, cycles=3000, chains=2, seed=2, draw=draw)
    z = joint_seeing.z_values(chain, model)
    assert max(abs(value) for value in z.values() if np.isfinite(value)) > 6


# Two units, everything summed: the paths by enumeration, flags and grid points one by one.

TWO = replace(
    PAIR,
    network=contacts("AB", [("A", "B", "wall", 1.0)]),
    dynamics=strong(rate=0.4, mixing=0.0, brought_in=0.05, prevalence=0.3),
    records=(
        row(6, "B", "report"),
        row(5, "A", "inspection", "brief-visual", "no", by="T1"),
        row(4, "B", "inspection", "brief-visual", "yes", level="moderate", evidence="live", by="T1"),
        row(4, "B", "treatment", "whole-room-heat"),
        row(3, "B", "inspection", "brief-visual", "yes", level="low", evidence="live", by="T1"),
        row(2, "A", "inspection", "dog", "yes", evidence="alert", by="K9"),
        row(1, "A", "inspection", "dog", "yes", evidence="alert", by="K9"),
    ),
    weeks=8,
)
HEAVIES, WHOSE, TEAMS, NOTHINGS = (3, 9, 15), (4, 8, 13), (8, 14), (6, 13)
"""Points of the grids that the prior of this test leaves."""


def only(points, size, weights):
    logs = np.full(size, -1e9)
    logs[list(points)] = np.log(weights)
    return logs


def two_and_prior():
    evidence = TWO.evidence()
    g = evidence.seeing
    light, one = only((8,), len(FACTORS), [1.0]), only((8,), len(ODDS), [1.0])
    who = only(WHOSE, len(ODDS), [0.3, 0.4, 0.3])
    return evidence, g._replace(
        report=np.minimum(g.report * 8.0, 0.5),
        factor_prior=np.stack([light, only(HEAVIES, len(FACTORS), [0.4, 0.3, 0.3])]),
        nothing_prior=only(NOTHINGS, len(ODDS), [0.6, 0.4]),
        shares=np.array([[1.0, 2.0], [1.0, 3.0], [3e7, 7e7]]),
        method_prior=np.stack([one, one]),
        people_prior=np.stack([who] * len(g.people_prior)),
        team_prior=only(TEAMS, len(ODDS), [0.5, 0.5]),
    )


def likelihood_at(g, evidence, never, heavy, who, team, nothing):
    """Written down from the model: reports by unit and level, looks by person, false alerts by team."""
    out = g.static.copy()
    for i, t in itertools.product(range(2), range(evidence.shape[1])):
        factor = np.array([0.0, FACTORS[8], FACTORS[8], heavy, heavy])
        chance = np.minimum(g.report * factor, 0.9) * (0.02 if never[i] else 1.0)
        chance[0] = min(g.report[0] * nothing, 0.9)
        if g.silence[i, t] == 1:
            out[i, t] *= 1.0 - chance
        elif g.silence[i, t] == 2:
            out[i, t] *= chance
    for k, (i, t) in enumerate(zip(g.look_unit, g.look_week, strict=True)):
        dog = g.look_team[k] >= 0
        # Both people are of one prior here: T1 by ``who[0]``, the handler K9 by ``who[1]``.
        odds = np.full(LEVELS, who[0] if dog else who[1])
        odds[0] = team if dog else 1.0
        found = odds * g.look_chance[k] / (1.0 - g.look_chance[k] + odds * g.look_chance[k])
        copied, before = g.look_copied[k]
        found = (1.0 - copied) * found + copied * before
        share, rest = g.look_parts[k].T
        yes, no = np.maximum(found * share, g.floor) * rest, np.maximum((1.0 - found) * share, g.floor)
        out[i, t] *= yes if g.look_found[k] else no
    return np.maximum(out, 1e-12 * out.max(axis=2, keepdims=True))


def flags_chance(flags, a, b):
    """P(two flags) with a share of prior Beta(a, b) integrated out."""
    yes = sum(flags)
    return {0: b * (b + 1), 1: a * b, 2: a * (a + 1)}[yes] / ((a + b) * (a + b + 1))


def by_summing():
    """Weekly chances, and means of: heavy factor, who, team, of nothing, never of each, resist of B."""
    evidence, g = two_and_prior()
    effects = resisting(evidence.effects)
    weights, weekly, values = [], [], []
    for h, p, q, d, z in itertools.product(HEAVIES, WHOSE, WHOSE, TEAMS, NOTHINGS):
        for never in itertools.product((0, 1), repeat=2):
            odds = (ODDS[p], ODDS[q]), ODDS[d], ODDS[z]
            likelihood = likelihood_at(g, evidence, never, FACTORS[h], *odds)
            for resist in itertools.product((0, 1), repeat=2):
                treated = np.where(
                    evidence.treated < 0, -1, evidence.treated + np.array(resist)[:, None] * g.kinds
                )
                at = replace(evidence, likelihood=likelihood, treated=treated, effects=effects)
                solved = exact.solve(TWO.network, TWO.dynamics, at)
                prior = g.factor_prior[1, h] + g.people_prior[0, p] + g.people_prior[0, q] + g.team_prior[d]
                prior += g.nothing_prior[z] + np.log(flags_chance(never, 1.0, 2.0))
                prior += np.log(flags_chance(resist, 1.0, 3.0))
                weights.append(prior + solved.log_evidence)
                weekly.append(1 - solved.levels[:, :, 0].ravel())
                values.append([FACTORS[h], ODDS[p], ODDS[q], ODDS[d], ODDS[z], *never, resist[1]])
    w = np.exp(np.array(weights) - max(weights))
    w /= w.sum()
    return w @ np.array(weekly), w @ np.array(values)


@pytest.mark.slow
def test_two_units_equal_the_sum_over_paths_flags_and_grid_points():
    evidence, g = two_and_prior()
    weekly, values = by_summing()
    model = arrays.assemble(TWO.network, TWO.dynamics, evidence)._replace(effects=resisting(evidence.effects))
    n, t = evidence.shape
    rates = TWO.dynamics.theta
    # Rates that hardly move: Gamma priors as narrow as this are points.
    learning = Learning(np.full(len(rates), 1e10), 1e10 / np.maximum(rates, 1e-12), g)
    infested, kept_values = [], []
    for c in range(2):
        rng = np.random.default_rng([3, c])
        own = model._replace(**{name: part.copy() for name, part in model._asdict().items()})
        state = arrays.new_state(own, np.zeros((n, t), dtype=np.int8))
        theta = np.concatenate([rates, first_tail(g)])
        for batch in range(-5, 300):
            sums, kept = new_sums(own, n, t), new_kept(100, n, t, len(theta))
            run(own, state, theta, learning, rng, sums, kept)
            if batch < 0:
                continue
            infested.append(sums.infested.ravel() / 100)
            tail = kept.theta[:, len(rates) :].mean(axis=0)
            odds = tail[FIRST_ODDS : -2 * n]
            kept_values.append([tail[HEAVY], *odds[2:5], tail[OF_NOTHING], *tail[-2 * n : -n], tail[-1]])
    for found, truth, cap in ((infested, weekly, 0.01), (kept_values, values, 0.05)):
        mean, error = mean_and_error(np.array(found).reshape(2, 300, -1))
        assert np.abs(mean - truth).max() < cap
        # What one draw in 100,000 has may be in none of the 60,000.
        assert np.all(np.abs(mean - truth) < 4 * np.maximum(error, 5e-6))
    assert np.all(np.abs(values - [np.mean(FACTORS[list(HEAVIES)]), 1, 1, 1, 1, 1 / 3, 1 / 3, 1 / 4]) > 0.005)


# Looks are not independent, and a row written twice is one.


def again(days, **more):
    first = row(1, "A", "inspection", "brief-visual", "no", by="T1")
    return first, row(1, "A", "inspection", "brief-visual", "no", **{"by": "T1", "day": -days, **more})


@pytest.mark.parametrize(
    ("days", "by", "least", "most"),
    [
        (0, "T1", 0.0, 0.25),
        (0, "T2", 0.0, 0.25),
        (7, "T1", 0.5, 0.7),
        (7, "T2", 1.0, 1.0),
        (20, "T1", 1.0, 1.0),
    ],
)
def test_a_clear_look_soon_after_another_says_less(days, by, least, most):
    """In log odds of a heavy unit against a clear one, as a share of what a fresh look says."""
    first, second = again(days, by=by)
    fresh = np.log(look_likelihood(second, treated_before=False))
    shared = np.log(
        look_likelihood(second, treated_before=False, last=last_looks([first, second]).get(second.id))
    )
    share = (shared[2] - shared[0]) / (fresh[2] - fresh[0])
    assert least <= share <= most


def test_two_looks_that_share_their_misses_are_still_chances():
    """Yes, no and unsure of the second look add up to one, whatever the first found."""
    for before in ("yes", "no"):
        first, second = again(0, by="T2")
        first = replace(first, found=before)
        total = sum(
            look_likelihood(replace(second, found=found), treated_before=False, last=first)
            for found in ("yes", "no", "unsure")
        )
        np.testing.assert_allclose(total, 1.0, atol=0.003)  # the floor adds a little


def test_a_treatment_between_two_looks_makes_the_second_fresh():
    first, second = again(7)
    treated = row(1, "A", "treatment", "spray", day=-3)
    assert last_looks([first, treated, second]) == {}
    assert last_looks([first, second]) == {second.id: first}


def test_one_clear_look_written_down_four_times_counts_once():
    finds = (row(3, "A", "inspection", "brief-visual", "yes", evidence="live", level="low", by="T1"),)
    clear = [row(0, "A", "inspection", "thorough-visual", "no", by="T2", note=f"copy {k}") for k in range(4)]
    once, four = (replace(TWO, records=finds + tuple(clear[:k])).evidence() for k in (1, 4))
    np.testing.assert_array_equal(once.likelihood, four.likelihood)
    assert repeats(clear) == {one.id: clear[0].id for one in clear[1:]}


def test_rows_that_differ_in_more_than_id_and_note_are_kept():
    rows = [
        row(0, "A", "inspection", "brief-visual", "no", by="T1"),
        row(0, "A", "inspection", "brief-visual", "no", by="T2"),
        row(0, "B", "inspection", "brief-visual", "no", by="T1"),
        row(0, "A", "no-access", "nobody-home"),
        row(0, "A", "no-access", "nobody-home"),
        row(0, "A", "note"),
        row(0, "A", "note"),
    ]
    assert repeats(rows) == {}


# What vacancy does to the rates.


def test_a_vacant_unit_is_exposed_to_its_neighbours_by_its_openness():
    """The exposure that divides the arrivals counts an empty unit for as much as pressure reaches it."""
    from spread.posterior import rates

    moves = row(7, "A", "turnover", "moved-out"), row(3, "A", "turnover", "moved-in")
    building = replace(TWO, records=moves)
    evidence = replace(building.evidence(), openness=np.full((2, 8), 1.0), export=np.full((2, 8), 1.0))
    evidence.openness[0] = 0.25
    evidence.export[1, 3:] = 1.5
    model = arrays.assemble(building.network, building.dynamics, evidence)
    path = np.array([[0, 0, 0, 0, 0, 2, 2, 2], [0, 4, 4, 4, 3, 3, 0, 0]], dtype=np.int8)
    out = np.empty(len(building.dynamics.theta))
    rates.exposures(model, arrays.new_state(model, path), out)
    kappa = building.dynamics.shedding
    # A is clear in weeks 0 to 4, beside B at levels 0, 4, 4, 4, 3; it sheds on B while B is clear, in week 6.
    on_a = 0.25 * (kappa[4] * 2 + 1.5 * kappa[4] + 1.5 * kappa[3])
    on_b = kappa[2]
    assert out[0] == 5 + 2  # unit-weeks: from outside every clear one counts whole
    assert out[2] == pytest.approx(on_a + on_b)
    assert out[1] == pytest.approx((on_a + on_b) / 2)
    assert out[-1] == pytest.approx(1)  # the one move-in, into a clear unit
