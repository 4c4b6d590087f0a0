"""The open benchmark is fair: strategies see no truth, worlds give all the same luck, figures are right."""

import ast
import copy
import datetime as dt
import itertools
import json
import sys
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))  # the benchmark is not part of the installed package

from benchmarks import against_the_ring, figures_of, report_of, rounds, small_optimum, worlds_of  # noqa: E402
from benchmarks.sight import Ground, Sight  # noqa: E402
from benchmarks.strategies import STRATEGIES  # noqa: E402
from benchmarks.worlds_of import MORNING, SHAPES, build_house  # noqa: E402
from spread.plan.checks import check_plan  # noqa: E402
from spread.posterior.fit import FitSettings  # noqa: E402
from spread.records.kinds import Record  # noqa: E402

QUICK = FitSettings(chains=2, warmup=20, sweeps=40, most_sweeps=40, workers=1)
NAMES = [strategy.name for strategy in STRATEGIES]
BY_NAME = {strategy.name: strategy for strategy in STRATEGIES}


@pytest.fixture(autouse=True)
def short_refits(monkeypatch):
    monkeypatch.setattr(rounds, "NEXT_FIT", QUICK)


@pytest.fixture(scope="module", params=["usual", "complaints"])
def house(request):
    return build_house(3, request.param, 5)


@pytest.fixture(scope="module")
def fits(house):
    return {
        kind: rounds.fit_house(house, house.records, MORNING, kind, QUICK) for kind in ("learned", "true")
    }


def sight_of(house, fits, name):
    ground = Ground(house.graph, house.network)
    return Sight.of(ground, house.records, MORNING, posterior=fits.get(BY_NAME[name].leans_on))


@pytest.mark.parametrize("name", NAMES)
def test_every_strategy_names_every_unit_not_known_once(house, fits, name):
    view = sight_of(house, fits, name)
    order = BY_NAME[name].order(view, np.random.default_rng(1))
    assert sorted(order) == sorted(view.candidates)
    known = [u for u in house.network.units if view.standings[u].status != "look"]
    assert not set(order) & set(known)


@pytest.mark.parametrize("name", NAMES)
def test_the_same_view_gives_the_same_order_and_the_truth_plays_no_part(house, fits, name):
    first = BY_NAME[name].order(sight_of(house, fits, name), np.random.default_rng(2))
    other = copy.copy(house)
    other.practice = house.branch()
    other.practice.world.levels[:] = 4 - other.practice.world.levels
    assert BY_NAME[name].order(sight_of(other, fits, name), np.random.default_rng(2)) == first


def test_strategies_cannot_reach_the_truth():
    """What they see has no field for it, and their modules import no world."""
    assert {f.name for f in fields(Sight)} == {
        "ground", "rows", "on", "standings", "posterior", "prior", "doors", "since", "complaint_weeks",
    }  # fmt: skip
    for file in ("strategies.py", "sight.py"):
        tree = ast.parse((ROOT / "benchmarks" / file).read_text())
        imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        assert not any(name.startswith("spread.worlds") or "worlds_of" in name for name in imported)


def row(days_ago, unit, kind="inspection", found="yes", method="brief-visual"):
    day = MORNING - dt.timedelta(days=days_ago)
    if kind == "report":
        return Record(f"{days_ago}-{unit}", day, unit, "report")
    return Record(
        f"{days_ago}-{unit}",
        day,
        unit,
        kind,
        method,
        found,
        evidence=frozenset({"live"} if found == "yes" else ()),
    )


@pytest.fixture(scope="module")
def ground():
    """The first floor of a courtyard: 24 units around a square, 02 between 01 and 03."""
    house = build_house(3, "usual", 5)
    return Ground(house.graph, house.network)


def order_of(name, ground, rows, **more):
    return BY_NAME[name].order(Sight.of(ground, rows, MORNING, **more), np.random.default_rng(3))


def test_the_ring_goes_to_the_units_beside_and_above_a_find(ground):
    order = order_of("ring", ground, [row(10, "110")])
    assert set(order[:2]) == {"109", "111"}
    assert "210" in order[:4]
    assert "110" not in order


def test_a_waiting_complaint_comes_before_every_ring(ground):
    rows = [row(10, "110"), row(20, "118", kind="report")]
    for name in ("ring", "ring, not yet looked at first", "weighted ring", "adaptive ring"):
        assert order_of(name, ground, rows)[0] == "118"


def test_members_looked_at_since_the_find_wait_behind_those_that_were_not(ground):
    rows = [row(10, "110"), row(5, "109", found="no")]
    assert "109" in order_of("ring", ground, rows)[:4]
    unseen = order_of("ring, not yet looked at first", ground, rows)
    assert unseen.index("109") > unseen.index("111")
    assert unseen.index("109") > unseen.index("210")
    weighted = order_of("weighted ring, not yet looked at first", ground, rows)
    assert weighted.index("109") > weighted.index("111")


def test_an_old_complaint_that_nobody_followed_up_is_remembered_only_by_the_rule_that_says_so(ground):
    rows = [row(10, "110"), row(20 * 7, "118", kind="report")]
    assert order_of("adaptive ring, complaints of 26 weeks", ground, rows)[0] == "118"
    assert order_of("adaptive ring", ground, rows)[0] != "118"


def test_old_finds_have_had_their_ring(ground):
    rows = [row(27 * 7, "110"), row(40, "110", found="no"), row(60, "110", found="no")]
    view = Sight.of(ground, rows, MORNING)
    assert not view.centres


def test_an_adaptive_ring_adds_the_neighbours_of_a_find_at_once(ground):
    view = Sight.of(ground, [], MORNING)
    found = Record("now", MORNING, "120", "inspection", "brief-visual", "yes", evidence=frozenset({"live"}))
    order = BY_NAME["adaptive ring"].order(view.after(found), np.random.default_rng(4))
    assert set(order[:2]) == {"119", "121"}
    assert "120" not in order


@pytest.mark.parametrize("name", [s.name for s in STRATEGIES if s.leans_on == "log" and "ring" not in s.name])
def test_in_the_rounds_a_rule_opens_every_other_door_before_it_opens_one_again(ground, name):
    since = MORNING - dt.timedelta(days=7)
    rows = [row(7, unit, found="no") for unit in ("101", "102", "103")]
    assert set(order_of(name, ground, rows, since=since)[-3:]) == {"101", "102", "103"}


def test_five_shapes_of_40_to_110_units_and_no_fault_in_their_plans():
    assert len(SHAPES) == 5
    for draw, sizes in SHAPES.values():
        for size in sizes:
            plan = draw(size)
            assert 40 <= len(plan.units) <= 110
            assert check_plan(plan)[0] == []


def test_the_courtyard_closes_every_unit_shares_two_walls():
    graph = worlds_of.contacts_of("courtyard", 2)
    for unit in graph.nodes:
        walls = [1 for _, _, data in graph.edges(unit, data=True) if data["route"] == "wall"]
        assert len(walls) == 2


def test_rates_of_the_worlds_are_drawn_from_the_priors():
    """Medians of the Gamma priors are the central values: half of the draws fall on either side."""
    central = worlds_of.central_dynamics()
    drawn = [worlds_of.drawn_dynamics(np.random.default_rng(k)) for k in range(400)]
    for share in (
        np.mean([d.brought_in < central.brought_in for d in drawn]),
        np.mean([d.mixing < central.mixing for d in drawn]),
        np.mean([d.rates[0] < central.rates[0] for d in drawn]),
    ):
        assert abs(share - 0.5) < 4 * 0.5 / np.sqrt(400)
    assert len({d.growth[0, 1, 2] for d in drawn}) == 400


def test_a_past_of_complaints_alone_holds_no_look_and_no_treatment():
    kinds = {record.kind for record in build_house(1, "complaints", 5).records}
    assert "report" in kinds
    assert kinds <= {"report", "turnover"}


def test_the_same_number_gives_the_same_house_and_the_log_ends_before_the_first_round():
    one, two = build_house(2, "usual", 5), build_house(2, "usual", 5)
    assert one.records == two.records
    assert (one.practice.world.levels == two.practice.world.levels).all()
    assert max(record.when for record in one.records) < MORNING


def test_branches_meet_the_same_luck_and_leave_the_house_as_it_was(house):
    before = house.practice.world.levels.copy()
    first, second = (rounds.rounds(house, name, {}) for name in (rounds.NOBODY, rounds.NOBODY))
    assert first == second
    assert (house.practice.world.levels == before).all()
    looks = [
        [house.branch().world.look(u, "brief-visual", unsure=True) for u in units]
        for units in (house.network.units, house.network.units[::-1])
    ]
    assert looks[0] == looks[1][::-1]


def test_first_doors_of_the_truth_are_the_bound_and_figures_agree(house, fits):
    result = rounds.first_doors(house, fits)
    best = result["strategies"][rounds.TRUTH]
    assert best["auc"] in (None, 1.0)
    for name in NAMES:
        mine = result["strategies"][name]
        assert mine["finds"] <= best["finds"] + 1e-9
        assert mine["found"] <= mine["hidden"] <= result["hidden"]


def test_rounds_knock_15_doors_a_week_and_count_a_look_and_a_shut_door(house):
    result = rounds.rounds(house, "random", {})
    assert result["doors"] == 120
    assert 120 * 3 < result["minutes"] < 120 * 13
    assert result["found4"] <= result["found8"] <= result["hidden"]


def test_the_area_under_the_curve_by_hand():
    """Order I C I C: of four pairs the infested stands first in three."""
    assert rounds.area_under_curve(["a", "b", "c", "d"], {"a", "c"}) == pytest.approx(0.75)
    assert rounds.area_under_curve(["a", "b"], set()) is None


def test_a_ratio_is_that_of_the_sums_and_pairs_are_kept():
    """By hand: 6 over 4; worlds that are all alike leave no doubt."""
    assert figures_of.ratio_of([1, 2, 3], [1, 1, 2]).value == pytest.approx(1.5)
    same = figures_of.ratio_of([2, 4, 6], [1, 2, 3])
    assert (same.low, same.value, same.high) == pytest.approx((2.0, 2.0, 2.0))


def exhaustive(draws, weights, visits):
    """Return the optimum by trying every tree of doors for three visits, written out flat."""
    se = small_optimum.detection.sensitivity(small_optimum.METHOD)[draws]
    n, best = se.shape[1], 0.0
    for i in range(n):
        total = weights @ se[:, i]
        for w in (weights * se[:, i], weights * (1 - se[:, i])):
            options = []
            for j in (k for k in range(n) if k != i):
                value = w @ se[:, j]
                for v in (w * se[:, j], w * (1 - se[:, j])):
                    value += max(v @ se[:, k] for k in range(n) if k not in (i, j))
                options.append(value)
            total += max(options)
        best = max(best, total)
    return best


def test_the_optimum_of_three_visits_equals_a_flat_search():
    rng = np.random.default_rng(6)
    for _ in range(5):
        draws = rng.integers(0, 5, size=(30, 4)) * (rng.random((30, 4)) < 0.4)
        weights = rng.dirichlet(np.ones(30))
        assert small_optimum.value_of(draws, weights, 3) == pytest.approx(exhaustive(draws, weights, 3))


def test_no_rule_passes_the_optimum_and_looking_ahead_does_not_lose_to_greedy_on_average():
    lines = [small_optimum.run(number, 1) for number in range(4)]
    for line, key in itertools.product(lines, ("ahead", "greedy", "fixed")):
        assert line[key] <= line["optimum"] + 1e-9
    ahead, greedy, best = (np.mean([line[key] for line in lines]) for key in ("ahead", "greedy", "optimum"))
    assert ahead >= greedy - 1e-9
    assert greedy >= 0.95 * best


def test_a_run_goes_on_where_it_was_stopped(tmp_path, monkeypatch):
    path = tmp_path / "run.jsonl"
    line = {"part": "optimum", "number": 0, "past": "usual", "seed": 1, "seconds": 1.0}
    path.write_text(json.dumps(line) + "\n" + '{"part": "opt')
    asked = []

    def run(job):
        asked.append(job.number)
        return {**line, "number": job.number}

    class Here:
        def __init__(self, workers):
            pass

        __enter__ = lambda self: self  # noqa: E731
        __exit__ = lambda self, *error: None  # noqa: E731

        def submit(self, work, job):
            from concurrent.futures import Future

            future = Future()
            future.set_result(run(job))
            return future

    monkeypatch.setattr(against_the_ring, "ProcessPoolExecutor", Here)
    jobs = [against_the_ring.Job("optimum", k, "usual", 1, None) for k in range(3)]
    against_the_ring.run_all(jobs, path, 1)
    assert asked == [1, 2]
    assert sorted(each["number"] for each in against_the_ring.lines_of(path)) == [0, 1, 2]


def test_the_report_and_its_chart_hold_every_strategy_and_target(house, fits, tmp_path):
    body = rounds.first_doors(house, fits)
    lines = [
        {
            "part": "first doors",
            "number": k,
            "past": "usual",
            "seed": 1,
            "seconds": 1.0,
            "shape": "tower",
            **body,
        }
        for k in range(2)
    ]
    path = tmp_path / "page.md"
    path.write_text(f"# Page\n{report_of.START}{report_of.END}\nAfter\n")
    report_of.write_docs(lines, path)
    text, picture = path.read_text(), path.with_suffix(".svg").read_text()
    for name in NAMES:
        assert f"{name}" in text
        assert f">{name}</text>" in picture
    assert text.count("| usual practice in the past: ") == 4
    assert "(page.svg)" in text
    assert against_the_ring.lines_of(path.with_suffix(".jsonl")) == lines, "the run is kept beside its chart"
    assert text.endswith("After\n")


def test_replacing_the_posterior_changes_our_order_and_not_the_rules(house, fits):
    view = sight_of(house, fits, "our chance")
    turned = replace(fits["learned"], levels=fits["learned"].levels[::-1])
    other = replace(view, posterior=turned)
    for name, moves in (("our chance", True), ("weighted ring", False)):
        order = BY_NAME[name].order
        same = order(view, np.random.default_rng(7)) == order(other, np.random.default_rng(7))
        assert same is not moves
