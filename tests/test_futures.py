"""Futures that hold what is not known of the trade: one joint draw a run, which goes with its building."""

import json

import numpy as np
import pytest

from spread.posterior.dynamics import central_dynamics
from spread.programmes import futures
from spread.programmes.begin import begin_from
from spread.programmes.columns import METHODS, TREATMENTS
from spread.programmes.futures import tables_of_runs, vectors_of_runs
from spread.programmes.tables import BRIEF, TRAPS, WHOLE_PROTOCOL, tables_of
from spread.trade import detection, joint, registry, routes, seeing
from spread.trade.joint import PLACE

JOINT = joint.joint()
CENTRAL = np.array([routes.BROUGHT_IN.central, routes.MIXING.central, *routes.rates()])


def begin(rates, network):
    n = network.size
    return begin_from(
        network, levels=np.zeros((len(rates), n), np.int8), rates=rates, mean_rates=CENTRAL,
        belief=np.zeros((n, 5)),
    )  # fmt: skip


def test_the_file_says_where_it_is_from():
    told = json.loads(PLACE.read_text(encoding="utf-8"))
    assert len(told["draws"]) == 400
    assert told["vectors"] > 1000
    for field in ("made", "command", "targets", "code"):
        assert told[field], field
    assert {len(row) for row in told["draws"]} == {len(told["names"])}
    assert sum(JOINT.mix) == pytest.approx(1.0, abs=1e-3)


def test_a_run_gets_the_draw_that_goes_with_its_building():
    """Fast buildings come of draws of fast routes, and what goes with them."""
    rng = np.random.default_rng(1)
    at = np.tile(CENTRAL, (3000, 1))
    fast, slow = at.copy(), at.copy()
    fast[:, 1:] *= 2.5
    slow[:, 1:] /= 2.5
    moved = JOINT.moved("routes")
    of = [moved[vectors_of_runs(rates, JOINT, rng)].mean() for rates in (slow, at, fast)]
    assert of[0] < of[1] < of[2]
    # At the centre nearly every draw is met: what is not known of growth stays in the futures.
    chosen = vectors_of_runs(at, JOINT, rng)
    assert len(np.unique(chosen)) > 100
    spread = np.log(JOINT.values["growth"])
    assert spread[chosen].std() > 0.7 * spread.std()


def test_tables_of_a_run_are_chances_and_the_firm_believes_the_central_ones(network):
    central = tables_of(central_dynamics())
    runs = tables_of_runs(central, begin(np.tile(CENTRAL, (30, 1)), network), 1)
    assert len(runs) == 30
    assert len({float(t.grow[0, 1, 1]) for t in runs}) > 15
    for t in runs:
        assert np.all(np.diff(t.grow, axis=2) >= -1e-12)
        assert t.grow[..., -1] == pytest.approx(1.0)
        assert np.all(np.diff(t.act, axis=2) >= -1e-12)
        assert t.found[WHOLE_PROTOCOL] == pytest.approx(1 - (1 - t.found[BRIEF]) * (1 - t.found[TRAPS]))
        assert t.found[:, 0] == pytest.approx(central.found[:, 0]), "false finds stay"
        assert t.shedding[[0, 4]].tolist() == [0.0, 1.0]
        assert t.report.max() <= 0.5
        for name in ("likely", "growth", "effect", "unsure", "odds", "luck"):
            assert getattr(t, name) is getattr(central, name), name
    again = tables_of_runs(central, begin(np.tile(CENTRAL, (30, 1)), network), 1)
    assert [t.found[BRIEF, 1] for t in runs] == [t.found[BRIEF, 1] for t in again]


def test_a_draw_at_the_centre_moves_nothing(monkeypatch, network):
    still = joint.Joint({k: np.array([v]) for k, v in JOINT.centre.items()}, JOINT.centre, JOINT.mix)
    still.values["resists"][:] = seeing.RESISTS.central
    monkeypatch.setattr(futures, "joint", lambda: still)
    central = tables_of(central_dynamics())
    (one,) = futures.tables_of_runs(central, begin(CENTRAL[None], network), 1)
    for name in central._fields:
        np.testing.assert_allclose(getattr(one, name), getattr(central, name), atol=1e-12, err_msg=name)


def test_each_name_moves_what_it_is_named_for(monkeypatch, network):
    central = tables_of(central_dynamics())

    def moved(**to):
        values = {k: np.array([v]) for k, v in {**JOINT.centre, **to}.items()}
        monkeypatch.setattr(futures, "joint", lambda: joint.Joint(values, JOINT.centre, JOINT.mix))
        return futures.tables_of_runs(central, begin(CENTRAL[None], network), 1)[0]

    assert moved(growth=2 * JOINT.centre["growth"]).grow[0, 1, 1] < central.grow[0, 1, 1]
    looks = moved(look=JOINT.centre["look"] + 1.0).found - central.found
    assert np.all(looks[METHODS.index("brief-visual"), 1:] > 0)
    assert np.all(looks[METHODS.index("thorough-visual"), 1:] > 0)
    assert np.all(looks[METHODS.index("dog")] == 0)
    spray = moved(spray=JOINT.centre["spray"] + 1.0).act - moved().act
    assert [TREATMENTS[k] for k in np.flatnonzero(np.abs(spray).sum(axis=(1, 2)) > 1e-9)] == ["spray"]
    heavy = moved(report_heavy=2 * JOINT.centre["report_heavy"]).report[0] / central.report[0]
    assert heavy.tolist() == pytest.approx([1, 1, 1, 2, 2])
    assert set(registry.TREATMENTS) >= set(joint.TREATED_BY)
    assert detection.report_chance() == pytest.approx(central.report[0])


@pytest.fixture(scope="module")
def network():
    from buildings import maple_contacts

    from spread.posterior.dynamics import network_of

    return network_of(maple_contacts())
