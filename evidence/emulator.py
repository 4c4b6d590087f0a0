"""A smooth stand-in for the simulated studies: what a vector would give, without running it.

Every summary has its own regression over the vectors: a quadratic by ridge, and a Gaussian process on what
is left, with a nugget for the luck of few runs. Shares are regressed as log odds, changes and deviations as
logs. What the regression does not know is part of its likelihood. Whether it may be believed is measured
(:func:`held_out`), and its posterior is simulated again (``evidence.posterior``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from evidence.parameters import Floats
from evidence.targets import Target

SPREAD_KINDS = ("building", "mean", "spread", "highest")  #: Kinds whose deviation is simulated too
TUNED_WITH = 350  #: Vectors by which scales of a process are found: the search costs the third power
KNOTS = 400  #: Vectors that a process is conditioned on: a step of the chain costs their square
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
RIDGE = 1.0
LENGTHS = (1.0, 2.0, 4.0, 8.0)  #: How far likeness reaches, in deviations of the prior of what counts most
LUCK = (0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.97, 1.0)  #: Share of the rest that is luck


@dataclass(frozen=True)
class Scale:
    """A scale on which a summary is smooth, and back."""

    to: Callable[[Floats], Floats]
    back: Callable[[Floats], Floats]


def _odds(p: Floats) -> Floats:
    p = np.clip(p, 0.002, 0.998)
    return np.asarray(np.log(p / (1.0 - p)))


def _chance(z: Floats) -> Floats:
    return np.asarray(1.0 / (1.0 + np.exp(-z)))


def _log_change(x: Floats) -> Floats:
    return np.asarray(np.log(np.maximum(1.0 + x, 0.02)))


def _log(x: Floats) -> Floats:
    return np.asarray(np.log(np.maximum(x, 0.003)))


ODDS = Scale(_odds, _chance)
CHANGE = Scale(_log_change, np.expm1)
LOG = Scale(_log, np.exp)
PLAIN = Scale(np.positive, np.positive)


def scale_of(key: str, kind: str, place: int) -> Scale:
    """Return the scale of the mean (``place`` 0) or the deviation (1) of a summary."""
    if place == 1:
        return LOG
    if key.endswith("-change"):
        return CHANGE
    return PLAIN if kind == "log" else LOG if kind == "spread" else ODDS


@dataclass(frozen=True)
class Smooth:
    """The regression of one summary."""

    scale: Scale
    beta: Floats
    root: Floats  #: Cholesky factor of the quadratic's information
    noise: float  #: Variance of a simulated summary's luck, on the scale
    weight: Floats  #: What each parameter counts for in the distance between vectors
    amplitude: float  #: Variance of what the quadratic leaves, without luck
    knots: Floats
    alpha: Floats
    lower: NDArray[np.float32]  #: Inverse of the Cholesky factor of the knots' covariance

    def middle(self, u: Floats) -> Floats:
        """Return the middle on the scale."""
        near = self.amplitude * _likeness(u * self.weight, self.knots * self.weight)
        return np.asarray(_quadratic(u) @ self.beta + near @ self.alpha)

    def at(self, u: Floats) -> tuple[Floats, Floats]:
        """Return middle and variance on the scale; the luck of few runs is no part of the variance."""
        phi = _quadratic(u)
        near = self.amplitude * _likeness(u * self.weight, self.knots * self.weight)
        flat = solve_triangular(self.root, phi.T, lower=True)
        known = near.astype(np.float32) @ self.lower.T  # most of a chain's time; seven digits are enough
        left = np.maximum(self.amplitude - (known**2).sum(axis=1), 0.0)
        return phi @ self.beta + near @ self.alpha, left + self.noise * (flat**2).sum(axis=0)


def _quadratic(u: Floats) -> Floats:
    pairs = [u[:, k : k + 1] * u[:, k:] for k in range(u.shape[1])]
    return np.concatenate([np.ones((len(u), 1)), u, *pairs], axis=1)


def _likeness(a: Floats, b: Floats) -> Floats:
    far = (a**2).sum(axis=1)[:, None] + (b**2).sum(axis=1) - 2.0 * a @ b.T
    return np.asarray(np.exp(-0.5 * np.maximum(far, 0.0)))


def smooth(u: Floats, y: Floats, scale: Scale, rng: np.random.Generator) -> Smooth:
    """Fit one regression to vectors and simulated values.

    Parameters count in the process as they move the quadratic; how far likeness reaches and how much of the
    rest is luck are those of the highest marginal likelihood on a grid.
    """
    z, phi = scale.to(y), _quadratic(u)
    penalty = np.full(phi.shape[1], RIDGE)
    penalty[0] = 1e-6
    root = np.linalg.cholesky(phi.T @ phi + np.diag(penalty))
    beta = np.linalg.solve(root.T, np.linalg.solve(root, phi.T @ z))
    rest = z - phi @ beta
    used = float((solve_triangular(root, phi.T, lower=True) ** 2).sum())  # luck that the quadratic took
    var = max(float((rest**2).sum() / (len(u) - used)), 1e-10)
    moved = np.array([(phi @ (beta * _holds(u.shape[1], k))).std() for k in range(u.shape[1])])
    importance = np.sqrt(moved / moved.max()) + 0.05
    tuned = rng.permutation(len(u))[:TUNED_WITH]
    best = (-np.inf, 1.0, 1.0)
    for length in LENGTHS:
        w = importance / length
        values, axes = np.linalg.eigh(_likeness(u[tuned] * w, u[tuned] * w))
        along = (axes.T @ rest[tuned]) ** 2 / var
        for luck in LUCK:
            spectrum = np.maximum((1.0 - luck) * values + luck, 1e-9)
            score = -0.5 * (along / spectrum + np.log(spectrum)).sum()
            best = max(best, (float(score), length, luck))
    _, length, luck = best
    weight, knots = importance / length, u[order := rng.permutation(len(u))[:KNOTS]]
    inner = var * (1.0 - luck) * _likeness(knots * weight, knots * weight) + var * luck * np.eye(len(knots))
    lower = np.linalg.inv(np.linalg.cholesky(inner))
    alpha = lower.T @ (lower @ rest[order])
    return Smooth(
        scale, beta, root, luck * var, weight, (1.0 - luck) * var, knots, alpha, lower.astype(np.float32)
    )  # fmt: skip


def _holds(dim: int, k: int) -> Floats:
    """Return which terms of the quadratic hold parameter ``k``."""
    rows, cols = np.triu_indices(dim)
    return np.concatenate([[0.0], np.arange(dim) == k, (rows == k) | (cols == k)]).astype(float)


@dataclass(frozen=True)
class Emulator:
    """Regressions of all summaries, by key and place (0 mean, 1 deviation)."""

    targets: tuple[Target, ...]
    parts: dict[tuple[str, int], Smooth]

    def loglik(self, u: Floats, keys: Sequence[str]) -> Floats:
        """Return the log likelihood of targets at each row, over what the regressions do not know."""
        out = np.zeros(len(u))
        for t in self.targets:
            if t.key not in keys:
                continue
            part = self.parts[t.key, 0]
            middle, var = part.at(u)
            sd = self.sd(t, u)
            nodes = middle[:, None] + np.sqrt(var)[:, None] * NODES
            each = t.logliks(part.scale.back(nodes), sd[:, None])
            top = each.max(axis=1, keepdims=True)
            out += top[:, 0] + np.log((np.exp(each - top) * (WEIGHTS / WEIGHTS.sum())).sum(axis=1))
        return out

    def sd(self, t: Target, u: Floats) -> Floats:
        """Return the deviation of a figure in one study, 0 for counts."""
        part = self.parts.get((t.key, 1))
        return np.zeros(len(u)) if part is None else np.asarray(part.scale.back(part.middle(u)))

    def with_luck(self, u: Floats, keys: Sequence[str], rng: np.random.Generator) -> Floats:
        """Return log likelihoods as a simulation of few runs would give them, were the emulator right."""
        out = np.zeros(len(u))
        for t in self.targets:
            if t.key in keys:
                pair = [np.zeros(len(u)), np.zeros(len(u))]
                for place in (0, 1):
                    if part := self.parts.get((t.key, place)):
                        middle, var = part.at(u)
                        luck = np.sqrt(var + part.noise) * rng.standard_normal(len(u))
                        pair[place] = part.scale.back(middle + luck)
                out += t.logliks(pair[0], pair[1])
        return out

    def mean(self, key: str, u: Floats) -> Floats:
        """Return the middle of a summary at each row."""
        part = self.parts[key, 0]
        return np.asarray(part.scale.back(part.middle(u)))


def wanted(targets: Sequence[Target]) -> list[tuple[str, str, int]]:
    """Return key, kind and place of every summary that is regressed."""
    out = [(f"mix-{level}", "count", 0) for level in range(1, 5)]
    for t in targets:
        if t.use != "listed":
            out.append((t.key, t.kind, 0))
            out += [(t.key, t.kind, 1)] if t.kind in SPREAD_KINDS else []
    return out


def fit(u: Floats, rows: Sequence[dict[str, Any]], targets: Sequence[Target], seed: int = 1) -> Emulator:
    """Fit all regressions to simulated vectors; summaries that are one figure share one regression."""
    parts: dict[tuple[str, int], Smooth] = {}
    same: dict[bytes, Smooth] = {}
    for key, kind, place in wanted(targets):
        y = np.array([row["summaries"][key][place] for row in rows])
        mark = y.tobytes()
        if mark not in same:
            rng = np.random.default_rng([seed, len(same)])
            same[mark] = smooth(u, y, scale_of(key, kind, place), rng)
        parts[key, place] = same[mark]
    return Emulator(tuple(targets), parts)


@dataclass(frozen=True)
class Error:
    """How far a regression is from vectors that it was not fitted to."""

    key: str
    place: int
    off: float  #: Root mean square of the error over the study's own standard error (the mean), or of logs
    luck: float  #: What the luck of few runs alone would give
    calibrated: float  #: Share of vectors within 1.645 of the stated deviation, luck included: 0.9 is right


def held_out(
    u: Floats, rows: Sequence[dict[str, Any]], targets: Sequence[Target], test: Floats, seed: int = 1
) -> list[Error]:
    """Fit without the vectors marked in ``test`` and say how far they are predicted."""
    kept = [row for row, out in zip(rows, test, strict=True) if not out]
    left = [row for row, out in zip(rows, test, strict=True) if out]
    where = test.astype(bool)
    found = fit(u[~where], kept, targets, seed)
    by_key = {t.key: t for t in targets}
    errors = []
    for (key, place), part in found.parts.items():
        middle, var = part.at(u[where])
        y = np.array([row["summaries"][key][place] for row in left])
        z = part.scale.to(y) - middle
        inside = float((np.abs(z) < 1.645 * np.sqrt(var + part.noise)).mean())
        unit = np.ones(len(left))
        luck = np.full(len(left), part.noise**0.5)
        if place == 0 and key in by_key:
            unit = by_key[key].error(part.scale.back(middle), found.sd(by_key[key], u[where]))
            step = part.scale.back(middle + 1e-4) - part.scale.back(middle)
            luck = part.noise**0.5 * step / 1e-4 / unit
            z = (y - part.scale.back(middle)) / unit
        errors.append(
            Error(key, place, float(np.sqrt((z**2).mean())), float(np.sqrt((luck**2).mean())), inside)
        )
    return errors
