"""The forward simulator against exact answers.

Outside: the no-spread check is arithmetic on a published introduction rate (0.0004 a unit-week);
the joint chain of three units is enumerated by ``enumeration``, which shares no code with it.
"""

import datetime as dt
import itertools
from dataclasses import replace

import numpy as np
import pytest
from enumeration import unit_step
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.posterior.dynamics import LEVELS, Network, central_dynamics
from spread.posterior.looks import GRADE_OF_NOTHING
from spread.posterior.observations import Evidence
from spread.trade import detection, treatment
from spread.worlds.truth import World, advance, pressure_weights, simulate

CHAIN = Network(
    units=("a", "b", "c"),
    indptr=np.array([0, 1, 3, 4]),
    indices=np.array([1, 0, 2, 1]),
    exposure=np.array([[1.0, 0, 0, 0, 0], [1.0, 0, 0, 0, 0], [0, 0, 0, 0.5, 0], [0, 0, 0, 0.5, 0]]),
)
"""Unit a beside b (a wall), b across from c (half an exposure of hallway)."""


def lively(**changes):
    """Rates a hundred times the usual, so that a few weeks tell wrong from right."""
    usual = central_dynamics()
    return replace(usual, rates=usual.rates * 60, brought_in=0.03, mixing=0.3, **changes)


def alone(units=400):
    names, none = tuple(map(str, range(units))), np.zeros(0, dtype=np.int64)
    return Network(names, np.zeros(units + 1, dtype=np.int64), none, np.zeros((0, 5)))


def test_without_spread_a_year_of_introductions_infests_the_share_that_arithmetic_says():
    # 1 - exp(-52 x 0.0004) = 0.0206: facts on spread, section 11; the rate is PLoS ONE 11:e0117805's range.
    usual = central_dynamics(prevalence=0.0)
    grown = np.stack([np.eye(LEVELS)] * 2)
    quiet = replace(usual, rates=usual.rates * 0, mixing=0.0, brought_in=0.0004, growth=grown)
    levels = simulate(alone(), quiet, weeks=53, rng=np.random.default_rng(1), replicates=250)
    share, exact = (levels[:, :, -1] > 0).mean(), 1 - np.exp(-0.0208)
    assert abs(share - exact) < 4 * np.sqrt(exact * (1 - exact) / levels[:, :, -1].size)
    assert (levels[:, :, 0] == 0).all()


def episode():
    """Five weeks in which everything happens: a vacancy, a move-in and a treatment."""
    d = lively(prevalence=0.5)
    shape = (3, 5)
    vacant = np.zeros(shape, dtype=bool)
    vacant[0, 1:3] = True
    introduction = np.full(shape, d.brought_in)
    introduction[0, 3] += d.move_in
    treated = np.full(shape, -1)
    treated[1, 2] = 0
    return d, Evidence(
        first_week=0,
        likelihood=np.ones((*shape, LEVELS)),
        treated=treated,
        effects=treatment.effect_matrix("steam-dust-encase")[None],
        vacant=vacant,
        introduction=introduction,
        openness=np.where(vacant, d.vacant_target, 1.0),
        export=np.where(vacant, d.vacant_source, 1.0),
    )


def exact_joint(d, e):
    """Push the joint distribution of all 125 states forward, week by week."""
    states = np.array(list(itertools.product(range(LEVELS), repeat=3)))
    weights = pressure_weights(CHAIN, d)
    now = np.prod(d.start[states], axis=1)
    for t in range(e.shape[1] - 1):
        after = np.zeros_like(now)
        for chance, state in zip(now, states, strict=True):
            push = (d.shedding[state] * e.export[:, t]) @ weights
            rows = [unit_step(d, e, i, t, push[i])[state[i]] for i in range(3)]
            after += chance * rows[0][states[:, 0]] * rows[1][states[:, 1]] * rows[2][states[:, 2]]
        now = after
    return states, now


def assert_same_distribution(last, d, e):
    """Compare every joint state and every unit's level with the exact chain, at 4.5 standard errors."""
    states, exact = exact_joint(d, e)
    number = len(last)
    code = last @ np.array([LEVELS**2, LEVELS, 1])
    seen = np.bincount(code, minlength=len(states)) / number
    assert np.all(np.abs(seen - exact) < 4.5 * np.sqrt(exact * (1 - exact) / number) + 2 / number)
    for i in range(3):
        for level in range(LEVELS):
            want = exact[states[:, i] == level].sum()
            got = (last[:, i] == level).mean()
            assert abs(got - want) < 4.5 * np.sqrt(want * (1 - want) / number), (i, level, got, want)


def test_three_units_through_vacancy_moving_in_and_treatment_match_the_enumerated_chain():
    d, e = episode()
    levels = simulate(
        CHAIN,
        d,
        weeks=5,
        rng=np.random.default_rng(2),
        replicates=60_000,
        introduction=e.introduction,
        openness=e.openness,
        export=e.export,
        vacant=e.vacant,
        treated=e.treated,
        effects=e.effects,
    )
    assert_same_distribution(levels[:, :, -1].astype(int), d, e)


@pytest.mark.slow
def test_a_world_lived_week_by_week_matches_the_same_chain():
    d, e = episode()
    last = []
    for rng in np.random.default_rng(3).spawn(2500):
        world = World(CHAIN, d, rng=rng)
        world.step()
        world.move_out("a")
        world.step()
        world.treat("b", "steam-dust-encase")
        world.step()
        world.move_in("a")
        world.step()
        last.append(world.levels)
    assert_same_distribution(np.array(last, dtype=int), d, e)


def test_ending_by_a_hazard_frees_units_at_that_rate():
    usual = central_dynamics(prevalence=1.0)
    grown = np.stack([np.eye(LEVELS)] * 2)
    still = replace(usual, growth=grown, rates=usual.rates * 0, mixing=0.0, brought_in=1e-12)
    rng = np.random.default_rng(4)
    levels = simulate(alone(), still, weeks=11, rng=rng, replicates=50, end_hazard=1 / 75)
    share, exact = (levels[:, :, -1] > 0).mean(), np.exp(-10 / 75)
    assert abs(share - exact) < 4 * np.sqrt(exact * (1 - exact) / 20_000)


@pytest.mark.parametrize("method", ["brief-visual", "dog", "interceptors"])
def test_looks_find_and_grade_as_often_as_the_tables_say(method):
    number = 1500
    for level in range(LEVELS):
        start = np.full(number, level)
        world = World(alone(number), central_dynamics(), rng=np.random.default_rng(5), start=start)
        looks = [world.look(unit, method) for unit in world.network.units]
        found = [look for look in looks if look.found == "yes"]
        want = detection.sensitivity(method)[level]
        if level == 0:
            want = detection.false_positive(method, found[0].evidence, treated_before=False)
        assert abs(len(found) / number - want) < 4.5 * np.sqrt(want * (1 - want) / number)
        if method != "dog" and len(found) > 100:
            grades = detection.GRADE_GIVEN_LEVEL[level - 1] if level else GRADE_OF_NOTHING
            heavy = np.mean([look.level == "heavy" for look in found])
            assert abs(heavy - grades[3]) < 4.5 * np.sqrt(grades[3] * (1 - grades[3]) / len(found))


def test_residents_report_as_often_as_the_table_says():
    number = 20_000
    world = World(alone(10), central_dynamics(), rng=np.random.default_rng(6), start=np.full(10, 4))
    frozen = world.levels.copy()
    count = 0
    for _ in range(number // 10):
        count += len(world.reports())
        world.step()
        world.levels = frozen.copy()
    want = detection.report_chance()[4]
    assert abs(count / number - want) < 4.5 * np.sqrt(want * (1 - want) / number)


def test_two_programmes_that_start_alike_meet_the_same_luck():
    network = alone(50)
    one, two = (World(network, lively(prevalence=0.3), rng=np.random.default_rng(7)) for _ in range(2))
    for week in range(6):
        assert (one.levels == two.levels).all()
        for unit in network.units[: 5 * week]:
            one.look(unit, "dog")  # whatever one looks at does not change what happens to two
        last = network.units[-1]
        assert one.look(last, "interceptors") == two.look(last, "interceptors")
        assert one.reports() == two.reports()
        one.step()
        two.step()
    one.treat("0", "whole-room-heat")
    one.step()
    two.step()
    assert (one.levels[1:] == two.levels[1:]).all()


def test_a_record_of_a_look_says_when_where_and_how():
    world = World(alone(3), central_dynamics(), rng=np.random.default_rng(8), start=np.array([4, 4, 4]))
    look = world.look("1", "interceptors", when=dt.date(2026, 11, 20), id="r7", days=14, by="T1")
    assert (look.id, look.unit, look.kind) == ("r7", "1", "monitor")
    assert (look.method, look.days, look.by) == ("interceptors", 14, "T1")


@given(st.lists(st.integers(0, 4), min_size=3, max_size=3), st.integers(0, 2), st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_a_heavier_neighbour_never_saves_a_clear_unit_under_the_same_luck(levels, which, seed):
    d = lively()
    weights = pressure_weights(CHAIN, d)
    rng = np.random.default_rng(seed)
    luck = {"spread_luck": rng.random((1, 3)), "growth_luck": rng.random((1, 3))}
    fixed = {"introduction": d.brought_in, "openness": 1.0, "export": 1.0, "vacant": None}
    lighter = np.array([levels], dtype=np.int8)
    heavier = lighter.copy()
    heavier[0, which] = 4
    before = advance(lighter, weights, d, **fixed, **luck)
    after = advance(heavier, weights, d, **fixed, **luck)
    others = [i for i in range(3) if i != which]
    assert (after[0, others] >= before[0, others]).all()


@pytest.mark.parametrize(("after_days", "sees"), [(0, "no difference"), (2, "the work")])
def test_a_look_later_in_the_week_sees_what_a_treatment_did_and_a_look_on_its_day_does_not(after_days, sees):
    """As the log is read: spread.posterior.observations moves a treatment before a later look."""
    network = alone(400)
    world = World(
        network, central_dynamics(), rng=np.random.default_rng(5), start=np.full(400, 2, dtype=np.int8)
    )
    monday = dt.date.fromordinal(1)
    for unit in network.units:
        world.treat(unit, "whole-room-heat", when=monday)
        world.look(unit, "thorough-visual", when=monday + dt.timedelta(days=after_days))
    share = (world.levels == 0).mean()
    assert share == (0.0 if sees == "no difference" else pytest.approx(0.70, abs=0.07))  # treatment.py, heat
    world.step()
    assert (world.levels == 0).mean() == pytest.approx(0.70, abs=0.1)  # acted once, not twice
    assert (world.ended == 0).mean() == share
