"""From what the browser sent to the fields of one record. Nothing of it is trusted."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping

from spread.errors import RecordError, told
from spread.plan.model import Plan
from spread.records.kinds import EVIDENCE, LEVELS, MONITORS, TREATMENTS, TURNOVERS

LONGEST_NOTE = 500
DEFAULT_DAYS = 14
REPORTS = {
    "seen": {"found": "yes", "evidence": "live"},
    "bitten": {"found": "unsure", "evidence": "bites"},
    "nothing": {"found": "no"},
}
"""What a resident may report: bugs seen, bites or marks only, or that nothing was noticed."""
_ID = re.compile(r"[A-Za-z0-9-]{8,64}")
_ROW = re.compile(r"[A-Za-z0-9][A-Za-z0-9.:/_-]{0,63}")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
Answer = Mapping[str, object]


def fields_of(answer: object, plan: Plan, on: dt.date) -> dict[str, str]:
    """Return the record fields of an answer given at a door.

    Raises RecordError, one sentence, when the answer cannot be understood. The session checks the rest.

    ``answer``: a mapping of strings: ``id``, ``unit``, ``answer`` (``found``, ``clear``, ``nobody`` or a key
    of the other entries of the form), ``day`` (``on`` if left out), ``method``, ``level``, ``evidence``
    (list), ``days``, ``said`` (a key of :data:`REPORTS`), ``note``, and for an undo ``undoes``. ``plan``: the
    building, for the unit codes. ``on``: the day that the session's rows are for.
    """
    if not isinstance(answer, Mapping):
        raise RecordError(told("The answer did not arrive whole; press the button again."))
    identity = _text(answer, "id")
    if not _ID.fullmatch(identity):
        raise RecordError(told("The answer came without its number; reload the page and give it again."))
    unit = _text(answer, "unit")
    if unit not in plan.units:
        raise RecordError(
            told("This building has no unit {unit}; choose one on the plan.", unit=repr(unit[:40]))
        )
    fields = {"id": identity, "when": _day(answer, on), "unit": unit, "note": _note(answer)}
    kind = _KINDS.get(_text(answer, "answer"))
    if kind is None:
        raise RecordError(
            told("Choose one of the three answers (found, clear, nobody home) or another entry of the form.")
        )
    return fields | kind(answer, fields["note"])


def _undo(answer: Answer, _words: str) -> dict[str, str]:
    undoes = _text(answer, "undoes")
    if not _ROW.fullmatch(undoes):
        raise RecordError(told("It is not clear which answer to take back; correct it with 'spread record'."))
    return {"kind": "note", "note": "Taken back on the plan page.", "supersedes": undoes}


def _nobody(_answer: Answer, _words: str) -> dict[str, str]:
    return {"kind": "no-access", "method": "nobody-home"}


def _refused(_answer: Answer, _words: str) -> dict[str, str]:
    return {"kind": "no-access", "method": "refused"}


def _treatment(answer: Answer, _words: str) -> dict[str, str]:
    method = _text(answer, "method")
    if method not in TREATMENTS:
        raise RecordError(told("Choose how it was treated."))
    return {"kind": "treatment", "method": method}


def _turnover(answer: Answer, _words: str) -> dict[str, str]:
    method = _text(answer, "method")
    if method and method not in TURNOVERS:
        raise RecordError(told("Choose whether somebody moved out, moved in, or both."))
    return {"kind": "turnover", "method": method}


def _report(answer: Answer, _words: str) -> dict[str, str]:
    said = REPORTS.get(_text(answer, "said"))
    if said is None:
        raise RecordError(told("Choose what the resident reported."))
    return {"kind": "report", **said}


def _remark(_answer: Answer, note: str) -> dict[str, str]:
    if not note:
        raise RecordError(told("Write the note first; an empty one says nothing."))
    return {"kind": "note"}


def _look(answer: Answer, _words: str) -> dict[str, str]:
    method = _text(answer, "method")
    fields = {"method": method, "kind": "monitor" if method in MONITORS else "inspection"}
    if method in MONITORS:
        fields["days"] = _text(answer, "days") or str(DEFAULT_DAYS)
    if _text(answer, "answer") == "clear":
        return fields | {"found": "no"}
    fields["found"] = "yes"
    level = _text(answer, "level")
    if level:
        if level not in LEVELS:
            raise RecordError(told("Choose how heavy it is: trace, low, moderate, heavy, or not judged."))
        fields["level"] = level
    sent = answer.get("evidence")
    seen = [word for word in EVIDENCE if isinstance(sent, list) and word in sent]
    if seen:
        fields["evidence"] = "+".join(seen)
    return fields


_KINDS: dict[str, Callable[[Answer, str], dict[str, str]]] = {
    "found": _look,
    "clear": _look,
    "nobody": _nobody,
    "refused": _refused,
    "treatment": _treatment,
    "turnover": _turnover,
    "report": _report,
    "note": _remark,
    "undo": _undo,
}


def _text(answer: Answer, key: str) -> str:
    value = answer.get(key, "")
    return value.strip() if isinstance(value, str) else ""


def _day(answer: Answer, on: dt.date) -> str:
    day = _text(answer, "day")
    if not day:
        return on.isoformat()
    if not _DAY.fullmatch(day):
        raise RecordError(told("The date could not be read; choose it again."))
    return day


def _note(answer: Answer) -> str:
    note = " ".join(_text(answer, "note").split())
    if len(note) > LONGEST_NOTE:
        raise RecordError(
            told("The note has {long} characters; shorten it to {most}.", long=len(note), most=LONGEST_NOTE)
        )
    return note
