"""A firm's buildings fitted together, as lines of a log and tables."""

from __future__ import annotations

import datetime as dt
import io
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from spread.firm.fitting import Outcome
from spread.firm.night import Lesson, State, Workers
from spread.firm.overview import Pays
from spread.firm.persons import Person
from spread.firm.pooling import Departs
from spread.firm.tomorrow import Tomorrow
from spread.portfolio.standing import Standing
from spread.portfolio.team import Team
from spread.report.buildings import not_counted, stay_words
from spread.report.exchange.draws import needed
from spread.report.lines import folded
from spread.words import ENGLISH, Voice
from spread.words.doors import access_words, door_data, reason_text, sure_words, worth_words
from spread.words.learned import rate_name
from spread.words.terms import method_name

_STATES = {
    "fresh": "as its log stands",
    "changed": "to be fitted: something changed since, or it is old",
    "never": "never fitted",
    "unread": "cannot be read",
}


def outcome_line(one: Outcome, now: dt.datetime) -> str:
    """Return what became of a building as a line of a log."""
    told = one.problem
    if one.state == "fitted":
        told = (
            f"{one.units} units, {one.weeks} weeks, {one.sweeps} sweeps, {one.seconds:.1f} s of processor, "
            f"worker {one.megabytes} MB" + ("" if one.settled else "; the calculation did not settle")
        )
    return f"{now:%Y-%m-%d %H:%M:%S} {one.key}: {one.state}{', ' if told else ''}{told}"


def run_line(done: Sequence[Outcome], asked: int, crew: Workers, seconds: float) -> str:
    """Return what a run did in one line."""
    states = Counter(one.state for one in done)
    parts = [f"{states[state]} {state}" for state in ("fitted", "unchanged", "failed") if states[state]]
    left = asked - len(done)
    if left:
        parts.append(f"{left} not reached")
    most = max((one.megabytes for one in done), default=0)
    where = crew.scheduler or f"{crew.number} workers with at most {crew.megabytes} MB each"
    return (
        f"{asked} buildings: {', '.join(parts) or 'nothing done'}; {seconds:.0f} s on {where}"
        f"{f', most used {most} MB' if most else ''}."
    )


def states_text(states: Sequence[State]) -> str:
    """Return how buildings stand as a table, and their sum."""
    rows = [("Building", "As of", "Units", "State")]
    for one in states:
        told = _STATES[one.state] + ("" if one.settled else "; the calculation did not settle")
        rows.append((one.key, one.on.isoformat() if one.on else "-", str(one.units or "-"), told))
    wide = [max(len(row[k]) for row in rows) for k in range(3)]
    lines = ["  ".join((*(f"{row[k]:<{wide[k]}}" for k in range(3)), row[3])) for row in rows]
    sums = Counter(one.state for one in states)
    told = ", ".join(
        f"{sums[state]} {words.split(':')[0]}" for state, words in _STATES.items() if sums[state]
    )
    return "\n".join([*lines, "", f"{len(states)} buildings: {told}."])


def states_data(states: Sequence[State]) -> list[dict[str, Any]]:
    """Return the same ready for JSON."""
    return [asdict(one) | {"on": one.on.isoformat() if one.on else None} for one in states]


def run_data(done: Sequence[Outcome], asked: int) -> dict[str, Any]:
    """Return what a run did, ready for JSON."""
    return {"buildings": asked, "done": [asdict(one) for one in done], "not_reached": asked - len(done)}


def pooled_line(told: Mapping[str, Any], *, moved: bool) -> str:
    """Return what pooling gave in one line."""
    what = "what is believed of one more building moved" if moved else "nothing moved"
    untold = [quantity_name(name).lower() for name, one in told["learned"].items() if not one["taught"]]
    rest = f"; left to the general figures: {', '.join(untold)}" if untold else ""
    return f"Pooled {told['buildings']} buildings: {what}{rest}."


def pooled_text(told: Mapping[str, Any], *, moved: bool) -> str:
    """Return what buildings taught one another as a table: the firm's centre beside the general figure."""
    rows = [("Quantity", "This firm (90% sure)", "Between its buildings", "In general")]
    for name, one in told["learned"].items():
        if not one["taught"]:
            continue
        low, middle, high = (_number(name, value) for value in one["centre"])
        width = one["spread"][1]
        between = (
            f"{width:.2f} of the log odds" if name.startswith("share:") else f"x / {math.exp(width):.2f}"
        )
        rows.append(
            (quantity_name(name), f"{middle} ({low} to {high})", between, _number(name, one["general"][0]))
        )
    wide = [max(len(row[k]) for row in rows) for k in range(4)]
    lines = [
        "  ".join(f"{cell:<{width}}" for cell, width in zip(row, wide, strict=True)).rstrip() for row in rows
    ]
    return "\n".join(
        [
            *lines,
            "",
            pooled_line(told, moved=moved),
            folded(
                "Rates are per week from a heavy neighbour at a typical contact (brought in: per unit; "
                "moved in: at a move-in); readiness and odds of a find are factors on the usual ones. It "
                "stays with this firm: one more building of it begins from these figures instead of the "
                "literature's, and says so."
            ),
        ]
    )


def persons_text(known: Sequence[Person], *, by_person: bool) -> str:
    """Return what is pooled about work codes, and what it does not say."""
    if not by_person:
        return "Nothing is pooled about persons: who looked is learned within each building alone."
    lines = [
        "This firm pools by work code: odds of a find against the usual, from what its buildings showed."
    ]
    for one in known:
        nothing = " This holds 1: it says nothing." if one.low < 1.0 < one.high else ""
        lines.append(
            f"{one.code}: {one.median:.2f} (90% interval {one.low:.2f} to {one.high:.2f}), "
            f"{one.looks} looks in {one.buildings} buildings.{nothing}"
        )
    if not known:
        lines.append("Nothing is kept yet: it comes with the next spread portfolio fit --pool.")
    lines.append(
        "These are odds given the model. They are no measure of diligence, pay, character or reasons, and "
        "must not be used for pay or discipline. Those who look must be told of it beforehand; law on "
        "employees' data applies. docs/persons.md says more; --forget turns it off and deletes it."
    )
    return "\n".join(folded(line, "") for line in lines)


def quantity_name(name: str) -> str:
    """Return what a quantity that buildings share is called."""
    kind, _, rest = name.partition(":")
    if kind == "odds":
        return f"Odds of a find: {method_name(rest, ENGLISH).lower()}"
    return _SHARED.get(name) or rate_name(name, ENGLISH)


_SHARED = {
    "report:light": "Readiness to report, light",
    "report:heavy": "Readiness to report, heavy",
    "share:resist": "Units that resist treatment",
}


def _number(name: str, value: float) -> str:
    if name.startswith("share:"):
        return f"{100 / (1 + math.exp(-value)):.0f}%"
    return f"{math.exp(value):.2g}"


def doors_text(found: Tomorrow, team: Team, on: dt.date, voice: Voice = ENGLISH) -> str:
    """Return a team's day over all buildings, and its first doors with their reasons."""
    hours = voice.number(team.hours, 1)
    lines = [
        f"First doors for {on.isoformat()}: one team, {hours} h, {team.travel:.0f} min between buildings"
    ]
    lines += [folded(stay_words(stay, voice), "  ") for stay in found.stays]
    lines += [
        "",
        *([] if found.doors else ["No door to look at is known: fit first (spread portfolio fit)."]),
    ]
    for number, door in enumerate(found.doors, start=1):
        row, session = door.row, door.session
        chance, sure = voice.percent(row.chance), sure_words(row.sure, voice)
        lines.append(f"{number:>3}. {session.building.name}, {row.unit}  chance {chance} ({sure})")
        lines += [
            folded(told, "     ")
            for told in (
                f"{access_words(row, voice)}; {worth_words(row, voice)}",
                reason_text(row.reasons, voice),
            )
        ]
    said = {one.session.building.name: one.session.on for one in found.doors if one.session.on != on}
    notes = [f"{name}: as of {day.isoformat()}." for name, day in said.items()]
    notes += [f"{name}: something changed since its fit; fit it again first." for name in found.changed]
    return "\n".join([*lines, "", *(folded(note) for note in (*notes, *found.problems, not_counted(voice)))])


def doors_data(found: Tomorrow) -> dict[str, Any]:
    """Return the same ready for JSON."""
    return {
        "stays": [
            {
                "building": stay.kept.key, "minutes": stay.minutes, "travel": stay.travel, "owed": stay.owed,
                "looks": stay.looks, "averted": stay.averted,
            }
            for stay in found.stays
        ],
        "doors": [
            {"building": one.kept.key} | door_data(one.row, one.session.on) for one in found.doors
        ],
        "changed": list(found.changed),
        "problems": list(found.problems),
    }  # fmt: skip


def pays_text(pays: Sequence[Pays]) -> str:
    """Return which way of looking pays in this firm."""
    lines = ["Which way of looking pays: finds in an hour at units with 4 to 12 bugs, travel left out"]
    for one in pays:
        low, middle, high = one.an_hour
        least, finds, most = (100 * chance for chance in one.find)
        told = f"{middle:.1f} an hour (90% sure: {low:.1f} to {high:.1f}); finds {finds:.0f}% ({least:.0f} to"
        told += f" {most:.0f}; usual {100 * one.general:.0f}) in {one.minutes:.0f} min"
        told += "" if one.taught else "; left to the general figure"
        lines.append(f"  {method_name(one.method, ENGLISH)}: {told}")
    lines += ["An alert of a dog is to be confirmed, which these minutes leave out."]
    return "\n".join(folded(line, "  " if line[0] == " " else "") for line in lines)


def outlier_words(one: Departs) -> str:
    """Return how a building departs from what the others taught."""
    way = "above" if one.surprise > 0 else "below"
    factor = one.factor if one.surprise > 0 else 1.0 / one.factor
    return (
        f"{one.key}: {quantity_name(one.name).lower()} {factor:.1f} times {way} what the others taught "
        f"({abs(one.surprise):.1f} standard deviations): look at its log and settings"
    )


def lesson_text(lesson: Lesson, pays: Sequence[Pays], apart: Sequence[Departs]) -> str:
    """Return what buildings taught, which way of looking pays, and who departs."""
    told = [folded(outlier_words(one), "  ") for one in apart] or ["  none"]
    head = "Buildings that depart from what the others taught"
    return "\n".join([pooled_text(lesson.told, moved=lesson.moved), "", pays_text(pays), "", head, *told])


def standing_columns(stood: Sequence[Standing]) -> dict[str, list[Any]]:
    """Return a row a building as columns: what its last fit said."""
    columns: dict[str, list[Any]] = {name: [] for name in _COLUMNS}
    for one in stood:
        told = one.kept.summary
        row = (
            one.kept.key, one.kept.name, told.on if told else None, told.units if told else None,
            told.low if told else None, told.median if told else None, told.high if told else None,
            told.known if told else None, told.trend if told else None, told.settled if told else None,
            one.averted, len(one.late), one.newer,
        )  # fmt: skip
        for name, value in zip(_COLUMNS, row, strict=True):
            columns[name].append(value)
    return columns


_COLUMNS = (
    "building", "name", "on", "units", "infested_low", "infested_median", "infested_high", "known", "trend",
    "settled", "averted_by_an_hour", "late", "newer_rows",
)  # fmt: skip


def lesson_netcdf(lesson: Lesson) -> bytes:
    """Return the draws of centres and spreads, and each building's own means, as netCDF 4."""
    h5netcdf, h5py = needed("h5netcdf", "netCDF"), needed("h5py", "netCDF")
    pooled = lesson.pooled
    names = np.array([one.name for one in pooled.quantities], dtype=object)
    stream = io.BytesIO()
    with h5netcdf.File(stream, "w") as file:
        file.attrs["title"] = f"{len(pooled.keys)} buildings, {lesson.told['on']}"
        file.attrs["scale"] = "logarithm of rates and odds, log odds of shares"
        labels = {"quantity": names, "building": np.array(pooled.keys, dtype=object)}
        for dim, values in (labels | {"step": np.arange(len(pooled.centre))}).items():
            file.dimensions[dim] = len(values)
            kind = h5py.string_dtype() if values.dtype == object else values.dtype
            file.create_variable(dim, (dim,), kind, data=values)
        variables = {
            "centre": (("step", "quantity"), pooled.centre, "centre of the firm"),
            "spread": (("step", "quantity"), pooled.spread, "standard deviation between its buildings"),
            "building_mean": (("building", "quantity"), pooled.means, "mean of each by all logs"),
        }  # fmt: skip
        for name, (dims, values, words) in variables.items():
            made = file.create_variable(name, dims, values.dtype, data=values, compression="gzip")
            made.attrs["long_name"] = words
    return stream.getvalue()
