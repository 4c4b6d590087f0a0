"""The room sheet of one unit: where to look, in which order, and what is known of the room already."""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from spread.contacts.bed import bed_reach
from spread.decisions.standing import standing_of
from spread.errors import Problem, SettingsError, SpreadError, told
from spread.facts import Fact
from spread.plan.model import Plan
from spread.records.kinds import Finding
from spread.records.log import Log
from spread.records.looked import sleeping_places
from spread.records.sense import guess
from spread.trade.room import (
    BED_IN_ORDER,
    NEAR_BED,
    NEAR_BED_SHARE,
    REACH,
    SEATS,
    SLEEPING,
    RoomItem,
    RoomItems,
)
from spread.trade.sources import Sourced

MOST_PLACES = 12  #: Sleeping places of one unit; a longer list is something else
LONGEST_NAME = 40

OUTLETS = "outlets"  #: Code of the item of outlets and jacks

_ODD = re.compile(r"[\x00-\x1f\x7f,;:]")


@dataclass(frozen=True, slots=True)
class SleepingPlace:
    """Where somebody sleeps: ``kind`` is of furniture, ``name`` says which, never who."""

    kind: str  #: One of :data:`spread.trade.room.SLEEPING`
    name: str  #: Which, such as ``bed 1``; never who


@dataclass(frozen=True, slots=True)
class LastSeen(Fact):
    """What was last written down of an item, and the day."""

    when: dt.date
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class OutletsNear(Fact):
    """Outlets within reach of a bed of the unit, nearest first."""

    radius_m: float  #: How far the reach is
    beds: int  #: How many beds the unit has
    #: As :func:`spread.contacts.bed.bed_reach` gives them; of several beds, as far as from the nearest
    outlets: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class ModelChance(Fact):
    """The chance that the model gives the unit."""

    chance: float


@dataclass(frozen=True, slots=True)
class FoundOn(Fact):
    """The day of the unit's last find."""

    when: dt.date


@dataclass(frozen=True, slots=True)
class TreatedOn(Fact):
    """The day of the unit's last treatment: old signs may be from before."""

    when: dt.date


@dataclass(frozen=True, slots=True)
class FarFromBed(Fact):
    """How far from the bed the finds of this building were, beside what is published."""

    finds: int  #: Items with live bugs or eggs, at the bed or with a distance from it
    within: int  #: Of them those within :data:`spread.trade.room.REACH` of the bed
    near: int  #: Of them those within :data:`spread.trade.room.NEAR_BED`
    published: Sourced  #: The share within that, as published


@dataclass(frozen=True, slots=True)
class KnownWithinReach(Fact):
    """Units known infested or under treatment behind a wall or along a riser within reach of a bed."""

    units: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One item of the sheet in this unit."""

    item: RoomItem  #: The row of the sheet
    weight: float  #: Where to look first: mean over the sleeping places
    ring: int  #: The nearest it is to any of them
    #: Sleeping places that it belongs to; empty for an item of the whole home
    places: tuple[SleepingPlace, ...]
    last: LastSeen | None = None  #: What was last seen there; None where nothing was written down
    #: Which things of this kind are within reach of the bed; None where none are known
    near: OutletsNear | None = None


@dataclass(frozen=True, slots=True)
class RoomSheet:
    """The sheet of a unit."""

    #: unit, building: Whose it is
    unit: str
    building: str
    on: dt.date | None  #: The day it is for, or None
    places: tuple[SleepingPlace, ...]  #: Where people sleep
    #: Items where bugs hide, as hands go: the bed from its cloth to its frame, seats that are slept on, then
    #: outwards ring by ring and in each the likeliest first
    rows: tuple[SheetRow, ...]
    checks: tuple[SheetRow, ...]  #: Traps and covers
    known: tuple[Fact, ...]  #: What the log says that matters in this room
    bed: dict[str, Any]  #: What lies within reach of the bed (:func:`spread.contacts.bed.bed_reach`)
    tools: tuple[str, ...]  #: Everything to bring, once each
    sheet: RoomItems  #: The sheet that the rows are from


def read_places(text: str, *, file: str = "--places") -> tuple[SleepingPlace, ...]:
    """Return the sleeping places that a line names, such as ``bed in room 1, sofa in the living room``.

    Each begins with a kind such as ``bed``, ``sofa`` or ``bunk bed``, and commas part them.

    Raises SettingsError with every problem of the line.
    """
    problems: list[Problem] = []
    places: list[SleepingPlace] = []
    parts = [" ".join(part.split()) for part in text.split(",")]
    for number, part in enumerate(parts, start=1):
        name = part
        first, *more = part.split(" ", 2) if part else [""]
        kind, two = first.lower(), "-".join([first, *more[:1]]).lower()
        if kind not in SLEEPING and two in SLEEPING:  # "bunk bed 1" is kept as "bunk-bed 1"
            kind, name = two, " ".join([two, *more[1:]])
        where = told("place {number}", number=number)
        if kind not in SLEEPING:
            near = difflib.get_close_matches(kind, SLEEPING, n=1)
            fix = (
                told("begin it with {word}", word=repr(near[0]))
                if near
                else told("begin it with bed or sofa, as in 'bed in room 1'")
            )
            what = told("{place} is no sleeping place", place=repr(name[:40]))
            problems.append(Problem(file, where, what, fix))
        elif len(name) > LONGEST_NAME or _ODD.search(name):
            what = told("its name is longer than {most} characters or has odd marks", most=LONGEST_NAME)
            problems.append(Problem(file, where, what, told("shorten it to a few plain words")))
        else:
            places.append(SleepingPlace(kind, name))
    if len(parts) > MOST_PLACES:
        what = told("{number} places are named", number=len(parts))
        problems.append(Problem(file, "", what, told("name up to {most}", most=MOST_PLACES)))
    if problems:
        raise SettingsError(problems)
    return _numbered(places)


def _numbered(places: Sequence[SleepingPlace]) -> tuple[SleepingPlace, ...]:
    """Return the places with numbers where two have one name."""
    names = [place.name for place in places]
    return tuple(
        SleepingPlace(place.kind, _with_number(place.name, names[: i + 1].count(place.name)))
        if names.count(place.name) > 1
        else place
        for i, place in enumerate(places)
    )


def _with_number(name: str, number: int) -> str:
    return f"{name} {number}" if name in SLEEPING else f"{name} ({number})"


def room_sheet(
    unit: str,
    plan: Plan,
    sheet: RoomItems,
    *,
    places: Sequence[SleepingPlace] = (),
    log: Log | None = None,
    on: dt.date | None = None,
    chance: float | None = None,
    whole: bool = False,
) -> RoomSheet:
    """Return the room sheet of a unit.

    Raises SpreadError if the plan has no such unit.

    Parameters
    ----------
    unit, plan : A unit of the plan
    sheet : The items, ours or a firm's
    places : Where people sleep; the beds of the plan if none are given, and one bed if it has none
    log, on : What was recorded up to a day: earlier finds in the room, treatments, known neighbours
    chance : Chance of infestation now, where a fit is at hand
    whole : With rows of furniture that nobody knows to be there, for a phone that may yet be told of it
    """
    if unit not in plan.units:
        fix = guess(unit, plan.units, "use a unit of the plan")
        raise SpreadError(Problem(plan.name, "", f"there is no unit {unit[:40]!r}", fix))
    beds = [bed for bed in plan.beds if bed.unit == unit]
    places = tuple(places) or _usual_places(len(beds), log, unit, on)
    reach = bed_reach(plan, unit)
    last = _last_seen(log, unit, on)
    outlets = _outlets_near(reach)
    rows = [
        _row(item, sheet, places, last.get(item.code), outlets if item.code == OUTLETS else None)
        for item in sheet.items
        if whole or not item.furniture or any(place.kind in item.at for place in places) or item.code in last
    ]
    hiding = [row for row in rows if row.item.group != "check"]
    hiding.sort(key=_hands)
    return RoomSheet(
        unit=unit,
        building=plan.name,
        on=on,
        places=places,
        rows=tuple(hiding),
        checks=tuple(row for row in rows if row.item.group == "check"),
        known=(*_known(unit, reach, log, on, chance), *_far_from_bed(log, on, sheet)),
        bed=reach,
        tools=tuple(dict.fromkeys(tool for row in rows for tool in row.item.tools)),
        sheet=sheet,
    )


def _hands(row: SheetRow) -> tuple[int, int, int, float]:
    """Return the place of a row in the order of work."""
    # Beds before seats that are slept on; what nobody sleeps on waits for its ring.
    stage = {"bed": 0, "seating": 1}.get(row.item.group, 2) if row.places or row.item.furniture else 2
    code = row.item.code
    bed = BED_IN_ORDER.index(code) if stage < 2 and code in BED_IN_ORDER else len(BED_IN_ORDER)
    return stage, bed, row.ring, -row.weight


def _usual_places(beds: int, log: Log | None, unit: str, on: dt.date | None) -> tuple[SleepingPlace, ...]:
    """Return where people sleep by the plan and the log; a sofa that had live bugs is offered as one."""
    rows = [row for row in (log.of(unit) if log else ()) if on is None or row.when <= on]
    known = [kind for kind, _ in sleeping_places(rows)]
    others = [kind for kind in known if kind not in ("bed", *SEATS)]
    beds = max(beds - len(others), known.count("bed"))  # a plan draws them all as beds
    on_sofa = any(one.item == "sofa" and one.evidence & {"live", "eggs"} for row in rows for one in row.items)
    sofas = max(known.count("sofa"), int(on_sofa))
    kinds = ["bed"] * beds + others + ["sofa"] * sofas + ["wheelchair"] * known.count("wheelchair")
    return _numbered([SleepingPlace(kind, kind) for kind in kinds])


def _row(
    item: RoomItem,
    sheet: RoomItems,
    places: Sequence[SleepingPlace],
    last: LastSeen | None,
    near: OutletsNear | None,
) -> SheetRow:
    weight = math.fsum(sheet.weight(item, place.kind) for place in places) / len(places)
    ring = min(sheet.ring(item, place.kind) for place in places)
    at = tuple(place for place in places if place.kind in item.at)
    return SheetRow(item, weight, ring, at, last, near)


def _outlets_near(reach: dict[str, Any]) -> OutletsNear | None:
    nearest: dict[str, dict[str, Any]] = {}
    for outlet in sorted(
        (outlet for bed in reach["beds"] for outlet in bed["outlets"]), key=lambda one: one["distance_m"]
    ):
        nearest.setdefault(outlet["id"], outlet)
    return OutletsNear(reach["radius_m"], len(reach["beds"]), tuple(nearest.values())) if nearest else None


def _last_seen(log: Log | None, unit: str, on: dt.date | None) -> dict[str, LastSeen]:
    """Return by item code what was last written down of it."""
    seen: dict[str, LastSeen] = {}
    for record in log.of(unit) if log else ():
        if on is None or record.when <= on:
            for code in {one.item for one in record.items}:
                findings = tuple(one for one in record.items if one.item == code)
                seen[code] = LastSeen(record.when, findings)
    return seen


def _far_from_bed(log: Log | None, on: dt.date | None, sheet: RoomItems) -> Iterable[Fact]:
    """Yield how far from the bed finds of the whole building were: what lies on the bed is 0 m from it."""
    metres = []
    for record in log.current if log else ():
        if record.is_look and (on is None or record.when <= on):
            for one in record.items:
                item = sheet.by_code.get(one.item)
                on_bed = item is not None and item.group == "bed" and item.ring == 0
                far = one.metres if one.metres is not None else 0.0 if on_bed else None
                if far is not None and one.evidence & {"live", "eggs"}:
                    metres.append(far)
    if metres:
        within, near = (sum(far <= limit for far in metres) for limit in (REACH, NEAR_BED))
        yield FarFromBed(len(metres), within, near, NEAR_BED_SHARE)


def _known(
    unit: str, reach: dict[str, Any], log: Log | None, on: dt.date | None, chance: float | None
) -> Iterable[Fact]:
    if chance is not None:
        yield ModelChance(chance)
    if log is None:
        return
    day = on or dt.date.max
    standing = standing_of(log.of(unit), day)
    if standing.last_find:
        yield FoundOn(standing.last_find.when)
    if standing.last_treatment:
        yield TreatedOn(standing.last_treatment.when)
    near = [wall["to"] for bed in reach["beds"] for wall in bed["walls"]]
    near += [other for bed in reach["beds"] for riser in bed["risers"] for other in riser["units"]]
    known = tuple(other for other in dict.fromkeys(near) if standing_of(log.of(other), day).status != "look")
    if known:
        yield KnownWithinReach(known)
