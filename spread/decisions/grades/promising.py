"""What a list of doors promises, as it is kept."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from spread.decisions.doors.ranking import DoorRow
from spread.decisions.grades.matching import known_rows
from spread.decisions.view import View
from spread.records.promises import DIGITS, Promise, Promised
from spread.trade import detection


def promise_of(view: View, method: str, doors: Iterable[DoorRow], made_by: str) -> Promise:
    """Return what a list of doors promises.

    ``doors``: in the list's order, with the chances that the list shows. ``made_by``: the screen or command.
    """
    # A find in the log may be a false one, which the list's own chance leaves out.
    false = detection.false_positive(method, frozenset(), False)
    rows = tuple(
        Promised(
            door.unit,
            round(door.chance, DIGITS),
            round(door.chance_of_find, DIGITS),
            round(door.chance_of_find + (1.0 - door.chance) * false, DIGITS),
        )
        for door in doors
    )
    known = known_rows(view.log, (one.unit for one in rows), view.on)
    return Promise(view.on, made_by, method, view.posterior.seed, mark_of_log(view), rows, known)


def mark_of_log(view: View) -> str:
    """Return what the log held: how many rows, and a digest of their ids."""
    ids = hashlib.blake2b("\n".join(view.log.by_id).encode(), digest_size=8).hexdigest()
    return f"{len(view.log)} rows {ids}"
