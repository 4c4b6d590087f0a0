"""What the records of a unit have towards clearance, and what they lack.

Counting begins anew with every sign: a find, a treatment, a report, an alert, a look that could not tell.
What is counted is short: clean periods of the rule's monitors, clean looks by eye that name the rows of every
sleeping place and of where bugs were, encasements of beds seen intact.
All else, a dog's no, a resident's no, an empty unit, is not looked at here, so it can clear nothing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from spread.decisions.case.traps import stood
from spread.decisions.standing import Standing, is_find, standing_of
from spread.facts import Fact
from spread.records.kinds import Record
from spread.records.looked import CHECKS, Unseen, sleeping_places, unseen
from spread.trade.biology import LEVEL_NAMES, level_of_count
from spread.trade.clearance import ClearanceRule
from spread.trade.development import visit_days
from spread.trade.registry import BY_EYE
from spread.trade.room import COVERED

DAY_EARLY = 1  #: A period may end a day early, as a visit may (as in :mod:`spread.decisions.standing`)
TRAP, COVER = CHECKS  #: Codes of the room sheet whose state is read
EPISODE_DAYS = 365
"""Finds this long before the last find or treatment belong to the same infestation (judgement)."""
_HEAVY = LEVEL_NAMES.index("heavy")


@dataclass(frozen=True, slots=True)
class Sign(Fact):
    """The last sign of bugs, or the treatment, from which everything is counted."""

    kind: str  #: ``find``, ``treatment``, ``report``, ``alert`` or ``unsure``
    day: dt.date  #: When it was


@dataclass(frozen=True, slots=True)
class Lack(Fact):
    """One thing that clearance still asks for."""

    #: ``treatment``, ``periods``, ``first-look``, ``looks``, ``last-look``, ``encasements``, ``chance`` or
    #: ``figures``
    code: str
    #: more, have, needed: How many periods or looks are missing, there, and asked for
    more: int = 0
    have: int = 0
    needed: int = 0
    days: int = 0  #: Length of a period
    #: The first day on which the last look counts; None while the last period is not there
    day: dt.date | None = None
    #: Encasements that are not intact: place, day and state
    covers: tuple[tuple[str, dt.date, str], ...] = ()
    #: chance, most: The model's chance, and the most that clearance allows
    chance: float = 0.0
    most: float = 0.0


@dataclass(frozen=True, slots=True)
class NotCounted(Fact):
    """A clean period or look that is not counted."""

    day: dt.date  #: When the period ended, or the look was made
    #: ``extent`` where the home was another then, parted or joined since; ``method``, ``no-days``, ``short``,
    #: ``not-set``, ``over-period``, ``over-sign`` or ``displaced`` of a period; ``eggs`` of a look that came
    #: too soon after the treatment, ``cool`` of one in rooms in which nobody knows when the last eggs hatch,
    #: ``no-items`` and ``unseen`` of one that does not say that the sleeping places, and where bugs were,
    #: were seen
    why: str
    method: str = ""  #: Of a period: its monitor
    #: days, needed: The days of a period and those asked for; of a look the days in which eggs may hatch
    days: int = 0
    needed: int = 0
    rows: tuple[Unseen, ...] = ()  #: What a look left out
    celsius: float = 0.0  #: Of ``cool``: warmth of the rooms


@dataclass(frozen=True, slots=True)
class Count:
    """What one unit has towards clearance by its records."""

    sign: Sign  #: The last sign: everything before it counts for nothing
    found_on: dt.date | None  #: The day of the last find, or None
    #: periods, looks: Days on which clean periods ended and clean looks by eye were made
    periods: tuple[dt.date, ...]
    looks: tuple[dt.date, ...]
    needed: int  #: Clean periods that are asked for
    #: Why more than the usual number are asked for: ``heavy``, ``displaced``; or empty
    why_more: tuple[str, ...]
    notes: tuple[NotCounted, ...]  #: Periods and looks that were not counted
    lacks: tuple[Lack, ...]  #: What the records lack; empty when they have all
    met_on: dt.date | None  #: The day from which they have all, or None

    @property
    def since(self) -> dt.date:
        """The day of the last sign."""
        return self.sign.day


def count_of(records: Sequence[Record], on: dt.date, rule: ClearanceRule) -> Count | None:
    """Return what a unit's current records have towards clearance; None where nothing was ever known.

    ``records``: current records of one unit, in any order; ``on``: later records are left out.
    """
    rows = sorted((r for r in records if r.when <= on), key=lambda r: (r.when, r.id))
    standing = standing_of(rows, on)
    if standing.last_find is None and standing.last_treatment is None:
        return None
    sign, row = _last_sign(rows, standing)
    since = row.when
    after = [r for r in rows if r.when > since]
    notes: list[NotCounted] = []
    periods, displaced = _periods(rows, since, rule, notes)
    episode = _episode(rows, standing)
    places = sleeping_places(row for row in rows if row.is_look or row.kind == "treatment")
    looks = _looks(after, standing, rule, notes, places, _sources(episode))
    heavy = any(map(_is_heavy, episode))
    needed = max(rule.periods, rule.heavy_periods) if heavy or displaced else rule.periods
    reasons = ("heavy",) * heavy + ("displaced",) * displaced
    beds = any(kind in COVERED for kind, _ in places)
    lacks, met = _lacks(rows, standing, rule, periods, looks, needed, beds=beds)
    return Count(
        sign=Sign(sign, since),
        found_on=standing.last_find.when if standing.last_find else None,
        periods=tuple(periods),
        looks=tuple(looks),
        needed=needed,
        why_more=reasons if needed > rule.periods else (),
        notes=tuple(notes),
        lacks=tuple(lacks),
        met_on=None if lacks else max(met),
    )


def _last_sign(rows: Sequence[Record], standing: Standing) -> tuple[str, Record]:
    """Return the latest sign of bugs, or the treatment if that is later or of the same day."""
    unsure = next((r for r in reversed(rows) if r.is_look and r.found == "unsure"), None)
    signs = {
        "unsure": unsure,
        "alert": standing.last_alert,
        "report": standing.last_report,
        "find": standing.last_find,
        "treatment": standing.last_treatment,
    }
    known = [(name, row) for name, row in signs.items() if row is not None]
    latest = max(row.when for _, row in known)
    return next((name, row) for name, row in reversed(known) if row.when == latest)


def _periods(
    rows: Sequence[Record], since: dt.date, rule: ClearanceRule, notes: list[NotCounted]
) -> tuple[list[dt.date], bool]:
    """Return the ends of the clean periods since a day, and whether traps were displaced in any."""
    ends: list[dt.date] = []
    last, displaced = since, False
    for row in rows:
        if row.when <= since or row.kind != "monitor" or row.found != "no":
            continue
        note = partial(NotCounted, row.when, method=row.method)
        if row.was:
            notes.append(note(why="extent"))
        elif row.method not in rule.monitors:
            notes.append(note(why="method"))
        elif row.days is None:
            notes.append(note(why="no-days"))
        elif row.days < rule.period_days - DAY_EARLY:
            notes.append(note(why="short", days=row.days, needed=rule.period_days))
        elif not stood(rows, row):
            notes.append(note(why="not-set"))
        elif row.began < last:
            notes.append(note(why="over-period" if ends else "over-sign"))
        elif _displaced(row):
            displaced = True
            notes.append(note(why="displaced"))
        else:
            ends.append(row.when)
            last = row.when
    return ends, displaced


def _displaced(row: Record) -> bool:
    return any(one.state == "displaced" or (one.state == "missing" and one.item == TRAP) for one in row.items)


def _looks(
    after: Sequence[Record],
    standing: Standing,
    rule: ClearanceRule,
    notes: list[NotCounted],
    places: Sequence[tuple[str, str]],
    sources: Sequence[tuple[str, str]],
) -> list[dt.date]:
    """Return the days of clean looks by eye at all sleeping places, late enough for eggs to have hatched."""
    treated = standing.last_treatment
    celsius = warmth(treated, rule)
    window = visit_days(celsius)
    earliest = window.earliest
    days = []
    for row in after:
        if row.kind != "inspection" or row.method not in BY_EYE or row.found != "no":
            continue
        if row.was:
            notes.append(NotCounted(row.when, "extent"))
        elif treated is not None and (row.when - treated.when).days < earliest:
            notes.append(NotCounted(row.when, "eggs", needed=earliest))
        elif treated is not None and not window.hatched:
            notes.append(NotCounted(row.when, "cool", celsius=celsius))
        elif not row.items:
            notes.append(NotCounted(row.when, "no-items"))
        elif left_out := unseen(row, places, sources):
            notes.append(NotCounted(row.when, "unseen", rows=left_out))
        else:
            days.append(row.when)
    return sorted(set(days))


def warmth(treated: Record | None, rule: ClearanceRule) -> float:
    """Return the degrees C of the rooms: as measured at the last treatment, else as the rule has them."""
    measured = treated.job.celsius if treated is not None and treated.job is not None else None
    return rule.room_celsius if measured is None else measured


def _episode(rows: Sequence[Record], standing: Standing) -> list[Record]:
    """Return the finds that belong to the infestation of the last one."""
    marks = [r.when for r in (standing.last_find, standing.last_treatment) if r is not None]
    first = max(marks) - dt.timedelta(days=EPISODE_DAYS)
    return [row for row in rows if row.when >= first and is_find(row)]


def _sources(finds: Sequence[Record]) -> list[tuple[str, str]]:
    """Return item and place of where live bugs or eggs were: a look that clears has to see them again."""
    return list(
        dict.fromkeys(
            (one.item, one.place)
            for row in finds
            for one in row.items
            if one.evidence & {"live", "eggs"} and one.item not in CHECKS
        )
    )


def _is_heavy(row: Record) -> bool:
    return row.level == "heavy" or (row.count is not None and level_of_count(row.count) == _HEAVY)


def _lacks(
    rows: Sequence[Record],
    standing: Standing,
    rule: ClearanceRule,
    periods: Sequence[dt.date],
    looks: Sequence[dt.date],
    needed: int,
    *,
    beds: bool,
) -> tuple[list[Lack], list[dt.date]]:
    """Return what is missing, and the days from which each part was there."""
    lacks: list[Lack] = []
    met: list[dt.date] = []
    find, treated = standing.last_find, standing.last_treatment
    if treated is None or (find is not None and treated.when < find.when):
        lacks.append(Lack("treatment"))
    end = periods[needed - 1] if len(periods) >= needed else None
    if end is None:
        more = needed - len(periods)
        have = len(periods)
        lacks.append(Lack("periods", more=more, have=have, needed=needed, days=rule.period_days))
    else:
        met.append(end)
    lack, day = _look_lack(looks, end, rule)
    if lack is not None:
        lacks.append(lack)
    if day is not None:
        met.append(day)
    if rule.encasements and beds:
        lack, day = _cover_lack(rows, treated)
        if lack is not None:
            lacks.append(lack)
        if day is not None:
            met.append(day)
    return lacks, met


def _look_lack(
    looks: Sequence[dt.date], end: dt.date | None, rule: ClearanceRule
) -> tuple[Lack | None, dt.date | None]:
    """Return what the looks lack: one early, one at the end of the last period, the rest between."""
    apart = dt.timedelta(days=rule.period_days - DAY_EARLY)
    if not looks:
        return Lack("first-look", needed=rule.looks), None
    late = next((d for d in looks if end is not None and d >= end and d >= looks[0] + apart), None)
    if late is None:
        return Lack("last-look", day=end), None
    enough = next((d for i, d in enumerate(looks, 1) if i >= rule.looks and d >= late), None)
    if enough is None:
        return Lack("looks", more=rule.looks - len(looks), have=len(looks), needed=rule.looks), None
    return None, enough


def _cover_lack(rows: Sequence[Record], treated: Record | None) -> tuple[Lack | None, dt.date | None]:
    """Return what the encasements lack: the latest word on each since the treatment has to be intact.

    How a treatment left them comes after what a look of the same day saw.
    """
    latest: dict[str, tuple[dt.date, str]] = {}
    for row in sorted(rows, key=lambda row: (row.when, row.kind == "treatment")):
        if treated is None or row.when < treated.when:
            continue
        for one in row.items:
            if one.item == COVER and one.state and not (row.was and one.state == "intact"):
                known = latest.get(one.place)
                worse = known is not None and known[0] == row.when and known[1] != "intact"
                if not worse or row.kind == "treatment":
                    latest[one.place] = (row.when, one.state)
    if not latest:
        return Lack("encasements"), None
    bad = [(place, day, state) for place, (day, state) in latest.items() if state != "intact"]
    if bad:
        return Lack("encasements", covers=tuple(bad)), None
    return None, max(day for day, _ in latest.values())
