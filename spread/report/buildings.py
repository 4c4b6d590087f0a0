"""Many buildings in words and tables: the start page, and ``spread buildings``."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from spread.portfolio.standing import Found, Kept, Standing
from spread.portfolio.team import Stay, Team, TeamWeek
from spread.report.lines import folded
from spread.words import Voice
from spread.words.month import verdict_name


def not_counted(voice: Voice) -> str:
    """Return what has to be said of all figures of many buildings."""
    return voice.text(
        "Figures are those of each building’s last fit, worked out and not counted. Weeks averted look 26 "
        "weeks ahead and are weighed by level as each building’s settings say. A low chance clears no unit."
    )


@dataclass(frozen=True, slots=True)
class Line:
    """One building as a table shows it.

    ``note``: what has to be known of its figures. ``kept``: whether there are any. ``broken``: whether it
    cannot be read.
    """

    key: str
    name: str
    averted: str
    infested: str
    trend: str
    late: str
    next_day: str
    last: str
    note: str
    kept: bool
    broken: bool = False


def line_of(one: Standing, on: dt.date, voice: Voice) -> Line:
    """Return a building in words."""
    kept, told, text = one.kept, one.kept.summary, voice.text
    last = ""
    if kept.last is not None:
        last = voice.day(kept.last)
        if kept.taken_in is not None and kept.taken_in != kept.last:
            last = text("{day}, taken in {written}", day=last, written=voice.day(kept.taken_in))
    if told is None or one.averted is None:
        note = kept.problem or text("No fit is kept of it yet, so nothing is known here.")
        return Line(
            kept.key, kept.name, "", "", "", "", "", last, note, kept=False, broken=bool(kept.problem)
        )
    notes = []
    if not told.rows:
        notes.append(text("nothing is on record, so these are the usual figures of any building"))
    if told.on != on:
        notes.append(text("as of {day}", day=voice.day(told.on)))
    if one.newer:
        notes.append(voice.many("{number} row is newer", "{number} rows are newer", one.newer))
    if not told.settled:
        notes.append(text("the calculation did not settle"))
    return Line(
        kept.key,
        kept.name,
        voice.number(one.averted, 2),
        text("{median} of {units} ({low} to {high})", median=told.median, units=told.units, low=told.low,
             high=told.high),
        verdict_name(told.trend, voice),
        voice.number(len(one.late)),
        "" if one.next_day is None else voice.day(max(one.next_day, on)),
        last,
        "; ".join(notes),
        kept=True,
    )  # fmt: skip


def heads(voice: Voice) -> tuple[str, ...]:
    """Return the headings of the columns of a :class:`Line`, from its name on."""
    text = voice.text
    return (
        text("Building"), text("Weeks averted by an hour"), text("Infested (90 % sure)"),
        text("In four weeks"), text("Late"), text("Next visit"), text("Last row"),
    )  # fmt: skip


def found_words(found: Found, voice: Voice) -> str:
    """Return a unit that was looked for."""
    on = found.kept.summary.on if found.kept.summary else None
    return voice.text(
        "{unit} in {building}: {chance} as of {day}",
        unit=found.unit,
        building=found.kept.name,
        chance=voice.percent(found.chance),
        day=voice.day(on) if on else "",
    )


def found_text(found: Sequence[Found], code: str, voice: Voice) -> str:
    """Return the units that were looked for, or that there are none."""
    nothing = voice.text("No building with figures has a unit whose code begins with {code}.", code=code)
    return "\n".join([found_words(one, voice) for one in found] or [nothing])


def stay_words(stay: Stay, voice: Voice) -> str:
    """Return what a team does in one building on one day."""
    told = []
    if stay.owed:
        told.append(voice.many("{number} visit that is owed", "{number} visits that are owed", stay.owed))
    if stay.looks:
        told.append(
            voice.many(
                "{number} more door ({averted} weeks averted)",
                "{number} more doors ({averted} weeks averted)",
                stay.looks, averted=voice.number(stay.averted, 2),
            )
        )  # fmt: skip
    hours = voice.number((stay.minutes + stay.travel) / 60.0, 1)
    return voice.text(
        "{building}: {what}; {hours} h, {way} min of them on the way",
        building=stay.kept.name,
        what=voice.joined(told),
        hours=hours,
        way=voice.number(stay.travel),
    )


def week_words(week: TeamWeek, team: Team, voice: Voice) -> list[str]:
    """Return the sums of a team's week, and what found no room."""
    hours = week.minutes / 60.0
    rate = week.averted / hours if hours else 0.0
    told = [
        voice.text(
            "{hours} h in all; the doors that nobody asks for avert {averted} infested weeks, {rate} for "
            "each of these hours. The way from one building to the next counts {travel} min.",
            hours=voice.number(hours, 1),
            averted=voice.number(week.averted, 2),
            rate=voice.number(rate, 2),
            travel=voice.number(team.travel),
        )
    ]
    if week.left:
        names = voice.joined(list(dict.fromkeys(kept.name for kept, _ in week.left)))
        told.append(
            voice.many(
                "No room for {number} visit that is owed this week: {names}.",
                "No room for {number} visits that are owed this week: {names}.", len(week.left), names=names,
            )
        )  # fmt: skip
    if week.unknown:
        names = voice.joined([kept.name for kept in week.unknown])
        told.append(voice.text("Nothing is planned where no fit is kept: {names}.", names=names))
    return told


def days_of(week: TeamWeek) -> list[tuple[dt.date, list[Stay]]]:
    """Return the stays by day."""
    days: dict[dt.date, list[Stay]] = {}
    for stay in week.stays:
        days.setdefault(stay.day, []).append(stay)
    return list(days.items())


def buildings_text(stood: Sequence[Standing], on: dt.date, voice: Voice) -> str:
    """Return buildings as a table, ranked as they are given."""
    lines = [line_of(one, on, voice) for one in stood]
    top = heads(voice)
    rows = [
        (one.name, one.averted, one.infested, one.trend, one.late, one.next_day, one.last) for one in lines
    ]
    wide = [max(len(row[k]) for row in (top, *rows)) for k in range(len(top))]
    told = []
    for row, note in zip((top, *rows), ("", *(one.note for one in lines)), strict=True):
        told.append("  ".join(f"{cell:<{width}}" for cell, width in zip(row, wide, strict=True)).rstrip())
        if note:
            told.append(folded(note, "    "))
    return "\n".join([*told, "", folded(not_counted(voice))])


def team_text(week: TeamWeek, team: Team, voice: Voice) -> str:
    """Return a team's week as text."""
    told = [voice.text("One team’s week")]
    for day, stays in days_of(week):
        told.append(voice.day(day))
        told += [folded(stay_words(stay, voice), "  ") for stay in stays]
    return "\n".join([*told, *(folded(one) for one in week_words(week, team, voice))])


def buildings_data(stood: Sequence[Standing], week: TeamWeek, found: Sequence[Found]) -> dict[str, Any]:
    """Return the same ready for JSON; chances of single units only where they were looked for."""

    def shown(kept: Kept) -> dict[str, Any]:
        told = kept.summary
        figures = None
        if told is not None:
            figures = {
                "on": told.on.isoformat(), "units": told.units, "low": told.low, "median": told.median,
                "high": told.high, "trend": told.trend, "fell": told.fell, "rose": told.rose,
                "settled": told.settled, "known": told.known,
            }  # fmt: skip
        return {
            "key": kept.key, "name": kept.name, "rows": kept.rows,
            "last": kept.last.isoformat() if kept.last else None, "problem": kept.problem, "figures": figures,
        }  # fmt: skip

    return {
        "buildings": [
            shown(one.kept) | {
                "averted_by_an_hour": one.averted, "late": len(one.late), "newer_rows": one.newer,
                "next": one.next_day.isoformat() if one.next_day else None,
            }
            for one in stood
        ],
        "week": [
            {
                "day": stay.day.isoformat(), "building": stay.kept.key, "minutes": stay.minutes,
                "travel": stay.travel, "owed": stay.owed, "looks": stay.looks, "averted": stay.averted,
            }
            for stay in week.stays
        ],
        "left": [{"building": kept.key, "unit": owed.unit, "what": owed.what} for kept, owed in week.left],
        "found": [{"building": one.kept.key, "unit": one.unit, "chance": one.chance} for one in found],
    }  # fmt: skip
