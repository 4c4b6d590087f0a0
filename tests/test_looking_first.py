"""What a look at every unit is worth before a programme is chosen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spread.programmes.begin import begin_of
from spread.programmes.choice import choice_of, weighed_of
from spread.programmes.looking_first import METHOD, chance_here, gains, looking_first, seen_of
from spread.programmes.money import Prices
from spread.programmes.reading import preset
from spread.programmes.run import RunSettings, simulate
from spread.trade.pace import Pace
from spread.words import ENGLISH, Voice, say
from tests.test_programmes_results import seeded_view

MINUS = "\N{MINUS SIGN}"

RUNS = 4000


def toy(rng, *, finds=0.8, noise=0.0):
    """Two states, two actions: leaving costs 100 in the bad half of buildings, acting costs 40 in all.

    Now acting is chosen, for 40. A look finds four in five of the bad ones: after a find acting costs 40,
    after none (0.6 of looks) one in six is bad and leaving costs 16.67. So choosing after it costs 26: it
    saves 14. Knowing the state saves 20.
    """
    bad = np.arange(RUNS) % 2 == 0
    rng.shuffle(bad)
    seen = (bad & (rng.random(RUNS) < finds)).astype(float)[:, None]
    money = {"leave": 100.0 * bad, "act": np.full(RUNS, 40.0)}
    luck = rng.normal(0.0, noise, RUNS) if noise else 0.0
    return {key: row + luck for key, row in money.items()}, seen, bad


@pytest.mark.parametrize("noise", [0.0, 300.0])
def test_two_states_and_two_actions_are_worth_what_they_are_by_hand(noise):
    rng = np.random.default_rng(3)
    money, seen, _ = toy(rng, noise=noise)
    found = looking_first(money, seen, units=10, prices=Prices())
    assert found is not None
    assert abs(found.saves.mean - 14.0) < 3.0 * found.saves.error
    assert found.saves.error < 0.8, "luck that both actions share is in neither"
    assert found.ceiling == pytest.approx(20.0, abs=1e-6)
    assert found.price == 10 * Prices().of_look(METHOD)


def test_a_look_that_says_nothing_is_worth_nothing_but_noise():
    rng = np.random.default_rng(5)
    worth = []
    for _ in range(40):
        money = {key: rng.normal(100.0 + place, 30.0, 200) for place, key in enumerate("abc")}
        found = looking_first(money, rng.poisson(2.0, (200, 2)).astype(float), units=1, prices=Prices())
        assert found is not None
        assert found.saves.mean >= -4.0 * max(found.saves.error, 1e-9)
        worth.append(found.saves.mean)
    error = np.std(worth, ddof=1) / len(worth) ** 0.5
    assert abs(np.mean(worth)) < 3.0 * error, "nothing but luck is left"


def test_no_look_saves_more_than_knowing_every_future_and_a_better_look_saves_more():
    rng = np.random.default_rng(7)
    means = []
    for finds in (0.0, 0.3, 0.8, 1.0):
        money, seen, _ = toy(rng, finds=finds, noise=50.0)
        gain, perfect = gains(money, seen)
        assert (gain <= perfect + 1e-9).all(), "run by run"
        means.append(gain.mean())
    assert means == sorted(means)
    assert means[0] == pytest.approx(0.0)
    assert means[-1] == pytest.approx(20.0, abs=1e-6)


def test_the_chance_for_the_building_itself_is_that_of_the_states_it_may_be_in():
    """Acting is right in the bad half alone, whatever the luck; what is as cheap within reason is right."""
    money, _, bad = toy(np.random.default_rng(9), noise=200.0)
    about = bad.astype(float)[:, None]
    assert chance_here(money, "act", about, 0.8) == 0.5
    assert chance_here(money, "leave", about, 0.8) == 0.5
    assert chance_here(money, "act", about, 41.0) == 1.0
    assert chance_here(money, "act", about[:, :0], 0.8) == 1.0, "in the mean acting is the cheaper"


def test_one_programme_or_few_runs_say_nothing():
    money, seen, _ = toy(np.random.default_rng(1))
    assert looking_first({"act": money["act"]}, seen, units=1, prices=Prices()) is None
    assert looking_first(money, seen[:20], units=1, prices=Prices()) is None


def test_a_building_says_what_looking_first_is_worth():
    view, pace = seeded_view(), Pace()
    done = simulate(view, [preset("complaint"), preset("survey-dog")], RunSettings(26, 60), pace=pace)
    seen = seen_of(view, done, pace=pace)
    begin = begin_of(view, runs=60, seed=1, pace=pace)
    assert seen.shape == (60, 2)
    assert (seen.sum(axis=1) <= view.network.size).all()
    infested = (begin.levels > 0).sum(axis=1)
    assert np.corrcoef(infested, seen.sum(axis=1))[0, 1] > 0.3, "more is found where more is"
    choice = choice_of(done, Prices(loss=20.0), now="complaint", by_week=26, seen=seen)
    looking = choice.looking
    assert looking is not None
    assert looking.saves.mean <= looking.ceiling
    assert choice.here is not None
    assert 0.0 <= choice.here <= 1.0
    told = say(looking, ENGLISH)
    assert told.startswith("Worth of looking first")
    assert ("have treated sooner is not in this" in told) == (looking.pays != "more")
    dear = replace(looking, price=1e9)
    assert dear.pays == "fewer"
    assert "they do not pay for themselves" in say(dear, ENGLISH)
    loss = replace(looking, saves=replace(looking.saves, mean=-26.0, error=30.0), price=500.0)
    assert "finds would cost US$ 26 more (85 more to 33 less) on average, and the looks" in say(loss, ENGLISH)
    assert "costaría US$ 26 más (" in say(loss, Voice("es"))
    gain = replace(loss, saves=replace(loss.saves, mean=26.0))
    assert f"finds would save US$ +26 ({MINUS}33 to +85) on average" in say(gain, ENGLISH)
    assert choice_of(done, Prices(), now="complaint", by_week=26).looking is None
    bugs = {"a": np.zeros(60), "b": np.ones(60) + np.arange(60)}
    assert set(weighed_of({"a": bugs["a"], "b": bugs["b"]}, bugs, now="a", loss=0.0)) == {"a"}
