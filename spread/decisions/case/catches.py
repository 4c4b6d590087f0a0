"""What traps have caught, place by place and period by period, and where the bugs seem to come from.

Catches of one place are taken as Poisson, with a rate a trap and day that may be anything before the first is
read (a flat prior; Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.6: the rate is then a gamma with
shape count + 1 and inverse scale exposure). What that says of a place is a hint where to look first; it finds
no harborage, and few catches say little, which the chance shows.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from spread.decisions.case.traps import SET, traps_of
from spread.facts import Fact
from spread.records.kinds import Record
from spread.trade.methods.monitors import INTERCEPTORS

TELLS = 0.8
"""Chance of the most from which a place is named as where to look first (judgement)."""
_STEPS = 4000
_LEG = re.compile(" (?:leg|trap) ")  # a bed without legs has its traps beside it


@dataclass(frozen=True, slots=True)
class CaughtAt(Fact):
    """What the traps of one sleeping place, or one trap, caught."""

    place: str  #: ``bed 1``; of a trap ``bed 1 leg 2``
    traps: int  #: How many traps stand or stood there
    days: int  #: Days that they were read for, all together
    caught: tuple[tuple[dt.date, int], ...]  #: Catches by the day on which they were read
    most: float = 0.0  #: Chance that most bugs a trap and day are caught here, of all places

    @property
    def total(self) -> int:
        """Bugs caught in all."""
        return sum(count for _, count in self.caught)


@dataclass(frozen=True, slots=True)
class Catches(Fact):
    """What the traps of a unit caught since they were set."""

    places: tuple[CaughtAt, ...]  #: Sleeping places, in the order of their names
    traps: tuple[CaughtAt, ...]  #: Every trap by itself
    unplaced: int  #: Bugs that were counted, and nobody wrote in which trap

    @property
    def points_to(self) -> CaughtAt | None:
        """The place that most bugs seem to come to, or None where that cannot be told."""
        best = max(self.places, key=lambda one: one.most, default=None)
        told = best is not None and len(self.places) > 1 and best.total > 0 and best.most >= TELLS
        return best if told else None


def catches_of(records: Sequence[Record], on: dt.date) -> Catches:
    """Return what the traps that stand in a unit have caught, by its current records up to a day."""
    stand = traps_of(records, on)
    if stand.set_on is None:
        return Catches((), (), 0)
    began = min((row.when for row in records if row.method == SET and row.when <= on), default=stand.set_on)
    read = sorted(
        (
            row
            for row in records
            if row.kind == "monitor" and row.method == INTERCEPTORS.key and began <= row.when <= on
        ),
        key=lambda row: (row.when, row.id),
    )
    caught: dict[str, dict[dt.date, int]] = {place: defaultdict(int) for place in stand.places}
    unplaced, days = 0, 0
    for row in read:
        held = {one.place: one.count or 0 for one in row.items if one.item == INTERCEPTORS.item}
        for place in stand.places:
            caught[place][row.when] += held.get(place, 0)
        unplaced += max(0, (row.count or 0) - sum(held.get(place, 0) for place in stand.places))
        days += row.days or 0
    traps = tuple(CaughtAt(place, 1, days, tuple(caught[place].items())) for place in stand.places)
    return Catches(_by_place(traps, days), traps, unplaced)


def _by_place(traps: Sequence[CaughtAt], days: int) -> tuple[CaughtAt, ...]:
    """Return the traps of each sleeping place together: a trap is named by its place and its leg."""
    groups: dict[str, list[CaughtAt]] = defaultdict(list)
    for one in traps:
        groups[_LEG.split(one.place)[0]].append(one)
    exposure = {place: len(some) * days for place, some in groups.items()}
    totals = {place: sum(one.total for one in some) for place, some in groups.items()}
    most = chance_of_most(totals, exposure) if days else dict.fromkeys(groups, 0.0)
    return tuple(
        CaughtAt(place, len(some), exposure[place], _summed(some), most[place])
        for place, some in sorted(groups.items())
    )


def _summed(traps: Sequence[CaughtAt]) -> tuple[tuple[dt.date, int], ...]:
    sums: dict[dt.date, int] = defaultdict(int)
    for one in traps:
        for day, count in one.caught:
            sums[day] += count
    return tuple(sums.items())


def chance_of_most(totals: Mapping[str, int], exposure: Mapping[str, float]) -> dict[str, float]:
    """Return for each place the chance that its rate is the highest of all.

    Parameters
    ----------
    totals : Bugs caught by place
    exposure : Trap-days by place, above 0
    """
    chances = {}
    for place, count in totals.items():
        # Midpoints of a grid of its own, at whose end the density has nothing left.
        step = (count + 1 + 12 * math.sqrt(count + 1)) / exposure[place] / _STEPS
        grid = (np.arange(_STEPS) + 0.5) * step
        others = [_gamma_below(grid, totals[p] + 1, exposure[p]) for p in totals if p != place]
        density = _gamma_density(grid, count + 1, exposure[place])
        chances[place] = float(np.sum(density * np.prod(others, axis=0)) * step)
    whole = math.fsum(chances.values())
    return {place: chance / whole for place, chance in chances.items()}


def _gamma_density(x: np.ndarray, shape: int, rate: float) -> np.ndarray:
    return np.exp(shape * math.log(rate) + (shape - 1) * np.log(x) - rate * x - math.lgamma(shape))


def _gamma_below(x: np.ndarray, shape: int, rate: float) -> np.ndarray:
    """Return the distribution function of a gamma with whole shape (an Erlang), from Poisson terms."""
    term = np.exp(-rate * x)
    left = term.copy()
    for k in range(1, shape):
        term = term * (rate * x) / k
        left += term
    return 1.0 - left
