"""Which method next: what each finds, what that is worth, what it costs and what it would settle.

A visit can end in a few ways, each with its chance at each level (:func:`outcomes`): a look finds
something or not; a dog gives no alert, or an alert that a brief look confirms or does not, the two
missing independently of each other (judgement). False finds in clear units count in what is settled
and never as finds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spread.decisions.doors.benefit import HORIZON_WEEKS, weeks_averted
from spread.decisions.doors.effort import effort_of
from spread.decisions.doors.looking import chances_of_yes, weeks_until_answer
from spread.decisions.doors.usual import usual_of
from spread.decisions.view import View
from spread.errors import Problem, SettingsError
from spread.facts import Fact
from spread.posterior.dynamics import LEVELS, Floats
from spread.trade import detection
from spread.trade.pace import Pace
from spread.trade.registry import LOOKING, MONITORS

CHOICES = tuple(key for key, row in LOOKING.items() if row.weighed)
"""Methods that are weighed against each other."""


@dataclass(frozen=True, slots=True)
class MethodRow(Fact):
    """One method for a unit or a set of units; sums over the units unless said otherwise."""

    method: str  #: A word of :data:`CHOICES`
    finds: float  #: Expected finds, shut doors counted
    worth: float  #: Expected infested-unit-weeks averted
    minutes: float  #: Expected minutes until there is an answer, without the walk; both visits of a monitor
    per_minute: float  #: ``worth / minutes``
    visits: int  #: Visits to each unit
    days: int  #: Days until the answer
    chance: float  #: Mean chance of infestation now
    #: Mean chance of infestation after the method was carried through and found nothing
    chance_if_nothing: float
    #: Expected fall of the uncertainty, in bits (1 bit settles one even chance), shut doors counted
    settled: float


def outcomes(method: str) -> tuple[Floats, Floats]:
    """Return the ways a visit ends by the trade's figures and which of them are finds.

    Returns
    -------
    chances
        Shape (outcomes, levels); columns sum to one.
    found
        Shape (outcomes,): 1 where the outcome is a find.
    """
    return _ways(method, _positive)


def outcomes_today(view: View, method: str) -> tuple[Floats, Floats]:
    """Return the same of a visit to each unit today, chances of shape (outcomes, N, levels)."""
    return _ways(method, lambda one: chances_of_yes(view, one))


def _ways(method: str, positive_of: Callable[[str], Floats]) -> tuple[Floats, Floats]:
    positive = positive_of(method)
    confirm = LOOKING[method].confirmed_by
    if not confirm:
        return np.stack([positive, 1.0 - positive]), np.array([1.0, 0.0])
    confirmed = positive_of(confirm)
    return (
        np.stack([positive * confirmed, positive * (1.0 - confirmed), 1.0 - positive]),
        np.array([1.0, 0.0, 0.0]),
    )


def _positive(method: str) -> Floats:
    chances = detection.sensitivity(method)
    chances[0] = detection.false_positive(method, frozenset(), False)
    return chances


def _true_finds(chances: Floats, found: Floats) -> Floats:
    true = np.tensordot(found, chances, axes=1)
    true[..., 0] = 0.0
    return np.asarray(true)


def finds_and_worth(view: View, method: str, *, horizon: int = HORIZON_WEEKS) -> tuple[Floats, Floats]:
    """Return expected finds and weeks averted of one visit today to each unit that opens, (N,) and (N,).

    A look by eye may end unsure, and then nothing is found. A monitor finds at the end of its period, so its
    worth is that of treating then, over what is left of the horizon, and nothing where the unit was found
    otherwise or died out meanwhile.

    ``method``: a look or a monitor; ``horizon``: weeks counted.
    """
    found = view.posterior.levels * _true_finds(*outcomes_today(view, method))
    if LOOKING[LOOKING[method].confirmed_by or method].by_eye:
        found *= 1.0 - detection.unsure_chance()
    averted = averted_after(view, weeks_until_answer(method), horizon=horizon)
    return np.asarray(found.sum(axis=1)), np.asarray((found * averted).sum(axis=1))


def averted_after(view: View, weeks: int, *, horizon: int = HORIZON_WEEKS) -> Floats:
    """Return weeks averted by treating from some weeks on, by unit and level now, shape (N, levels).

    Until then both worlds cost the same, so the worth then is carried back through growth and death;
    a unit that is found otherwise meanwhile is treated in both worlds.

    ``weeks``: weeks until the treatment; ``horizon``: weeks counted.
    """
    usual = usual_of(view)
    averted = weeks_averted(
        view.network,
        view.dynamics,
        clear=1.0 - view.posterior.chance,
        horizon=max(0, horizon - weeks),
        usual=usual,
        costs=view.week_costs,
        shared=view.posterior.shared,
    )
    grow = view.dynamics.growth[0].copy()
    grow[0] = np.eye(LEVELS)[0]
    for _ in range(weeks):
        averted = (1.0 - usual.known) * (averted @ grow.T)
    return np.asarray(averted * (np.arange(LEVELS) > 0))


def rank_methods(
    view: View,
    units: Sequence[str],
    pace: Pace | None = None,
    *,
    methods: Sequence[str] = CHOICES,
    horizon: int = HORIZON_WEEKS,
) -> tuple[MethodRow, ...]:
    """Weigh the methods for a unit or a set, the most weeks averted per minute first.

    ``units``: unit codes; each is visited by the one method; ``pace``: minutes and the prior of a shut door;
    ``methods``: what to choose from; ``horizon``: weeks over which weeks averted are counted. Raises
    SettingsError for an empty set and for units that the building does not have.
    """
    unknown = [unit for unit in units if unit not in view.network.index]
    if unknown or not units:
        what = f"there is no unit {unknown[0][:40]!r}" if unknown else "no unit is named"
        raise SettingsError(Problem("methods", "units", what, "use unit codes of the plan"))
    rows = np.array([view.network.index[unit] for unit in dict.fromkeys(units)])
    made = [_row(view, rows, method, pace or Pace(), horizon) for method in methods]
    return tuple(sorted(made, key=lambda row: (-row.per_minute, row.minutes)))


def _row(view: View, rows: NDArray[np.intp], method: str, pace: Pace, horizon: int) -> MethodRow:
    effort = effort_of(view, method, pace)
    opens = effort.opens[rows]
    finds, worth = (array[rows] for array in finds_and_worth(view, method, horizon=horizon))
    levels = view.posterior.levels[rows]
    chances, found = outcomes_today(view, method)
    chances = chances[:, rows]
    minutes, total = float(effort.whole[rows].sum()), float(opens @ worth)
    chance = float(1.0 - levels[:, 0].mean())
    nothing = float(_infested_given(levels, np.tensordot(1.0 - found, chances, axes=1)).mean())
    weeks = weeks_until_answer(method)
    return MethodRow(
        method=method,
        finds=float(opens @ finds),
        worth=total,
        minutes=minutes,
        per_minute=total / minutes,
        visits=2 if method in MONITORS else 1,
        days=7 * weeks,
        chance=chance,
        chance_if_nothing=nothing,
        settled=float(opens @ settled_bits(levels, chances)),
    )


def settled_bits(levels: Floats, chances: Floats) -> Floats:
    """Return the expected fall in entropy of infested or not, in bits, shape (N,).

    ``levels``: shape (N, levels): chances now; ``chances``: shape (outcomes, levels), or (outcomes, N,
    levels): chance of each outcome at each level.
    """
    before = _entropy(1.0 - levels[:, 0])
    after = sum(
        (levels * outcome).sum(axis=1) * _entropy(_infested_given(levels, outcome)) for outcome in chances
    )
    return np.asarray(np.maximum(before - after, 0.0))


def _infested_given(levels: Floats, outcome: Floats) -> Floats:
    """Return the chance of infestation after an outcome, shape (N,)."""
    joint = levels * outcome
    whole = joint.sum(axis=1)
    return np.divide(joint[:, 1:].sum(axis=1), whole, out=np.zeros_like(whole), where=whole > 0)


def _entropy(chance: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        bits = -chance * np.log2(chance) - (1.0 - chance) * np.log2(1.0 - chance)
    return np.asarray(np.nan_to_num(bits))
