"""What things cost, in US dollars of 2016 unless a line says otherwise, each beside its basis.

Every one is a starting point to be replaced by a firm's own; prices since 2016 rose by about 1.4 (1.3-1.5;
judgement, no source), which is for the user to set.
"""

from __future__ import annotations

from types import MappingProxyType

from spread.trade.methods.treatments import COURSE
from spread.trade.sources import Sourced, judged

YEAR = 2016  #: Of the money below

_W16 = "Wang et al. 2016, J Med Entomol 53:639: US$12 an apartment at US$50 an hour"
_MINUTES = "minutes per unit"

HOUR = Sourced(50.0, 30.0, 90.0, "US$ per technician hour", f"{_W16}; range judged", "B")
"""What a technician's hour costs."""

SURVEY = Sourced(12.0, 8.0, 20.0, "US$ per unit", f"{_W16}; range judged", "B")
"""A unit surveyed by interview, brief look and interceptors, all in."""

SURVEY_MINUTES = Sourced(
    14.4,
    10.0,
    24.0,
    _MINUTES,
    f"{_W16}, so at most 14.4 minutes of labour; knock, interview, look and traps by the minutes of this "
    "package add up to 35, so a firm's own figure may well be higher",
    "B",
)
"""Labour of the same."""

TREATMENT_MINUTES = MappingProxyType(
    {
        "light": judged(30.0, 20.0, 120.0, _MINUTES, COURSE),
        "moderate": judged(45.0, 30.0, 240.0, _MINUTES, COURSE),
        "heavy": judged(60.0, 45.0, 480.0, _MINUTES, COURSE),
    }
)
"""Minutes of one treatment visit, beside the look that goes before it: up to 12 bugs, 13 to 50, more."""

ENCASE_MINUTES = judged(
    15.0,
    5.0,
    40.0,
    "minutes per household",
    "judgement: two mattresses and their box springs, stripped already",
)
"""Minutes to put encasements on the beds of a household."""

ENCASEMENT = judged(
    120.0,
    40.0,
    300.0,
    "US$ per household",
    "judgement: two beds, mattress and box spring each; no price found",
)
"""Encasements for the beds of a household."""

WEEK_COSTS: tuple[float, ...] = tuple(
    TREATMENT_MINUTES[size].central / TREATMENT_MINUTES["light"].central
    for size in ("light", "light", "moderate", "heavy")
)
"""What an infested week costs at each level, trace to heavy, against one of a light infestation: as the
minutes of a treatment visit (judgement: nobody has priced a week, and minutes rise with the level)."""

REPORT_MINUTES = judged(5.0, 2.0, 15.0, "minutes per report", "judgement: taking a call, giving a date")
NOTICE_MINUTES = judged(2.0, 0.5, 5.0, "minutes per notice", "judgement: printing and handing out")
TRIP_MINUTES = judged(30.0, 10.0, 90.0, "minutes per trip", "judgement: there and back, once a crew's day")
DAY_HOURS = judged(
    6.5, 5.0, 8.0, "hours per day", "judgement: hours at doors, the way there and breaks left out"
)
