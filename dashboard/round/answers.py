"""From what a phone kept and sent, perhaps hours later, to the fields of one record."""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from collections.abc import Collection, Mapping

from dashboard.plan.answers import fields_of
from dashboard.round import room_answers
from spread.errors import RecordError, told
from spread.plan.model import Plan
from spread.records.log import Log

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def phone_fields(
    answer: object, plan: Plan, today: dt.date, log: Log | None = None, codes: Collection[str] = ()
) -> dict[str, str]:
    """Return the record fields of an answer that waited on a phone.

    Parameters
    ----------
    answer
        As for :func:`dashboard.plan.answers.fields_of`, and besides: ``answer`` may be one of
        :data:`dashboard.round.room_answers.ANSWERS`, and ``when`` is the day on which it was given (an
        answer given before midnight and sent after it is one of the day before, and a repeat of it must
        say the same).
    plan
        The building, for the unit codes.
    today
        The session's day, for an answer without one.
    log, codes
        What is recorded and the items of the room sheet, for answers of the room page.

    Raises
    ------
    RecordError
        One sentence when the answer cannot be understood.
    """
    if not isinstance(answer, Mapping):
        raise RecordError(told("The answer did not arrive whole; give it again."))
    day = given_day(answer, today)
    if answer.get("answer") in room_answers.ANSWERS:
        base = room_answers.base_fields(answer, plan, day)
        return room_answers.room_fields(answer, base, log or Log(), day, codes)
    fields = fields_of(answer, plan, day)
    if answer.get("answer") == "undo":
        fields["note"] = "Taken back on the phone."
    return fields


def given_day(answer: Mapping[str, object], today: dt.date) -> dt.date:
    """Return the day on which an answer was given: its ``when``, or today if it has none.

    Raises
    ------
    RecordError
        If ``when`` is no day of the calendar.
    """
    text = answer.get("when")
    if not text:
        return today
    day = None
    if isinstance(text, str) and _DAY.fullmatch(text):
        with contextlib.suppress(ValueError):
            day = dt.date.fromisoformat(text)
    if day is None:
        raise RecordError(
            told(
                "The answer's day, {day}, is none of the calendar; give the answer again.",
                day=repr(str(text)[:40]),
            )
        )
    return day
