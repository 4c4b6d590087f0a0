"""How an answer at one door moves every door at once, against exact answers of the longer log."""

from __future__ import annotations

import datetime as dt
import functools
from dataclasses import replace

import enumeration as exact
import numpy as np
import pytest
from posterior_buildings import CENTRAL, ON, PAIR, SMALL, SPARSE, TANGLE, TURNED, contacts, row, z_scores

from spread.posterior.diagnostics import effective_size
from spread.posterior.draws import REFIT_BELOW
from spread.posterior.dynamics import LEVELS
from spread.posterior.fit import FitSettings, fit
from spread.posterior.growing import grow
from spread.posterior.looks import last_looks, look_likelihood
from spread.posterior.observations import Conditions
from spread.trade.treatment import effect_matrix

CHAINS, SWEEPS = 4, 10_000
AWAY = ON + dt.timedelta(days=7)


@functools.cache
def fitted(name):
    building = next(b for b in SMALL if b.name == name)
    return fit(
        building.network,
        building.records,
        building.dynamics,
        on=building.on,
        settings=FitSettings(
            learn=False, weeks=building.weeks, chains=CHAINS, sweeps=SWEEPS, most_sweeps=SWEEPS, seed=9
        ),
    )


def error_of(before, after, truth):
    """Monte Carlo error of each level's weighted mean: weights and correlation both cost draws.

    Where next to no draw holds a level, what is true says how far a count can stray.
    """
    w = after.weights[:, None]
    errors = np.empty_like(after.levels)
    for a in range(LEVELS):
        hit = after.draws == a
        plain = np.sqrt((w**2 * (hit - after.levels[:, a]) ** 2).sum(axis=0))
        plain = np.maximum(plain, np.sqrt((w**2).sum() * truth[:, a] * (1 - truth[:, a])))
        series = (before.draws == a).reshape(CHAINS, SWEEPS, -1).astype(float)
        sticky = CHAINS * SWEEPS / np.minimum(effective_size(series), CHAINS * SWEEPS)
        errors[:, a] = plain * np.sqrt(sticky.max())
    return errors


def agrees(before, after, truth):
    assert np.abs(after.levels - truth).max() < 0.03
    assert z_scores(after.levels, error_of(before, after, truth), truth).max() < 4


ANSWERS = {
    "found live bugs": ("inspection", "thorough-visual", "yes", {"evidence": "live"}),
    "found, low": ("inspection", "brief-visual", "yes", {"level": "low", "evidence": "live"}),
    "nothing found": ("inspection", "thorough-visual", "no", {}),
    "unsure": ("inspection", "dog", "unsure", {}),
    "caught nothing": ("monitor", "interceptors", "no", {"days": 28}),
    "a report": ("report", "", "", {}),
    "nobody home": ("no-access", "nobody-home", "", {}),
}


@pytest.mark.parametrize("answer", ANSWERS)
@pytest.mark.parametrize("building", [SPARSE, CENTRAL, TURNED], ids=lambda b: b.name)
def test_an_answer_of_the_same_day_equals_the_exact_answer_of_the_longer_log(building, answer):
    *words, more = ANSWERS[answer]
    record = row(0, "C", *words, **more, by="T1")  # by somebody, or it might repeat a row of the log
    before = fitted(building.name)
    last = last_looks([*building.records, record]).get(record.id)
    after = before.update(record, building.network, building.dynamics, last=last)
    truth = exact.solve(building.network, building.dynamics, building.evidence(record)).levels[:, -1]
    agrees(before, after, truth)
    np.testing.assert_allclose(after.chance, 1 - after.levels[:, 0])
    np.testing.assert_allclose(after.weekly[:, -1], after.chance)
    export = building.evidence().export[:, -1]
    np.testing.assert_allclose(after.shedding[:, -1], after.levels @ building.dynamics.shedding * export)
    np.testing.assert_allclose(after.levels.sum(axis=1), 1.0)


def a_week_on(building, *more):
    """Exact levels seven days later; the week that ended keeps what the fit knew of it (no silence added)."""
    evidence = building.evidence(*more, on=AWAY, weeks=building.weeks + 1)
    likelihood = evidence.likelihood.copy()
    likelihood[:, -2] = building.evidence().likelihood[:, -1]
    heard = exact.solve(building.network, building.dynamics, replace(evidence, likelihood=likelihood))
    return heard.levels[:, -1], exact.solve(building.network, building.dynamics, evidence).levels[:, -1]


@pytest.mark.parametrize("answer", ["found live bugs", "nothing found", "nobody home"])
@pytest.mark.parametrize("building", [PAIR, SPARSE, CENTRAL, TANGLE], ids=lambda b: b.name)
def test_an_answer_a_week_later_equals_the_exact_answer_of_the_longer_log(building, answer):
    *words, more = ANSWERS[answer]
    record = row(-1, "A", *words, **more)
    before = fitted(building.name)
    after = before.update(record, building.network, building.dynamics)
    without_silence, with_silence = a_week_on(building, record)
    agrees(before, after, without_silence)
    # The silent week that a refit would also hear: little, and the reason why a refit follows.
    assert np.abs(without_silence - with_silence).max() < 0.02
    assert after.on == AWAY


def test_an_empty_unit_is_reached_less_and_sheds_by_its_conditions_while_the_draws_live_on():
    """The chance of catching in a week by hand: one minus exp of minus (outside, and openness times push)."""
    dynamics = replace(PAIR.dynamics, vacant_target=0.25, vacant_source=3.0)
    n, many = PAIR.network.size, 40_000
    source, target = 0, 1
    draws = np.zeros((many, n), dtype=np.int8)
    draws[:, source] = 3
    weight = PAIR.network.dense(dynamics.rates)[source, target] + dynamics.mixing / n
    brought_in = np.full(n, dynamics.brought_in)

    def caught(openness, export):
        conditions = Conditions(
            np.zeros(n, bool), brought_in, np.where(np.arange(n) == target, openness, 1.0), np.full(n, export)
        )
        rng = np.random.default_rng(3)
        grown = grow(draws, PAIR.network, dynamics, conditions, days=7, rng=rng)
        return (grown[:, target] > 0).mean()

    push = dynamics.shedding[3] * weight
    seen = {}
    for openness, export in [(1.0, 1.0), (dynamics.vacant_target, 1.0), (1.0, dynamics.vacant_source)]:
        expected = -np.expm1(-(dynamics.brought_in + openness * push * export))
        seen[openness, export] = caught(openness, export)
        error = np.sqrt(expected * (1 - expected) / many)
        assert abs(seen[openness, export] - expected) < 4 * error
    assert len({round(chance, 2) for chance in seen.values()}) == 3, "the three differ by more than noise"


def test_days_that_are_no_whole_week_mix_the_two_weeks():
    """Five days: two draws in seven stand still, five take a weekly step."""
    before = fitted(PAIR.name)
    still = exact.solve(PAIR.network, PAIR.dynamics, PAIR.evidence()).levels[:, -1]
    moved, _ = a_week_on(PAIR)
    grown = grow(before.draws, PAIR.network, PAIR.dynamics, days=5, rng=np.random.default_rng(1))
    levels = np.stack([(grown == a).mean(axis=0) for a in range(LEVELS)], axis=1)
    np.testing.assert_allclose(levels, 2 / 7 * still + 5 / 7 * moved, atol=0.01)
    assert np.abs(still - moved).max() > 0.05


def test_no_time_passes_in_no_days():
    before = fitted(PAIR.name)
    grown = grow(before.draws, PAIR.network, PAIR.dynamics, days=0, rng=np.random.default_rng(1))
    np.testing.assert_array_equal(grown, before.draws)


@pytest.mark.parametrize("method", ["whole-room-heat", "spray"])
def test_a_treatment_moves_the_treated_unit_by_its_effect_and_no_other(method):
    before = fitted(CENTRAL.name)
    after = before.update(row(0, "A", "treatment", method), CENTRAL.network, CENTRAL.dynamics)
    truth = exact.solve(CENTRAL.network, CENTRAL.dynamics, CENTRAL.evidence()).levels[:, -1]
    truth[0] = truth[0] @ effect_matrix(method)
    agrees(before, after, truth)
    np.testing.assert_array_equal(after.draws[:, 1:], before.draws[:, 1:])


def test_a_treated_unit_a_week_on_is_near_the_exact_answer():
    """A fit lets a treatment act after the week's growth, the draws before it: a small difference."""
    record = row(0, "A", "treatment", "whole-room-heat")
    treated = fitted(CENTRAL.name).update(record, CENTRAL.network, CENTRAL.dynamics)
    after = treated.update(row(-1, "B", "note"), CENTRAL.network, CENTRAL.dynamics)
    truth, _ = a_week_on(CENTRAL, record)
    assert np.abs(after.chance - (1 - truth[:, 0])).max() < 0.02
    assert after.chance[0] == pytest.approx(0.3, abs=0.02)


def test_two_treatments_of_one_day_act_one_after_the_other():
    """Heat leaves three units in ten infested (spread.trade.treatment), so twice leaves nine in a hundred."""
    posterior = fitted(CENTRAL.name)
    for _ in range(2):
        posterior = posterior.update(
            row(0, "A", "treatment", "whole-room-heat"), CENTRAL.network, CENTRAL.dynamics
        )
    assert posterior.chance[0] == pytest.approx(0.09, abs=0.01)


# Weights.


def test_the_effective_share_is_what_the_weights_leave():
    """Kish: (sum w)^2 / (K sum w^2)."""
    before = fitted(SPARSE.name)
    assert before.effective_share == pytest.approx(1.0, abs=1e-9)
    look = row(0, "A", "inspection", "thorough-visual", "yes", evidence="live")
    after = before.update(look, SPARSE.network, SPARSE.dynamics)
    like = look_likelihood(look, treated_before=False)[before.draws[:, 0]]
    assert after.effective_share == pytest.approx(like.mean() ** 2 / (like**2).mean(), rel=1e-9)
    assert after.weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert not after.needs_refit


def test_surprises_wear_the_draws_out():
    posterior = fitted(CENTRAL.name)
    assert not posterior.needs_refit
    for unit in "CD":
        look = row(0, unit, "inspection", "thorough-visual", "yes", level="heavy", evidence="live")
        posterior = posterior.update(look, CENTRAL.network, CENTRAL.dynamics)
    assert posterior.effective_share < REFIT_BELOW
    assert posterior.needs_refit


def test_the_order_of_two_answers_of_one_day_changes_nothing():
    a = row(0, "A", "inspection", "brief-visual", "yes", evidence="live")
    b = row(0, "B", "inspection", "dog", "no")
    one, other = (
        functools.reduce(lambda p, r: p.update(r, SPARSE.network, SPARSE.dynamics), rows, fitted(SPARSE.name))
        for rows in ((a, b), (b, a))
    )
    np.testing.assert_allclose(one.levels, other.levels, rtol=0, atol=1e-12)


def test_the_same_answer_twice_from_one_posterior_is_the_same_bit_for_bit():
    record = row(-1, "A", "inspection", "dog", "yes", evidence="alert")
    one, other = (fitted(PAIR.name).update(record, PAIR.network, PAIR.dynamics) for _ in range(2))
    np.testing.assert_array_equal(one.draws, other.draws)
    np.testing.assert_array_equal(one.levels, other.levels)


def test_old_signs_after_a_treatment_count_for_less_in_an_update_too():
    look = row(0, "B", "inspection", "brief-visual", "yes", evidence="stains")
    new, old = (
        fitted(SPARSE.name).update(look, SPARSE.network, SPARSE.dynamics, treated_before=before)
        for before in (False, True)
    )
    assert old.chance[1] < new.chance[1] - 0.05


@pytest.mark.parametrize(
    "record",
    [
        row(1, "A", "inspection", "dog", "yes"),
        replace(row(0, "A", "inspection", "dog", "no"), supersedes="r1"),
    ],
    ids=["an older day", "a correction"],
)
def test_what_weights_cannot_take_in_waits_for_a_refit(record):
    before = fitted(SPARSE.name)
    after = before.update(record, SPARSE.network, SPARSE.dynamics)
    assert after.late
    assert after.needs_refit
    np.testing.assert_array_equal(after.levels, before.levels)
    np.testing.assert_array_equal(after.log_weights, before.log_weights)


def test_a_turnover_waits_for_a_refit_and_stays_late_whatever_follows():
    moved = fitted(SPARSE.name).update(row(0, "A", "turnover"), SPARSE.network, SPARSE.dynamics)
    assert moved.late
    later = moved.update(row(0, "B", "inspection", "dog", "no"), SPARSE.network, SPARSE.dynamics)
    assert later.late


# Summaries.


def test_the_count_now_and_its_band_by_hand():
    """Counts 0 1 2 3 with weights .04 .46 .46 .04: the middle is 1 or more, nine tenths lie from 1 to 2."""
    draws = np.array([[0, 0, 0], [1, 0, 0], [1, 4, 0], [2, 2, 2]], dtype=np.int8)
    posterior = replace(
        fitted(SPARSE.name), draws=draws, log_weights=np.log([0.04, 0.46, 0.46, 0.04]) + 700.0
    )
    low, median, high = posterior.infested_count(0.9)
    assert (low, high) == (1, 2)
    assert median in (1, 2)
    assert posterior.infested_count(0.99) == (0, median, 3)
    np.testing.assert_allclose(posterior.weights, [0.04, 0.46, 0.46, 0.04])


def test_the_trail_starts_every_week_on_its_monday():
    trail = fitted(SPARSE.name).trail("B")
    assert [day for day, _ in trail] == [
        dt.date(2026, 12, 28) - dt.timedelta(weeks=k) for k in range(5, -1, -1)
    ]
    np.testing.assert_array_equal([p for _, p in trail], fitted(SPARSE.name).weekly[1])


def test_an_unknown_unit_is_no_silent_zero():
    alone = replace(SPARSE, network=contacts("C", []))
    with pytest.raises(KeyError):
        fitted(SPARSE.name).update(row(0, "Z", "report"), alone.network, alone.dynamics)
