"""When something is due: hours, calendar days and business days from an event.

The readings chosen, each the strictest that is reasonable:

- A record has a day and no hour. Hours are then whole days, rounded down, after that day: 96 hours from a
  report on a Monday are up on Friday, 36 hours on Tuesday. With an hour they are exact.
- Days begin to count on the day after the event. Calendar days are not put off from a weekend or holiday.
- Business days are Monday to Friday without public holidays and without the days off that somebody wrote
  down. An event on a day off counts as if it fell on the business day before.
- A day is due until its end: late is the day after.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Container
from functools import lru_cache

from spread.errors import Problem, SettingsError
from spread.trade.rule_set import Calendar, Span

When = dt.date | dt.datetime
IsHoliday = Callable[[dt.date], bool]


def due_after(event: When, span: Span, is_holiday: IsHoliday) -> When:
    """Return when ``span`` after ``event`` is up.

    ``event``: a moment, or a day where the hour is not known; ``span``: length of time, counted as it says;
    ``is_holiday``: whether a day is a public holiday; asked for business days only.

    Returned: a moment for hours from a moment; otherwise a day, due until its end.
    """
    if span.counted_in == "hours":
        whole = dt.timedelta(hours=span.amount)
        return event + (whole if isinstance(event, dt.datetime) else dt.timedelta(days=whole.days))
    day = day_of(event)
    if span.counted_in == "calendar days":
        return day + dt.timedelta(days=span.amount)
    return _business_days(day, span.amount, 1, is_holiday)


def notice_before(due: When, lead: Span, is_holiday: IsHoliday) -> dt.date:
    """Return the last day on which notice can be given for an entry on the day that is due.

    Hours are rounded up to whole days, because the hour of entry is not known.

    ``due``: day or moment of the entry; ``lead``: time ahead that the rule asks for; ``is_holiday``: tells
    whether a day is a public holiday.
    """
    day = day_of(due)
    if lead.counted_in == "hours":
        return day - dt.timedelta(days=-(-lead.amount // 24))
    if lead.counted_in == "calendar days":
        return day - dt.timedelta(days=lead.amount)
    return _business_days(day, lead.amount, -1, is_holiday)


def first_entry(given: dt.date, lead: Span, is_holiday: IsHoliday) -> dt.date:
    """Return the first day on which notice that is given on a day has run.

    Of business days it is one itself, so that no weekend shortens a notice.

    ``given``: day of the notice; ``lead``, ``is_holiday``: as for :func:`notice_before`.
    """
    day, by_business = given, lead.counted_in == "business days"
    while notice_before(day, lead, is_holiday) < given or (by_business and not _works(day, is_holiday)):
        day += dt.timedelta(days=1)
    return day


def day_of(when: When) -> dt.date:
    """Return the day of a moment, or the day itself."""
    return when.date() if isinstance(when, dt.datetime) else when


def holidays_of(calendar: Calendar | None) -> IsHoliday:
    """Return what tells whether a day is a public holiday; None knows no holidays.

    Raises SettingsError for a country or subdivision that the ``holidays`` library does not know.
    """
    if calendar is None:
        return lambda day: False
    written = frozenset(calendar.days)
    known = _calendar(calendar.country, calendar.subdivision) if calendar.country else written
    return lambda day: day in written or day in known


@lru_cache(maxsize=32)
def _calendar(country: str, subdivision: str) -> Container[dt.date]:
    # Loaded when first asked for: no other command has a use for it.
    import holidays  # noqa: PLC0415

    try:
        return holidays.country_holidays(country, subdiv=subdivision or None)
    except NotImplementedError:
        place = f"country {country!r}" + (f", subdivision {subdivision!r}" if subdivision else "")
        fix = 'use ISO codes, as in country = "US" and subdivision = "PA"'
        raise SettingsError(
            Problem("rules", "[calendar]", f"no holidays are known for {place}", fix)
        ) from None


def _business_days(day: dt.date, amount: int, step: int, is_holiday: IsHoliday) -> dt.date:
    """Step over ``amount`` business days; the day it starts from is not counted."""
    while amount > 0:
        day += dt.timedelta(days=step)
        amount -= _works(day, is_holiday)
    return day


def _works(day: dt.date, is_holiday: IsHoliday) -> bool:
    return day.weekday() < 5 and not is_holiday(day)
