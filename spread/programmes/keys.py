"""Random numbers from a counter: the same unit, week and decision meet the same luck in every programme.

Nothing is stored and nothing is drawn in turn. A number is a hash of (seed, run, week, unit, decision), by
the finaliser of splitmix64 (Steele, Lea & Flood 2014, doi 10.1145/2660193.2660195), so that two programmes,
however differently they go on, agree on everything that does not depend on them. A decision goes by its
name, so that a method more or a method less changes nobody else's luck.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import blake2b

import numba as nb
import numpy as np
from numpy.typing import NDArray

Keys = NDArray[np.uint64]


def stream(name: str) -> np.uint64:
    """Return the key of a decision's random numbers: 64 bits that depend on its name and on nothing else."""
    return np.uint64(int.from_bytes(blake2b(name.encode(), digest_size=8).digest(), "little"))


DECISIONS = (
    "turnover", "report", "delay", "access", "spread", "growth", "treatment", "ring", "willing",
    "willing too", "shut", "refuses",
)  # fmt: skip
"""Decisions that are the same whatever the methods. All treatments meet one stream: of two programmes that
treat a unit in one week, each in its own way, neither shall be the luckier."""
TURNOVER, REPORT, DELAY, ACCESS, SPREAD, GROWTH, TREAT, RING, WILLING, WILLING_TOO, SHUT, REFUSES = (
    stream(name) for name in DECISIONS
)
HOUSEHOLD = 1 << 20  #: Added to the week a household moved in: its habits are not the luck of a week

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
def uniform(week: np.uint64, unit: int, decision: np.uint64) -> float:
    """Return a number from 0 to 1 (never 1) for one unit and decision (:func:`stream`) of a week."""
    z = mix(np.uint64(week) + np.uint64(decision) + _GOLDEN * (np.uint64(unit) + _1))
    return float(z >> _11) * _UNIT


MOST_UNITS = 1 << 20  #: Units up to which no two decisions of a week ever share a number
_ONWARD = pow(int(_GOLDEN), -1, 1 << 64)


def apart(names: Iterable[str]) -> bool:
    """Return whether the numbers of these decisions are all apart, for up to :data:`MOST_UNITS` units.

    In a week unit ``i`` takes the number at ``key + GOLDEN (i + 1)``; two keys that lie less than so many
    steps of GOLDEN from one another would give two units one luck.
    """
    steps = sorted(int(stream(name)) * _ONWARD % (1 << 64) for name in names)
    around = [*steps[1:], steps[0] + (1 << 64)]
    return all(after - before >= MOST_UNITS for before, after in zip(steps, around, strict=True))
