"""Whether bugs that are there now came through the treatments or came in since, as far as the fit can tell.

The joint draws of a fit know in which week the present infestation of each unit began. Where that lies before
the first treatment of a course, it outlived the course; where it lies later, it was brought in, or came from
a neighbour. Which of the two holds decides what to change; a log mostly leaves both open: the chance says so.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from spread.decisions.case.failing import Failing
from spread.facts import Fact
from spread.posterior.draws import Posterior
from spread.weeks import week_of

LEAST_CHANCE = 0.05
"""Chance of being infested now under which nothing is said of where such bugs would be from (judgement)."""


@dataclass(frozen=True, slots=True)
class Survival(Fact):
    """Given that bugs are there now: where they are from."""

    since: dt.date  #: The first treatment of the course
    survived: float  #: Chance that they came through every treatment since
    arrived: float  #: Chance that they came in after it
    resists: float | None  #: Chance that treatment takes less here than elsewhere; None if not learned


def survival_of(posterior: Posterior, unit: str, failing: Failing | None) -> Survival | None:
    """Return where the bugs of a unit are from whose treatment fails; None where a fit cannot say.

    Parameters
    ----------
    posterior : A fit with its past
    unit : Unit code
    failing : What fails in its treatment; None where nothing does
    """
    i = posterior.index[unit]
    if failing is None or posterior.blame is None or float(posterior.chance[i]) < LEAST_CHANCE:
        return None
    began = posterior.blame.began[i]
    whole = float(began.sum())
    first = failing.treatments[0][0]
    place = week_of(first) - posterior.first_week
    if whole <= 0 or place < 0:
        return None
    survived = float(began[: place + 1].sum()) / whole
    resists = None if posterior.traits is None else float(posterior.traits.resist[i])
    return Survival(first, survived, 1.0 - survived, resists)
