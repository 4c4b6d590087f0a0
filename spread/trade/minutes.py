"""How long things take at a door and between doors, in minutes, each beside its basis."""

from __future__ import annotations

from types import MappingProxyType

from spread.trade.sources import Sourced

_UNIT = "minutes per unit"

KNOCK = Sourced(3.0, 1.0, 6.0, _UNIT, "judgement: knock, wait, explain", "C")
"""Knocking, waiting and explaining; spent at a shut door too."""

LOOK = MappingProxyType(
    {
        "brief-visual": Sourced(
            10.0, 5.0, 15.0, _UNIT, "njspotlight.com 2016-06-23 on Wang et al. 2016: at most 10 minutes", "B"
        ),
        "thorough-visual": Sourced(40.0, 25.0, 75.0, _UNIT, "judgement, furniture turned; from memory", "C"),
        "dog": Sourced(
            5.5, 4.0, 8.0, _UNIT, "judgement: a newspaper says 80-100 rooms a day and dog, second-hand", "C"
        ),
        "interview": Sourced(4.0, 2.0, 8.0, _UNIT, "judgement: a few minutes", "C"),
        "interceptors": Sourced(
            15.0, 9.0, 23.0, _UNIT, "judgement: 10 to place 8-12 of them and 5 to check after 14 days", "C"
        ),
        "monitors-few": Sourced(7.0, 4.0, 12.0, _UNIT, "judgement: 4 to place two and 3 to check", "C"),
        "lure-trap": Sourced(12.0, 8.0, 20.0, _UNIT, "judgement: set up, and fetch the next day", "C"),
    }
)
"""Minutes in the unit by method, setting up and checking of monitors together."""

SET_UP = MappingProxyType({"interceptors": 10.0, "monitors-few": 4.0, "lure-trap": 8.0})
"""Minutes of :data:`LOOK` that fall on the first visit; a monitor's check is another visit."""

WALK_METRES_PER_MINUTE = Sourced(
    70.0, 50.0, 85.0, "metres per minute", "common practice, no source: an easy walk with a bag", "C"
)

NO_ACCESS = Sourced(
    0.20,
    0.05,
    0.40,
    "chance that nobody opens",
    "judgement; 97 % of units entered after repeated tries: "
    "Durand et al. 2012, doi 10.1051/parasite/2012194381",
    "C",
)
"""Chance of a shut door on one visit, before anything is known of the unit."""

NO_ACCESS_VISITS = 5.0
"""How many visits the prior of :data:`NO_ACCESS` weighs (judgement, no source)."""

REFUSES = Sourced(0.03, 0.02, 0.05, "share of households", "judgement: a hard refusal, whoever knocks", "C")
"""Households that refuse every visit until they move."""
