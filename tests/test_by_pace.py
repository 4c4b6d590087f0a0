"""Whether the answer turns with the pace: thirds of the futures, by hand."""

from dataclasses import replace

import numpy as np
import pytest

from spread.facts import as_json
from spread.programmes import columns as c
from spread.programmes.by_pace import by_pace, turn_of
from spread.programmes.choice import choice_of
from spread.programmes.figures import Share
from spread.programmes.kept import new_kept
from spread.programmes.money import Prices
from spread.programmes.programme import Complaint, Programme
from spread.programmes.run import Runs, RunSettings, Simulated
from spread.words import ENGLISH, say
from spread.words.flips import pace_lines

R = 300


def simulated(bugs_of_a, pace):
    """Two programmes of no cost: one with so many infested unit-weeks a run, the other with 50."""
    runs = []
    for key, bugs in (("a", bugs_of_a), ("b", np.full(R, 50))):
        kept = new_kept(R, 4, 10, 0)
        kept.counts[:, c.BUG_WEEKS] = bugs
        runs.append(Runs(Programme(key, key.upper(), complaint=Complaint()), kept))
    return Simulated(tuple(runs), RunSettings(weeks=4, runs=R), 10, R, pace)


def test_a_programme_that_is_better_only_where_bugs_are_fast_flips_the_answer():
    pace = np.random.default_rng(1).permutation(np.linspace(0.5, 2.0, R))
    bugs = np.where(pace > np.quantile(pace, 2 / 3), 10, np.where(pace < np.quantile(pace, 1 / 3), 90, 50))
    cost, found = by_pace(simulated(bugs, pace), Prices(), "a", "b")
    assert [each.chance for each in found.less] == [0.0, 0.5, 1.0]
    assert found.futures == (100, 100, 100)
    assert found.turn == "flips"
    assert found.paces == pytest.approx((1.0 / 1.25, 1.5 / 1.25), rel=0.01)
    said = say(found, ENGLISH).replace("\u00a0", " ")
    assert said.startswith("A has fewer infested unit-weeks than B in 0% of the futures of the slowest third")
    assert "50% of the middle third, 100% of the fastest" in said
    assert "The answer flips with the building's pace" in said
    assert cost.turn == "even", "no future tells two costs of nothing apart"
    assert [each.chance for each in cost.less] == [0.5, 0.5, 0.5]
    assert "cannot be told" in say(cost, ENGLISH)
    assert as_json(found)["turn"] == "flips"


def test_a_programme_that_is_better_at_every_pace_does_not_flip_it():
    pace = np.linspace(0.5, 2.0, R)
    _, found = by_pace(simulated(np.full(R, 10), pace), Prices(), "a", "b")
    assert found.turn == "holds"
    assert "does not flip" in say(found, ENGLISH)
    _, other = by_pace(simulated(np.full(R, 10), pace), Prices(), "b", "a")
    assert [each.chance for each in other.less] == [0.0, 0.0, 0.0]
    assert other.turn == "holds"


def test_a_share_near_one_half_takes_no_side():
    sure, near = Share(0.9, 0.03), Share(0.55, 0.03)
    assert turn_of([sure, sure, Share(0.57, 0.03)]) == "holds"
    assert turn_of([sure, sure, near]) == "even"
    assert turn_of([Share(0.2, 0.03), near, sure]) == "flips"


def test_without_a_spread_of_paces_nothing_is_said():
    assert by_pace(simulated(np.full(R, 10), np.ones(R)), Prices(), "a", "b") is None
    stopped = replace(simulated(np.full(R, 10), np.linspace(0.5, 2.0, R)), done=2)
    assert by_pace(stopped, Prices(), "a", "b") is None


@pytest.mark.parametrize(
    ("turn", "words"),
    [("flips", "pace turns it, and one log"), ("holds", "pace does not turn it"), ("even", "cannot be told")],
)
def test_the_verdict_says_in_one_sentence_whether_the_pace_turns_it(turn, words):
    pace = np.linspace(0.5, 2.0, R)
    choice = choice_of(simulated(np.full(R, 10), pace), Prices(), now="b", by_week=4, proposed="a")
    assert choice.by_pace.a == "A", "the proposed against what is done today"
    assert choice.by_pace.of == "cost"
    (line,) = pace_lines(replace(choice, by_pace=replace(choice.by_pace, turn=turn)), ENGLISH)
    assert words in line
    assert "A costs less than B in 50% of the slowest third of futures and in 50% of the fastest" in line
    assert pace_lines(replace(choice, by_pace=None), ENGLISH) == []
