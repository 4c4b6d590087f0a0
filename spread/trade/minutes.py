"""How long things take at a door and between doors, in minutes, each beside its basis."""

from __future__ import annotations

from spread.trade.sources import Sourced, judged

_UNIT = "minutes per unit"

KNOCK = judged(3.0, 1.0, 6.0, _UNIT, "judgement: knock, wait, explain")
"""Knocking, waiting and explaining; spent at a shut door too."""

WALK_METRES_PER_MINUTE = Sourced(
    70.0, 50.0, 85.0, "metres per minute", "common practice, no source: an easy walk with a bag", "C", "none"
)

NO_ACCESS = judged(
    0.20, 0.05, 0.40, "chance that nobody opens",
    "judgement; 97 % of units entered after repeated tries: "
    "Durand et al. 2012, doi 10.1051/parasite/2012194381",
)  # fmt: skip
"""Chance of a shut door on one visit, before anything is known of the unit."""

NO_ACCESS_VISITS = 5.0  #: How many visits the prior of :data:`NO_ACCESS` weighs (judgement, no source)

REFUSES = judged(0.03, 0.02, 0.05, "share of households", "judgement: a hard refusal, whoever knocks")
"""Households that refuse every visit until they move."""

NOT_PREPARED = judged(
    0.0, 0.0, 0.3, "share of treatment visits", "judgement: a visit to a unit that is not ready does nothing"
)
"""Treatment visits that do nothing because the unit was not prepared; trials report visits that were made."""

EMPTY = Sourced(
    60.0 / 7.0,
    2.0,
    26.0,
    "weeks",
    "two months, of Xie et al. 2019, doi 10.1073/pnas.1814647116; range judged",
    "B",
)
"""How long a unit stands empty in the mean before it is let."""

STAY = Sourced(
    104.0, 52.0, 208.0, "weeks", "mean of Xie et al. 2019, doi 10.1073/pnas.1814647116; range judged", "B"
)
"""How long a household stays in the mean."""
