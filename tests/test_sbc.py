"""Simulation-based calibration, a size that CI can carry; all of it: ``python -m proofs.ranks``.

Gates here are loose, for 24 p values are looked at in each run of new seeds; the seeds are fixed.
"""

from __future__ import annotations

import numpy as np
import pytest

from proofs import process, ranks, ranks_seeing
from spread.posterior.observations import build_evidence


@pytest.mark.parametrize("strength", [1.0, 15.0])
def test_logs_are_read_with_the_very_chances_they_were_drawn_with(strength):
    """Looks, grades, counts, monitors of any length, reports, silence and its holds, week by week."""
    kinds = set()
    for seed in range(25):
        rng = np.random.default_rng(seed)
        prior = process.priors(strength=strength, brought_in=strength)
        lived = process.live(process.plan(6, 2, rng), prior, weeks=20, rng=rng)
        evidence = build_evidence(lived.records, lived.network.units, prior, on=lived.on, weeks=20)
        ratio = evidence.likelihood / lived.chance
        np.testing.assert_allclose(ratio / ratio[:, :, :1], 1.0, rtol=1e-10)
        kinds |= {record.kind for record in lived.records}
    assert kinds == {"note", "report", "inspection", "monitor", "treatment", "no-access", "turnover"}


@pytest.mark.slow
@pytest.mark.parametrize(("setting", "buildings"), [("product", 100), ("strong", 200)])
def test_the_truth_ranks_as_any_draw_does(setting, buildings):
    found, share = ranks.rank_many(buildings, setting, thin=20)
    assert share.min() > 0.7  # thinned draws are nearly independent, or ranks would pile up at the ends
    chi = {name: ranks.chi_square(found[:, k], bins=8) for k, name in enumerate(ranks.NAMES)}
    band = dict(zip(ranks.NAMES, ranks.ecdf_p_values(found, simulations=20_000), strict=True))
    assert {name: p for name, p in chi.items() if p < 1e-4} == {}
    assert {name: p for name, p in band.items() if p < 5e-4} == {}


@pytest.mark.slow
def test_the_truth_ranks_as_any_draw_does_with_everything_learned():
    """Rates, move-ins, who reports, finds and resists, and the start, all in one chain."""
    found, share = ranks_seeing.rank_many(300)
    assert share.min() > 0.7
    chi = {name: ranks.chi_square(found[:, k], bins=8) for k, name in enumerate(ranks_seeing.NAMES)}
    band = dict(zip(ranks_seeing.NAMES, ranks.ecdf_p_values(found, simulations=20_000), strict=True))
    assert {name: p for name, p in chi.items() if p < 1e-4} == {}
    assert {name: p for name, p in band.items() if p < 5e-4} == {}


def test_uniform_ranks_stay_in_the_band_as_often_as_promised():
    rng = np.random.default_rng(3)
    p = ranks.ecdf_p_values(rng.integers(0, ranks.DRAWS + 1, (150, 400)), simulations=2000)
    assert 0.01 < (p <= 0.05).mean() < 0.09
    assert 0.4 < (p <= 0.5).mean() < 0.6


@pytest.mark.parametrize("wrong", ["shifted", "too narrow", "too wide"])
def test_ranks_of_a_wrong_posterior_leave_the_band(wrong):
    """Normal draws about a normal truth, with the fault named."""
    rng = np.random.default_rng(4)
    truth = rng.normal(size=(200, 1))
    middle, width = {"shifted": (0.4, 1.0), "too narrow": (0.0, 0.6), "too wide": (0.0, 1.8)}[wrong]
    draws = rng.normal(middle, width, (200, ranks.DRAWS))
    found = (draws < truth).sum(axis=1)
    assert ranks.ecdf_p_values(found[:, None])[0] < 1e-3
    assert ranks.chi_square(found, bins=8) < 1e-3
