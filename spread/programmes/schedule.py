"""What a programme plans and when: its calendar, and the work a week that the runs expect."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from spread.decisions.words import joined
from spread.programmes.clearing import ending_of
from spread.programmes.columns import PROTOCOL
from spread.programmes.programme import Programme
from spread.programmes.results import Comparison
from spread.trade.clearance import ClearanceRule
from spread.trade.methods import looks, monitors
from spread.trade.registry import LOOKING, MONITORS, TREATMENTS
from spread.weeks import monday_of, week_of

_PROTOCOL_PARTS = (looks.INTERVIEW, looks.BRIEF, monitors.INTERCEPTORS)


@dataclass(frozen=True, slots=True)
class Planned:
    """One entry of a calendar.

    Parameters
    ----------
    week
        Weeks from the start, 0 is the first.
    first, last
        Monday and Friday of the days it is planned for.
    words
        What is planned.
    """

    week: int
    first: dt.date
    last: dt.date
    words: str


def calendar(programme: Programme, on: dt.date, weeks: int) -> tuple[Planned, ...]:
    """Return what a programme plans by date: surveys, monitors fetched, and where ranked doors begin.

    What follows a report or a find has no date in advance; see :func:`standing_work`.

    Parameters
    ----------
    programme
        The programme.
    on
        The day the runs start from; week 0 is the week after it.
    weeks
        How far.
    """
    out = []
    if (survey := programme.survey) is not None:
        last = weeks if survey.times == 0 else survey.from_week + survey.every_weeks * (survey.times - 1) + 1
        for week in range(survey.from_week, min(weeks, last), survey.every_weeks):
            words = f"survey of every unit by {method_words(survey.method)}"
            out.append(_planned(on, week, survey.over_weeks, words))
            if survey.method in (PROTOCOL, *MONITORS) and week + 2 < weeks:
                out.append(_planned(on, week + 2, survey.over_weeks, "fetch and read the monitors"))
    if (ranked := programme.ranked) is not None and ranked.from_week < weeks:
        size = (
            f"{ranked.doors} ranked doors" if ranked.doors else f"ranked doors for {ranked.minutes:g} minutes"
        )
        often = "week" if ranked.every_weeks == 1 else f"{ranked.every_weeks} weeks"
        out.append(_planned(on, ranked.from_week, 1, f"from here on {size} every {often}"))
    return tuple(sorted(out, key=lambda entry: entry.week))


def standing_work(programme: Programme) -> tuple[str, ...]:
    """Return in sentences what follows a report, a find and a move-out, and what closes a unit.

    Parameters
    ----------
    programme
        As it ran (:attr:`spread.programmes.run.Runs.programme`), so that its clearance is the building's;
        else the trade's rule stands for what the programme does not set.
    """
    out = []
    if (complaint := programme.complaint) is not None:
        within = "the same week" if complaint.within_weeks == 0 else _weeks(complaint.within_weeks)
        out.append(f"After a report: {method_words(complaint.method)} within {within}.")
    if programme.ring is not None:
        out.append(f"After a find: the units around it within {_weeks(programme.ring.within_weeks)}.")
    treatment, ending = programme.treatment, ending_of(programme, ClearanceRule())
    start = "the same week" if treatment.within_weeks == 0 else _weeks(treatment.within_weeks)
    out.append(
        f"After a find: {method_words(treatment.method)} within {start}, then a visit every "
        f"{_weeks(treatment.every_weeks)} until {ending.visits} visits in a row find nothing"
        f"{f', the {MONITORS[ending.monitor].those} between them included' if ending.monitor else ''}"
        f"{f' ({ending.heavy_visits} where it was heavy)' if ending.heavy_visits > ending.visits else ''}."
    )
    if programme.vacant is not None:
        out.append(f"When people leave: {method_words(programme.vacant.method)} in the empty unit.")
    return tuple(out)


def visits_by_quarter(comparison: Comparison, key: str) -> tuple[float, ...]:
    """Return the mean visits of each thirteen weeks of a programme."""
    visits = comparison.of(key).visits_a_week
    return tuple(float(visits[start : start + 13].sum()) for start in range(0, len(visits), 13))


def method_words(method: str) -> str:
    """Return what a method is called within a sentence."""
    if method in LOOKING:
        return LOOKING[method].within
    if method in TREATMENTS:
        return TREATMENTS[method].name.lower()
    return joined([way.name.lower() for way in _PROTOCOL_PARTS])


def _planned(on: dt.date, week: int, over: int, words: str) -> Planned:
    monday = monday_of(week_of(on) + 1 + week)
    return Planned(week, monday, monday + dt.timedelta(days=7 * over - 3), words)


def _weeks(count: int) -> str:
    return "one week" if count == 1 else f"{count} weeks"
