"""Routes between units and how fast bugs take them."""

from __future__ import annotations

from types import MappingProxyType

from spread.trade.arrays import FloatArray, centrals
from spread.trade.route_rows import ROWS
from spread.trade.sources import Sourced, judged

BY_KEY = MappingProxyType({row.key: row for row in ROWS})  #: Every route by its key
ROUTES = tuple(BY_KEY)  #: Routes of the contact graph, in the order of :func:`rates`
BY_HAND = tuple(key for key, row in BY_KEY.items() if not row.measured_by)
"""Routes whose pairs are given in ``[[links]]`` of ``building.toml``."""
TOUCHING = frozenset(key for key, row in BY_KEY.items() if row.touches)
"""Routes through what two units share: a wall, a floor, a ceiling."""
assert len(BY_KEY) == len(ROWS), "two routes have one key; give each a word of its own"


def rates() -> FloatArray:
    """Return the central rate of each route, per week, shape (routes,), in the order of :data:`ROUTES`."""
    return centrals(row.rate for row in ROWS)


BROUGHT_IN = Sourced(
    0.0011, 0.00054, 0.0018, "per unit-week",
    "joint fit of 2026 (docs/evidence.md) with its spread between buildings; seen: up to 5 introductions a "
    "year in one building (Raab et al. 2016, PLoS ONE 11:e0117805); 7, 3 and 11 % of units in 24 months "
    "(Wang et al. 2018, doi 10.1002/ps.4830)", "B", "fitted",
)  # fmt: skip
"""Bugs brought in from outside the building."""

MIXING = Sourced(
    0.003, 0.00097, 0.0076, "per week, over all units together",
    "joint fit of 2026 (docs/evidence.md); visits, laundry and lounges: no direct number, hardly moved from "
    "its prior", "C", "fitted",
)  # fmt: skip
"""Spread from one heavy unit to the building at large, past every contact."""

ROOM = 0.1
"""Chance that some units of a building share a room, or are visited by one person, that no plan or log shows
(judgement: a laundry or a lounge mostly is drawn, and what all units share is building-wide mixing)."""
ROOM_SHARE = (2.0, 6.0)
"""Beta prior of the share of units that use it (judgement: a quarter of them, from few to half)."""
ROOM_RATE = judged(
    0.02, 0.0015, 0.09, "per week",
    "judgement: no study; from far less than through a shared wall to ten times that",
)  # fmt: skip
"""Hazard upon one unit that uses such a room from another that is heavily infested."""

MOVE_IN = Sourced(
    0.019, 0.004, 0.038, "chance at a move-in",
    "Xie et al. 2019, doi 10.1073/pnas.1814647116, published code: k b p / (1 - p + b p) with k = 0.3, "
    "b = 1.3 at p = 5 % (low 1 %, high 10 %)", "C",
)  # fmt: skip
"""Chance that a household moving in brings bugs along."""

MOVE_INS_OFTEN = 0.1
"""Chance that the people who move into a building come from places of which many are infested (judgement)."""
MOVE_IN_OFTEN = judged(
    0.12, 0.04, 0.36, "chance at a move-in",
    "judgement: k b p / (1 - p + b p) as of MOVE_IN gives 0.038 where 10 % of homes that people come from "
    "are infested, and 0.3 where all are; a little wider",
)  # fmt: skip
"""What comes with a move-in in such a building."""

VACANT_TARGET = judged(
    0.3, 0.1, 1.0, "multiplier", "judgement: no host to feed on, but bugs can wait for months"
)
"""Establishment in a vacant unit against an occupied one."""

VACANT_SOURCE = Sourced(
    1.5, 1.0, 2.0, "multiplier",
    "analogue: triatomines left 1.93 times as often without a host (Castillo-Neyra et al. 2015, "
    "PLoS NTD 9:e3433)", "C",
)  # fmt: skip
"""Export of a unit in the first :data:`VACANT_SOURCE_WEEKS` after the people left."""

VACANT_SOURCE_WEEKS = 8  #: Weeks after a move-out in which hungry bugs wander more (judgement)

ADULT_FEMALE_SHARE = Sourced(
    0.36, 0.2, 0.5, "share of bugs that arrive",
    "adults disperse 9 times as readily and are 22 % of the trapped (Wang et al. 2010, doi 10.1603/EC09230), "
    "so 0.72, half of them female", "C",
)  # fmt: skip
FOUNDING_CHANCE = judged(0.2, 0.05, 0.5, "chance that an arriving adult female founds", "judgement")
