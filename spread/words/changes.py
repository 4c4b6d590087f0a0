"""Changes of a plan and what they do, in words (English: a desk's work)."""

from __future__ import annotations

from collections.abc import Sequence

from spread.changing import Contact, Difference
from spread.plan.changes import UNITS_CHANGE, Change
from spread.trade.routes import BY_KEY
from spread.words.voice import ENGLISH

MOST = 8
"""Contacts and units that are named one by one."""


def change_words(change: Change) -> str:
    """Return what a change is, as in ``204 is called 204A from Sun 1 Nov 2026 on``."""
    said, day = change.text, ENGLISH.day(change.on)
    words = {
        "rename": lambda: f"{said('unit')} is called {said('to')}",
        "split": lambda: f"{said('unit')} is parted into {' and '.join(change.said['into'])}",
        "merge": lambda: f"{' and '.join(change.said['units'])} are joined as {said('into')}",
        "gone": lambda: (
            f"{said('unit')} is no unit any more" + (f" but {said('room')}" if said("room") else "")
        ),
        "new": lambda: f"{said('unit')} is a new unit on floor {said('floor')}",
        "wall": lambda: f"the wall of {said('a')} and {said('b')} moved by {change.said['metres']:g} m",
        "move-door": lambda: f"door {said('door')} moved by {change.said['metres']:g} m",
        "name-riser": lambda: f"riser {said('riser')} is called {said('name')}",
        "add": lambda: f"{_thing(change)} added" + (f" in {said('unit')}" if said("unit") else ""),
        "remove": lambda: f"{_thing(change)} taken out",
        "room": lambda: f"{said('id')} on floor {said('floor')} is the room {said('name')}",
        "lift": lambda: f"{said('id')} is a lift",
        "link": lambda: f"{said('a')} {said('words')} {said('b')}",
        "unlink": lambda: f"no more link of {said('a')} and {said('b')} ({said('route')})",
    }
    text = words[change.step]()
    return f"{text} from {day} on" if change.step in UNITS_CHANGE else f"{text} (corrected {day})"


def _thing(change: Change) -> str:
    kind, name = str(change.said["kind"]), str(change.said["id"])
    return name if name.startswith(kind) else f"{kind} {name}"


def difference_lines(told: Difference) -> list[str]:
    """Return what changes do, a sentence each."""
    lines = [
        f"New in the plan: {_some(told.units)}." if told.units else "",
        f"No longer in the plan: {_some(told.gone)}." if told.gone else "",
        f"Contacts gained: {_contacts(told.gained)}.",
        f"Contacts lost: {_contacts(told.lost)}.",
    ]
    if told.weighed:
        more = [
            f"{a} and {b} ({_route(route)}, {old:.2f} to {new:.2f})"
            for (a, b, route), old, new in told.weighed
        ]
        lines.append(f"Contacts that weigh more or less: {_some(more)}.")
    if told.following:
        rows = [f"{count} to {unit}" for unit, count in told.following.items()]
        lines.append(f"Records that follow: {_some(rows)}. The log stays as it is.")
    if told.resting:
        rows_of = _many(told.resting, "record")
        lines.append(
            f"Of {rows_of} the home was of another extent: they clear nothing. Finds and complaints count on."
        )
    if told.homeless:
        lines.append(
            f"{_many(told.homeless, 'record')} of homes that are gone speak of no unit; the log keeps them."
        )
    return [line for line in lines if line]


def moved_line(unit: str, origins: Sequence[tuple[str, float]], after: float) -> str:
    """Return how the chance of a unit moves: ``204A: 3 % to 5 %``."""
    if not origins:
        return f"{unit}: new, {after:.0%}"
    before = " and ".join(
        f"{chance:.0%}" if code == unit else f"{chance:.0%} as {code}" for code, chance in origins
    )
    return f"{unit}: {before}, now {after:.0%}"


def _contacts(contacts: Sequence[Contact]) -> str:
    if not contacts:
        return "none"
    return f"{len(contacts)}: " + _some([f"{a} and {b} ({_route(route)})" for a, b, route in contacts])


def _route(key: str) -> str:
    return BY_KEY[key].contacts if key in BY_KEY else key


def _some(words: Sequence[str]) -> str:
    more = f" and {len(words) - MOST} more" if len(words) > MOST else ""
    return ", ".join(words[:MOST]) + more


def _many(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
