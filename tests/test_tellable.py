"""What a test that knows the truth could tell: the likelihood ratio is one, and points to what is broken."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from proofs.realities import KINDS, Building
from proofs.tellable import TOLD_BY, informative, log_ratio, power

USUAL = "as assumed"


@functools.cache
def lived(name):
    made = [Building(KINDS[name], seed) for seed in range(6)]
    for one in made:
        one.live()
    return tuple(made)


def test_a_building_as_assumed_is_as_likely_as_itself():
    assert [log_ratio(one, KINDS[USUAL]) for one in lived(USUAL)] == [0.0] * 6


@pytest.mark.parametrize("name", TOLD_BY)
def test_what_is_broken_is_likelier_where_it_is_broken(name):
    there = np.array([log_ratio(one, KINDS[name]) for one in lived(name)])
    elsewhere = np.array([log_ratio(one, KINDS[name]) for one in lived(USUAL)])
    assert elsewhere.mean() < min(0.0, there.mean())
    # Of a density, the ratio's mean where it does not hold is one.
    assert np.exp(elsewhere).mean() < 5.0
    assert informative(name, lived(name)[0]) >= 0


def test_power_counts_what_lies_above_the_alarms():
    null, other = np.arange(100.0), np.arange(100.0) + 50.0
    assert power(null, other, 0.1) == pytest.approx(0.6, abs=0.02)
    assert power(null, null, 0.1) == pytest.approx(0.1, abs=0.01)
