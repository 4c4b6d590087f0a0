"""How far independent chains agree: R-hat and effective sample size.

Split R-hat as in Gelman et al., Bayesian Data Analysis, 3rd ed., 11.4; effective sample size
from the autocorrelations of all chains together, cut by Geyer's initial monotone sequence
(both from memory; checked against an outside library in the tests).
"""

from __future__ import annotations

import numpy as np

from spread.posterior.dynamics import Floats


def split_rhat(series: Floats) -> Floats:
    """Return split R-hat of each quantity.

    Parameters
    ----------
    series
        Shape (chains, draws, quantities).

    Returns
    -------
    Floats
        Shape (quantities,). Chains that are constant and equal give 1; constant and different give infinity.
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

    Parameters
    ----------
    series
        Shape (chains, draws, quantities).

    Returns
    -------
    Floats
        Shape (quantities,); a constant quantity counts every draw.
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
