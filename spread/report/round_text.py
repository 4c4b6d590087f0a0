"""A round and a choice of methods, as plain text, as JSON-ready data and as rows of CSV."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from spread.decisions.doors.choice import MethodRow
from spread.decisions.round.parts import ForRing, Path, Round, Stop
from spread.decisions.trust import Warned
from spread.facts import as_json
from spread.plan.access import clock_of
from spread.report.lines import csv_text, folded
from spread.trade.methods.rows import Monitor
from spread.trade.prices import WEEK_COSTS
from spread.trade.registry import LOOKING
from spread.words import ENGLISH, Voice, say
from spread.words.doors import order_words, reason_text, reason_words, weighed_words
from spread.words.musts import must_words
from spread.words.relations import places
from spread.words.round import carry_words, doors_many, no_door, tier_name
from spread.words.terms import method_name
from spread.words.trust import warnings_data

COLUMNS = (
    "technician", "stop", "unit", "floor", "method", "arrive", "begin", "leave", "walk_m", "chance", "tier",
    "known", "opens", "finds", "worth_weeks", "worth_of_find_weeks", "must", "rule", "access", "why",
)  # fmt: skip
"""Columns of the CSV; times are by the clock, chances 0 to 1."""


def round_text(
    plan: Round,
    name: str,
    on: dt.date,
    voice: Voice = ENGLISH,
    *,
    order: str = "find",
    costs: Sequence[float] = WEEK_COSTS,
    warned: Sequence[str] = (),
) -> str:
    """Return a round as a list for each technician.

    ``order``: what it maximises; ``costs``: what unit-weeks are weighed by; ``warned``: lines on where the
    log contradicts the model.
    """
    lines = [
        voice.text(
            "{building}, {day}: a round of {minutes} minutes, by {method}",
            building=name,
            day=voice.day(on),
            minutes=f"{plan.minutes:g}",
            method=_method(plan.method, voice),
        ),
        *warned,
    ]
    if plan.no_door:
        lines.append(say(plan.no_door, voice))
    else:
        expected = voice.text(
            "{doors}, {finds} new finds and {worth} infested-unit-weeks averted expected; finished about "
            "{clock}.",
            doors=doors_many(len(plan.units), voice),
            finds=voice.number(plan.finds, 2),
            worth=voice.number(plan.worth, 1),
            clock=_clock(plan, plan.finish),
        )
        known = ", ".join(plan.known)
        lines += [
            expected,
            voice.text("Doors are chosen by {order}.", order=order_words(order, voice)),
            *filter(None, [weighed_words(costs, voice)]),
            *([voice.text("Found before, no new find: {units}.", units=known)] if known else []),
            carry_words(plan, voice),
        ]
    for path in plan.paths:
        if path.stops:
            lines += ["", _head(plan, path, voice)]
            lines += [_line(plan, k, stop, voice) for k, stop in enumerate(path.stops, 1)]
    if plan.left_out:
        lines += ["", voice.text("Left out")]
        lines += [f"  {unit}: {say(why, voice)}" for unit, why in plan.left_out]
    return "\n".join(lines)


def _method(method: str, voice: Voice) -> str:
    way = LOOKING[method]
    if isinstance(way, Monitor):
        return voice.text("setting up {monitors}", monitors=voice.term("several", way.several))
    return voice.term("whole", way.carried_through).lower()


def _head(plan: Round, path: Path, voice: Voice) -> str:
    return voice.text(
        "Technician {number}, from {start} at {begins}: {doors}, {length} on foot, done about {finish} "
        "({at_most} if every door opens)",
        number=path.technician,
        start=path.start,
        begins=_clock(plan, path.begins),
        doors=doors_many(len(path.stops), voice),
        length=voice.distance(path.walk_m),
        finish=_clock(plan, path.finish),
        at_most=_clock(plan, path.at_most),
    )


def _line(plan: Round, number: int, stop: Stop, voice: Voice) -> str:
    marks = [voice.text("must: {why}", why=say(stop.must, voice))] if stop.must else []
    if stop.ring and not isinstance(stop.must, ForRing):
        marks.append(voice.text("ring: {places}", places=places(stop.ring, voice)))
    marks += [say(stop.access, voice)] if stop.access else []
    told = voice.text(
        "floor {floor}, {tier}, chance {chance}, {find}, worth {worth} weeks",
        floor=stop.floor,
        tier=tier_name(stop.tier, voice),
        chance=voice.percent(stop.chance),
        find=voice.text("known")
        if stop.known
        else voice.text("find {chance}", chance=voice.percent(stop.finds)),
        worth=voice.number(stop.worth, 2),
    )
    head = f"{number:>3}. {_clock(plan, stop.begin)}  {stop.unit}  {told}"
    marked = f"  [{'; '.join(marks)}]" if marks else ""
    return f"{head}{marked}\n{folded(reason_text(stop.why[:1], voice), ' ' * 12)}"


def round_data(
    plan: Round, name: str, on: dt.date, seed: int, warnings: Sequence[Warned] = ()
) -> dict[str, Any]:
    """Return a round ready for JSON; minutes count from its beginning."""
    data = asdict(plan)
    data["held_back"] = as_json(plan.held_back)
    data["warnings"] = warnings_data(warnings)
    for path, made in zip(plan.paths, data["paths"], strict=True):
        made["walk_m"] = path.walk_m
        for stop, told in zip(path.stops, made["stops"], strict=True):
            del told["ring"]
            told |= {
                "must": must_words(stop.must, ENGLISH),
                "access": say(stop.access, ENGLISH) if stop.access else "",
                "access_fact": as_json(stop.access),
                "rule": places(stop.ring, ENGLISH),
                "why": list(reason_words(stop.why, ENGLISH)),
                "must_fact": as_json(stop.must),
                "ring_facts": as_json(stop.ring),
                "reasons_facts": as_json(stop.why),
            }
    data["words"] = no_door(plan, ENGLISH)
    data["no_door"] = as_json(plan.no_door)
    data["left_out_facts"] = as_json(plan.left_out)
    data["left_out"] = [{"unit": unit, "why": say(why, ENGLISH)} for unit, why in plan.left_out]
    return {"building": name, "on": on.isoformat(), "seed": seed, **data, "begins": clock_of(plan.begins)}


def round_csv(plan: Round) -> str:
    """Return a round as CSV with a heading (:data:`COLUMNS`), a row a stop."""
    rows: list[Sequence[object]] = [COLUMNS]
    for path in plan.paths:
        for number, s in enumerate(path.stops, 1):
            clocks = [_clock(plan, minute) for minute in (s.arrive, s.begin, s.leave)]
            figures = [f"{x:.4f}" for x in (s.opens, s.finds, s.worth, s.worth_of_find)]
            what = (path.technician, number, s.unit, s.floor, s.method, *clocks, f"{s.walk_m:.1f}")
            known = "yes" if s.known else "no"
            why = (
                must_words(s.must, ENGLISH),
                places(s.ring, ENGLISH),
                say(s.access, ENGLISH) if s.access else "",
                reason_text(s.why, ENGLISH),
            )
            rows.append((*what, f"{s.chance:.4f}", s.tier, known, *figures, *why))
    return csv_text(rows)


def methods_text(
    rows: Sequence[MethodRow], units: Sequence[str], name: str, on: dt.date, voice: Voice = ENGLISH
) -> str:
    """Return the methods for a unit or a set, the best for the minute first."""
    what = units[0] if len(units) == 1 else voice.many("{number} unit", "{number} units", len(units))
    best = max(rows, key=lambda row: row.settled)
    lines = [
        voice.text(
            "{units} in {building}, {day}: which method next, by weeks averted per minute",
            units=what,
            building=name,
            day=voice.day(on),
        )
    ]
    lines += [folded(f"{k}. {say(row, voice)}", rest="   ") for k, row in enumerate(rows, 1)]
    lines.append(
        voice.text(
            "What settles most: {method} ({bits} bits expected). Minutes are without the walk.",
            method=method_name(best.method, voice).lower(),
            bits=voice.number(best.settled, 2),
        )
    )
    return "\n".join(lines)


def methods_data(
    rows: Sequence[MethodRow], units: Sequence[str], name: str, on: dt.date, warnings: Sequence[Warned] = ()
) -> dict[str, Any]:
    """Return the same ready for JSON, with the words in English."""
    methods = [{**asdict(row), "words": say(row, ENGLISH)} for row in rows]
    return {
        "building": name,
        "on": on.isoformat(),
        "units": list(units),
        "methods": methods,
        "warnings": warnings_data(warnings),
    }


def _clock(plan: Round, minute: float) -> str:
    return clock_of(plan.begins + minute)
