"""What programmes plan, how they came about and how they compare, as facts; ``spread/words`` says them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from spread.facts import Fact

Verdict = Literal["fewer", "more", "cannot-tell"]
"""Whether one programme has less of something than another (bugs, money) in enough of the futures."""
EndUnit = Literal[
    "times-the-mean", "a-unit-week", "a-day", "of-every-method", "at-every-level", "of-knocks", "share",
    "an-hour", "minutes", "weeks",
]  # fmt: skip
"""What the values of a driver's end are counted in."""


@dataclass(frozen=True, slots=True)
class SurveyOfAll(Fact):
    """Every unit is surveyed."""

    method: str


@dataclass(frozen=True, slots=True)
class MonitorsRead(Fact):
    """The monitors of a survey are fetched and read."""


@dataclass(frozen=True, slots=True)
class RankedBegins(Fact):
    """From here on so many ranked doors, or as many as so many minutes allow where ``doors`` is 0."""

    doors: int
    minutes: float
    every_weeks: int


@dataclass(frozen=True, slots=True)
class AfterReport(Fact):
    """A report is followed by a look within so many weeks; 0 is the same week."""

    method: str
    within_weeks: int


@dataclass(frozen=True, slots=True)
class AroundFind(Fact):
    """A find is followed by looks around it."""

    within_weeks: int


@dataclass(frozen=True, slots=True)
class CourseAfterFind(Fact):
    """A find is followed by a treatment, then visits until so many in a row were clean.

    ``heavy_visits`` are for a unit that was heavily infested; ``monitor`` stands between the visits, and is
    empty where none does.
    """

    method: str
    within_weeks: int
    every_weeks: int
    clean_visits: int
    heavy_visits: int
    monitor: str
    encase: bool = False  #: Whether encasements go on the beds at the first treatment visit


@dataclass(frozen=True, slots=True)
class WhenEmpty(Fact):
    """A unit is looked at when people leave it."""

    method: str


@dataclass(frozen=True, slots=True)
class WatchAfter(Fact):
    """A unit whose course has ended is looked at again, every so many weeks for so long."""

    method: str
    every_weeks: int
    weeks: int


@dataclass(frozen=True, slots=True)
class TreatedEvery(Fact):
    """A programme with another treatment, or another time from visit to visit."""

    method: str
    weeks: int


@dataclass(frozen=True, slots=True)
class Candidate(Fact):
    """A programme that was put together for a search; 0 doors and 0 weeks are none."""

    complaints: bool
    ring: bool
    doors: int
    survey_weeks: int
    survey_method: str
    treated: TreatedEvery | None = None  #: None is as the programme it was made of


@dataclass(frozen=True, slots=True)
class SurveyEvery(Fact):
    """A programme with its survey at another interval."""

    weeks: int


@dataclass(frozen=True, slots=True)
class DoorsAWeek(Fact):
    """A programme with another number of ranked doors a week; 0 is none."""

    doors: int


@dataclass(frozen=True, slots=True)
class PaceKnown(Fact):
    """How fast the simulation spreads beside a published building: per cent of units infested.

    ``published`` are at the beginning and after a year; ``simulated`` after a simulated year.
    """

    published: tuple[int, int]
    simulated: int


@dataclass(frozen=True, slots=True)
class DriverEnd(Fact):
    """One of the two values that a driver is set to."""

    end: str  #: ``low``, ``high`` or ``central``
    unit: EndUnit  #: What the values are counted in
    values: tuple[float, ...] = ()  #: None where the end of every method or level is taken
    currency: str = ""  #: Of an hour's price
    share: float = 1.0  #: How far it is from the centre to that end


PUBLISHED = (6, 12)
"""Per cent of units infested at the beginning and after twelve months of usual service: Wang et al. 2019,
doi 10.1093/jipm/pmz031 (one building)."""
SIMULATED = 9
"""Per cent after twelve months of the same service here: measured and held by
``tests/test_programmes_published.py``, which says why."""


def pace_known() -> PaceKnown:
    """Return what an owner should know of the pace before trusting the cost of waiting."""
    return PaceKnown(PUBLISHED, SIMULATED)
