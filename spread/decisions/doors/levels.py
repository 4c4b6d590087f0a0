"""Why the likeliest level of a unit today is heavier than its last find said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spread.decisions.standing import is_find
from spread.decisions.view import View
from spread.facts import Fact
from spread.posterior.looks import take_apart
from spread.records.kinds import Record
from spread.trade.biology import LEVEL_NAMES
from spread.trade.detection import GRADE_GIVEN_LEVEL
from spread.weeks import week_of

GREW = 1.1
"""From so many times what the unit shed in the week of the find on, it is said to have grown (judgement)."""


@dataclass(frozen=True, slots=True)
class Heavier(Fact):
    """A unit's last find said one level, and a heavier one is the likeliest today."""

    said: str  #: The level that the last find said
    days: int  #: Days since it
    likely: str  #: The likeliest level today
    under: float  #: Chance that a find in a unit of the likeliest level says so little, or less
    earlier: str  #: The heaviest level of the finds of the case before it, where heavier; else empty
    earlier_days: int  #: Days since that find; 0 where there is none
    grew: bool  #: Whether the model holds that it has grown since, untreated


def heavier_than_found(view: View, unit: str) -> Heavier | None:
    """Return why the likeliest level is heavier than what was found last; None where it is not."""
    finds = [row for row in view.log.of(unit) if row.when <= view.on and is_find(row)]
    looks = [row for row in view.log.of(unit) if row.when <= view.on and row.is_look]
    if not finds or looks[-1] is not finds[-1]:
        return None
    last, posterior = finds[-1], view.posterior
    i, said = view.network.index[unit], _level(last)
    likely = int(np.argmax(posterior.levels[i]))
    if not 0 < said < likely:
        return None
    opened = view.followups[unit].case.opened
    of_case = [row for row in finds[:-1] if opened is not None and row.when >= opened]
    before = max(of_case, key=lambda row: (_level(row), row.when), default=last)
    heavier = _level(before) > said
    treated = any(row.kind == "treatment" and row.when >= last.when for row in view.log.of(unit))
    week = min(max(week_of(last.when) - posterior.first_week, 0), posterior.shedding.shape[1] - 1)
    then, now = posterior.shedding[i, week], posterior.shedding[i, -1]
    return Heavier(
        said=LEVEL_NAMES[said],
        days=(view.on - last.when).days,
        likely=LEVEL_NAMES[likely],
        under=float(GRADE_GIVEN_LEVEL[likely - 1, :said].sum()),
        earlier=LEVEL_NAMES[_level(before)] if heavier else "",
        earlier_days=(view.on - before.when).days if heavier else 0,
        grew=not treated and bool(now > GREW * then),
    )


def _level(row: Record) -> int:
    """Return the level that the model reads from a find, as a place in the names of levels; 0 for none."""
    grade = take_apart(row, treated_before=False).grade
    return LEVEL_NAMES.index(grade) if grade else 0
