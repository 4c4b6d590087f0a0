"""Calibration of the chances: of the units given 30 %, are three in ten infested?

Run all of it from the top folder::

    python -m proofs.calibration --buildings 300

Buildings live and leave logs as the posterior believes (:mod:`.process`), are fitted through the front door
with learned rates, and held against the truth.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from spread.posterior.fit import FitSettings, fit
from spread.posterior.rates import theta_names
from spread.trade.routes import ROUTES

from . import process

SETTINGS = {
    "product": {"strength": 1.0, "brought_in": 1.0},
    "busy": {"strength": 4.5, "brought_in": 1.8, "growth": 0.035},
}
"""The product's priors; and ones under which a building fills within the window."""


@dataclass(frozen=True)
class Judged:
    """One building's chances beside its truth."""

    chance: np.ndarray  # (N,)
    infested: np.ndarray  # (N,) bool
    past: np.ndarray  # (N, T) chance in every week
    was: np.ndarray  # (N, T) bool
    low: int  # of the 90 % interval of the number infested now
    high: int
    count: int
    held: float  # posterior mass inside the interval: 0.9 or more, for a count is a whole number
    place: float  # randomised place of the true count among the draws, uniform if calibrated
    rates_inside: np.ndarray  # (rates,) bool: true rate inside its central 90 %
    rhat: float


def judge(
    seed: int, setting: str, *, sweeps: int = 400, longest: int = 1600, log_weeks: int | None = None
) -> Judged:
    """Let a building of 12 to 24 units live about 30 weeks, fit its log, and compare.

    Parameters
    ----------
    sweeps, longest
        Kept sweeps a chain, and how many at most if the chains do not agree yet.
    log_weeks
        Length of the history; None draws 26 to 34 weeks.
    """
    rng = np.random.default_rng([seed, 30])
    units, floors = int(rng.integers(12, 25)), int(rng.integers(2, 5))
    weeks = log_weeks or int(rng.integers(26, 35))
    prior = process.priors(**SETTINGS[setting])
    lived = process.live(process.plan(units, floors, rng), prior, weeks=weeks, rng=rng)
    posterior = fit(
        lived.network,
        lived.records,
        prior,
        on=lived.on,
        settings=FitSettings(
            weeks=weeks, sweeps=sweeps, most_sweeps=longest, warmup=100, seed=seed, workers=1
        ),
    )
    was = lived.x > 0
    now = lived.x[:, -1].copy()
    for record in lived.records:
        # A treatment of the last week acts at its end in the model; a fit shows it done.
        if record.kind == "treatment" and (lived.on - record.when).days < 7:
            i = lived.network.index[record.unit]
            now[i] = rng.choice(5, p=process.treatment.effect_matrix(record.method)[now[i]])
    was[:, -1] = now > 0
    counts = (posterior.draws > 0).sum(axis=1)
    low, _, high = posterior.infested_count(0.9)
    true = int((now > 0).sum())
    ends = np.quantile(posterior.rates, [0.05, 0.95], axis=0)
    return Judged(
        chance=posterior.chance,
        infested=now > 0,
        past=posterior.weekly,
        was=was,
        low=low,
        high=high,
        count=true,
        held=float(((counts >= low) & (counts <= high)).mean()),
        place=float((counts < true).mean() + rng.random() * (counts == true).mean()),
        rates_inside=(lived.theta >= ends[0]) & (lived.theta <= ends[1]),
        rhat=posterior.diagnostics.worst_rhat,
    )


def judge_many(
    buildings: int, setting: str, *, first: int = 0, workers: int = 1, **more: int
) -> list[Judged]:
    """Judge buildings with seeds from ``first`` on."""
    seeds = range(first, first + buildings)
    one = partial(judge, setting=setting, **more)
    if workers > 1:
        with ProcessPoolExecutor(workers) as pool:
            return list(pool.map(one, seeds, chunksize=5))
    return [one(seed) for seed in seeds]


def calibration_error(chance: np.ndarray, infested: np.ndarray, bins: int = 10) -> float:
    """Return the expected calibration error: mean |share infested - mean chance| over bins of equal width."""
    place = np.minimum((chance * bins).astype(int), bins - 1)
    size = np.bincount(place, minlength=bins)
    off = np.bincount(place, weights=infested, minlength=bins) - np.bincount(
        place, weights=chance, minlength=bins
    )
    return float(np.abs(off).sum() / size.sum())


def chance_error(chance: np.ndarray, *, seed: int = 1, times: int = 400) -> float:
    """Return the mean calibration error of faultless chances, by luck alone (units independent)."""
    rng = np.random.default_rng(seed)
    return float(np.mean([calibration_error(chance, rng.random(len(chance)) < chance) for _ in range(times)]))


@dataclass(frozen=True)
class Figures:
    """What the proof reports."""

    units: int
    base_rate: float
    mean_chance: float
    error: float
    error_by_luck: float
    brier: float
    brier_of_base_rate: float
    brier_expected: float  # of perfectly calibrated chances: mean p (1 - p)
    covered: float
    should_cover: float
    middle: float  # share of randomised places inside 5 % to 95 %
    past_error: float
    past_brier: float
    past_base: float
    rates_covered: np.ndarray
    disagree: float  # share of fits with R-hat at or over 1.01


def figures(judged: Sequence[Judged]) -> Figures:
    """Sum up."""
    chance = np.concatenate([each.chance for each in judged])
    infested = np.concatenate([each.infested for each in judged])
    past, was = (np.concatenate([getattr(each, name).ravel() for each in judged]) for name in ("past", "was"))
    base = infested.mean()
    place = np.array([each.place for each in judged])
    return Figures(
        units=len(chance),
        base_rate=float(base),
        mean_chance=float(chance.mean()),
        error=calibration_error(chance, infested),
        error_by_luck=chance_error(chance),
        brier=float(((chance - infested) ** 2).mean()),
        brier_of_base_rate=float(base * (1 - base)),
        brier_expected=float((chance * (1 - chance)).mean()),
        covered=float(np.mean([each.low <= each.count <= each.high for each in judged])),
        should_cover=float(np.mean([each.held for each in judged])),
        middle=float(((place > 0.05) & (place < 0.95)).mean()),
        past_error=calibration_error(past, was),
        past_brier=float(((past - was) ** 2).mean()),
        past_base=float(was.mean() * (1 - was.mean())),
        rates_covered=np.mean([each.rates_inside for each in judged], axis=0),
        disagree=float(np.mean([each.rhat >= 1.01 for each in judged])),
    )


def words(found: Figures) -> str:
    """Return the figures as text."""
    rates = ", ".join(
        f"{name} {share:.3f}" for name, share in zip(theta_names(ROUTES), found.rates_covered, strict=True)
    )
    return "\n".join(
        [
            f"units {found.units}, infested now {found.base_rate:.4f}, mean chance {found.mean_chance:.4f}",
            f"expected calibration error now {found.error:.4f} (by luck alone {found.error_by_luck:.4f}), "
            f"all weeks {found.past_error:.4f}",
            f"Brier now {found.brier:.4f} (perfectly calibrated {found.brier_expected:.4f}; "
            f"base rate {found.brier_of_base_rate:.4f}), "
            f"all weeks {found.past_brier:.4f} (base rate {found.past_base:.4f})",
            f"90 % interval of the number infested covers {found.covered:.3f} "
            f"(holds {found.should_cover:.3f} of the draws, being whole numbers); "
            f"randomised {found.middle:.3f}",
            f"90 % intervals of the rates cover: {rates}",
            f"fits whose R-hat stayed at or over 1.01: {found.disagree:.3f}",
        ]
    )


def main(given: Sequence[str] | None = None) -> None:
    """Run the proof and print its figures."""
    parser = argparse.ArgumentParser(description="Calibration of the chances on simulated buildings.")
    parser.add_argument("--buildings", type=int, default=300)
    parser.add_argument("--setting", choices=sorted(SETTINGS), action="append")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="seed of the first building")
    parser.add_argument("--weeks", type=int, help="length of the history; 26 to 34 if not given")
    chosen = parser.parse_args(given)
    for setting in chosen.setting or sorted(SETTINGS):
        began = time.perf_counter()
        judged = judge_many(
            chosen.buildings, setting, first=chosen.first, workers=chosen.workers, log_weeks=chosen.weeks
        )
        seconds = time.perf_counter() - began
        sys.stdout.write(
            f"\n{setting} priors, {chosen.buildings} buildings, {seconds:.0f} s\n{words(figures(judged))}\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main()
