"""A team's week over many buildings: what is owed, then where an hour averts most, with the way there.

Each day the team goes where something is owed, the most pressing first. With what is left of the day it looks
for the building and the number of its next doors that avert most a minute, the way there included unless the
team is there already. That is the greedy rule for a cost that is paid once; no promise of the best of weeks.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from spread.portfolio.standing import Kept
from spread.records.summaries import Owed, Worth

DAYS = 5
HOURS = 7.0
"""Working days, and hours of a day at doors and on the way."""
SATURDAY = 5


@dataclass(frozen=True, slots=True)
class Team:
    """What a team has.

    ``hours``: of a day; ``days``: of the week; ``travel``: minutes from one building to the next.
    """

    hours: float = HOURS
    days: int = DAYS
    travel: float = 30.0


@dataclass(slots=True)
class Stay:
    """The team in one building on one day.

    ``minutes``: at doors; ``travel``: on the way there; ``owed``, ``looks``: how many visits that are owed,
    and doors besides; ``averted``: infested weeks that the latter are expected to avert.
    """

    day: dt.date
    kept: Kept
    travel: float
    minutes: float = 0.0
    owed: int = 0
    looks: int = 0
    averted: float = 0.0


@dataclass(frozen=True, slots=True)
class TeamWeek:
    """A team's week.

    ``left``: what is owed within the week and found no room; ``unknown``: buildings of which nothing is kept.
    """

    stays: tuple[Stay, ...]
    left: tuple[tuple[Kept, Owed], ...]
    unknown: tuple[Kept, ...]

    @property
    def minutes(self) -> float:
        """All minutes, the way included."""
        return sum(stay.minutes + stay.travel for stay in self.stays)

    @property
    def averted(self) -> float:
        """Infested weeks that looks besides what is owed are expected to avert."""
        return sum(stay.averted for stay in self.stays)


@dataclass(slots=True)
class _Open:
    """What is still to be done in a building."""

    kept: Kept
    owed: list[Owed]
    doors: list[Worth] = field(default_factory=list)


def working_days(on: dt.date, number: int) -> tuple[dt.date, ...]:
    """Return the next days from one on that are no Saturday or Sunday."""
    ahead = (on + dt.timedelta(days=k) for k in range(2 * number + 3))
    return tuple(day for day in ahead if day.weekday() < SATURDAY)[:number]


def team_week(kept: Iterable[Kept], on: dt.date, team: Team | None = None) -> TeamWeek:
    """Spread a team's week from a day on over buildings."""
    team, kept = team or Team(), tuple(kept)
    days = working_days(on, team.days)
    last = days[-1] if days else on
    todo = [
        _Open(
            one,
            sorted((o for o in one.summary.owed if min(o.target, o.latest) <= last), key=lambda o: o.latest),
            list(one.summary.doors),
        )
        for one in kept
        if one.summary is not None
    ]
    stays = [stay for day in days for stay in _day(todo, day, team)]
    left = tuple((one.kept, owed) for one in todo for owed in one.owed)
    return TeamWeek(tuple(stays), left, tuple(one for one in kept if one.summary is None))


def _day(todo: list[_Open], day: dt.date, team: Team) -> list[Stay]:
    """Fill one day; what is done is taken out of ``todo``."""
    stays: dict[str, Stay] = {}
    free = 60.0 * team.hours

    def way(one: _Open) -> float:
        return 0.0 if one.kept.key in stays else team.travel

    def come(one: _Open) -> Stay:
        nonlocal free
        free -= way(one)
        return stays.setdefault(one.kept.key, Stay(day, one.kept, way(one)))

    for one in sorted((one for one in todo if one.owed), key=lambda one: one.owed[0].latest):
        for owed in [o for o in one.owed if o.target <= day or o.latest <= day]:
            if way(one) + owed.minutes > free:
                continue
            stay = come(one)
            stay.owed, stay.minutes = stay.owed + 1, stay.minutes + owed.minutes
            free -= owed.minutes
            one.owed.remove(owed)
    while True:
        best = max(
            ((*_most(one.doors, way(one), free), one) for one in todo), key=lambda b: b[0], default=None
        )
        if best is None or best[0] <= 0.0:
            return list(stays.values())
        _, number, one = best
        stay = come(one)
        taken, one.doors = one.doors[:number], one.doors[number:]
        minutes = sum(door.minutes for door in taken)
        stay.looks, stay.minutes, free = stay.looks + number, stay.minutes + minutes, free - minutes
        stay.averted += sum(door.averted for door in taken)


def _most(doors: Sequence[Worth], way: float, free: float) -> tuple[float, int]:
    """Return the most that some first doors avert a minute with the way there, and how many they are."""
    best, number, spent, averted = 0.0, 0, way, 0.0
    for place, door in enumerate(doors, start=1):
        spent, averted = spent + door.minutes, averted + door.averted
        if spent > free:
            break
        if spent > 0.0 and averted / spent > best:
            best, number = averted / spent, place
    return best, number
