"""A round and a choice of methods, as plain text, as JSON-ready data and as rows of CSV."""

from __future__ import annotations

import csv
import datetime as dt
import io
import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from spread.decisions.doors.choice import MethodRow
from spread.decisions.round.parts import Path, Round, Stop
from spread.decisions.words import as_percent
from spread.plan.access import clock_of
from spread.records.words import METHOD_WORDS
from spread.trade.methods.rows import Monitor
from spread.trade.registry import LOOKING
from spread.weeks import speak_date

WIDTH = 100
COLUMNS = (
    "technician", "stop", "unit", "floor", "method", "arrive", "begin", "leave", "walk_m", "chance", "tier",
    "known", "opens", "finds", "worth_weeks", "worth_of_find_weeks", "must", "rule", "access", "why",
)  # fmt: skip
"""Columns of the CSV; times are by the clock, chances 0 to 1."""


def round_text(plan: Round, name: str, on: dt.date) -> str:
    """Return a round as a list for each technician."""
    doors = len(plan.units)
    way = LOOKING[plan.method]
    method = f"setting up {way.several}" if isinstance(way, Monitor) else way.carried_through.lower()
    lines = [f"{name}, {speak_date(on)}: a round of {plan.minutes:g} minutes, by {method}"]
    if plan.words:
        lines += [plan.words]
    else:
        lines += [
            f"{_count(doors, 'door')}, {plan.finds:.2f} new finds and {plan.worth:.1f} infested-unit-weeks "
            f"averted expected; finished about {_clock(plan, plan.finish)}.",
            *([f"Found before, no new find: {', '.join(plan.known)}."] if plan.known else []),
            "From likely clear to infested, to limit carry-over. Plan again after each answer.",
        ]
    for path in plan.paths:
        if path.stops:
            lines += ["", _head(plan, path), *(_line(plan, k, s) for k, s in enumerate(path.stops, 1))]
    if plan.left_out:
        lines += ["", "Left out"]
        lines += [f"  {unit}: {why}" for unit, why in plan.left_out]
    return "\n".join(lines)


def _head(plan: Round, path: Path) -> str:
    return (
        f"Technician {path.technician}, from {path.start} at {_clock(plan, path.begins)}: "
        f"{_count(len(path.stops), 'door')}, {path.walk_m:.0f} m on foot, done about "
        f"{_clock(plan, path.finish)} ({_clock(plan, path.at_most)} if every door opens)"
    )


def _line(plan: Round, number: int, stop: Stop) -> str:
    marks = [f"must: {stop.must}"] if stop.must else []
    marks += [f"ring: {stop.rule}"] if stop.rule and stop.rule not in stop.must else []
    marks += [stop.access] if stop.access else []
    head = (
        f"{number:>3}. {_clock(plan, stop.begin)}  {stop.unit}  floor {stop.floor}, {stop.tier}, chance "
        f"{as_percent(stop.chance)}, "
        + ("known" if stop.known else f"find {as_percent(stop.finds)}")
        + f", worth {stop.worth:.2f} weeks"
        + (f"  [{'; '.join(marks)}]" if marks else "")
    )
    why = textwrap.fill(" ".join(stop.why[:1]), WIDTH, initial_indent=" " * 12, subsequent_indent=" " * 12)
    return f"{head}\n{why}"


def round_data(plan: Round, name: str, on: dt.date, seed: int) -> dict[str, Any]:
    """Return a round ready for JSON; minutes count from its beginning."""
    data = asdict(plan)
    for path, made in zip(plan.paths, data["paths"], strict=True):
        made["walk_m"] = path.walk_m
    data["left_out"] = [{"unit": unit, "why": why} for unit, why in plan.left_out]
    return {"building": name, "on": on.isoformat(), "seed": seed, **data, "begins": clock_of(plan.begins)}


def round_csv(plan: Round) -> str:
    """Return a round as CSV with a heading (:data:`COLUMNS`), a row a stop."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for path in plan.paths:
        for number, s in enumerate(path.stops, 1):
            clocks = [_clock(plan, minute) for minute in (s.arrive, s.begin, s.leave)]
            figures = [f"{x:.4f}" for x in (s.opens, s.finds, s.worth, s.worth_of_find)]
            what = (path.technician, number, s.unit, s.floor, s.method, *clocks, f"{s.walk_m:.1f}")
            known = "yes" if s.known else "no"
            why = (s.must, s.rule, s.access, " ".join(s.why))
            writer.writerow((*what, f"{s.chance:.4f}", s.tier, known, *figures, *why))
    return out.getvalue()


def methods_text(rows: Sequence[MethodRow], units: Sequence[str], name: str, on: dt.date) -> str:
    """Return the methods for a unit or a set, the best for the minute first."""
    what = units[0] if len(units) == 1 else f"{len(units)} units"
    best = max(rows, key=lambda row: row.settled)
    lines = [f"{what} in {name}, {speak_date(on)}: which method next, by weeks averted per minute"]
    lines += [
        textwrap.fill(f"{k}. {row.words}", WIDTH, subsequent_indent="   ") for k, row in enumerate(rows, 1)
    ]
    lines.append(
        f"What settles most: {METHOD_WORDS[best.method].lower()} ({best.settled:.2f} bits expected). "
        "Minutes are without the walk."
    )
    return "\n".join(lines)


def methods_data(rows: Sequence[MethodRow], units: Sequence[str], name: str, on: dt.date) -> dict[str, Any]:
    """Return the same ready for JSON."""
    methods = [asdict(row) for row in rows]
    return {"building": name, "on": on.isoformat(), "units": list(units), "methods": methods}


def _clock(plan: Round, minute: float) -> str:
    return clock_of(plan.begins + minute)


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
