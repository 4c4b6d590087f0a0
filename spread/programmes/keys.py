"""Random numbers from a counter: the same unit, week and decision meet the same luck in every programme.

Nothing is stored and nothing is drawn in turn. A number is a hash of (seed, run, week, unit, decision), by
the finaliser of splitmix64 (Steele, Lea & Flood 2014, doi 10.1145/2660193.2660195), so that two programmes,
however differently they go on, agree on everything that does not depend on them.
"""

from __future__ import annotations

import numba as nb
import numpy as np

PURPOSES = 32
"""Room for decisions: a number belongs to ``unit * PURPOSES + purpose``."""
TURNOVER, REPORT, DELAY, ACCESS, SPREAD, GROWTH, TREAT = range(7)
LOOK = 8
"""First of eight, one a method: whether a look finds."""
UNSURE = 16
"""First of eight, one a method: whether a look ends unsure."""
RING, WILLING, WILLING_TOO, SHUT, REFUSES, CONDITION = range(24, 30)
HOUSEHOLD = 1 << 20
"""Added to the week a household moved in: its habits are not the luck of a week."""

_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)
_30, _27, _31, _11, _1 = (np.uint64(bits) for bits in (30, 27, 31, 11, 1))
_UNIT = 2.0**-53


@nb.njit(cache=True, nogil=True, error_model="numpy")
def mix(z: np.uint64) -> np.uint64:
    """Return 64 well-mixed bits of 64."""
    z = (z ^ (z >> _30)) * _FIRST
    z = (z ^ (z >> _27)) * _SECOND
    return z ^ (z >> _31)


@nb.njit(cache=True, nogil=True, error_model="numpy")
def run_key(seed: int, run: int) -> np.uint64:
    """Return the key of one run."""
    return mix(mix(np.uint64(seed) + _GOLDEN) + _GOLDEN * (np.uint64(run) + _1))


@nb.njit(cache=True, nogil=True, error_model="numpy")
def week_key(run: np.uint64, week: int) -> np.uint64:
    """Return the key of one week of a run."""
    return mix(np.uint64(run) + _GOLDEN * (np.uint64(week) + _1))


@nb.njit(cache=True, nogil=True, error_model="numpy")
def uniform(week: np.uint64, unit: int, purpose: int) -> float:
    """Return a number from 0 to 1 (never 1) for one unit and decision of a week."""
    z = mix(np.uint64(week) + _GOLDEN * (np.uint64(unit * PURPOSES + purpose) + _1))
    return float(z >> _11) * _UNIT
