"""Routes between units and how fast bugs take them."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from spread.trade.arrays import FloatArray, centrals
from spread.trade.sources import Sourced

_BUILDING = (
    "fit by simulation to Wang et al. 2010, doi 10.1603/EC09230 (101 of 223 units in 41 months); total "
    "export agrees with Xie et al. 2019, doi 10.1073/pnas.1814647116"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A way between two units: a row of the registry of routes.

    Parameters
    ----------
    key
        Its word: the key of an edge of the contact graph, and ``route`` of ``[[links]]``.
    name
        What it is called as a source of new infestations: ``Walls``.
    contacts
        What its contacts are called where they are counted: ``shared walls``.
    rate
        Chance per week that a heavy neighbour founds an infestation at exposure 1. In managed buildings
        they come out about a quarter as large (Wang et al. 2018, doi 10.1002/ps.4830).
    measured_by
        The function that measures it, as ``module:function``. It takes a plan and the exposure settings and
        yields :class:`spread.contacts.measured.Measured`. Empty for a route that no drawing shows: its pairs
        are given by hand, in ``[[links]]`` of ``building.toml`` with ``route`` its key.
    side
        Whether rings see it, and on which side: ``beside``, ``stacked``, ``facing`` (only doors that face
        each other), or empty.
    """

    key: str
    name: str
    contacts: str
    rate: Sourced
    measured_by: str = ""
    side: Literal["", "beside", "stacked", "facing"] = ""

    @property
    def touches(self) -> bool:
        """Whether the two units share a wall, a floor or a ceiling."""
        return self.side in ("beside", "stacked")


ROWS = (
    Route(
        key="wall",
        name="Walls",
        contacts="shared walls",
        rate=Sourced(0.008, 0.003, 0.024, "per week", _BUILDING, "C"),
        measured_by="spread.contacts.measured:walls",
        side="beside",
    ),
    Route(
        key="floor",
        name="Floors and ceilings",
        contacts="floors and ceilings",
        rate=Sourced(
            0.0056, 0.0015, 0.025, "per week", "judgement: 0.7 of a wall; its size was not identified", "C"
        ),
        measured_by="spread.contacts.measured:floors",
        side="stacked",
    ),
    Route(
        key="riser",
        name="Risers",
        contacts="shared risers",
        rate=Sourced(
            0.00125,
            0.0004,
            0.012,
            "per week",
            "judgement: plumbing matters to German cockroaches (Owens 1984, Purdue thesis). 0.3 of a wall "
            "would be 0.0025; a unit meets about nine others along a drawn riser, and with 0.0025 each a "
            "simulated tower filled faster than the published one (134 units in 41 months against 101), so "
            "it is halved",
            "C",
        ),
        measured_by="spread.contacts.measured:risers",
    ),
    Route(
        key="hallway",
        name="Hallways",
        contacts="doors along a hallway",
        rate=Sourced(
            0.0047,
            0.0012,
            0.020,
            "per week",
            "0.57-0.6 of a wall, from 53 % beside and 45 % across (Wang et al. 2010, doi 10.1603/EC09230; "
            "the 45 % second-hand)",
            "C",
        ),
        measured_by="spread.contacts.measured:hallways",
        side="facing",
    ),
    Route(
        key="link",
        name="Ties given by hand",
        contacts="ties given by hand",
        rate=Sourced(0.0047, 0.0005, 0.020, "per week", "judgement: as the door across the hallway", "C"),
    ),
)
"""Every route; a new one is a row more, and goes at the end, so that the others keep their places."""

BY_KEY = MappingProxyType({row.key: row for row in ROWS})
"""Every route by its key."""
ROUTES = tuple(BY_KEY)
"""Routes of the contact graph, in the order of :func:`rates`."""
RATES = MappingProxyType({row.key: row.rate for row in ROWS})
"""The rate of each route at exposure 1."""
BY_HAND = tuple(key for key, row in BY_KEY.items() if not row.measured_by)
"""Routes whose pairs are given in ``[[links]]`` of ``building.toml``."""
TOUCHING = frozenset(key for key, row in BY_KEY.items() if row.touches)
"""Routes through what two units share: a wall, a floor, a ceiling."""
assert len(BY_KEY) == len(ROWS), "two routes have one key; give each a word of its own"


def rates() -> FloatArray:
    """Return the central rate of each route, per week, shape (routes,), in the order of :data:`ROUTES`."""
    return centrals(RATES.values())


BROUGHT_IN = Sourced(
    0.0004,
    0.0001,
    0.0015,
    "per unit-week",
    "up to 5 introductions a year in one building (Raab et al. 2016, PLoS ONE 11:e0117805); 7, 3 and 11 % of "
    "units in 24 months (Wang et al. 2018, doi 10.1002/ps.4830)",
    "B",
)
"""Bugs brought in from outside the building."""

MIXING = Sourced(
    0.003,
    0.0007,
    0.012,
    "per week, over all units together",
    "judgement; visits, laundry and lounges, no direct number; a prior that the fit to Wang et al. 2010 "
    "(doi 10.1603/EC09230) did not move",
    "C",
)
"""Spread from one heavy unit to the building at large, past every contact."""

MOVE_IN = Sourced(
    0.019,
    0.004,
    0.038,
    "chance at a move-in",
    "Xie et al. 2019, doi 10.1073/pnas.1814647116, published code: k b p / (1 - p + b p) with k = 0.3, "
    "b = 1.3 at p = 5 % (low 1 %, high 10 %)",
    "C",
)
"""Chance that a household moving in brings bugs along."""

VACANT_TARGET = Sourced(
    0.3, 0.1, 1.0, "multiplier", "judgement: no host to feed on, but bugs can wait for months", "C"
)
"""Establishment in a vacant unit against an occupied one."""

VACANT_SOURCE = Sourced(
    1.5,
    1.0,
    2.0,
    "multiplier",
    "analogue: triatomines left 1.93 times as often without a host (Castillo-Neyra et al. 2015, "
    "PLoS NTD 9:e3433)",
    "C",
)
"""Export of a unit in the first :data:`VACANT_SOURCE_WEEKS` after the people left."""

VACANT_SOURCE_WEEKS = 8
"""Weeks after a move-out in which hungry bugs wander more (judgement)."""

ADULT_FEMALE_SHARE = Sourced(
    0.36,
    0.2,
    0.5,
    "share of bugs that arrive",
    "adults disperse 9 times as readily and are 22 % of the trapped (Wang et al. 2010, doi 10.1603/EC09230), "
    "so 0.72, half of them female",
    "C",
)
FOUNDING_CHANCE = Sourced(0.2, 0.05, 0.5, "chance that an arriving adult female founds", "judgement", "C")


def arrival_rate(rate: float) -> float:
    """Return how often at least one bug arrives, per week, where infestations are founded at ``rate``.

    A marked bug that is recaptured next door has arrived; it need not be a female and need
    not found anything.

    Parameters
    ----------
    rate
        Rate of founding per week, 0 or more.
    """
    return rate / (ADULT_FEMALE_SHARE.central * FOUNDING_CHANCE.central)
