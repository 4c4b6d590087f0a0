"""Better, worse or nobody can tell: the number of infested units on two days, draw by draw.

Both days are told from one fit, so from all that is known today: a find of this week says something of last
month too. Each draw has a whole past, and its number now is compared with its own number then; two bands laid
beside each other would say less than is known.

*Better* is a sentence that calms. It is said only where the fall is all but certain, where enough doors were
looked at, and where the units that fell were looked at since, after their treatment: what a treatment usually
does is no proof that this one did it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from spread.decisions.doors.learned import quantiles
from spread.decisions.past import PastWeek
from spread.decisions.view import View
from spread.facts import Fact
from spread.posterior.draws import Posterior, shortest
from spread.posterior.dynamics import Floats
from spread.records.kinds import Record
from spread.records.looked import seen_as
from spread.trade.registry import UNCONFIRMED
from spread.weeks import monday_of, week_of

Verdict = Literal["better", "worse", "same", "unknown"]
SURE = 0.90
"""Chance from which a change is called one (judgement)."""
LOOKED, LEAST = 0.10, 6
"""Share of the units, and number of them in a small building, that were looked at in the period before a fall
is called one (judgement)."""
RESTS = 0.50
"""Share of the fall that must lie in units looked at since (judgement)."""


@dataclass(frozen=True, slots=True)
class Count(Fact):
    """Units infested on a day: the middle, and the shortest interval that holds 90 %."""

    day: dt.date
    low: int
    median: int
    high: int


@dataclass(frozen=True, slots=True)
class Change(Fact):
    """The number of infested units on two days, by what is known on a third."""

    then: Count
    now: Count
    #: fell, rose: Chances that there are fewer units now than then, and more; the rest is as many
    fell: float
    rose: float
    looked: int  #: Units looked at with an answer in the period
    needed: int  #: How many of them a fall asks for
    rests: float  #: Share of the fall, unit by unit, in units looked at since and after their last treatment
    told: int  #: Looks, reports and treatments on record in the period
    settled: bool  #: Whether the chains of the fit agree

    @property
    def why_not(self) -> str:
        """Why nobody can tell: ``unsettled``, ``nothing``, ``chance``, ``looks``, ``treated``; or empty."""
        if not self.settled:
            return "unsettled"
        if not self.told:
            return "nothing"
        if max(self.fell, self.rose, self.same) < SURE:
            return "chance"
        if self.rose >= SURE:
            return ""
        if self.looked < self.needed:
            return "looks"
        return "treated" if self.fell >= SURE and self.rests < RESTS else ""

    @property
    def same(self) -> float:
        """Chance that there are as many now as then."""
        return max(0.0, 1.0 - self.fell - self.rose)

    @property
    def verdict(self) -> Verdict:
        """``better``, ``worse``, ``same``; or ``unknown`` where nobody can tell."""
        if self.why_not:
            return "unknown"
        return "worse" if self.rose >= SURE else "better" if self.fell >= SURE else "same"


@dataclass(frozen=True, slots=True)
class Shift(Fact):
    """A unit's chance on two days, by what is known today."""

    unit: str
    then: float
    now: float


def change_of(view: View, since: dt.date, until: dt.date) -> Change | None:
    """Compare the building on two days.

    Returned: None where the fit kept no totals, or its window begins after ``since``.

    Parameters
    ----------
    since
        The first day of the period; the state of its week is *then*.
    until
        The last day; the state of the week of the day after it is *now*, and so the next period's *then*. On
        or after the day of the view it is the state of that day.
    """
    posterior = view.posterior
    counts, places = posterior.counts, _places(posterior, since, until)
    if counts is None or places is None:
        return None
    w, (then, now) = posterior.weights, (counts[:, place] for place in places)
    weekly = _weekly(posterior)
    fall = np.maximum(weekly[:, places[0]] - weekly[:, places[1]], 0.0)
    seen = [_seen_since(view.log.of(unit, until), since) for unit in posterior.units]
    rows = [row for unit in posterior.units for row in view.log.of(unit, until) if row.when >= since]
    return Change(
        Count(since, *shortest(then, w)),
        Count(min(until, view.on), *shortest(now, w)),
        fell=float(w[now < then].sum()),
        rose=float(w[now > then].sum()),
        looked=len({row.unit for row in rows if answers(row)}),
        needed=max(min(LEAST, len(posterior.units)), math.ceil(LOOKED * len(posterior.units))),
        rests=float(fall[np.array(seen)].sum() / fall.sum()) if fall.sum() > 0 else 1.0,
        told=sum(row.is_look or row.is_complaint or row.kind == "treatment" for row in rows),
        settled=posterior.diagnostics.good,
    )


def shifts(view: View, since: dt.date, until: dt.date, most: int = 3) -> tuple[Shift, ...]:
    """Return the units whose chances moved most between two days, the largest move first."""
    posterior, places = view.posterior, _places(view.posterior, since, until)
    if places is None:
        return ()
    then, now = (_weekly(posterior)[:, place] for place in places)
    order = np.argsort(-np.abs(now - then), kind="stable")[:most]
    return tuple(Shift(posterior.units[i], float(then[i]), float(now[i])) for i in order if now[i] != then[i])


def path_between(view: View, since: dt.date, until: dt.date) -> tuple[PastWeek, ...]:
    """Return the weeks of a period with intervals as of :class:`Count`; empty where none are kept."""
    counts, places = view.posterior.counts, _places(view.posterior, max(since, first_day(view)), until)
    if counts is None or places is None:
        return ()
    w, weeks = view.posterior.weights, []
    for place in range(places[0], places[1] + 1):
        low, median, high = shortest(counts[:, place], w)
        # Half of the draws by equal tails: the shortest half of a lopsided number may leave out its middle.
        lower, upper = map(int, quantiles(counts[:, place].astype(np.float64), w, (0.25, 0.75)))
        monday = monday_of(view.posterior.first_week + place).isoformat()
        weeks.append(PastWeek(monday, low, lower, median, upper, high))
    return tuple(weeks)


def first_day(view: View) -> dt.date:
    """Return the first day of which the fit tells anything."""
    return monday_of(view.posterior.first_week)


def _places(posterior: Posterior, since: dt.date, until: dt.date) -> tuple[int, int] | None:
    """Return the columns of two days; None where the window begins after the first."""
    last = posterior.weekly.shape[1] - 1
    then = week_of(since) - posterior.first_week
    now = last if until >= posterior.on else week_of(until + dt.timedelta(days=1)) - posterior.first_week
    return (min(then, last), min(now, last)) if then >= 0 else None


def _weekly(posterior: Posterior) -> Floats:
    """Return the chances by week, the last of them as they stand now."""
    return np.column_stack([posterior.weekly[:, :-1], posterior.chance])


def answers(row: Record) -> bool:
    """Whether a row is a look that proves something: no hearsay, no dog alone, no clean one without beds."""
    return row.is_look and row.found in ("yes", "no") and row.method not in UNCONFIRMED and bool(seen_as(row))


def _seen_since(rows: Iterable[Record], since: dt.date) -> bool:
    """Whether a unit was looked at since a day, and after its last treatment; rows by day."""
    seen = False
    for row in rows:
        if row.kind == "treatment":
            seen = False
        elif row.began >= since and answers(row):
            seen = True
    return seen
