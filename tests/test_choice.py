"""The one verdict: what is chosen, how sure, and that no page says it in two ways."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from test_programmes_results import seeded_view

from dashboard.programmes.figures import shown
from spread.programmes import columns as c
from spread.programmes.beside import beside, later, nothing_done
from spread.programmes.books import books_of
from spread.programmes.choice import MATTERS, choice_of, choose
from spread.programmes.drivers import Ran, set_to_ends
from spread.programmes.fees import WEEKS_A_MONTH, Fees, billed
from spread.programmes.flips import flips
from spread.programmes.kept import new_kept
from spread.programmes.money import Prices
from spread.programmes.optimise import Goal, search, survey_intervals
from spread.programmes.reading import preset
from spread.programmes.results import summarise
from spread.programmes.run import Runs, RunSettings, Simulated, simulate
from spread.report.programmes_text import compare_text
from spread.trade.pace import Pace
from spread.words import ENGLISH
from spread.words.choice import choice_lines, names_of
from spread.words.flips import flip_lines

KEYS = ("complaint", "complaint-ring", "complaint-ranked")
DAY = dt.date(2026, 11, 20)


def outcomes(rng, runs=60, units=8, weeks=12):
    """Programmes whose runs are drawn, not simulated: some alike, some apart, some tied."""
    made = []
    base = rng.poisson(30.0, runs)
    for key in KEYS:
        kept = new_kept(runs, weeks, units)
        shift = rng.choice([0, 0, 1, 3, 12])
        for column in range(c.WIDTH):
            kept.counts[:, column] = rng.poisson(0.3, runs)
        kept.counts[:, c.KNOCKS] += base + rng.poisson(2.0 + 4.0 * shift, runs)
        kept.counts[:, c.BUG_WEEKS] = base + rng.poisson(1.0 + rng.choice([0, 0, 2, 9]), runs)
        kept.infested[:] = rng.integers(0, 3, kept.infested.shape)
        made.append(Runs(preset(key), kept))
    return Simulated(tuple(made), RunSettings(weeks, runs), units, runs)


@pytest.mark.parametrize("seed", range(25))
def test_no_page_says_that_two_cannot_be_told_apart_and_that_one_is_cheaper(seed):
    """Random outcomes through command and page: each pair is told in one way, the same everywhere."""
    rng = np.random.default_rng(seed)
    done = outcomes(rng)
    prices = Prices(loss=float(rng.choice([0.0, 4.0])))
    fees = rng.choice([None, Fees(treatment=200.0, visit=15.0)])
    answer = summarise(done, prices, fees=fees)
    choice = choice_of(done, prices, now=KEYS[0], by_week=12, fees=fees)
    names = names_of(answer, ENGLISH)
    verdict = choice_lines(choice, names, ENGLISH)
    page = shown(answer, DAY, choice)
    text = " ".join(compare_text(answer, "Maple", DAY, choice=choice).split())
    assert page["verdict"] == verdict
    assert all(line in text for line in verdict)
    everything = " ".join(
        [text, *verdict, *(part for duel in page["duels"] for part in duel), *page["evens"]]
    )
    assert "cheaper one" not in everything
    for pair in answer.pairs:
        for one in (pair, answer.pair(pair.b, pair.a)):
            told = next(
                d for d in page["duels"] if {names[pair.a], names[pair.b]} <= set(d[0].split(" against "))
            )
            assert ("cannot be told apart" in told[2]) == (one.cost_verdict == "cannot-tell")
            assert ("cannot be told apart" in told[1]) == (one.bug_verdict == "cannot-tell")
    chosen = choice.chosen
    if chosen.reason == "cheapest" and not prices.loss:
        # What surely has more bugs than today is no choice; of the others none may be as cheap.
        others = [key for key in KEYS if key != chosen.key]
        allowed = [k for k in others if k == KEYS[0] or answer.pair(k, KEYS[0]).bug_verdict != "more"]
        assert all(answer.pair(chosen.key, key).cost_verdict == "fewer" for key in allowed)
    for tie in chosen.ties:
        assert answer.pair(chosen.key, tie).bug_verdict == "cannot-tell"


def test_the_cheapest_is_chosen_and_of_those_as_cheap_the_one_with_fewest_bugs():
    rng = np.random.default_rng(1)
    noise = rng.normal(0.0, 1.0, 400)
    money = {
        "a": 100.0 + noise,
        "b": 100.0 + rng.normal(0.0, 1.0, 400),
        "c": 90.0 + noise,
        "d": 120.0 + noise,
    }
    bugs = {"a": 50.0 + noise, "b": 30.0 + noise, "c": 80.0 + noise, "d": 5.0 + noise}
    assert choose(money, bugs).key == "c"
    assert choose(money, bugs).reason == "cheapest"
    without = choose(money, bugs, now="a")
    assert (without.key, without.reason) == ("b", "fewer-bugs"), "more bugs than now is never chosen"
    assert choose(money, bugs, now="a", loss=5.0).key == "d", "a loss that an owner names is weighed"
    alike = {"a": money["a"], "b": money["a"].copy()}
    tie = choose(alike, {"a": noise, "b": noise.copy()})
    assert (tie.reason, tie.ties) == ("tie", ("b",))


def test_the_chance_of_a_right_choice_is_kept():
    """Of many choices of known means, those that say 60 to 90 % or more are right as often."""
    rng = np.random.default_rng(2)
    said, right = [], []
    for _ in range(900):
        truth = dict(zip("abc", 100.0 + rng.normal(0.0, 1.5, 3), strict=True))
        shared = rng.normal(0.0, 20.0, 50)
        money = {key: mean + shared + rng.normal(0.0, 10.0, 50) for key, mean in truth.items()}
        made = choose(money, {key: np.zeros(50) for key in "abc"})
        said.append(made.right)
        right.append(truth[made.key] <= min(truth.values()) + MATTERS * truth[made.key])
    said, right = np.array(said), np.array(right)
    for low, high in ((0.6, 0.9), (0.9, 1.01)):
        there = (said >= low) & (said < high)
        assert there.sum() > 40
        assert right[there].mean() >= said[there].mean() - 3.0 * np.sqrt(0.25 / there.sum())
    assert right.mean() < 0.999, "the case is hard enough to go wrong"


@pytest.fixture(scope="module")
def view():
    return seeded_view()


@pytest.fixture(scope="module")
def done(view):
    return simulate(view, [preset(key) for key in KEYS], RunSettings(30, 60), pace=Pace())


def test_waiting_to_the_end_is_answering_reports_alone_and_nothing_looks_nowhere(view, done):
    ring = preset("complaint-ring")
    waits = replace(later(ring, 6), begins=30)
    alone = simulate(
        view, [waits, nothing_done(ring), replace(ring, begins=0)], RunSettings(30, 60), pace=Pace()
    )
    assert (alone.runs[0].counts == done.of("complaint").counts).all()
    assert alone.runs[1].counts[:, [c.FINDS, c.FALSE_FINDS]].sum() == 0
    assert (alone.runs[2].counts == done.of("complaint-ring").counts).all()


def test_the_proposed_is_held_against_nothing_and_three_waits_in_the_same_futures(view, done):
    held = beside(view, done, "complaint-ranked", pace=Pace())
    choice = choice_of(done, Prices(), now="complaint", by_week=30, proposed="complaint-ranked", beside=held)
    assert [each.months for each in choice.against if each.what == "wait"] == [1, 3, 6]
    nothing = choice.to("nothing")
    bugs = done.of("complaint-ranked").counts[:, c.BUG_WEEKS] - held.of("nothing").counts[:, c.BUG_WEEKS]
    assert nothing.pair.bug_weeks.mean == pytest.approx(bugs.mean())
    assert choice.nil_at_end.chance <= choice.nil_by.chance
    told = " ".join(choice_lines(choice, names_of(summarise(done), ENGLISH), ENGLISH))
    assert "doing nothing" in told
    overruled = choice.chosen.key != "complaint-ranked"
    assert ("against this verdict" in told) == overruled


def test_a_bill_is_its_fees_counted_by_hand_and_a_guarantee_costs_what_it_gives(done):
    fees = Fees(set_up=100.0, unit_month=2.0, visit=7.0, treatment=50.0, retreatment=20.0, retreats=True)
    runs = done.of("complaint-ranked")
    made, units = billed(runs.kept, fees), runs.kept.shots.shape[2]
    for row, asked, treated, given in zip(runs.counts, made.asked, made.treatment, made.given, strict=True):
        visits = row[c.TREATED :].sum()
        first = min(row[c.FINDS] + row[c.FALSE_FINDS], visits)
        treatment = 50.0 * first + 20.0 * (visits - first)
        entered = row[c.VISITS] - row[c.SHUT_DOORS] - row[c.REFUSALS]
        assert treated == pytest.approx(treatment)
        assert asked == pytest.approx(100 + 2.0 * units * 30 / WEEKS_A_MONTH + 7.0 * entered + treatment)
        assert given == pytest.approx(treatment * min(1.0, row[c.RELAPSES] / max(first, 1)))


def test_what_an_owner_loses_is_in_no_cost_and_what_the_work_costs_in_no_bill(done):
    fees = Fees(unit_month=3.0)
    plain, lossy = (books_of(done.runs, Prices(loss=loss), fees)["complaint"] for loss in (0.0, 50.0))
    assert (plain.work == lossy.work).all()
    assert (plain.compared == lossy.compared).all()
    assert lossy.losses.sum() > plain.losses.sum() == 0.0
    dear = books_of(done.runs, Prices(hour=900.0), fees)["complaint"]
    assert (dear.bill == plain.bill).all()
    assert dear.work.sum() > plain.work.sum()


def test_the_verdict_turns_where_both_cost_the_same():
    """Knocks are paid by the hour and a dog by the look: at a known price of an hour both cost the same."""
    made = []
    for key, knocks, dogs in (("complaint", 100, 0), ("complaint-ring", 0, 20)):
        kept = new_kept(10, 4, 3)
        kept.counts[:, c.KNOCKS] = knocks
        kept.counts[:, c.LOOKS + c.METHODS.index("dog")] = dogs
        made.append(Runs(preset(key), kept))
    done = Simulated(tuple(made), RunSettings(4, 10), 3, 10)
    prices = replace(Prices(), look={**Prices().look, "dog": 0.0}, fee={**Prices().fee, "dog": 15.0})
    alike = 20 * 15.0 / (100 * prices.knock / 60.0)  # 60 an hour
    found = flips(Ran(done, ()), chosen="complaint", now="complaint", prices=prices)
    hour = next(flip for flip in found.by_money if flip.name == "hour")
    assert (hour.below, hour.above.to) == (None, "complaint-ring")
    assert hour.above.at.values[0] == pytest.approx(alike)
    assert hour.low.values[0] < prices.hour < alike < hour.high.values[0]
    told = flip_lines(found, {"complaint": "A", "complaint-ring": "B"}, "US$", ENGLISH)
    assert "from about US$ 60 on, towards US$ 90, B is better" in told[0]
    at_the_end = replace(hour, above=replace(hour.above, at=hour.high))
    told = flip_lines(replace(found, by_money=(at_the_end,)), {"complaint-ring": "B"}, "US$", ENGLISH)
    assert "at US$ 90, B is better" in told[0]


def test_every_driver_is_tried_in_the_same_luck(view, done):
    ran = set_to_ends(view, [runs.programme for runs in done.runs], RunSettings(30, 60), pace=Pace())
    for key in KEYS:
        assert (ran.base.of(key).counts == done.of(key).counts).all()
    found = flips(ran, chosen="complaint", now="complaint", prices=Prices())
    names = {flip.name for flip in found.by_money}
    assert names >= {"spread", "reports", "treatment", "preparation", "turnover", "shut-doors", "hour"}
    by_name = {flip.name: flip for flip in found.by_money}
    assert by_name["preparation"].bugs > 0.0
    assert by_name["turnover"].bugs > 0.0
    assert by_name["hour"].bugs == 0.0


def test_ten_seeds_find_one_programme_or_name_the_tie(view):
    tried = survey_intervals(replace(preset("complaint"), survey=None), (8, 26, 52))
    answers = [
        search(view, tried, Goal(0.1, 40), RunSettings(40, 60, seed=seed), pace=Pace()) for seed in range(10)
    ]
    sets = [
        {one.best.programme.key, *(point.programme.key for point in one.rivals)}
        for one in answers
        if one.best is not None
    ]
    assert len(sets) == 10
    assert set.intersection(*sets), sets
    assert all(one.confirmed is not None and one.confirmed.runs >= 60 for one in answers)
    assert all(0.0 <= one.confirmed.chosen.right <= 1.0 for one in answers)
