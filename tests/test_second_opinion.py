"""A second exact opinion: a Bayesian network of the whole building in pyagrum (lazy propagation).

The tables of the network are written down here from the equations of the model; nothing is shared with
``exact`` or ``kernel``. Each unit and week is a variable whose parents are the same unit and its contacts a
week before; the evidence enters as likelihoods ("soft evidence").
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import enumeration as exact
import numpy as np
import pytest
from posterior_buildings import PAIR, TREATED, TURNED, Small, contacts, row, sample, strong, z_scores

from spread.posterior.dynamics import LEVELS

pyagrum = pytest.importorskip("pyagrum", reason="pip install pyagrum")


def pushes(building: Small):
    """Return the weekly hazard upon the second unit of a pair from the first if heavy."""
    net, d, n = building.network, building.dynamics, building.network.size
    push = {
        (i, int(net.indices[k])): float(net.exposure[k] @ d.rates)
        for i in range(n)
        for k in range(net.indptr[i], net.indptr[i + 1])
    }
    if d.mixing:
        for i, j in itertools.permutations(range(n), 2):
            push[i, j] = push.get((i, j), 0.0) + d.mixing / n
    return push


def second_opinion(building: Small, levels: int):
    """Return P(level) of every unit and week, shape (N, T, levels), and the log of P(evidence)."""
    evidence, d = building.evidence(), building.dynamics
    n, weeks = evidence.shape
    bayes = pyagrum.BayesNet()
    name = "{}@{}".format
    push = pushes(building)
    for t in range(weeks):
        for i in range(n):
            bayes.add(pyagrum.LabelizedVariable(name(i, t), name(i, t), levels))
    start = [1 - d.prevalence, *(d.prevalence * d.level_mix)][:levels]
    for i in range(n):
        bayes.cpt(name(i, 0)).fillWith(start)
    for t in range(weeks - 1):
        for j in range(n):
            sources = [i for i in range(n) if (i, j) in push]
            bayes.addArc(name(j, t), name(j, t + 1))
            for i in sources:
                bayes.addArc(name(i, t), name(j, t + 1))
            treated = evidence.treated[j, t]
            effect = evidence.effects[treated] if treated >= 0 else np.eye(LEVELS)
            table = bayes.cpt(name(j, t + 1))
            for own, *others in itertools.product(range(levels), repeat=1 + len(sources)):
                heard = list(zip(sources, others, strict=True))
                pressure = sum(push[i, j] * d.shedding[a] * evidence.export[i, t] for i, a in heard)
                hazard = evidence.introduction[j, t] + evidence.openness[j, t] * pressure
                grown = d.growth[int(evidence.vacant[j, t]), own]
                if own == 0:
                    grown = np.array([math.exp(-hazard), 1 - math.exp(-hazard), 0, 0, 0])
                where = {name(j, t): own} | {name(i, t): a for i, a in heard}
                table[where] = (grown @ effect)[:levels]
    engine = pyagrum.LazyPropagation(bayes)
    scale = 0.0
    for t in range(weeks):
        for i in range(n):
            soft = evidence.likelihood[i, t, :levels]
            engine.addEvidence(name(i, t), list(soft / soft.max()))
            scale += math.log(soft.max())
    engine.makeInference()
    found = np.array([[engine.posterior(name(i, t)).toarray() for t in range(weeks)] for i in range(n)])
    return found, math.log(engine.evidenceProbability()) + scale


@pytest.mark.parametrize("building", [PAIR, TREATED, TURNED], ids=lambda b: b.name)
def test_enumeration_equals_pyagrum_on_the_small_buildings(building):
    found, log_evidence = second_opinion(building, LEVELS)
    ours = exact.solve(building.network, building.dynamics, building.evidence())
    np.testing.assert_allclose(ours.levels, found, rtol=0, atol=1e-10)
    assert ours.log_evidence == pytest.approx(log_evidence, abs=1e-10)


def six(*, levels: int) -> Small:
    """Three by two units over twelve weeks: walls, floors, a riser, a tie, and every doing."""
    d = strong(rate=0.35, mixing=0.0, brought_in=0.01, prevalence=0.15, move_in=0.1, vacant_source_weeks=3)
    if levels == 3:
        growth = d.growth.copy()
        growth[:, 2, 2] += growth[:, 2, 3]
        growth[:, 2, 3] = 0.0
        # Heavy shedding already at the top of three, or little would pass.
        d = replace(
            d,
            growth=growth,
            level_mix=np.array([0.6, 0.4, 0.0, 0.0]),
            shedding=np.array([0.0, 0.3, 1.0, 1.0, 1.0]),
        )
    edges = [
        ("A", "B", "wall", 1.0),
        ("B", "C", "wall", 0.8),
        ("D", "E", "wall", 1.1),
        ("E", "F", "wall", 0.9),
    ]
    edges += [
        ("A", "D", "floor", 1.0),
        ("B", "E", "floor", 0.7),
        ("B", "E", "riser", 0.5),
        ("C", "F", "link", 1.2),
    ]
    records = (
        row(11, "A", "report"),
        row(10, "A", "inspection", "brief-visual", "yes", level="low", evidence="live"),
        row(10, "A", "treatment", "steam-dust-encase"),
        row(8, "A", "treatment", "spray"),
        row(8, "B", "inspection", "thorough-visual", "no"),
        row(7, "F", "turnover", "moved-out"),
        row(6, "E", "monitor", "interceptors", "no", days=14),
        row(5, "B", "treatment", "whole-room-heat"),
        row(4, "F", "turnover", "moved-in"),
        row(3, "E", "inspection", "dog", "yes", evidence="alert"),
        row(2, "C", "inspection", "interview", "unsure"),
        row(1, "D", "report", evidence="bites"),
        row(0, "F", "inspection", "brief-visual", "no"),
    )
    return Small("six units over twelve weeks", contacts("ABCDEF", edges), d, records, 12)


def test_enumeration_equals_pyagrum_on_six_units_over_twelve_weeks():
    building = six(levels=3)
    found, log_evidence = second_opinion(building, 3)
    ours = exact.solve(building.network, building.dynamics, building.evidence(), levels_used=3)
    np.testing.assert_allclose(ours.levels[:, :, :3], found, rtol=0, atol=1e-10)
    assert ours.log_evidence == pytest.approx(log_evidence, abs=1e-10)
    assert not ours.levels[:, :, 3:].any()


@pytest.mark.slow
@pytest.mark.parametrize("levels", [3, 5])
def test_the_sampler_equals_pyagrum_on_six_units_over_twelve_weeks(levels):
    building = six(levels=levels)
    truth, _ = second_opinion(building, levels)
    run = sample(building, seed=4)
    assert np.abs(run.weekly - (1 - truth[:, :, 0])).max() < 0.01
    assert z_scores(run.weekly, run.weekly_error, 1 - truth[:, :, 0]).max() < 4
    assert z_scores(run.now[:, :levels], run.now_error[:, :levels], truth[:, -1]).max() < 4
    assert run.weekly_error.max() < 0.005
