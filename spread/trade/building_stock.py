"""How common infestations are, at what levels, how often they return and come in."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from spread.trade.arrays import FloatArray, centrals
from spread.trade.sources import Sourced, judged, sourced_row


@dataclass(frozen=True, slots=True)
class BetaPrior:
    """A share between buildings, as a Beta distribution."""

    #: a, b: Shapes, both above 0; the mean is ``a / (a + b)``
    a: float
    b: float
    #: source, confidence: As in :class:`~spread.trade.sources.Sourced`
    source: str
    confidence: str

    @property
    def mean(self) -> float:
        """Mean share."""
        return self.a / (self.a + self.b)

    def draw(self, rng: np.random.Generator, size: int | tuple[int, ...]) -> FloatArray:
        """Return shares of ``size`` buildings, drawn with ``rng``."""
        return rng.beta(self.a, self.b, size)


PREVALENCE = MappingProxyType(
    {
        "us-low-income": BetaPrior(
            5.6,
            40.0,
            "Wang et al. 2016, J Med Entomol 53:639: 12.3 % of 2,372 units, 3.8-29.5 % by building (43)",
            "B",
        ),
        "market-rate": BetaPrior(
            1.2,
            60.0,
            "judgement from 2-3 % of Montreal households a year (city surveys 2010-2012) and ANSES 2023",
            "C",
        ),
    }
)
"""Share of units infested at one time, by kind of building."""

LEVEL_MIX = sourced_row(
    (0.3, 0.24, 0.23, 0.23),
    (0.18, 0.14, 0.14, 0.14),
    (0.48, 0.38, 0.37, 0.37),
    unit="share of infested units",
    source="joint fit of 2026 (docs/evidence.md): what the dynamics leave in buildings under usual service "
    "for eight years; the range is judgement",
    confidence="C",
    kind="fitted",
)


def level_mix() -> FloatArray:
    """Return the share of infested units that is trace, low, moderate, heavy; shape (4,), sums to 1."""
    return centrals(LEVEL_MIX)


RELAPSE = MappingProxyType(
    {
        "conventional": judged(
            0.25,
            0.10,
            0.45,
            "chance within 26 weeks",
            "judgement; 71 % of managers saw units infested again (NAHMA poll, October 2011)",
        ),
        "verified by traps": judged(0.08, 0.03, 0.20, "chance within 26 weeks", "judgement"),
    }
)
"""Chance that a treated unit is found infested again."""

_INTRO = "judgement: order from press and survey reports, size from Wang et al. 2018, doi 10.1002/ps.4830"
INTRODUCTIONS = MappingProxyType(
    {
        "market-rate": judged(0.0002, 0.0001, 0.0006, "per unit-week", _INTRO),
        "low-income": judged(0.0005, 0.0001, 0.0015, "per unit-week", _INTRO),
        "high-turnover": judged(0.001, 0.0003, 0.003, "per unit-week", _INTRO),
    }
)
"""Bugs brought in from outside, by kind of building."""

UNAWARE_RESIDENT = Sourced(
    0.49,
    0.40,
    0.60,
    "share of infested units",
    "Wang et al. 2016, J Med Entomol 53:639: 49 % of 291; Wang et al. 2010, doi 10.1603/EC09230: 50 %",
    "A",
)
UNAWARE_MANAGEMENT = Sourced(
    0.75,
    0.60,
    0.90,
    "share of infested units",
    "Vail and Chandler 2017, Int. Conf. Urban Pests abstract 1471: 79 %; Cooper et al. 2016, Pest Manag Sci "
    "72:45-56: about 70 % (from memory)",
    "B",
)
