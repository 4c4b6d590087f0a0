"""Who is asking and what they may: the one place that the pages and the log take it from."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from flask import current_app, g, has_app_context

from dashboard.signin.rights import ADDRESSES, ANYBODY, FRONT, right_for
from spread.errors import Problem, RecordError, SpreadError
from spread.people.kept import People
from spread.people.roles import CORRECT, EVERYTHING, RECORD, RIGHTS, Person
from spread.records.kinds import Record
from spread.records.log import Log
from spread.session import Answer, Session

GATED = "SPREAD_GATED"
"""Setting of a Flask server that asks people to sign in: its :class:`Gated`."""
LATE = dt.timedelta(days=3)
"""How long an answer may wait on a phone and still take back a row of its own day; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Gated:
    """Whom a server asks.

    Parameters
    ----------
    people
        Who may sign in.
    building
        The key of the office's building that the server shows; empty for a folder and for the office itself.
    office
        Whether they are an office's.
    """

    people: People
    building: str = ""
    office: bool = False


class NotAllowedError(SpreadError):
    """Somebody asked for what their role does not allow."""


def gated() -> Gated | None:
    """Return whom the server that answers now asks; None where nobody signs in."""
    found = current_app.config.get(GATED) if has_app_context() else None
    return found if isinstance(found, Gated) else None


def is_gated() -> bool:
    """Say whether the server that answers now asks people to sign in."""
    return gated() is not None


def person() -> Person | None:
    """Return whoever is signed in."""
    found = g.get("person") if has_app_context() else None
    return found if isinstance(found, Person) else None


def who() -> str:
    """Return the work code of whoever is signed in; empty where nobody needs to be."""
    found = person()
    return found.code if found else ""


def rights() -> frozenset[str]:
    """Return what whoever is asking may do here: everything where nobody signs in."""
    if not is_gated():
        return EVERYTHING
    found = person()
    return found.rights if found else frozenset()


def may(right: str) -> bool:
    """Say whether whoever is asking has a right."""
    return right in rights()


def may_open(path: str) -> bool:
    """Say whether whoever is asking may open the page at an address of the server that answers."""
    asks = gated()
    if asks is None:
        return True
    right = right_for("GET", path, FRONT if asks.office and not asks.building else ADDRESSES)
    return right == ANYBODY or (right is not None and may(right))


def require(right: str) -> None:
    """Raise NotAllowedError unless whoever is asking has a right."""
    if not may(right):
        raise NotAllowedError(not_allowed(right))


def not_allowed(right: str) -> str:
    """Return the sentence for a right that somebody lacks."""
    found = person()
    role = " and ".join(found.roles) if found else "nobody"
    what = RIGHTS.get(right, "open this address")
    return f"Your role here ({role}) does not include to {what}; ask whoever keeps the list of people."


def note(what: str, detail: str = "") -> None:
    """Add a line to the audit, where people sign in."""
    if asks := gated():
        asks.people.note(who(), what, asks.building, detail)


def signed(fields: Mapping[str, str], log: Log) -> dict[str, str]:
    """Return the fields of a record with ``by`` as the server knows it, whatever the browser said.

    An answer that is sent a second time, perhaps after somebody else signed in on the same phone, stays the
    answer of whoever gave it: the row that is kept under its id says by whom.

    Raises
    ------
    SpreadError
        If whoever is asking may not record, or not correct the row that the fields name.
    """
    require(RECORD)
    kept = log.by_id.get(fields.get("id", ""))
    if kept is None and (row := log.by_id.get(fields.get("supersedes", ""))):
        _check_correction(row, fields)
    # Where nobody signs in, a correction leaves the code of whoever did what it tells.
    by = who() or ("" if is_gated() else fields.get("by", ""))
    return {**fields, "by": kept.by if kept else by}


def recorded(session: Session, fields: Mapping[str, str]) -> Answer:
    """Record what somebody sent, signed by :func:`signed`; a correction is noted in the audit.

    Raises
    ------
    SpreadError
        As :func:`signed` and :meth:`spread.session.Session.record` do; nothing is kept then.
    """
    answer = session.record(signed(fields, session.view.log), keep_day=True)
    row = answer.record
    if answer.new and row.supersedes:
        note("correction", f"{row.id} corrects {row.supersedes} of {row.unit}")
    return answer


def _check_correction(row: Record, fields: Mapping[str, str]) -> None:
    """Let a technician take back their own rows of that day; a manager any."""
    if may(CORRECT):
        return
    own = row.by == who()
    same_day = fields.get("when") == row.when.isoformat() and dt.date.today() - row.when <= LATE
    if own and same_day:
        return
    why = "it is of another day" if own else f"it was recorded by {row.by or 'nobody who signed in'}"
    fix = "ask a manager to correct it"
    raise RecordError(Problem("records", f"row {row.id[:64]} of {row.unit}", why, fix))
