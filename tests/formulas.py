"""Textbook arithmetic of imperfect tests, which checks numbers of the trade against published counts."""

from __future__ import annotations

import math
from collections.abc import Iterable


def combine_parallel(chances: Iterable[float]) -> float:
    """Return the chance that at least one of several independent tests is positive.

    With sensitivities this is the sensitivity of "any positive counts". Independence holds
    at best within one level of infestation.
    """
    return 1.0 - math.prod(1.0 - chance for chance in chances)


def combine_series(chances: Iterable[float]) -> float:
    """Return the chance that all of several independent tests agree.

    With sensitivities: all must be positive. With specificities: the specificity of "any positive counts".
    """
    return math.prod(chances)


def predictive_values(prevalence: float, sensitivity: float, specificity: float) -> tuple[float, float]:
    """Return the positive and the negative predictive value (Bayes).

    ``prevalence``, ``sensitivity``, ``specificity``: chances from 0 to 1. Raises ValueError when a positive
    or a negative answer is impossible, so that its value is undefined.
    """
    positive = prevalence * sensitivity + (1.0 - prevalence) * (1.0 - specificity)
    if not 0.0 < positive < 1.0:
        raise ValueError("both answers of the test must be possible for its predictive values to exist")
    return (prevalence * sensitivity / positive, (1.0 - prevalence) * specificity / (1.0 - positive))


def likelihood_ratios(sensitivity: float, specificity: float) -> tuple[float, float]:
    """Return the likelihood ratio of a positive and of a negative answer.

    Raises ValueError when the specificity is 0 or 1 and a ratio is undefined.
    """
    if not 0.0 < specificity < 1.0:
        raise ValueError(f"specificity must lie between 0 and 1, found {specificity}")
    return sensitivity / (1.0 - specificity), (1.0 - sensitivity) / specificity


def wilson_interval(successes: float, trials: float, z: float = 1.959964) -> tuple[float, float]:
    """Return the Wilson score interval of a share (95 % by default).

    ``successes``, ``trials``: counts; ``z``: standard normal quantile of the upper end. Raises ValueError
    when there are no trials, or not ``0 <= successes <= trials``.
    """
    if trials <= 0 or not 0 <= successes <= trials:
        raise ValueError(f"expected 0 <= successes <= trials and some trials, found {successes} of {trials}")
    share = successes / trials
    scale = 1.0 + z * z / trials
    middle = (share + z * z / (2.0 * trials)) / scale
    half = z / scale * math.sqrt(share * (1.0 - share) / trials + z * z / (4.0 * trials * trials))
    return middle - half, middle + half


def two_sample_capture(first: float, second: float, either: float) -> tuple[float, float, float]:
    """Return what two independent looks over the same units say of those missed by both.

    ``first``, ``second``: units found by each look; ``either``: units found by at least one. Raises
    ValueError when no unit was found by both, or the numbers contradict each other.

    Returned: estimated number in truth (Lincoln-Petersen), sensitivity of the first look and of the second.
    """
    both = first + second - either
    if not 0 < both <= min(first, second):
        raise ValueError(f"some units must be found by both looks, found {first}, {second}, either {either}")
    return first * second / both, both / second, both / first


def per_period(total: float, periods: float) -> float:
    """Return the chance per period that adds up to ``total`` over equal, independent periods.

    Raises ValueError when ``total`` is no chance or there are no periods.
    """
    if not 0.0 <= total <= 1.0 or periods <= 0:
        raise ValueError(f"expected a chance and some periods, found {total} over {periods}")
    return float(1.0 - (1.0 - total) ** (1.0 / periods))
