"""Days as people write them, read by the column: the order that fits all of it, or a question."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence

MONTH_FIRST, DAY_FIRST = "month first", "day first"
ORDERS = (MONTH_FIRST, DAY_FIRST)
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T].*)?")
_NUMBERS = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{2}|\d{4})(?:[ ,T].*)?")
_NAMED = re.compile(
    r"(?:(\d{1,2})[-/. ]*)?([A-Za-z]{3,9})\.?[-/., ]*(\d{1,2})?(?:st|nd|rd|th)?[-/., ]+(\d{4}|\d{2})(?:\s.*)?"
)
_IN_TEXT = re.compile(
    r"\d{4}-\d{1,2}-\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})\b"
    r"|[A-Za-z]{3,9}\.? \d{1,2}(?:st|nd|rd|th)?,? \d{4}|\d{1,2}\.?[- ][A-Za-z]{3,9}[- ]\d{4}"
)
_WEEKDAY = re.compile(r"^(?:mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun)[a-z]*[,. ]+", re.IGNORECASE)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_FIRST_SERIAL, _LAST_SERIAL = 25_569, 73_050
"""Day numbers of spreadsheets (days since 30 December 1899) from 1970 to 2099."""
_EPOCH = dt.date(1899, 12, 30)


def read_day(text: str, order: str, today: dt.date) -> dt.date | None:
    """Return the day that a text names in an order of day and month; None if it names none.

    Parameters
    ----------
    text
        ``2026-03-04``, ``3/4/26``, ``4.3.2026``, ``Mar 4, 2026``, ``4-Mar-26`` or a spreadsheet's day number.
    order
        A word of :data:`ORDERS`, for days written in numbers alone.
    today
        Years of two digits are of the hundred years that end with next year.
    """
    text = _WEEKDAY.sub("", text.strip())
    if found := _ISO.fullmatch(text):
        year, month, day = map(int, found.groups())
        return _date(year, month, day)
    if found := _NUMBERS.fullmatch(text):
        first, second, year = map(int, found.groups())
        month, day = (first, second) if order == MONTH_FIRST else (second, first)
        return _date(_whole_year(year, found[3], today), month, day)
    if found := _NAMED.fullmatch(text):
        before, name, after, year_text = found.groups()
        name = name[:3].casefold()
        if name in _MONTHS and bool(before) != bool(after):
            year = _whole_year(int(year_text), year_text, today)
            return _date(year, _MONTHS.index(name) + 1, int(before or after))
        return None
    if re.fullmatch(r"\d{5}(\.\d+)?", text) and _FIRST_SERIAL <= float(text) <= _LAST_SERIAL:
        return _EPOCH + dt.timedelta(days=int(float(text)))
    return None


def day_in(text: str, order: str, today: dt.date) -> dt.date | None:
    """Return the first day that stands in a text, as "Rent roll as of 11/01/2026" has one; else None."""
    found = (read_day(one.group(), order, today) for one in _IN_TEXT.finditer(text))
    return next(filter(None, found), None)


def fitting_orders(texts: Sequence[str], today: dt.date) -> tuple[str, ...]:
    """Return the orders in which every day of a column can be read and none lies ahead.

    A text that is a day in neither order decides nothing; it is told by its row later. One order is an
    answer, two are a question, none means that the column mixes both.
    """
    both = {order: [read_day(text, order, today) for text in texts] for order in ORDERS}
    some = [at for at in range(len(texts)) if any(both[order][at] for order in ORDERS)]
    late = today + dt.timedelta(days=1)
    fits = tuple(
        order for order in ORDERS if all((day := both[order][at]) is not None and day <= late for at in some)
    )
    if len(fits) == 2 and both[MONTH_FIRST] == both[DAY_FIRST]:
        return (MONTH_FIRST,)  # no day is written in numbers that could be turned
    return fits


def _whole_year(year: int, text: str, today: dt.date) -> int:
    if len(text) == 4:
        return year
    century = today.year // 100 * 100
    return century + year if century + year <= today.year + 1 else century - 100 + year


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None
