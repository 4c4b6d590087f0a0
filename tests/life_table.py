"""A daily life table of bed bugs in the laboratory: how fast a fed population can grow at most.

The weekly growth of :mod:`spread.trade.biology` is slower than this ceiling; the life table
shows where the ceiling comes from.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spread.trade.arrays import FloatArray, centrals
from spread.trade.sources import Sourced

_P11 = "Polanco et al. 2011, doi 10.3390/insects2020173"

EGG_DAYS = Sourced(
    8.0, 6.0, 10.0, "days", "extension fact sheets: hatch in 6-10 days at room temperature (second-hand)", "B"
)
EGG_TO_ADULT_DAYS = Sourced(35.0, 32.0, 42.0, "days", f"{_P11}: about 35 (resistant strain) to 40", "A")
EGG_TO_ADULT_SURVIVAL = Sourced(
    0.94,
    0.69,
    0.94,
    "chance",
    f"{_P11}: 94, 79 and 69 % in three strains; the first taken as the resistant",
    "B",
)
ADULT_LIFE_EXPECTANCY = Sourced(127.0, 100.0, 150.0, "days", f"{_P11}; the range is judgement", "B")
PEAK_DAUGHTERS = Sourced(
    0.64, 0.5, 0.8, "daughter eggs per female per day", f"{_P11}: reached in week 5 of adult life", "B"
)

_SHAPE = "judgement: rise and fall around the published peak, set so that growth and R0 come out as published"
DAUGHTERS_BY_WEEK = (
    *(
        Sourced(value, 0.7 * value, 1.3 * value, PEAK_DAUGHTERS.unit, _SHAPE, "C")
        for value in (0.30, 0.40, 0.50, 0.60)
    ),
    PEAK_DAUGHTERS,
    *(
        Sourced(value, 0.7 * value, 1.3 * value, PEAK_DAUGHTERS.unit, _SHAPE, "C")
        for value in (0.62, 0.59, 0.55, 0.50, 0.45, 0.40, 0.35, 0.30, 0.25, 0.20, 0.15, 0.10)
    ),
)
"""Daughter eggs per living female per day, by week of adult life; none later."""


@dataclass(frozen=True, slots=True)
class LifeTable:
    """Durations, survival and births of a cohort of females, in days.

    Parameters
    ----------
    egg_days, nymph_days
        Whole days as an egg and as a nymph.
    adult_days
        Days of adult life that are followed; nobody lives longer.
    egg_survival, nymph_survival, adult_survival
        Chance to live through one day, by stage.
    daughters
        Daughter eggs per living female per day, by week of adult life; 0 after the last.
    """

    egg_days: int
    nymph_days: int
    adult_days: int
    egg_survival: float
    nymph_survival: float
    adult_survival: float
    daughters: tuple[float, ...]

    def matrix(self) -> FloatArray:
        """Return the daily Leslie matrix, shape (days, days); column = age today, row = age tomorrow."""
        survival = np.repeat(
            (self.egg_survival, self.nymph_survival, self.adult_survival),
            (self.egg_days, self.nymph_days, self.adult_days),
        )
        leslie = np.diag(survival[:-1], k=-1)
        leslie[0] = self._births()
        return leslie

    def _births(self) -> FloatArray:
        by_day = np.repeat(self.daughters, 7)[: self.adult_days]
        births = np.zeros(self.egg_days + self.nymph_days + self.adult_days)
        first = self.egg_days + self.nymph_days
        births[first : first + by_day.size] = by_day
        return births


def laboratory() -> LifeTable:
    """Return the life table of a resistant strain, fed weekly at room temperature (Polanco et al. 2011)."""
    young = int(EGG_TO_ADULT_DAYS.central)
    daily = float(EGG_TO_ADULT_SURVIVAL.central ** (1.0 / young))
    eggs = int(EGG_DAYS.central)
    return LifeTable(
        egg_days=eggs,
        nymph_days=young - eggs,
        adult_days=365,
        egg_survival=daily,
        nymph_survival=daily,
        adult_survival=1.0 - 1.0 / ADULT_LIFE_EXPECTANCY.central,
        daughters=tuple(float(value) for value in centrals(DAUGHTERS_BY_WEEK)),
    )


def _dominant(table: LifeTable) -> tuple[float, FloatArray]:
    values, vectors = np.linalg.eig(table.matrix())
    best = int(np.argmax(values.real))
    vector = np.abs(vectors[:, best].real)
    return float(values[best].real), vector / vector.sum()


def growth_rate(table: LifeTable | None = None) -> float:
    """Return the growth rate per day once the age mix is stable: the log of the dominant eigenvalue."""
    return float(np.log(_dominant(table or laboratory())[0]))


def doubling_time(table: LifeTable | None = None) -> float:
    """Return the days in which a growing population doubles."""
    return float(np.log(2.0) / growth_rate(table))


def net_reproduction(table: LifeTable | None = None) -> float:
    """Return the daughters that one newly laid female egg leaves on average (R0)."""
    leslie = (table or laboratory()).matrix()
    alive = np.concatenate(([1.0], np.cumprod(np.diag(leslie, k=-1))))
    return float(alive @ leslie[0])


def stable_ages(table: LifeTable | None = None) -> FloatArray:
    """Return the shares of eggs, nymphs and adults in a growing population, shape (3,), summing to 1."""
    table = table or laboratory()
    ages = _dominant(table)[1]
    hatch, adult = table.egg_days, table.egg_days + table.nymph_days
    return np.array([ages[:hatch].sum(), ages[hatch:adult].sum(), ages[adult:].sum()])
