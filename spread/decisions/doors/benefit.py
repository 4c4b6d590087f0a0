"""What a find is worth: infested-unit-weeks averted by finding and treating a unit now.

The spread is linearised: every infestation has a value of its own, the infested-unit-weeks it
will cost within the horizon, itself and its offspring together, and the values add up. The
value obeys a backward recursion over the weeks left (``model.md`` 7),

    V_h(i, a) = c(a) + (1 - f(a)) sum_b K(a, b) V_{h-1}(i, b) + f(a) W_{h-1}(i, a)
                  + shedding(a) sum_j w_ij s_j V_{h-1}(j, trace)

with ``c`` what a week at a level costs against one of a light infestation, ``f`` the weekly
chance that somebody reports it, ``s_j`` the chance that contact ``j`` is
clear and can be infested at all, and ``W`` the same value under treatment, a visit every other
week. Finding a unit now moves it from ``V`` to ``W``.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spread.posterior.dynamics import LEVELS, Dynamics, Floats, Network
from spread.posterior.room import Shared
from spread.trade import detection, treatment

HORIZON_WEEKS = 26  #: Weeks over which weeks averted are counted (``model.md`` 7)
COURSE = "steam-dust-encase"
"""The treatment course that a find is assumed to start, a visit every other week."""


def weeks_averted(
    network: Network,
    dynamics: Dynamics,
    *,
    clear: Floats,
    horizon: int = HORIZON_WEEKS,
    course: str = COURSE,
    costs: Sequence[float] = (1.0,) * (LEVELS - 1),
    shared: Shared | None = None,
) -> Floats:
    """Return infested-unit-weeks averted by treating from now on, by unit and present level.

    Returned: shape (N, levels), 0 in the first column and never below 0.

    Parameters
    ----------
    network, dynamics : Contacts and rates
    clear : Shape (N,): chance that each unit is clear now; an infested contact cannot be infested again
    horizon : Weeks counted
    course : Method of the visits, the first of them this week
    shared : What is known of a shared room that no plan shows; its mean pressure counts
    costs : What a week at each infested level costs, trace to heavy; 1 counts weeks as they are
    """
    weights = network.dense(dynamics.rates) + (0.0 if shared is None else shared.pairs)
    everywhere = dynamics.mixing / max(1, network.size)
    grow = dynamics.growth[0].copy()
    grow[0] = 0.0
    grow[0, 0] = 1.0
    treated = grow @ treatment.over_units(treatment.effect_matrix(course))
    reported = detection.report_chance().copy()
    reported[0] = 0.0
    weekly = np.array([0.0, *costs])

    n = network.size
    left = np.zeros((n, LEVELS))
    due = np.zeros((n, LEVELS))  # under treatment, a visit this week
    resting = np.zeros((n, LEVELS))  # under treatment, no visit this week
    for _ in range(horizon):
        founded = clear * left[:, 1]
        offspring = (weights @ founded + everywhere * founded.sum())[:, None] * dynamics.shedding
        cost = weekly + offspring
        left, due, resting = (
            cost + (1.0 - reported) * (left @ grow.T) + reported * due,
            cost + resting @ treated.T,
            cost + due @ grow.T,
        )
    return np.maximum(left - due, 0.0) * (np.arange(LEVELS) > 0)
