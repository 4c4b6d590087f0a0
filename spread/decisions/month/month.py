"""What was done in a building between two days, what was found and cleared, and what comes next."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from spread.decisions.case.visits import STATUSES
from spread.decisions.grades.grades import Sum, sum_of
from spread.decisions.grades.matching import match
from spread.decisions.month.change import Change, Shift, change_of, shifts
from spread.decisions.standing import is_find, old_signs, standing_of
from spread.decisions.view import View
from spread.errors import Problem, SettingsError
from spread.facts import Fact
from spread.records.kinds import Record
from spread.records.promises import Promises
from spread.records.repeats import repeats
from spread.records.summaries import Said

AHEAD_DAYS = 30
"""Days after the day of the view that count as the next month."""
SAID_WITHIN = 7
"""Days by which the day of a kept answer may miss the day that is asked for."""


@dataclass(frozen=True, slots=True)
class Tally(Fact):
    """How often a method was used, and in which units."""

    method: str
    number: int
    units: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Done(Fact):
    """What the log says of a period; units in plan order, each once."""

    looks: tuple[Tally, ...]  #: The most frequent method first
    treatments: tuple[Tally, ...]
    looked: tuple[str, ...]  #: Units looked at, by whatever method
    reported: tuple[str, ...]  #: Units in which somebody reported bugs
    found: tuple[str, ...]  #: Units with a confirmed find
    new: tuple[str, ...]  #: Those of them of which no find was open when the period began
    treated: tuple[str, ...]
    #: Units in which the clearance rule was met in the period, and is still met today
    cleared: tuple[str, ...]
    #: refused, shut: Units that said no, and those where nobody opened, that nobody got into after that
    refused: tuple[str, ...]
    shut: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ahead(Fact):
    """What has to be done after the day of the view."""

    late: tuple[str, ...]  #: Units whose visit is overdue
    visits: tuple[str, ...]  #: Units to be visited again within :data:`AHEAD_DAYS` days, those late left out
    treat: tuple[str, ...]  #: Known infested and not treated since
    open: tuple[str, ...]  #: Found or treated, and not cleared


@dataclass(frozen=True, slots=True)
class Month(Fact):
    """A building between two days."""

    since: dt.date
    until: dt.date
    on: dt.date  #: The day by whose knowledge all of it is told
    units: int
    done: Done
    change: Change | None  #: None where the fit does not reach back to the first day
    #: What was said of the building's first and last day at that time; None where no answer was kept
    said_then: Said | None
    said_at_end: Said | None
    shifts: tuple[Shift, ...]
    promised: Sum  #: Looks of the period that lists had promised something of, and what came of them
    ahead: Ahead


def check_period(since: dt.date, until: dt.date, on: dt.date) -> None:
    """Raise SettingsError unless the days are a period of the past."""
    if until < since:
        what = f"the period ends on {until}, before it begins on {since}"
        raise SettingsError(Problem("month", "to", what, "name the first day and then the last"))
    if since > on:
        what = f"the period begins on {since}, after {on}, the day of the answer"
        raise SettingsError(Problem("month", "from", what, "name a period that has begun"))


def last_month(on: dt.date) -> tuple[dt.date, dt.date]:
    """Return first and last day of the last whole month before a day."""
    last = on.replace(day=1) - dt.timedelta(days=1)
    return last.replace(day=1), last


def month_of(view: View, promises: Promises, said: Iterable[Said], since: dt.date, until: dt.date) -> Month:
    """Return a building between two days; raises SettingsError where they are no period of the past.

    ``promises``: its lists; ``said``: what was said of it on earlier days.
    """
    check_period(since, until, view.on)
    said = tuple(said)
    return Month(
        since=since,
        until=until,
        on=view.on,
        units=len(view.network.units),
        done=done_between(view, since, until),
        change=change_of(view, since, until),
        said_then=_nearest(said, since),
        said_at_end=_nearest(said, until),
        # With nothing on record every chance drifts as anywhere, and that says nothing of these units.
        shifts=shifts(view, since, until) if view.log.current else (),
        promised=promised_between(view, promises, since, until),
        ahead=ahead_of(view),
    )


def done_between(view: View, since: dt.date, until: dt.date) -> Done:
    """Return what the log says of a period."""
    units = view.network.units
    again = repeats(view.log.current)
    upto = {unit: [r for r in view.log.of(unit, min(until, view.on)) if r.id not in again] for unit in units}
    of = {unit: [row for row in rows if row.when >= since] for unit, rows in upto.items()}
    finds = {unit: _finds(rows, since) for unit, rows in upto.items()}

    def which(wanted: Callable[[Record], bool]) -> tuple[str, ...]:
        return tuple(unit for unit in units if any(map(wanted, of[unit])))

    before = since - dt.timedelta(days=1)
    shut = {unit: _shut(rows) for unit, rows in of.items()}
    return Done(
        looks=_tallies(of, lambda row: row.is_look),
        treatments=_tallies(of, lambda row: row.kind == "treatment"),
        looked=which(lambda row: row.is_look),
        reported=which(lambda row: row.is_complaint),
        found=tuple(unit for unit in units if finds[unit]),
        new=tuple(u for u in units if finds[u] and standing_of(upto[u], before).status == "look"),
        treated=which(lambda row: row.kind == "treatment"),
        cleared=tuple(
            unit
            for unit, told in view.followups.items()
            if told.state in ("cleared", "watch over")
            and told.met_on is not None
            and since <= told.met_on <= until
        ),
        refused=tuple(unit for unit in units if shut[unit] == "refused"),
        shut=tuple(unit for unit in units if shut[unit] not in (None, "refused")),
    )


def promised_between(view: View, promises: Promises, since: dt.date, until: dt.date) -> Sum:
    """Return what lists promised of the looks of a period, and what came of them."""
    matched = match(promises.all(), view.log, min(until, view.on))
    return sum_of("", [one for one in matched.graded if since <= view.log.by_id[one.look].when])


def ahead_of(view: View) -> Ahead:
    """Return what has to be done after the day of the view."""
    late, coming, treat, still = [], [], [], []
    for unit, told in view.followups.items():
        if told.state in ("infested", "under treatment", "clearing"):
            still.append(unit)
        if told.state == "infested":
            treat.append(unit)
        if told.visit is None:
            continue
        if told.visit.status == STATUSES[0]:
            late.append(unit)
        elif told.visit.target <= view.on + dt.timedelta(days=AHEAD_DAYS):
            coming.append(unit)
    return Ahead(tuple(late), tuple(coming), tuple(treat), tuple(still))


def _tallies(of: dict[str, list[Record]], wanted: Callable[[Record], bool]) -> tuple[Tally, ...]:
    rows = [row for some in of.values() for row in some if wanted(row)]
    numbers = Counter(row.method for row in rows)
    return tuple(
        Tally(method, number, tuple(dict.fromkeys(row.unit for row in rows if row.method == method)))
        for method, number in sorted(numbers.items(), key=lambda pair: (-pair[1], pair[0]))
    )


def _finds(rows: list[Record], since: dt.date) -> bool:
    old = old_signs(rows)
    return any(is_find(row) and row.when >= since and row.id not in old for row in rows)


def _shut(rows: list[Record]) -> str | None:
    """Return how the last try ended where nobody got in after it; None where somebody did or nobody tried."""
    tried: str | None = None
    for row in rows:
        if row.kind == "no-access":
            tried = row.method
        elif row.is_look or row.kind == "treatment":
            tried = None
    return tried


def _nearest(said: Iterable[Said], day: dt.date) -> Said | None:
    """Return the last answer up to a day, no older than :data:`SAID_WITHIN` days."""
    known = [one for one in said if 0 <= (day - one.on).days <= SAID_WITHIN]
    return max(known, key=lambda one: one.on, default=None)
