"""From what the browser sent to the fields of one record. Nothing of it is trusted."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping

from spread.errors import RecordError
from spread.plan.model import Plan
from spread.records.kinds import EVIDENCE, LEVELS, MONITORS

LONGEST_NOTE = 500
DEFAULT_DAYS = 14
_ID = re.compile(r"[A-Za-z0-9-]{8,64}")


def fields_of(answer: object, plan: Plan, on: dt.date) -> dict[str, str]:
    """Return the record fields of an answer given at a door.

    Parameters
    ----------
    answer
        A mapping of strings: ``id``, ``unit``, ``answer`` (``found``, ``clear``, ``nobody``,
        or ``undo`` with ``undoes``), ``method``, ``level``, ``evidence`` (list), ``days``, ``note``.
    plan
        The building, for the unit codes.
    on
        The day that the session's rows are for.

    Raises
    ------
    RecordError
        One sentence when the answer cannot be understood. The session checks the rest.
    """
    if not isinstance(answer, Mapping):
        raise RecordError("The answer did not arrive whole; press the button again.")
    identity = _text(answer, "id")
    if not _ID.fullmatch(identity):
        raise RecordError("The answer came without its number; reload the page and give it again.")
    unit = _text(answer, "unit")
    if unit not in plan.units:
        raise RecordError(f"This building has no unit {unit[:40]!r}; choose one on the plan.")
    fields = {"id": identity, "when": on.isoformat(), "unit": unit, "note": _note(answer)}
    given = _text(answer, "answer")
    if given == "undo":
        undoes = _text(answer, "undoes")
        if not _ID.fullmatch(undoes):
            raise RecordError("It is not clear which answer to take back; correct it with 'spread record'.")
        return fields | {"kind": "note", "note": "Taken back on the plan page.", "supersedes": undoes}
    if given == "nobody":
        return fields | {"kind": "no-access", "method": "nobody-home"}
    if given not in ("found", "clear"):
        raise RecordError("Choose one of the three answers: found, clear or nobody home.")
    method = _text(answer, "method")
    fields["method"] = method
    fields["kind"] = "monitor" if method in MONITORS else "inspection"
    if method in MONITORS:
        fields["days"] = _text(answer, "days") or str(DEFAULT_DAYS)
    if given == "clear":
        return fields | {"found": "no"}
    fields["found"] = "yes"
    level = _text(answer, "level")
    if level:
        if level not in LEVELS:
            raise RecordError("Choose how heavy it is: trace, low, moderate, heavy, or not judged.")
        fields["level"] = level
    sent = answer.get("evidence")
    seen = [word for word in EVIDENCE if isinstance(sent, list) and word in sent]
    if seen:
        fields["evidence"] = "+".join(seen)
    return fields


def _text(answer: Mapping[str, object], key: str) -> str:
    value = answer.get(key, "")
    return value.strip() if isinstance(value, str) else ""


def _note(answer: Mapping[str, object]) -> str:
    note = " ".join(_text(answer, "note").split())
    if len(note) > LONGEST_NOTE:
        raise RecordError(f"The note has {len(note)} characters; shorten it to {LONGEST_NOTE}.")
    return note
