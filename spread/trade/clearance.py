"""The clearance rule as data: what has to have been seen, for how long, before a unit is called cleared.

No rule in here can be set so that a vacancy, a dog's no, the absence of bites or a single look clears a
unit: those are not counted at all, and the least that can be asked for is in :data:`BOUNDS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from spread.trade.development import ROOM_CELSIUS
from spread.trade.formulas import residual_after_clean
from spread.trade.methods.monitors import INTERCEPTORS
from spread.trade.registry import MONITORS

NEVER = "An empty unit, a dog's no, nobody bitten or a single look clear nothing."
"""What is said wherever clearance is spoken of."""
COUNTING_MONITORS = tuple(key for key, row in MONITORS.items() if row.may_clear)
"""Monitors that a rule may count: they stand for the whole period. A lure trap stands for a night."""


@dataclass(frozen=True, slots=True)
class ClearanceRule:
    """What has to hold before a unit is called cleared; all of it, and the chance as well."""

    #: periods, heavy_periods: Clean monitor periods in a row since the last sign; the second where an
    #: infestation was heavy or traps were displaced
    periods: int = 3
    heavy_periods: int = 4
    period_days: int = 14  #: Days of a period; one day fewer is let pass
    looks: int = 2  #: Clean looks by eye, spread from the first visit to the end of the last period
    chance: float = 0.05  #: The model's chance of infestation has to be this or less on the day
    watch_months: int = 12  #: Months of watch after clearance
    encasements: bool = True  #: Whether encasements have to be recorded as intact
    monitors: tuple[str, ...] = (INTERCEPTORS.key,)  #: Monitors whose periods count
    room_celsius: float = ROOM_CELSIUS.central  #: Warmth of the rooms, which sets the visit window


BOUNDS: MappingProxyType[str, tuple[float, float]] = MappingProxyType(
    {
        "periods": (2, 12),
        "heavy_periods": (2, 12),
        "period_days": (7, 28),
        "looks": (2, 6),
        "chance": (0.001, 0.20),
        "watch_months": (3, 36),
        "room_celsius": (5.0, 40.0),
    }
)
"""Least and most of each number of a rule. Never one period or one look, however a firm sets it."""

_NONE = "common practice, no source"
SOURCES = MappingProxyType(
    {
        "periods": "judgement from trials (none caught on two or three fortnightly visits, from memory) "
        "and from six weeks of monitors after the last treatment (San Francisco health rules, "
        "proposal of 2012, second-hand)",
        "heavy_periods": "judgement: one period more",
        "period_days": "trials looked every 14 days: Singh et al. 2017, doi 10.3390/insects8030076",
        "looks": f"{_NONE}: by eye at the first visit and at the end",
        "chance": "judgement: no likelier than a unit that nobody suspects in a building where one in twenty "
        "is infested; a half chance after a treatment comes to 11 % by three clean periods "
        "of interceptors, and the looks have to bring it below",
        "watch_months": "follow-up for 12 months: Philadelphia code 9-4802 (second-hand); interceptors and "
        "encasements kept about a year: EPA preparation text (second-hand)",
        "encasements": f"{_NONE}; about a year on the bed: pctonline.com, EPA preparation text (second-hand)",
        "monitors": "traps under every leg: Wang et al. 2016, J Med Entomol 53:639; two traps find fewer: "
        "Vail and Chandler 2017, doi 10.1093/jee/tox053",
        "room_celsius": ROOM_CELSIUS.source,
    }
)
"""Where each part of the default rule is from."""

WATCH_VISITS = ((3, 30), (36, 91))
"""Visits of the watch: up to so many months after clearance, every so many days: monthly, then quarterly
(judgement)."""
SURVIVOR_CAUGHT = INTERCEPTORS.sensitivity[0]
"""Chance that interceptors under all legs catch one of a trace of survivors in 14 days."""
RESIDUAL_PRIORS = (0.50, 0.20, 0.10)
RESIDUAL_PERIODS = (1, 2, 3, 4)


def residual_table() -> dict[float, tuple[float, ...]]:
    """Return the chance still infested after 1 to 4 clean periods, by the chance before them.

    A textbook figure for one unit alone: a trace of survivors, interceptors under all legs, periods
    independent of one another, nothing brought in meanwhile. The model's chance differs from it: it
    weighs every record of the unit by the level it may have, lets bugs grow and die out between
    records, lets some come in from neighbours and from outside, and never trusts a record wholly.
    """
    return {
        prior: tuple(residual_after_clean(prior, SURVIVOR_CAUGHT.central, k) for k in RESIDUAL_PERIODS)
        for prior in RESIDUAL_PRIORS
    }
