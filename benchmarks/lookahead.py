"""Looking ahead over the doors that are left: what a door finds, and what its answer is worth for the rest.

The score of a door is its own chance of a find plus, for either answer, the sum of the best chances
that remain for the other doors of the budget. That is the budget-aware search of Jiang et al., Efficient
nonmyopic active search, ICML 2017 (PMLR 70:1714-1723), carried over to looks that may miss. It asks
once and then assumes the rest chosen together, so it is no exact optimum; finds on a contact graph are
not adaptive submodular, and no share of the optimum is promised for it or for any quick rule.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from spread.posterior.dynamics import Floats


def lookahead_scores(
    draws: NDArray[np.integer], weights: Floats, sensitivity: Floats, doors: int
) -> tuple[Floats, Floats]:
    """Return the expected finds of the whole budget if each unit is the next door, and its own chance.

    Parameters
    ----------
    draws
        Shape (K, N): joint draws of the levels now.
    weights
        Shape (K,): weights of the draws, summing to one.
    sensitivity
        Shape (levels,): chance that the look finds something, by level; 0 for clear.
    doors
        Doors left, the next one included; 1 or more.

    Returns
    -------
    scores, chances
        Shape (N,) each: expected finds in ``doors`` visits, and the chance of a find at the door itself.

    Raises
    ------
    ValueError
        When ``doors`` is less than 1.
    """
    if doors < 1:
        raise ValueError(f"doors was {doors}; expected 1 or more doors left to knock")
    hits = np.asarray(sensitivity, dtype=np.float64)[draws]
    chance = weights @ hits
    rest = min(doors - 1, hits.shape[1] - 1)
    if rest == 0:
        return chance, chance
    both = (hits * weights[:, None]).T @ hits
    # Row i: found at i and then at j; not found at i and then at j. A door is knocked at once.
    found, missed = both, np.maximum(chance[None, :] - both, 0.0)
    np.fill_diagonal(found, -1.0)
    np.fill_diagonal(missed, -1.0)
    return chance + _best(found, rest) + _best(missed, rest), chance


def order_by_lookahead(
    draws: NDArray[np.integer], weights: Floats, sensitivity: Floats, doors: int
) -> NDArray[np.intp]:
    """Return the units in the order in which looking ahead would knock at them next, best first.

    The first is the next door. After its answer weigh the draws anew, leave its column out, and ask
    again with one door less. Equal scores go by the chance of a find, then by place.

    Parameters
    ----------
    draws, weights, sensitivity, doors
        As in :func:`lookahead_scores`.

    Returns
    -------
    NDArray
        Shape (N,): places of the units.
    """
    scores, chance = lookahead_scores(draws, weights, sensitivity, doors)
    # Sums of the same numbers in another order differ in the last digits: that is no preference.
    return np.lexsort((np.arange(len(scores)), -chance, -np.round(scores, 12)))


def _best(rows: Floats, count: int) -> Floats:
    """Return the sum of the ``count`` largest numbers of each row."""
    return np.asarray(np.partition(rows, rows.shape[1] - count, axis=1)[:, -count:].sum(axis=1))
