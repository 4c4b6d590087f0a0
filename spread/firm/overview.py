"""What an office sees of its buildings: what they taught, who departs from it, which way of looking pays."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from spread.firm.night import Lesson
from spread.firm.pooling import Departs, departing
from spread.firm.tomorrow import Tomorrow
from spread.portfolio.standing import Standing
from spread.trade.pace import Pace
from spread.trade.registry import LOOKING

LEVEL = 2
"""At which a method is judged: low, 4 to 12 bugs, where ways of looking differ most."""


@dataclass(frozen=True)
class Pays:
    """A way of looking in this firm.

    ``odds``: 5, 50 and 95 % points of the factor on the usual odds of a find, in a typical building of the
    firm; ``find``: the chance of a find in a unit of level low, at these; ``general``: by the literature;
    ``minutes``: of a look; ``an_hour``: finds in an hour of looks at such units, low to high;
    ``taught``: whether the firm's logs say anything of it, or it is the literature's.
    """

    method: str
    odds: tuple[float, float, float]
    find: tuple[float, float, float]
    general: float
    minutes: float
    an_hour: tuple[float, float, float]
    taught: bool


@dataclass(frozen=True)
class Overview:
    """All that a page of a firm shows.

    ``name``: of the folder or office; ``on``: the day; ``stood``: its buildings, ranked; ``tomorrow``: the
    first doors; ``lesson``: what its buildings taught, None where too few; ``pays``, ``apart``: which
    way of looking pays, and who departs.
    """

    name: str
    on: dt.date
    stood: tuple[Standing, ...]
    tomorrow: Tomorrow
    lesson: Lesson | None
    pays: tuple[Pays, ...] = ()
    apart: tuple[Departs, ...] = ()


def what_pays(lesson: Lesson) -> tuple[Pays, ...]:
    """Return the ways of looking that the firm's buildings used, the most finds an hour first."""
    found = []
    minutes = Pace().look
    for q, one in enumerate(lesson.pooled.quantities):
        kind, _, method = one.name.partition(":")
        if kind != "odds" or method not in minutes:
            continue
        chance = LOOKING[method].sensitivity[LEVEL - 1].central
        logs = np.quantile(lesson.pooled.centre[:, q], (0.05, 0.5, 0.95))
        odds = np.exp(logs) * chance / (1.0 - chance)
        find = odds / (1.0 + odds)
        spent = minutes[method]
        hourly = _three(60.0 * find / spent)
        told = bool(lesson.pooled.taught[q])
        found.append(Pays(method, _three(np.exp(logs)), _three(find), chance, spent, hourly, told))
    return tuple(sorted(found, key=lambda one: -one.an_hour[1]))


def _three(values: Iterable[float]) -> tuple[float, float, float]:
    low, middle, high = (float(value) for value in values)
    return low, middle, high


def outliers(lesson: Lesson) -> tuple[Departs, ...]:
    """Return buildings that depart from what the others taught."""
    return departing(lesson.pooled, lesson.taught)
