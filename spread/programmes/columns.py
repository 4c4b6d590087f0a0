"""What a run counts: columns of its row of counts. Prices come later, so counts alone are kept."""

from __future__ import annotations

from spread.trade import detection, treatment

PROTOCOL = "protocol"
"""The low-cost protocol of Wang et al. 2016: an interview and a brief look, and interceptors left for two
weeks where that finds nothing."""
METHODS = (*detection.METHODS, PROTOCOL)  #: Methods of looking, in the order of the tables
TREATMENTS = treatment.METHODS
SIZES = ("light", "moderate", "heavy")
"""Classes of a treatment visit's length: trace or low (or clear, by mistake), moderate, heavy."""

_PLAIN = (
    "visits",
    "knocks",
    "shut doors",
    "refusals",
    "given up",
    "reports",
    "false reports",
    "alerts",
    "false alerts",
    "confirming looks",
    "finds",
    "false finds",
    "closed",
    "closed while infested",
    "relapses",
    "new infestations",
    "new units infested",
    "infested unit-weeks",
    "units infested",
    "units found",
    "notices",
    "weeks with visits",
    "vacant checks",
    "survey looks",
    "ranked looks",
)
(
    VISITS,
    KNOCKS,
    SHUT_DOORS,
    REFUSALS,
    GIVEN_UP,
    REPORTS,
    FALSE_REPORTS,
    ALERTS,
    FALSE_ALERTS,
    CONFIRMS,
    FINDS,
    FALSE_FINDS,
    CLOSED,
    CLOSED_INFESTED,
    RELAPSES,
    NEW,
    NEW_UNITS,
    BUG_WEEKS,
    UNITS_INFESTED,
    UNITS_FOUND,
    NOTICES,
    TRIPS,
    VACANT_CHECKS,
    SURVEY_LOOKS,
    RANKED_LOOKS,
) = range(len(_PLAIN))
LOOKS = len(_PLAIN)  #: First of the looks made or monitors set, one a method
CHECKS = LOOKS + len(METHODS)  #: First of the monitors checked, one a method
TREATED = CHECKS + len(METHODS)
"""First of the treatment visits: method by method, each light, moderate, heavy."""
COLUMNS = (
    *_PLAIN,
    *(f"looks: {method}" for method in METHODS),
    *(f"checks: {method}" for method in METHODS),
    *(f"treatments: {method}, {size}" for method in TREATMENTS for size in SIZES),
)
"""Names of the columns.

``visits``: every time somebody stands at a door. ``knocks``: those that are paid as a knock (a survey by the
protocol has a price of its own, once somebody opens). ``given up``: looks not made after all tries.
``reports`` and ``false reports``: taken in, and those of clear units among them. ``finds`` and ``false
finds``: courses of treatment begun in infested and in clear units. ``relapses``: courses begun within 26
weeks after the unit was closed. ``new infestations`` counts a unit each time; ``new units infested`` counts
those that were clear at the start, once each; ``units infested`` all that ever were, ``units found`` those
of them that were found while infested. ``vacant checks``: looks at turnover. ``survey looks``, ``ranked
looks``: units looked at, or given monitors, for that reason; they are among the looks."""
