"""What a run counts: columns of its row of counts. Prices come later, so counts alone are kept."""

from __future__ import annotations

from spread.trade import registry
from spread.trade.registry import LOOKING

PROTOCOL = "protocol"
"""The low-cost protocol of Wang et al. 2016: an interview and a brief look, and interceptors left for two
weeks where that finds nothing."""
METHODS = (*LOOKING, PROTOCOL)  #: Methods of looking, in the order of the tables
TREATMENTS = tuple(registry.TREATMENTS)
SIZES = ("light", "moderate", "heavy")
"""Classes of a treatment visit's length: trace or low (or clear, by mistake), moderate, heavy."""

#: ``VISITS``: every time somebody stands at a door. ``KNOCKS``: those that are paid as a knock (a survey by
#: the protocol has a price of its own, once somebody opens). ``GIVEN_UP``: looks not made after all tries.
#: ``REPORTS`` and ``FALSE_REPORTS``: taken in, and those of clear units among them. ``CONFIRMS``: looks that
#: confirm an alert. ``FINDS`` and ``FALSE_FINDS``: courses of treatment begun in infested and in clear units.
#: ``RELAPSES``: courses begun within 26 weeks after the unit was closed. ``NEW`` counts new infestations, a
#: unit each time; ``NEW_UNITS`` those that were clear at the start, once each; ``UNITS_INFESTED`` all that
#: ever were, ``UNITS_FOUND`` those of them that were found while infested. ``TRIPS``: weeks with visits;
#: :func:`spread.programmes.crew.with_trips` makes trips of them. ``VACANT_CHECKS``: looks at turnover.
#: ``MOVE_INS``: households that moved in. ``SURVEY_LOOKS``, ``RANKED_LOOKS``: units looked at, or given
#: monitors, for that reason; they are among the looks. ``PUT_OFF``: visits put off for want of crew, a week
#: each. ``ENCASEMENTS``: households whose beds were encased.
(
    VISITS, KNOCKS, SHUT_DOORS, REFUSALS, GIVEN_UP, REPORTS, FALSE_REPORTS, ALERTS, FALSE_ALERTS, CONFIRMS,
    FINDS, FALSE_FINDS, CLOSED, CLOSED_INFESTED, RELAPSES, NEW, NEW_UNITS, BUG_WEEKS, UNITS_INFESTED,
    UNITS_FOUND, NOTICES, TRIPS, VACANT_CHECKS, MOVE_INS, SURVEY_LOOKS, RANKED_LOOKS, PUT_OFF, ENCASEMENTS,
    LOOKS,
) = range(29)  # fmt: skip
"""``LOOKS``: first of the looks made or monitors set, one a method."""
CHECKS = LOOKS + len(METHODS)  #: First of the monitors checked, one a method
TREATED = CHECKS + len(METHODS)  #: First of the treatment visits: method by method, each by size
WIDTH = TREATED + len(TREATMENTS) * len(SIZES)  #: How many columns there are
