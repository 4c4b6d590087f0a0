"""What a technician did behind a door, from the words a phone sent to the fields of one record.

Answers: ``room`` (a look with its findings item by item), ``treated`` (with what was done), ``traps-set`` and
``traps-taken-up`` (where each trap stands), ``traps`` (they were read: the days come from the log), and
``told`` (the resident was given the notice of the result).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from dashboard.plan.answers import fields_of
from spread.decisions.case.traps import SET, UP, Traps, traps_of
from spread.decisions.room.findings import propose_for, strange_items
from spread.errors import RecordError, told
from spread.plan.model import Plan
from spread.records.items import finding_problems, items_text
from spread.records.jobs import MOST_READINGS, SAID, job_problems, job_text
from spread.records.kinds import EVIDENCE, LEVELS, MONITORS, TREATMENTS, Done, Finding, Job, Probe, Product
from spread.records.log import Log
from spread.records.looked import looked_as
from spread.records.parse import as_problems
from spread.trade.methods.monitors import INTERCEPTORS
from spread.trade.registry import BY_EYE

ANSWERS = ("room", "treated", "traps", "traps-set", "traps-taken-up", "told")
LOOKED = BY_EYE
"""Looks that the room page offers; a dog and a resident's word say nothing item by item."""
PROPOSED, SIGNS_ONLY, UNSURE, NOTHING = "proposed", "signs", "unsure", "nothing"
MOST_ITEMS = 150
MOST_TRAPS = 60
_FAR = 1e6
Sent = Mapping[str, object]


def room_fields(
    answer: Sent, base: dict[str, str], log: Log, day: dt.date, codes: Collection[str]
) -> dict[str, str]:
    """Return the record fields of one answer of the room page.

    Parameters
    ----------
    answer
        ``answer`` is one of :data:`ANSWERS`; for the rest see the functions for each below.
    base
        Fields that every record has: id, unit, day and note, checked already.
    log
        What is recorded, for the level that is proposed and for the row that this one corrects.
    day
        The day of the answer.
    codes
        Items of the room sheet.

    Raises
    ------
    RecordError
        With everything that cannot be understood.
    """
    kind = answer.get("answer")
    if kind == "treated":
        return base | _treated(answer, codes)
    if kind == "told":
        return base | {"kind": "note", "method": "result-notice"}
    stand = traps_of(log.of(base["unit"]), day)
    if kind in (SET, UP):
        return base | _placed(answer, str(kind), stand)
    items = read_findings(answer.get("items"), codes)
    if kind == "traps":
        return base | _traps(answer, items, stand)
    corrected = _corrects(answer, base["unit"], log)
    return base | _looked(answer, items, base["unit"], log, day, corrected) | {"supersedes": corrected}


def base_fields(answer: Sent, plan: Plan, day: dt.date) -> dict[str, str]:
    """Return id, unit, day and note of an answer, checked as those of every answer are."""
    fields = fields_of({**answer, "answer": "nobody"}, plan, day)
    return {name: fields[name] for name in ("id", "when", "unit", "note")}


def read_findings(sent: object, codes: Collection[str]) -> tuple[Finding, ...]:
    """Return findings from the browser's list; each a mapping of the fields of a finding.

    Raises
    ------
    RecordError
        With every finding that cannot be kept, and every item that the room sheet does not have.
    """
    rows = sent if isinstance(sent, list) else []
    if len(rows) > MOST_ITEMS or not all(isinstance(row, Mapping) for row in rows):
        raise RecordError(told("The findings did not arrive whole; save them again."))
    items, row = tuple(map(_finding, rows)), told("new row")
    if problems := [
        *strange_items(items, codes, file=row),
        *as_problems(finding_problems(items), row),
    ]:
        raise RecordError(problems)
    return items


def _finding(row: Sent) -> Finding:
    signs = row.get("evidence")
    count, metres = row.get("count"), row.get("metres")
    return Finding(
        item=_text(row, "item") or "?",
        evidence=frozenset(str(sign)[:20] for sign in signs) if isinstance(signs, list) else frozenset(),
        stage=_text(row, "stage"),
        count=count if isinstance(count, int) and not isinstance(count, bool) else None,
        metres=float(metres) if isinstance(metres, int | float) and not isinstance(metres, bool) else None,
        photo=_text(row, "photo"),
        state=_text(row, "state"),
        place=_text(row, "place"),
    )


def _looked(
    answer: Sent, items: Sequence[Finding], unit: str, log: Log, day: dt.date, corrected: str
) -> dict[str, str]:
    """Read ``items``, ``method``, and ``level``: a level, proposed, signs, unsure or nothing."""
    if not items:
        raise RecordError(
            told("No item was looked at; mark what you looked at, even where nothing was seen.")
        )
    method, level = _text(answer, "method"), _text(answer, "level")
    if method not in LOOKED:
        raise RecordError(told("Choose how you looked: brief or thorough."))
    # What was seen decides: a look that names few items is a brief one whatever it is called.
    known = {"method": looked_as(items, method), "kind": "inspection", "items": items_text(items)}
    if level == PROPOSED:
        past = [row for row in log.of(unit) if row.id != corrected]
        proposal = propose_for(items, past, day)
        return known | {"found": proposal.found, "level": proposal.level}
    if level in LEVELS:
        return known | {"found": "yes", "level": level}
    if level == SIGNS_ONLY:
        return known | {"found": "yes"}
    if level == UNSURE:
        return known | {"found": "unsure"}
    if level == NOTHING:
        return known | {"found": "no"}
    raise RecordError(told("Choose the level that is proposed, or another one."))


def _treated(answer: Sent, codes: Collection[str]) -> dict[str, str]:
    """Read ``method``, one of the treatments, and ``job``: a mapping of the fields of a job, or nothing."""
    method, sent = _text(answer, "method"), answer.get("job")
    if method not in TREATMENTS:
        raise RecordError(told("Choose how it was treated."))
    known = {"kind": "treatment", "method": method}
    if not isinstance(sent, Mapping):
        return known
    words: dict[str, Any] = {name: _text(sent, name) for name in SAID}
    job = Job(
        done=_steps(sent, "done"),
        left=_steps(sent, "left"),
        products=tuple(
            Product(_text(one, "name"), _text(one, "registration")) for one in _listed(sent, "products")
        ),
        **words,
        celsius=None if sent.get("celsius") is None else _figure(sent["celsius"]),
        **heat_of(sent.get("heat")),
    )
    row = told("new row")
    items = [Finding(one.item) for one in (*job.done, *job.left)]
    if problems := [*as_problems(job_problems(job), row), *strange_items(items, codes, file=row)]:
        raise RecordError(problems)
    return known | {"job": job_text(job)}


def heat_of(sent: object) -> dict[str, Any]:
    """Read ``heat``: ``rooms``, and ``probes``, each its ``place`` and ``readings``: minute, degrees C."""
    if not isinstance(sent, Mapping):
        return {}
    rooms = sent.get("rooms")
    probes = tuple(
        Probe(_text(one, "place"), tuple(map(_reading, _whole_list(one.get("readings")))))
        for one in _listed(sent, "probes")
    )
    return {"rooms": rooms if type(rooms) is int else None, "heat": probes}


def _whole_list(sent: object) -> list[object]:
    return sent[: MOST_READINGS + 1] if isinstance(sent, list) else []


def _reading(sent: object) -> tuple[float, float]:
    """Return a reading; what is none becomes one that no cell may hold, so that the answer is refused."""
    pair = sent if isinstance(sent, list) and len(sent) == 2 else [None, None]
    minute, celsius = map(_figure, pair)
    return minute, celsius


def _figure(sent: object) -> float:
    number = isinstance(sent, int | float) and not isinstance(sent, bool) and abs(sent) < _FAR
    return float(str(sent)) if number else math.nan


def _steps(sent: Sent, name: str) -> tuple[Done, ...]:
    return tuple(Done(_text(one, "item"), _text(one, "place")) for one in _listed(sent, name))


def _listed(sent: Sent, name: str) -> list[Sent]:
    rows = sent.get(name)
    return [row for row in rows[:MOST_ITEMS] if isinstance(row, Mapping)] if isinstance(rows, list) else []


def _placed(answer: Sent, method: str, stand: Traps) -> dict[str, str]:
    """Read ``places``: where each trap that was set stands, or that was taken up; of these none means all."""
    sent = answer.get("places")
    places = [" ".join(str(place).split()) for place in sent] if isinstance(sent, list) else []
    if len(places) > MOST_TRAPS or len(set(places)) < len(places) or not all(places):
        raise RecordError(told("The places of the traps did not arrive whole; write them again."))
    if method == SET and not places:
        raise RecordError(told("Say where the traps stand: how many legs of which bed or sofa."))
    if method == UP and not stand.places:
        raise RecordError(told("No row says that traps stand here, so none can be taken up."))
    items = tuple(Finding(str(INTERCEPTORS.item), place=place) for place in places)
    if problems := as_problems(finding_problems(items), "new row"):
        raise RecordError(problems)
    return {"kind": "note", "method": method, "items": items_text(items)}


def _traps(answer: Sent, items: Sequence[Finding], stand: Traps) -> dict[str, str]:
    """Read ``method``, ``caught`` (bugs; 0 for a clean period), and ``items`` for states and catches by trap.

    The days are those since the traps were set or last read. Without a row that says so a catch is a catch,
    and a clean period is none.
    """
    method, caught = _text(answer, "method"), answer.get("caught")
    if method not in MONITORS:
        raise RecordError(told("Choose which traps were read."))
    if not isinstance(caught, int) or isinstance(caught, bool) or caught < 0:
        raise RecordError(told("Say how many bugs were caught; 0 if none."))
    in_traps = sum(one.count or 0 for one in items if one.item == INTERCEPTORS.item)
    if in_traps > caught:
        raise RecordError(
            told(
                "The traps hold {held} bugs, and {caught} were caught in all; mend one of the two.",
                held=in_traps,
                caught=caught,
            )
        )
    days = stand.days if method == INTERCEPTORS.key else answer.get("days")
    counted = isinstance(days, int) and not isinstance(days, bool) and days > 0
    if not counted and not caught:
        raise RecordError(
            told(
                "No row says since when these traps stand here, so nothing was shown: record that they are "
                "set, and read them at a later visit."
            )
        )
    known = {"kind": "monitor", "method": method, "found": "yes" if caught else "no"}
    known |= {"days": str(days)} if counted else {}
    if items:
        known["items"] = items_text([_in_trap(one) for one in items])
    return known | ({"count": str(caught), "evidence": "live"} if caught else {})


def _in_trap(one: Finding) -> Finding:
    """Return what is kept of an item: bugs counted in a trap, else its state alone."""
    held = one.item == INTERCEPTORS.item and one.count
    return replace(
        one, evidence=frozenset({"live"} if held else ()), count=one.count if held else None, stage=""
    )


def _corrects(answer: Sent, unit: str, log: Log) -> str:
    """Return the row that this look corrects: a look at the same unit that nothing has corrected yet.

    A find told in one word at the door and the findings of the same look are one look, not two.
    """
    row = log.by_id.get(_text(answer, "from"))
    if row is None or row.unit != unit or row.kind != "inspection":
        return ""
    return "" if any(other.supersedes == row.id for other in log.rows) else row.id


def _text(sent: Sent, key: str) -> str:
    value = sent.get(key, "")
    return " ".join(value.split()) if isinstance(value, str) else ""


def signs_in_order(signs: Collection[str]) -> list[str]:
    """Return signs in the order in which people are told of them."""
    return [sign for sign in EVIDENCE if sign in signs]
