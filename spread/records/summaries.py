"""What a fit said of a building, kept beside its log: a page of many buildings reads this and fits nothing.

The figures are those of a day (:attr:`Summary.on`) and of a number of rows (:attr:`Summary.rows`); whoever
shows them says both. What was said of earlier days is kept too, a line a day, so that it can be held against
what is known later. It can be deleted: the next fit writes it anew, without the past.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, NamedTuple

SUFFIX = ".summary"
MOST_SAID = 750
"""Days of which the answer is kept: some two years."""


class Said(NamedTuple):
    """What was said of one day: units infested, with the interval that holds 90 %, from so many rows."""

    on: dt.date
    low: int
    median: int
    high: int
    rows: int


class Worth(NamedTuple):
    """A door to look at: expected minutes, and the infested weeks that a visit is expected to avert."""

    minutes: float
    averted: float


class Owed(NamedTuple):
    """A visit or a duty of a unit: what for, when to aim for, and the last day that is on time."""

    unit: str
    what: str
    target: dt.date
    latest: dt.date
    minutes: float


@dataclass(frozen=True, slots=True)
class Summary:
    """A building on a day, as its last fit says.

    Parameters
    ----------
    on, rows
        The day, and how many rows the log had in all.
    units, known
        Units of the building, and those where a find is open.
    low, median, high
        Units infested: the middle, and the interval that holds 90 %.
    trend
        A verdict of :class:`spread.decisions.month.change.Change` over the four weeks before.
    fell, rose
        The chances it rests on.
    settled
        Whether the chains of the fit agree.
    chances
        Chance of each unit.
    doors
        Doors to look at, the best an hour first; the first ones only.
    owed
        Visits and duties that are not done, by day.
    said
        What was said of earlier days, and of this one, oldest first.
    """

    on: dt.date
    rows: int
    units: int
    known: int
    low: int
    median: int
    high: int
    trend: str
    fell: float
    rose: float
    settled: bool
    chances: Mapping[str, float]
    doors: tuple[Worth, ...] = ()
    owed: tuple[Owed, ...] = ()
    said: tuple[Said, ...] = field(default=())


def file_of(log: str) -> str:
    """Return the name of the file beside a log."""
    return f"{log}{SUFFIX}"


def with_earlier(new: Summary, kept: Summary | None) -> Summary:
    """Return what is to be kept once a fit has said something new.

    An answer that knew fewer rows, such as one for a day of the past, does not take the place of a later one,
    but what it said of its day is kept where nothing was yet.
    """
    now = Said(new.on, new.low, new.median, new.high, new.rows)
    said = {one.on: one for one in (kept.said if kept else ())}
    newer = kept is None or new.rows >= kept.rows
    if newer or now.on not in said:
        said[now.on] = now
    lines = tuple(said[day] for day in sorted(said))[-MOST_SAID:]
    return replace(new if newer or kept is None else kept, said=lines)


def text_of_summary(summary: Summary) -> str:
    """Return a summary as JSON."""
    told = asdict(summary)
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"), default=dt.date.isoformat)


def summary_of_text(text: str | bytes) -> Summary | None:
    """Return a summary from its JSON; None where there is none, or it cannot be read."""
    try:
        told: dict[str, Any] = json.loads(text)
        day = dt.date.fromisoformat
        return Summary(
            on=day(told["on"]),
            rows=int(told["rows"]),
            units=int(told["units"]),
            known=int(told["known"]),
            low=int(told["low"]),
            median=int(told["median"]),
            high=int(told["high"]),
            trend=str(told["trend"]),
            fell=float(told["fell"]),
            rose=float(told["rose"]),
            settled=bool(told["settled"]),
            chances={str(unit): float(chance) for unit, chance in told["chances"].items()},
            doors=tuple(Worth(float(minutes), float(averted)) for minutes, averted in told["doors"]),
            owed=tuple(
                Owed(str(unit), str(what), day(target), day(latest), float(minutes))
                for unit, what, target, latest, minutes in told["owed"]
            ),
            said=tuple(Said(day(on), *map(int, figures)) for on, *figures in told["said"]),
        )
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError):
        return None
