"""Dates and weeks; the only file that turns one into the other.

A week is Monday to Sunday and its number is the Monday's proleptic ordinal divided
by seven. Weeks are never indexed by (year, ISO week): 31 December 2026 and
3 January 2027 both fall in ISO week 2026-W53.
"""

from __future__ import annotations

import datetime as dt


def week_of(day: dt.date) -> int:
    """Return the number of the week that holds ``day`` (weeks start on Monday)."""
    return (day.toordinal() - 1) // 7


def monday_of(week: int) -> dt.date:
    """Return the Monday of a week number."""
    return dt.date.fromordinal(week * 7 + 1)


def speak_date(day: dt.date) -> str:
    """Return a date as people read it, such as ``Wed 25 Nov 2026``."""
    return f"{day:%a} {day.day} {day:%b %Y}"
