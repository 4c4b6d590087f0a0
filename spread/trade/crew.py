"""Who goes: technicians by a work code, with the hours and days that they have for this building."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
"""Days as settings spell them, Monday first as in :meth:`datetime.date.weekday`."""
WORK_DAYS = WEEKDAYS[:5]
HOURS = 4.0  #: Hours of a technician at a building on a day, where nobody says (judgement)


@dataclass(frozen=True, slots=True)
class Technician:
    """One technician: a work code, never a name."""

    code: str
    minutes: float = 60.0 * HOURS  #: Minutes a day
    days: tuple[str, ...] = WORK_DAYS  #: Words of :data:`WEEKDAYS`

    def works_on(self, day: dt.date) -> bool:
        """Whether that day is one of this technician's."""
        return WEEKDAYS[day.weekday()] in self.days


def crew_of(number: int, hours: float = HOURS) -> tuple[Technician, ...]:
    """Return so many technicians with the same hours, Monday to Friday."""
    return tuple(Technician(str(place + 1), 60.0 * hours) for place in range(number))
