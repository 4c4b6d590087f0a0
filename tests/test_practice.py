"""Usual practice leaves a log that holds together. Intervals are common practice, no source."""

import datetime as dt
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest

from spread.posterior.dynamics import central_dynamics, network_of
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.store import read_log
from spread.worlds.practice import PracticeSettings, ring, usual_practice


@pytest.fixture(scope="module")
def block():
    """Four floors of five units in a row, by hand: walls, floors, and a door to the next."""
    graph = nx.MultiGraph()
    for floor in range(4):
        for k in range(5):
            graph.add_node(f"{floor + 1}{k}", index=5 * floor + k, floors=(str(floor + 1),))
    for floor in range(4):
        for k in range(5):
            here = f"{floor + 1}{k}"
            if k < 4:
                graph.add_edge(here, f"{floor + 1}{k + 1}", key="wall", route="wall", exposure=1.2)
                graph.add_edge(here, f"{floor + 1}{k + 1}", key="hallway", route="hallway", exposure=0.4)
            if floor < 3:
                up = f"{floor + 2}{k}"
                graph.add_edge(here, up, key="floor", route="floor", exposure=1.2, upper=up)
    return graph


@pytest.fixture(scope="module")
def life(block):
    network = network_of(block)
    settings = PracticeSettings(stay_weeks=60)
    return usual_practice(
        network,
        block,
        central_dynamics(prevalence=0.2),
        weeks=60,
        rng=np.random.default_rng(11),
        start_date=dt.date(2025, 6, 4),
        settings=settings,
    )


def of(records, unit, kind):
    return [r for r in records if r.unit == unit and r.kind == kind]


def test_the_ring_is_left_right_above_and_below(block):
    assert ring(block, "22") == ("12", "21", "23", "32")
    assert ring(block, "10") == ("11", "20")


def test_every_row_is_one_that_the_store_accepts(life, block, tmp_path):
    records, _ = life
    path = tmp_path / "records.csv"
    path.write_text(HEADER + "".join(to_line(to_fields(r)) for r in records), encoding="utf-8")
    assert read_log(path, block.nodes).rows == records


def test_the_same_seed_leaves_the_same_log(life, block):
    again = usual_practice(
        network_of(block),
        block,
        central_dynamics(prevalence=0.2),
        weeks=60,
        rng=np.random.default_rng(11),
        start_date=dt.date(2025, 6, 4),
        settings=PracticeSettings(stay_weeks=60),
    )
    assert again[0] == life[0]
    assert (again[1] == life[1]).all()


def test_the_log_runs_in_order_of_days_and_stays_within_its_weeks(life):
    records, truth = life
    assert truth.shape == (20, 60)
    assert [r.when for r in records] == sorted(r.when for r in records)
    assert dt.date(2025, 6, 2) <= records[0].when
    assert records[-1].when < dt.date(2025, 6, 2) + dt.timedelta(weeks=60)
    assert {r.kind for r in records} >= {"report", "inspection", "treatment", "no-access", "turnover"}


def test_nothing_is_treated_before_something_was_found(life):
    records, _ = life
    treated = {r.unit for r in records if r.kind == "treatment"}
    assert treated
    for unit in treated:
        first = of(records, unit, "treatment")[0]
        finds = [r for r in records if r.unit == unit and r.found == "yes" and r.method != "dog"]
        assert finds[0].when < first.when


def test_treatments_of_a_unit_are_at_least_two_weeks_apart(life):
    records, _ = life
    for unit in {r.unit for r in records if r.kind == "treatment"}:
        days = [r.when for r in of(records, unit, "treatment")]
        assert all((b - a).days >= 14 for a, b in pairwise(days))


def test_an_empty_unit_is_moved_into_before_it_is_moved_out_of_again(life):
    records, _ = life
    for unit in {r.unit for r in records if r.kind == "turnover"}:
        methods = [r.method for r in of(records, unit, "turnover")]
        assert methods == (["moved-out", "moved-in"] * len(methods))[: len(methods)]


def test_only_those_who_report_report_and_who_is_often_out_is_hard_to_see(block):
    start = np.full(20, 4, dtype=np.int8)
    records, _ = usual_practice(
        network_of(block),
        block,
        central_dynamics(),
        weeks=40,
        rng=np.random.default_rng(12),
        start_date=dt.date(2025, 6, 4),
        settings=PracticeSettings(
            never_report=frozenset(set(block.nodes) - {"22"}),
            often_out=frozenset({"32"}),
            stay_weeks=0,
            report_spread=0.0,
        ),
        start=start,
    )
    assert {r.unit for r in records if r.kind == "report"} == {"22"}
    knocks = [r for r in records if r.unit == "32" and r.kind in ("no-access", "inspection")]
    assert np.mean([r.kind == "no-access" for r in knocks]) > 0.5


def test_treatment_lowers_the_truth(block):
    # All heavy and nobody moves: eighty weeks of steam, dust and heat leave fewer than half infested.
    start = np.full(20, 4, dtype=np.int8)
    _, truth = usual_practice(
        network_of(block),
        block,
        central_dynamics(rate_scale=0.1),
        weeks=80,
        rng=np.random.default_rng(13),
        start_date=dt.date(2025, 6, 4),
        settings=PracticeSettings(spray_share=0.0, heat_after=4, stay_weeks=0, report_spread=0.0),
        start=start,
    )
    assert (truth[:, -1] > 0).mean() < 0.5
