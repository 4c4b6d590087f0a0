"""When a course of treatment ends inside a run: the building's clearance rule as visits to count.

The rule is :class:`spread.trade.clearance.ClearanceRule`, the same that follow-up and printed pages go by. A
programme may change parts of it. A run counts visits of a course, each a brief look and a reading of the
monitors that stood since the visit before; so periods, looks and the chance of the rule become one number of
clean visits in a row. The watch after clearance is the programme's own
(:class:`spread.programmes.programme.Watch`).
"""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import NamedTuple

from spread.programmes.programme import Clearance, Programme
from spread.trade.clearance import COUNTING_MONITORS, RESIDUAL_PRIORS, ClearanceRule
from spread.trade.detection import sensitivity
from spread.trade.formulas import residual_after_clean
from spread.trade.methods.looks import BRIEF

DAY_EARLY = 1  #: A period may end a day early (:data:`spread.decisions.case.clearance.DAY_EARLY`)
MOST_VISITS = 26  #: A rule's chance asks for no more clean visits than a year has fortnights
_TRACE = 1


class Ending(NamedTuple):
    """What ends a course."""

    #: visits, heavy_visits: Clean visits in a row; the second where the unit was found or treated while heavy
    visits: int
    heavy_visits: int
    per_period: int  #: Visits that one period of the rule takes
    monitor: str  #: The monitor that stands between the visits; empty where none does


def rule_of(clearance: Clearance, rule: ClearanceRule) -> ClearanceRule:
    """Return a building's rule with the parts that a programme sets for itself."""
    own = {
        f.name: value
        for f in fields(clearance)
        if f.name != "monitors" and (value := getattr(clearance, f.name)) is not None
    }
    changed = replace(rule, **own)
    return replace(changed, heavy_periods=max(changed.heavy_periods, changed.periods))


def settled(programme: Programme, rule: ClearanceRule) -> Programme:
    """Return a programme whose clearance is whole: the building's rule with the programme's own parts."""
    whole = rule_of(programme.clearance, rule)
    clearance = Clearance(
        periods=whole.periods,
        heavy_periods=whole.heavy_periods,
        period_days=whole.period_days,
        looks=whole.looks,
        chance=whole.chance,
        monitors=programme.clearance.monitors,
    )
    return replace(programme, clearance=clearance)


def ending_of(programme: Programme, rule: ClearanceRule) -> Ending:
    """Turn a clearance rule into the clean visits in a row that end a course.

    The visits lie ``every_weeks`` of the treatment apart, so that a longer period takes several of them. The
    chance of the rule is that of a unit alone: a half before (as
    :data:`spread.trade.clearance.RESIDUAL_PRIORS`), a trace of survivors, every visit's look and monitor
    independent of one another (textbook); if the rule's periods leave more, the visits become more.

    ``programme``: its parts of the rule go before the building's; ``rule``: the building's.
    """
    whole = rule_of(programme.clearance, rule)
    counted = whole.monitors or COUNTING_MONITORS
    monitor = next(m for m in COUNTING_MONITORS if m in counted) if programme.clearance.monitors else ""
    weeks = math.ceil((whole.period_days - DAY_EARLY) / 7.0)
    per_period = math.ceil(weeks / programme.treatment.every_weeks)
    caught = sensitivity(monitor)[_TRACE] if monitor else 0.0
    seen = 1.0 - (1.0 - caught) * (1.0 - sensitivity(BRIEF.key)[_TRACE])
    enough = 1
    while enough < MOST_VISITS and residual_after_clean(RESIDUAL_PRIORS[0], seen, enough) > whole.chance:
        enough += 1
    least = max(whole.looks, enough)
    return Ending(
        visits=max(whole.periods * per_period, least),
        heavy_visits=max(whole.heavy_periods * per_period, least),
        per_period=per_period,
        monitor=monitor,
    )
