"""Population Monte Carlo with a tempered, simulated likelihood.

Why this and not ABC: a vector costs seconds, every summary has a likelihood from its own sample size, and no
distance or tolerance has to be chosen; what cannot be reached yet shows as a temperature below 1, not as an
acceptance rate. A library would bring its own workers and stores for what is a page here.

Each round draws from a mixture: a tenth from the prior, the rest from normal kernels around the better draws
so far. A draw's weight is prior times likelihood over the mixture of its own round, so no round is thrown
away, and the tenth bounds it. Dividing by the mixture of all rounds is sharper but wrong here: later kernels
sit on earlier draws, which takes weight from those far out (a known posterior lost a fifth of its variance).
Rounds follow from the draws before them and a seed alone: a run that was stopped goes on as if it had not
been.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
KERNELS = 60
FROM_PRIOR = 0.1
KEEP = (
    0.9  #: Kernels sit at this part of the way from the mean to their draw (Liu and West 2001, from memory)
)


@dataclass(frozen=True)
class Round:
    """The mixture that a round was drawn from."""

    centres: Floats  #: Shape (kernels, parameters); no rows: the prior alone
    spread: Floats  #: Shape (parameters, parameters)
    draws: int

    def log_density(self, u: Floats) -> Floats:
        """Return the log density at each row of ``u``."""
        prior = log_prior(u)
        if not len(self.centres):
            return prior
        root = np.linalg.cholesky(self.spread)
        flat = np.linalg.solve(root, (u[:, None, :] - self.centres[None]).reshape(-1, u.shape[1]).T)
        each = -0.5 * (flat**2).sum(axis=0).reshape(len(u), -1) - np.log(np.diag(root)).sum()
        each -= 0.5 * u.shape[1] * np.log(2.0 * np.pi)
        top = each.max(axis=1)
        near = top + np.log(np.exp(each - top[:, None]).mean(axis=1))
        return np.logaddexp(np.log(FROM_PRIOR) + prior, np.log1p(-FROM_PRIOR) + near)

    def draw(self, rng: np.random.Generator) -> Floats:
        """Draw the round."""
        dim = self.spread.shape[0]
        out = rng.standard_normal((self.draws, dim))
        if len(self.centres):
            root = np.linalg.cholesky(self.spread)
            chosen = self.centres[rng.integers(0, len(self.centres), self.draws)]
            near = chosen + out @ root.T
            out = np.where((rng.random(self.draws) < FROM_PRIOR)[:, None], out, near)
        return out


def log_prior(u: Floats) -> Floats:
    """Return the log density of standard normal numbers."""
    return -0.5 * (u**2).sum(axis=1) - 0.5 * u.shape[1] * np.log(2.0 * np.pi)


def weights(u: Floats, loglik: Floats, rounds: Sequence[Round], heat: float = 1.0) -> Floats:
    """Return weights that sum to one; ``heat`` is the power of the likelihood.

    ``u``: the draws of all rounds, one after another.
    """
    return _weights(_before(u, rounds), loglik, heat)


def _before(u: Floats, rounds: Sequence[Round]) -> Floats:
    """Return the log of each draw's prior over the density it was drawn from."""
    ends = np.cumsum([r.draws for r in rounds])
    drawn_by = [r.log_density(u[end - r.draws : end]) for r, end in zip(rounds, ends, strict=True)]
    return np.asarray(log_prior(u) - np.concatenate(drawn_by))


def _weights(before: Floats, loglik: Floats, heat: float) -> Floats:
    log_w = before + heat * loglik
    w = np.exp(log_w - log_w.max())
    return np.asarray(w / w.sum())


def effective(w: Floats) -> float:
    """Return the effective number of draws of weights."""
    return float(1.0 / (w**2).sum())


def hottest(u: Floats, loglik: Floats, rounds: Sequence[Round], least: float) -> tuple[float, Floats]:
    """Return the highest power of the likelihood, at most 1, that leaves ``least`` effective draws.

    Where no power leaves so many, the one that leaves most.
    """
    return _hottest(_before(u, rounds), loglik, least)


def _hottest(before: Floats, loglik: Floats, least: float) -> tuple[float, Floats]:
    powers = np.concatenate([np.geomspace(1.0, 1e-5, 100), [0.0]])
    sure = np.array([effective(_weights(before, loglik, power)) for power in powers])
    place = int(np.argmax(sure >= least)) if sure.max() >= least else int(sure.argmax())
    return float(powers[place]), _weights(before, loglik, powers[place])


def next_round(u: Floats, loglik: Floats, draws: int, rng: np.random.Generator) -> Round:
    """Return the mixture of the next round from everything drawn so far.

    Where to look may be chosen freely, so draws count here by their likelihood alone: their weights would
    lead a young search back to its first round, whose draws weigh most.
    """
    dim = u.shape[1]
    _, w = _hottest(np.zeros(len(u)), loglik, least=max(20.0, len(u) / 10.0))
    mean = w @ u
    spread = (u - mean).T @ ((u - mean) * w[:, None])
    # Few effective draws make a poor covariance: half of it is kept on the diagonal.
    spread = 0.5 * spread + 0.5 * np.diag(np.diag(spread)) + 0.01 * np.eye(dim)
    places = np.searchsorted(np.cumsum(w), (np.arange(KERNELS) + rng.random()) / KERNELS).clip(0, len(u) - 1)
    return Round(mean + KEEP * (u[places] - mean), (1.0 - KEEP**2) * spread, draws)


def first_round(dim: int, draws: int) -> Round:
    """Return the prior as a round."""
    return Round(np.zeros((0, dim)), np.eye(dim), draws)
