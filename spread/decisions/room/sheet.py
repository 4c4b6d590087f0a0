"""The room sheet of one unit: where to look, in which order, and what is known of the room already."""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from spread.contacts.bed import bed_reach, bed_words, outlets_words
from spread.decisions.standing import standing_of
from spread.errors import Problem, SettingsError, SpreadError
from spread.plan.model import Plan
from spread.records.kinds import Finding
from spread.records.log import Log
from spread.records.words import EVIDENCE_WORDS
from spread.trade.room import SLEEPING, RoomItem, RoomItems
from spread.weeks import speak_date

MOST_PLACES = 12
"""Sleeping places of one unit; a longer list is something else."""
LONGEST_NAME = 40

OUTLETS = "outlets"
"""Code of the item of outlets and jacks."""
COVER_OFF = "cover off only with the power off; dust only"
"""Common practice, no source."""

_ODD = re.compile(r"[\x00-\x1f\x7f,;:]")


@dataclass(frozen=True, slots=True)
class SleepingPlace:
    """Where somebody sleeps: ``kind`` is a bed or a sofa, ``name`` says which, never who.

    Parameters
    ----------
    kind
        One of :data:`spread.trade.room.SLEEPING`.
    name
        Which, such as ``bed 1``; never who.
    """

    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One item of the sheet in this unit.

    Parameters
    ----------
    item
        The row of the sheet.
    weight
        Where to look first: mean over the sleeping places.
    ring
        The nearest it is to any of them.
    places
        Sleeping places that it belongs to; empty for an item of the whole home.
    last
        What was last seen there, with its day; empty where nothing was written down.
    near
        Which things of this kind are within reach of the bed, with the caution; empty where none are known.
    """

    item: RoomItem
    weight: float
    ring: int
    places: tuple[str, ...]
    last: str = ""
    near: str = ""


@dataclass(frozen=True, slots=True)
class RoomSheet:
    """The sheet of a unit.

    Parameters
    ----------
    unit, building
        Whose it is.
    on
        The day it is for, or None.
    places
        Where people sleep.
    rows
        Items where bugs hide, likeliest first and of those alike the nearest to the bed.
    checks
        Traps and covers.
    known
        Sentences: what the log and the plan say that matters in this room.
    bed
        What lies within reach of the bed (:func:`spread.contacts.bed.bed_reach`).
    tools
        Everything to bring, once each.
    sheet
        The sheet that the rows are from.
    """

    unit: str
    building: str
    on: dt.date | None
    places: tuple[SleepingPlace, ...]
    rows: tuple[SheetRow, ...]
    checks: tuple[SheetRow, ...]
    known: tuple[str, ...]
    bed: dict[str, Any]
    tools: tuple[str, ...]
    sheet: RoomItems


def read_places(text: str, *, file: str = "--places") -> tuple[SleepingPlace, ...]:
    """Return the sleeping places that a line names, such as ``bed in room 1, sofa in the living room``.

    Each begins with ``bed`` or ``sofa``, and commas part them.

    Raises
    ------
    SettingsError
        With every problem of the line.
    """
    problems: list[Problem] = []
    places: list[SleepingPlace] = []
    parts = [" ".join(part.split()) for part in text.split(",")]
    for number, name in enumerate(parts, start=1):
        kind = name.split(" ", 1)[0].lower() if name else ""
        where = f"place {number}"
        if kind not in SLEEPING:
            near = difflib.get_close_matches(kind, SLEEPING, n=1)
            fix = f"begin it with {near[0]!r}" if near else "begin it with bed or sofa, as in 'bed in room 1'"
            problems.append(Problem(file, where, f"{name[:40]!r} is no sleeping place", fix))
        elif len(name) > LONGEST_NAME or _ODD.search(name):
            what = f"its name is longer than {LONGEST_NAME} characters or has odd marks"
            problems.append(Problem(file, where, what, "shorten it to a few plain words"))
        else:
            places.append(SleepingPlace(kind, name))
    if len(parts) > MOST_PLACES:
        problems.append(Problem(file, "", f"{len(parts)} places are named", f"name up to {MOST_PLACES}"))
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
) -> RoomSheet:
    """Return the room sheet of a unit.

    Parameters
    ----------
    unit, plan
        A unit of the plan.
    sheet
        The items, ours or a firm's.
    places
        Where people sleep; the beds of the plan if none are given, and one bed if it has none.
    log, on
        What was recorded up to a day: earlier finds in the room, treatments, known neighbours.
    chance
        Chance of infestation now, where a fit is at hand.

    Raises
    ------
    SpreadError
        If the plan has no such unit.
    """
    if unit not in plan.units:
        near = difflib.get_close_matches(unit, plan.units, n=2)
        fix = f"write {' or '.join(map(repr, near))} if that is meant" if near else "use a unit of the plan"
        raise SpreadError(Problem(plan.name, "", f"there is no unit {unit[:40]!r}", fix))
    beds = [bed for bed in plan.beds if bed.unit == unit]
    places = tuple(places) or _numbered([SleepingPlace("bed", "bed")] * max(1, len(beds)))
    reach = bed_reach(plan, unit)
    last = _last_seen(log, unit, on)
    by_bed = {OUTLETS: _outlets_near(reach)}
    rows = [
        _row(item, sheet, places, last.get(item.code, ""), by_bed.get(item.code, "")) for item in sheet.items
    ]
    hiding = [row for row in rows if row.item.group != "check"]
    hiding.sort(key=lambda row: (-row.weight, row.ring))
    return RoomSheet(
        unit=unit,
        building=plan.name,
        on=on,
        places=places,
        rows=tuple(hiding),
        checks=tuple(row for row in rows if row.item.group == "check"),
        known=(*_known(unit, reach, log, on, chance), *bed_words(reach)),
        bed=reach,
        tools=tuple(dict.fromkeys(tool for row in rows for tool in row.item.tools)),
        sheet=sheet,
    )


def _row(item: RoomItem, sheet: RoomItems, places: Sequence[SleepingPlace], last: str, near: str) -> SheetRow:
    weight = math.fsum(sheet.weight(item, place.kind) for place in places) / len(places)
    ring = min(sheet.ring(item, place.kind) for place in places)
    mine = {"bed": ("bed",), "seating": ("sofa",), "near": SLEEPING, "check": SLEEPING}.get(item.group, ())
    at = tuple(place.name for place in places if place.kind in mine)
    return SheetRow(item, weight, ring, at, last, near)


def _outlets_near(reach: dict[str, Any]) -> str:
    """Return the outlets within reach of a bed, nearest first, with what they ask for."""
    nearest: dict[str, dict[str, Any]] = {}
    for outlet in sorted(
        (outlet for bed in reach["beds"] for outlet in bed["outlets"]), key=lambda one: one["distance_m"]
    ):
        nearest.setdefault(outlet["id"], outlet)  # of several beds, as far as from the nearest
    if not nearest:
        return ""
    which = "the bed" if len(reach["beds"]) == 1 else "a bed"
    words = "; ".join(outlets_words(list(nearest.values())))
    return f"Within {reach['radius_m']:g} m of {which}: {words}. {COVER_OFF.capitalize()}."


def _last_seen(log: Log | None, unit: str, on: dt.date | None) -> dict[str, str]:
    """Return by item code what was last written down of it."""
    seen: dict[str, str] = {}
    for record in log.of(unit) if log else ():
        if on is not None and record.when > on:
            continue
        today: dict[str, list[Finding]] = {}
        for one in record.items:
            today.setdefault(one.item, []).append(one)
        for code, findings in today.items():
            words = "; ".join(dict.fromkeys(_finding_words(one) for one in findings))
            seen[code] = f"{words} ({record.when.isoformat()})"
    return seen


def _finding_words(one: Finding) -> str:
    signs = " + ".join(EVIDENCE_WORDS[sign] for sign in EVIDENCE_WORDS if sign in one.evidence)
    parts = [signs or ("" if one.state else "nothing seen"), "" if one.count is None else str(one.count)]
    parts += [one.stage, one.state, one.place]
    return ", ".join(part for part in parts if part)


def _known(
    unit: str, reach: dict[str, Any], log: Log | None, on: dt.date | None, chance: float | None
) -> Iterable[str]:
    if chance is not None:
        yield f"The model gives it a chance of {chance:.0%}; that is no reason to look less well."
    if log is None:
        return
    day = on or dt.date.max
    standing = standing_of(log.of(unit), day)
    if standing.last_find:
        yield f"Last find: {speak_date(standing.last_find.when)}."
    if standing.last_treatment:
        yield (
            f"Treated on {speak_date(standing.last_treatment.when)}: old stains and skins may be from "
            "before; look for live bugs and eggs."
        )
    near = [wall["to"] for bed in reach["beds"] for wall in bed["walls"]]
    near += [other for bed in reach["beds"] for riser in bed["risers"] for other in riser["units"]]
    known = [other for other in dict.fromkeys(near) if standing_of(log.of(other), day).status != "look"]
    if known:
        yield (
            f"Known infested or under treatment, and within reach of the bed: {', '.join(known)}. "
            "Start on that side: baseboard, outlets, headboard."
        )
