"""Vectors about an earlier posterior: draws of it, moved by more than it is wide.

An emulator is needed where the posterior lies, where it goes without a study, and where a study's own crew
and inspectors stand. So draws are moved along their own covariance, along treatments together and along
looks together.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np

from evidence.differing import FARTHEST
from evidence.parameters import NAMES, PRIORS, Floats

WIDER = (1.5, 2.5)  #: Half of the vectors have this many times the covariance of the draws, half that many
TOGETHER = {("spray", "combined", "non_chemical"): (1.0, 0.4), ("look", "traps", "interview"): (0.8, 0.4)}
"""Deviations, in those of the prior, of a shift that these share and of one of each alone."""


def in_u(values: Floats) -> Floats:
    """Return vectors of parameters, a row each in the order of their names, as standard normal numbers."""
    columns = []
    for prior, x in zip(PRIORS.values(), values.T, strict=True):
        if prior.link == "log":
            z = np.log(x / prior.middle)
        elif prior.link == "odds":
            z = np.log(x / (1.0 - x)) - math.log(prior.middle / (1.0 - prior.middle))
        else:
            z = x - prior.middle
        columns.append(z / prior.width)
    return np.stack(columns, axis=1)


def vectors(place: Path, number: int, rng: np.random.Generator) -> Floats:
    """Return so many vectors about the draws of a file, as standard normal numbers."""
    told = json.loads(place.read_text(encoding="utf-8"))
    if told["names"] != list(NAMES):
        raise SystemExit(f"{place} holds draws of other parameters; name the file of this fit.")
    draws = in_u(np.array(told["draws"]))
    root = np.linalg.cholesky(np.cov(draws.T))
    wider = np.sqrt(np.resize(WIDER, number) - 1.0)[:, None]
    out = draws[rng.integers(0, len(draws), number)]
    out = out + wider * rng.standard_normal(out.shape) @ root.T
    for names, (shared, own) in TOGETHER.items():
        at = [NAMES.index(name) for name in names]
        out[:, at] += shared * rng.standard_normal((number, 1)) + own * rng.standard_normal((number, len(at)))
    return np.asarray(out.clip(-FARTHEST, FARTHEST))
