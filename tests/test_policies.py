"""Anyone's policy enters the open benchmark as module:function."""

import json
import sys
from dataclasses import replace

import numpy as np
import pytest

from benchmarks import against_the_ring, policies, rounds
from benchmarks.sight import Ground, Sight
from benchmarks.worlds_of import MORNING, build_house
from spread.errors import SettingsError
from spread.posterior.fit import FitSettings

BAD = """
def shorter(view): return view.candidates[1:]
def twice(view): return [view.candidates[0], *view.candidates]
def text(view): return "101"
def nothing(view): return None
def strange(view): return ["nowhere", *view.candidates]
def backwards(view): return list(reversed(view.candidates))
number = 3
"""


@pytest.fixture
def mine(tmp_path, monkeypatch):
    (tmp_path / "mine_of_test.py").write_text(BAD)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", list(sys.path))
    monkeypatch.delitem(sys.modules, "mine_of_test", raising=False)
    return tmp_path


@pytest.fixture(scope="module")
def sight():
    house = build_house(3, "usual", 5)
    return Sight.of(Ground(house.graph, house.network), house.records, MORNING)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("rank", "it is no module:function; write it as in my_module:rank"),
        ("no_such_module_here:rank", "there is no module 'no_such_module_here'"),
        ("mine_of_test:absent", "module 'mine_of_test' has no function 'absent'"),
        ("mine_of_test:number", "module 'mine_of_test' has no function 'number'"),
    ],
)
def test_a_name_that_is_no_policy_is_refused_before_anything_runs(mine, name, words, capsys):
    with pytest.raises(SystemExit) as stopped:
        against_the_ring.main(["--out", "run.jsonl", "--buildings", "1", "--policy", name])
    assert stopped.value.code == 2
    assert words in capsys.readouterr().err
    assert not (mine / "run.jsonl").exists()


@pytest.mark.parametrize(
    ("function", "words"),
    [
        ("shorter", r"it left out 1 of \d+ candidates"),
        ("twice", "it returned a unit twice"),
        ("text", "it returned str, expected a list of unit codes"),
        ("nothing", "it returned NoneType, expected a list"),
        ("strange", "it returned 'nowhere', which is no candidate"),
    ],
)
def test_an_answer_that_is_no_order_of_the_candidates_is_refused(mine, sight, function, words):
    strategy = policies.policy(f"mine_of_test:{function}")
    with pytest.raises(SettingsError, match=words):
        strategy.order(sight, np.random.default_rng(1))


def test_a_policy_is_run_beside_the_others_and_reported(mine, monkeypatch, capsys):
    short = FitSettings(chains=2, warmup=10, sweeps=30, most_sweeps=30, workers=1)
    monkeypatch.setattr(rounds, "FIRST_FIT", short)
    monkeypatch.setattr(rounds, "NEXT_FIT", short)
    own = tuple(one for one in policies.STRATEGIES if one.name in ("ring", "our chance of a find"))
    monkeypatch.setattr(policies, "STRATEGIES", own)
    entered = ("mine_of_test:backwards", "spread:rank")
    line = against_the_ring.run(against_the_ring.Job("first doors", 3, "usual", 5, None, entered))
    assert line["policies"] == list(entered)
    found = line["strategies"]
    assert list(found) == ["ring", "our chance of a find", *entered, rounds.TRUTH]
    # The product's own policy chooses the doors of the product's own list, up to ties by lot.
    assert found["spread:rank"]["finds"] == pytest.approx(found["our chance of a find"]["finds"], abs=0.7)
    assert all(one["hidden"] <= line["hidden"] for one in found.values())
    (mine / "run.jsonl").write_text(json.dumps(line) + "\n")
    with pytest.raises(SystemExit) as stopped:
        against_the_ring.main(["--out", "run.jsonl", "--buildings", "4", "--seed", "5"])
    assert stopped.value.code == 2
    assert "its lines were run with other policies" in capsys.readouterr().err


def test_a_policy_goes_through_the_rounds(mine, monkeypatch):
    house = build_house(3, "usual", 5)
    strategy = replace(policies.policy("mine_of_test:backwards"), leans_on="log")
    result = rounds.rounds(house, "mine_of_test:backwards", {}, strategy)
    assert result["doors"] == 8 * rounds.DOORS
