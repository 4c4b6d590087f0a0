"""A firm's buildings fitted together, as lines of a log and tables."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from spread.firm.fitting import Outcome
from spread.firm.night import State, Workers

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
