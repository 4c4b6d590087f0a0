"""What a programme plans and when: its calendar, and the work a week that the runs expect."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from spread.facts import Fact
from spread.programmes.clearing import ending_of
from spread.programmes.columns import PROTOCOL
from spread.programmes.programme import Programme
from spread.programmes.results import Comparison
from spread.programmes.told import (
    AfterReport,
    AroundFind,
    CourseAfterFind,
    MonitorsRead,
    RankedBegins,
    SurveyOfAll,
    WatchAfter,
    WhenEmpty,
)
from spread.trade.clearance import ClearanceRule
from spread.trade.registry import MONITORS
from spread.weeks import monday_of, week_of


@dataclass(frozen=True, slots=True)
class Planned:
    """One entry of a calendar."""

    week: int  #: Weeks from the start, 0 is the first
    #: first, last: Monday and Friday of the days it is planned for
    first: dt.date
    last: dt.date
    what: SurveyOfAll | MonitorsRead | RankedBegins  #: What is planned


def calendar(programme: Programme, on: dt.date, weeks: int) -> tuple[Planned, ...]:
    """Return what a programme plans by date: surveys, monitors fetched, and where ranked doors begin.

    What follows a report or a find has no date in advance; see :func:`standing_work`.

    ``on``: the day the runs start from; week 0 is the week after it; ``weeks``: how far.
    """
    out = []
    if (survey := programme.survey) is not None:
        last = weeks if survey.times == 0 else survey.from_week + survey.every_weeks * (survey.times - 1) + 1
        for week in range(survey.from_week, min(weeks, last), survey.every_weeks):
            out.append(_planned(on, week, survey.over_weeks, SurveyOfAll(survey.method)))
            if survey.method in (PROTOCOL, *MONITORS) and week + 2 < weeks:
                out.append(_planned(on, week + 2, survey.over_weeks, MonitorsRead()))
    if (ranked := programme.ranked) is not None and ranked.from_week < weeks:
        begins = RankedBegins(ranked.doors, ranked.minutes, ranked.every_weeks)
        out.append(_planned(on, ranked.from_week, 1, begins))
    return tuple(sorted(out, key=lambda entry: entry.week))


def standing_work(programme: Programme) -> tuple[Fact, ...]:
    """Return what follows a report, a find and a move-out, and what closes a unit.

    ``programme``: as it ran (:attr:`spread.programmes.run.Runs.programme`), so that its clearance is the
    building's; else the trade's rule stands for what the programme does not set.
    """
    out: list[Fact] = []
    if (complaint := programme.complaint) is not None:
        out.append(AfterReport(complaint.method, complaint.within_weeks))
    if programme.ring is not None:
        out.append(AroundFind(programme.ring.within_weeks))
    treatment, ending = programme.treatment, ending_of(programme, ClearanceRule())
    out.append(
        CourseAfterFind(
            method=treatment.method,
            within_weeks=treatment.within_weeks,
            every_weeks=treatment.every_weeks,
            clean_visits=ending.visits,
            heavy_visits=ending.heavy_visits,
            monitor=ending.monitor,
            encase=treatment.encase,
        )
    )
    if (watch := programme.watch) is not None:
        out.append(WatchAfter(watch.method, watch.every_weeks, watch.weeks))
    if programme.vacant is not None:
        out.append(WhenEmpty(programme.vacant.method))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class CrewMonth:
    """The work of a calendar month, mean of the futures."""

    first: dt.date  #: Its first day, or that of the runs
    visits: float  #: Doors stood at
    crew_days: float  #: Days of the crew (:mod:`spread.programmes.crew`)


def crew_months(comparison: Comparison, key: str, on: dt.date) -> tuple[CrewMonth, ...]:
    """Return the work of a programme by calendar month; a week belongs to the month of its Monday.

    ``on``: the day that the runs begin.
    """
    outcome = comparison.of(key)
    start = monday_of(week_of(on) + 1)
    found: dict[dt.date, tuple[float, float]] = {}
    weeks = zip(outcome.visits_a_week.tolist(), outcome.days_a_week.tolist(), strict=True)
    for week, (visits, days) in enumerate(weeks):
        month = (start + dt.timedelta(weeks=week)).replace(day=1)
        before = found.get(month, (0.0, 0.0))
        found[month] = (before[0] + visits, before[1] + days)
    return tuple(CrewMonth(month, *work) for month, work in found.items())


def _planned(on: dt.date, week: int, over: int, what: SurveyOfAll | MonitorsRead | RankedBegins) -> Planned:
    monday = monday_of(week_of(on) + 1 + week)
    return Planned(week, monday, monday + dt.timedelta(days=7 * over - 3), what)
