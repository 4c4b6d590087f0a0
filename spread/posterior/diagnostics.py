"""How far independent chains agree: R-hat, effective sample size, and what a fit keeps of them.

Split R-hat as in Gelman et al., Bayesian Data Analysis, 3rd ed., 11.4; effective sample size
from the autocorrelations of all chains together, cut by Geyer's initial monotone sequence
(both from memory; checked against an outside library in the tests).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spread.posterior.dynamics import Floats

RHAT_LIMIT = 1.01
LEAST_DRAWS = 400
"""Largest R-hat and fewest effective draws that count as agreement.

Both from Vehtari et al. 2021, Bayesian Analysis 16(2).
"""


@dataclass(frozen=True)
class Diagnostics:
    """How well the chains agreed, and what they cost."""

    #: chains, sweeps, warmup: Sweeps are kept ones, a chain
    chains: int
    sweeps: int
    warmup: int
    seconds: float  #: Wall time of the fit
    #: rhat_count, rhat_worst_unit, rhat_worst_rate: Split R-hat of the number infested now, and the largest
    #: over units of the chance now and over the logarithms of the learned rates
    rhat_count: float
    rhat_worst_unit: float
    #: ess_count, ess_worst_unit, ess_worst_rate: Effective draws of the same
    ess_count: float
    ess_worst_unit: float
    nanoseconds_per_unit_week: float  #: Thread time a unit and week of one sweep
    rhat_worst_rate: float = 1.0
    ess_worst_rate: float = float("inf")

    @property
    def worst_rhat(self) -> float:
        """The largest R-hat of all."""
        return max(self.rhat_count, self.rhat_worst_unit, self.rhat_worst_rate)

    @property
    def good(self) -> bool:
        """Whether the chains agree (R-hat below 1.01) and hold at least 400 effective draws."""
        return self.worst_rhat < RHAT_LIMIT and self.ess_count >= LEAST_DRAWS

    @property
    def words(self) -> str:
        """The same in a sentence."""
        worst = self.worst_rhat
        if self.good:
            return f"The chains agree (R-hat {worst:.3f}, {self.ess_count:.0f} effective draws)."
        return (
            f"The chains do not agree well enough (R-hat {worst:.3f}, {self.ess_count:.0f} effective draws); "
            "run the fit longer before leaning on these figures."
        )


def split_rhat(series: Floats) -> Floats:
    """Return split R-hat of each quantity.

    ``series``: shape (chains, draws, quantities).

    Returned: shape (quantities,). Chains that are constant and equal give 1; constant and different give
    infinity.
    """
    chains, draws, quantities = series.shape
    half = draws // 2
    if half < 2:
        return np.full(quantities, np.inf)  # too short to say anything
    parts = series[:, : 2 * half].reshape(chains * 2, half, quantities)
    within = parts.var(axis=1, ddof=1).mean(axis=0)
    between = half * parts.mean(axis=1).var(axis=0, ddof=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.sqrt((half - 1) / half + between / (half * within))
    still = within < 1e-20
    return np.where(still, np.where(between < 1e-20, 1.0, np.inf), ratio)


def effective_size(series: Floats) -> Floats:
    """Return the effective number of independent draws of each quantity.

    ``series``: shape (chains, draws, quantities).

    Returned: shape (quantities,); a constant quantity counts every draw.
    """
    chains, draws, quantities = series.shape
    if draws < 2:
        return np.full(quantities, float(chains * draws))
    result = np.empty(quantities)
    padded = 1 << (2 * draws - 1).bit_length()
    for q in range(quantities):
        values = series[:, :, q]
        centred = values - values.mean(axis=1, keepdims=True)
        spectrum = np.fft.rfft(centred, n=padded, axis=1)
        covariance = np.fft.irfft(np.abs(spectrum) ** 2, n=padded, axis=1)[:, :draws] / draws
        within = covariance[:, 0].mean() * draws / (draws - 1)
        variance = within * (draws - 1) / draws
        if chains > 1:
            variance += values.mean(axis=1).var(ddof=1)
        if variance < 1e-20:
            result[q] = chains * draws
            continue
        correlation = 1.0 - (within - covariance.mean(axis=0) * draws / (draws - 1)) / variance
        correlation[0] = 1.0
        pairs = correlation[: draws // 2 * 2].reshape(-1, 2).sum(axis=1)
        negative = np.flatnonzero(pairs < 0)
        pairs = pairs[: negative[0]] if len(negative) else pairs
        time = 2.0 * np.minimum.accumulate(pairs).sum() - 1.0
        result[q] = min(chains * draws / max(time, 1e-12), chains * draws * np.log10(chains * draws))
    return result
