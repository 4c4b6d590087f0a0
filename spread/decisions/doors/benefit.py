"""What a find is worth: infested-unit-weeks averted by finding a unit now and treating it.

The spread is linearised: every infestation has a value of its own, the infested-unit-weeks it
will cost within the horizon, itself and its offspring together, and the values add up. The
value obeys a backward recursion over the weeks left (``model.md`` 7),

    V_h(i, a) = c(a) + sum_b K(a, b) [(1 - f(i, a)) V_{h-1}(i, b) + f(i, a) W_{h-1}(i, b)]
                  + shedding(a) sum_j w_ij s_j V_{h-1}(j, trace)

with ``c`` what a week at a level costs against one of a light infestation, ``f`` the weekly
chance that it is found without this find, ``s_j`` the chance that contact ``j`` is
clear and can be infested at all, and ``W`` the same value once it is found. Finding a unit now moves
it from ``V`` to ``W``. A course under ``W`` is no certain end: a visit every other week if somebody opens,
treated unless a brief look finds nothing, and given up after so many such looks in a row as put a unit back
on the list (:data:`~spread.decisions.standing.CLEAR_LOOKS`); what they missed goes on under ``V``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from spread.decisions.standing import CLEAR_LOOKS
from spread.posterior.dynamics import LEVELS, Dynamics, Floats, Network
from spread.posterior.room import Shared
from spread.trade import detection, minutes, treatment
from spread.trade.methods.looks import BRIEF

HORIZON_WEEKS = 26  #: Weeks over which weeks averted are counted (``model.md`` 7)
COURSE = "steam-dust-encase"
"""The treatment that a find is taken to start where a log shows none."""


def brief_find() -> Floats:
    """Return the chance that a brief look ends with a find, by level: some looks end unsure."""
    return np.asarray(detection.sensitivity(BRIEF.key) * (1.0 - detection.unsure_chance()))


@dataclass(frozen=True)
class Usual:
    """What a building does without this find, and once it is made."""

    #: Shape (levels,) or (N, levels): weekly chance that an infestation is found without this find
    known: Floats = field(default_factory=lambda: detection.report_chance() * brief_find())
    #: Shape (levels, levels): what a visit of a course does
    effect: Floats = field(default_factory=lambda: treatment.over_units(treatment.effect_matrix(COURSE)))


def weeks_averted(
    network: Network,
    dynamics: Dynamics,
    *,
    clear: Floats,
    horizon: int = HORIZON_WEEKS,
    usual: Usual | None = None,
    costs: Sequence[float] = (1.0,) * (LEVELS - 1),
    shared: Shared | None = None,
) -> Floats:
    """Return infested-unit-weeks averted by finding and treating from now on, by unit and present level.

    Returned: shape (N, levels), 0 in the first column and never below 0.

    Parameters
    ----------
    network, dynamics : Contacts and rates
    clear : Shape (N,): chance that each unit is clear now; an infested contact cannot be infested again
    horizon : Weeks counted
    usual : Who else finds, and what treats; the first visit is this week. General experience if None
    shared : What is known of a shared room that no plan shows; its mean pressure counts
    costs : What a week at each infested level costs, trace to heavy; 1 counts weeks as they are
    """
    usual = usual or Usual()
    weights = network.dense(dynamics.rates) + (0.0 if shared is None else shared.pairs)
    everywhere = dynamics.mixing / max(1, network.size)
    grow = dynamics.growth[0].copy()
    grow[0] = 0.0
    grow[0, 0] = 1.0
    treated = grow @ usual.effect
    weekly, shut = np.array([0.0, *costs]), minutes.NO_ACCESS.central
    nothing_seen = (1.0 - detection.sensitivity(BRIEF.key)) * (1.0 - detection.unsure_chance())

    left, first = np.zeros((2, network.size, LEVELS))  # not found; found, and the first visit is this week
    # After so many clean looks in a row: a visit this week, and none.
    due, resting = np.zeros((2, CLEAR_LOOKS, network.size, LEVELS))
    for _ in range(horizon):
        founded = clear * left[:, 1]
        offspring = (weights @ founded + everywhere * founded.sum())[:, None] * dynamics.shedding
        cost = weekly + offspring
        visit = resting[0] @ treated.T
        seen_clean = np.concatenate([resting[1:], left[None]]) @ grow.T
        inside = (1.0 - nothing_seen) * visit + nothing_seen * seen_clean
        left, first, due, resting = (
            cost + (1.0 - usual.known) * (left @ grow.T) + usual.known * (first @ grow.T),
            cost + shut * (first @ grow.T) + (1.0 - shut) * visit,
            cost + shut * (due @ grow.T) + (1.0 - shut) * inside,
            cost + due @ grow.T,
        )
    return np.maximum(left - first, 0.0) * (np.arange(LEVELS) > 0)
