"""A firm's buildings fitted together, as lines of a log and tables."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from spread.firm.fitting import Outcome
from spread.firm.night import State, Workers
from spread.report.lines import folded
from spread.words import ENGLISH
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
    what = (
        "what one more building is believed moved, so all are to be fitted anew" if moved else "nothing moved"
    )
    rough = (
        "; too few draws count to weigh all quantities at once, so each was weighed alone"
        if told["rough"]
        else ""
    )
    return f"Pooled {told['buildings']} buildings, round {told['rounds']}: {what}{rough}."


def pooled_text(told: Mapping[str, Any], *, moved: bool) -> str:
    """Return what buildings taught one another as a table: the firm's centre beside the general figure."""
    rows = [("Quantity", "This firm (90 % sure)", "Between its buildings", "In general")]
    for name, one in told["learned"].items():
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
                "Rates are per week from a heavy neighbour at a typical contact (brought in: per unit; moved "
                "in: at a move-in); readiness and odds of a find are factors on the usual ones. It stays "
                "with this firm: one more building of it begins from these figures instead of the "
                "literature's, and says so."
            ),
        ]
    )


def quantity_name(name: str) -> str:
    """Return what a quantity that buildings share is called."""
    kind, _, rest = name.partition(":")
    if kind == "odds":
        return f"Odds of a find: {method_name(rest, ENGLISH).lower()}"
    return _SHARED.get(name) or rate_name(name, ENGLISH)


_SHARED = {
    "report:light": "Readiness to report, light",
    "report:heavy": "Readiness to report, heavy",
    "share:never": "Units that never report",
    "share:resist": "Units that resist treatment",
}


def _number(name: str, value: float) -> str:
    if name.startswith("share:"):
        return f"{100 / (1 + math.exp(-value)):.0f} %"
    return f"{math.exp(value):.2g}"
