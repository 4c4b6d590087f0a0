"""What a look at each unit is worth today, in weeks of a light infestation averted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spread.decisions.doors.benefit import HORIZON_WEEKS, weeks_averted
from spread.decisions.doors.usual import usual_of
from spread.decisions.view import View
from spread.posterior.dynamics import Floats
from spread.trade import detection


@dataclass(frozen=True)
class Worth:
    """What looking at each unit is worth."""

    #: Shape (N, levels): infested-unit-weeks averted if a unit at that level is found and treated now; 0 for
    #: a clear unit
    averted: Floats
    #: Shape (N,): mean over levels, the chance of a find included: weeks averted by one look
    expected: Floats
    #: Shape (N,): weeks averted given that the look finds something; 0 where nothing can be found
    of_a_find: Floats


def worth_of_looking(view: View, method: str, *, horizon: int = HORIZON_WEEKS) -> Worth:
    """Return what a look at each unit is worth today.

    ``method``: how the technician looks, by eye; ``horizon``: weeks counted.
    """
    posterior = view.posterior
    averted = weeks_averted(
        view.network,
        view.dynamics,
        clear=1.0 - posterior.chance,
        horizon=horizon,
        usual=usual_of(view),
        costs=view.week_costs,
    )
    found = posterior.levels * detection.sensitivity(method) * (1.0 - detection.unsure_chance())
    expected = (found * averted).sum(axis=1)
    chance = found.sum(axis=1)
    of_a_find = np.divide(expected, chance, out=np.zeros_like(expected), where=chance > 0)
    return Worth(averted, expected, of_a_find)
