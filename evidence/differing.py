"""How studies differ, and the chains that learn it beside the parameters.

Crews, products, preparation and inspectors differ from study to study. Every place (a community, a trial)
has shifts of its own of the log odds that a treatment eliminates, that a brief look finds and that
interceptors find: a random-effects meta-analysis (DerSimonian and Laird 1986,
doi 10.1016/0197-2456(86)90046-2), with a new shift drawn for a study that is predicted (Higgins, Thompson and
Spiegelhalter 2009, doi 10.1111/j.1467-985X.2008.00552.x).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from emcee.autocorr import integrated_time
from numpy.typing import NDArray

from evidence import sampler
from evidence.parameters import NAMES, PRIORS, Floats
from evidence.targets import Target

VARIANCE = (-2.56, 1.74)
"""Log of the variance between studies, on log odds: mean and deviation. The distribution predicted for a
meta-analysis in a general setting from 14,886 of the Cochrane database (Turner et al. 2015,
doi 10.1002/sim.6381, after Turner et al. 2012, doi 10.1093/ije/dys041; the two numbers as software for
meta-analysis cites them): a deviation of 0.28, 0.07 to 1.2. They are odds ratios of two arms there, shifts of
one arm here: what arms share has no chance to cancel, so it is not too wide."""
SITES = ("Wang 2018", "Wang 2019")  #: Studies of several housing authorities or buildings, each with its own
WALKERS = 64
FARTHEST = 3.5  #: Deviations of the prior beyond which no place lies: simulated vectors end there


@dataclass(frozen=True)
class Differences:
    """Along what places differ."""

    along: Floats  #: Shape (shifts, parameters): how one unit of log odds moves the vector
    of: NDArray[np.int64]  #: Which deviation each shift has


def _one_unit(*names: str) -> list[float]:
    return [1.0 / PRIORS[name].width if name in names else 0.0 for name in NAMES]


DEVIATIONS = ("treatment", "look")
DIFFERENCES = Differences(
    np.array([_one_unit("spray", "combined", "non_chemical"), _one_unit("look"), _one_unit("traps")]),
    np.array([0, 1, 1]),
)


def place_of(t: Target) -> str:
    """Return whose crew and inspectors a figure is of."""
    return "-".join(t.key.split("-")[:2]) if t.study in SITES else t.study


def deviation(t: Floats) -> Floats:
    """Return deviations between places from standard normal numbers."""
    return np.asarray(np.exp(0.5 * (VARIANCE[0] + VARIANCE[1] * t)))


@dataclass(frozen=True)
class Chain:
    """Draws of an ensemble."""

    u: Floats  #: Shape (draws, parameters), thinned: of a place of the middle
    t: Floats  #: Shape (draws, deviations): standard normal numbers
    z: Floats  #: Shape (draws, places, shifts): in their deviations
    places: tuple[str, ...]
    loglik: Floats
    autocorrelation: float  #: Longest of parameters and deviations, in steps
    effective: float  #: Steps of all walkers after the first fifth over the autocorrelation

    def at(
        self, place: str, rng: np.random.Generator, differ: Differences = DIFFERENCES, alike: bool = False
    ) -> Floats:
        """Return vectors at a place: where the chain knows it, else at a new one."""
        if alike:
            return self.u
        if place in self.places:
            z = self.z[:, self.places.index(place)]
        else:
            z = rng.standard_normal((len(self.u), len(differ.of)))
        return _at(self.u, self.t, z, differ)


def _at(u: Floats, t: Floats, z: Floats, differ: Differences) -> Floats:
    at = u + (deviation(t)[:, differ.of] * z) @ differ.along
    return np.asarray(at.clip(-FARTHEST, FARTHEST))


def chains(
    loglik: Callable[[Floats, str], Floats],
    places: Sequence[str],
    start: Floats,
    *,
    prior: Callable[[Floats], Floats] | None = None,
    differ: Differences = DIFFERENCES,
    alike: bool = False,
    steps: int = 2000,
    seed: int = 1,
    draws: int = 2000,
) -> Chain:
    """Run an ensemble on a standard normal prior, of shifts too.

    A step moves parameters and deviations by differences between walkers (ter Braak 2006, from memory), half
    of the walkers by the other half; then shifts, each place by itself, along a path that keeps their prior;
    then what leaves every vector where it is: deviations against shifts, and the middle against shifts.

    ``loglik``: takes vectors, shape (n, parameters), and a place, and gives shape (n,); ``start``: at least
    as many rows as walkers, spread about where the posterior may lie; ``prior``: log density beside the
    normal one; ``alike``: places do not differ; ``steps``: of every walker; ``draws``: how many are kept.
    """
    rng = np.random.default_rng(seed)
    dim, kinds = start.shape[1], int(differ.of.max()) + 1
    u = start[rng.permutation(len(start))[:WALKERS]]
    x = np.concatenate([u, rng.standard_normal((len(u), kinds))], axis=1)
    z = np.zeros((len(u), len(places), len(differ.of)))
    if not alike:
        z += rng.standard_normal(z.shape)

    def likely(x: Floats, z: Floats) -> Floats:
        t = x[:, dim:]
        each = [loglik(_at(x[:, :dim], t, z[:, k], differ), place) for k, place in enumerate(places)]
        return np.nan_to_num(np.stack(each, axis=1), nan=-np.inf, neginf=-np.inf)

    def before(x: Floats) -> Floats:
        return sampler.log_prior(x) + (0.0 if prior is None else prior(x[:, :dim]))

    log_u, log_l = before(x), likely(x, z)
    kept_x, kept_z, kept_l = [], [], []
    for step in range(steps):
        order = rng.permutation(len(x))
        for mine, others in (np.array_split(order, 2), np.array_split(order, 2)[::-1]):
            new = x[mine] + _jump(x[others], len(mine), rng)
            new_u, new_l = before(new), likely(new, z[mine])
            gain = new_u + new_l.sum(axis=1) - log_u[mine] - log_l[mine].sum(axis=1)
            yes = np.log(rng.random(len(mine))) < gain
            x[mine[yes]], log_u[mine[yes]], log_l[mine[yes]] = new[yes], new_u[yes], new_l[yes]
        if not alike:
            turn = rng.choice([0.3, 0.6, 1.0], (len(x), len(places), 1))
            new_z = np.sqrt(1.0 - turn**2) * z + turn * rng.standard_normal(z.shape)
            new_l = likely(x, new_z)
            yes = np.log(rng.random(log_l.shape)) < new_l - log_l
            z[yes], log_l[yes] = new_z[yes], new_l[yes]
            for _ in range(3):
                _slide(x, z, dim, differ, before, rng)
            log_u = before(x)
        if step >= steps // 5:
            kept_x.append(x.copy())
            kept_z.append(z.astype(np.float32))
            kept_l.append(log_l.sum(axis=1))
    slow = float(np.max(integrated_time(np.stack(kept_x)[:, :, : dim if alike else None], quiet=True)))
    flat = np.concatenate(kept_x)
    at = np.linspace(0, len(flat) - 1, draws).astype(int)
    return Chain(
        flat[at, :dim], flat[at, dim:], np.concatenate(kept_z)[at].astype(float), tuple(places),
        np.concatenate(kept_l)[at], slow, len(flat) / slow,
    )  # fmt: skip


def _jump(others: Floats, number: int, rng: np.random.Generator) -> Floats:
    """Return differences of pairs of other walkers, at times whole ones, which cross between modes."""
    first = rng.integers(0, len(others), number)
    second = (first + rng.integers(1, len(others), number)) % len(others)
    length = np.where(rng.random(number) < 0.1, 1.0, 2.38 / np.sqrt(2.0 * others.shape[1]))
    near = 1e-3 * rng.standard_normal((number, others.shape[1]))
    return length[:, None] * (others[first] - others[second]) + near


def _slide(
    x: Floats, z: Floats, dim: int, differ: Differences, before: Callable[[Floats], Floats],
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Move deviations against shifts, then the middle against shifts: no place's own vector moves."""
    for kind in range(x.shape[1] - dim):
        ours = differ.of == kind
        new = x.copy()
        new[:, dim + kind] += 0.7 * rng.standard_normal(len(x))
        shrunk = deviation(x[:, dim + kind]) / deviation(new[:, dim + kind])
        new_z = np.where(ours, z * shrunk[:, None, None], z)
        volume = ours.sum() * z.shape[1] * np.log(shrunk)
        _take(x, z, new, new_z, before(new) - before(x) + volume, rng)
    for k, along in enumerate(differ.along):
        by = 0.3 * rng.standard_normal(len(x))
        new, new_z = x.copy(), z.copy()
        new[:, :dim] += by[:, None] * along
        new_z[:, :, k] -= (by / deviation(x[:, dim + differ.of[k]]))[:, None]
        _take(x, z, new, new_z, before(new) - before(x), rng)


def _take(x: Floats, z: Floats, new: Floats, new_z: Floats, gain: Floats, rng: np.random.Generator) -> None:
    gain = gain - 0.5 * ((new_z**2).sum(axis=(1, 2)) - (z**2).sum(axis=(1, 2)))
    yes = np.log(rng.random(len(x))) < gain
    x[yes], z[yes] = new[yes], new_z[yes]
