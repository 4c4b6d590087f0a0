"""From the text of one row to a :class:`Record`, or to everything that is wrong with it."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Mapping

from spread.errors import Problem, RecordError, Told, told
from spread.plain import unseen
from spread.records.items import bugs_counted, read_items, signs_of
from spread.records.jobs import read_job
from spread.records.kinds import ALL_FIELDS, EVIDENCE, FIELDS, STATES, TRAP_STEPS, Finding, Job, Record
from spread.records.sense import SAYS_FOUND, Sense, Wrong, guess, read_day, read_sense, shown

NOTE_LIMIT = 2000  #: Longest note, in characters
TEXT_LIMIT = 100  #: Longest ``by``, in characters

_ID = re.compile(r"[^\W_][\w.:/-]{0,63}")
_SUGGESTIONS = 200  # difflib is slow: a file of nothing but strangers must still be answered at once


class RowReader:
    """Reads rows against the units of a plan; remembers what it has read, so that a log is quick.

    Parameters
    ----------
    units : Unit codes of the plan
    today : Rows dated more than a day after it are refused; None leaves that check out
    kept
        Whether the rows were kept before: a code that is strange then belongs to a home that changed, and is
        never taken for another's.
    """

    def __init__(self, units: Collection[str], today: dt.date | None = None, *, kept: bool = False) -> None:
        self._units = frozenset(units)
        self._today = today
        self._kept = kept
        self._days: dict[str, dt.date | Wrong] = {}
        self._senses: dict[tuple[str, ...], Sense | list[Wrong]] = {}
        self._guesses: dict[str, str] = {}

    def read(self, row: Mapping[str, str]) -> Record | list[Wrong]:
        """Return the record that a row of plain text means, or all that is wrong with it.

        Parameters
        ----------
        row
            Text by field, every field of :data:`~spread.records.kinds.FIELDS` present. Spaces around a
            word are dropped, except in ``by`` and ``note``. Where items are given, ``evidence``,
            ``count`` and ``level`` that are left empty are filled from them.
        """
        words = [row[name].strip() for name in FIELDS]
        id_, when, unit, supersedes = words[0], words[1], words[2], words[12]
        by, note = row["by"], row["note"]
        wrong: list[Wrong] = []
        if not _ID.fullmatch(id_):
            wrong.append(_bad_id(id_))
        day = self._days.get(when)
        if day is None:
            day = self._days[when] = read_day(when, self._today)
        if not isinstance(day, dt.date):
            wrong.append(day)
        if unit not in self._units:
            wrong.append(self._strange_unit(unit))
        cell = row.get("items", "")
        items: tuple[Finding, ...] = ()
        if cell.strip():
            items, faults = _items(words, cell)
            wrong += faults
        job, faults = _job(words[3], words[4], row.get("job", ""))
        wrong += faults
        told = tuple(words[3:10])
        sense = self._senses.get(told)
        if sense is None:
            sense = self._senses[told] = read_sense(**dict(zip(FIELDS[3:10], told, strict=True)))
        if isinstance(sense, list):
            wrong += sense
        if by or note:
            wrong += _bad_text("by", by, TEXT_LIMIT) + _bad_text("note", note, NOTE_LIMIT)
        if supersedes:
            wrong += _bad_correction(id_, supersedes)
        if wrong or isinstance(sense, list) or not isinstance(day, dt.date):
            return wrong
        kind, method, found, level = told[:4]
        return Record(
            id_, day, unit, kind, method, found, level, sense.count, sense.evidence, sense.days, by, note,
            supersedes, items, job,
        )  # fmt: skip

    def _strange_unit(self, unit: str) -> Wrong:
        if not unit:
            return ("unit", "no unit is given", "give a unit code of the plan")
        if self._kept:
            fix = (
                "if it was renamed, parted, joined or is gone, say so with spread plan; else correct the code"
            )
            return ("unit", f"unit {shown(unit)} is not in the plan", fix)
        if unit not in self._guesses:
            self._guesses[unit] = (
                guess(unit, self._units, "use a unit code of the plan")
                if len(self._guesses) < _SUGGESTIONS
                else "use a unit code of the plan"
            )
        return ("unit", f"unit {shown(unit)} is not in the plan", self._guesses[unit])


def record_from_fields(
    fields: Mapping[str, str],
    units: Collection[str],
    *,
    file: str = "this record",
    where: str = "",
    today: dt.date | None = None,
) -> Record:
    """Return the record that the text fields of a form or command line mean.

    ``fields``: plain text by field; a field left out is empty; ``units``: unit codes of the plan; ``file``,
    ``where``: how messages name the input; ``today``: as in :class:`RowReader`. Raises RecordError with every
    problem of the fields.
    """
    wrong: list[Wrong] = [
        (name, f"there is no field {shown(name)}", guess(name, ALL_FIELDS))
        for name in fields
        if name not in ALL_FIELDS
    ]
    read = RowReader(units, today).read({name: fields.get(name) or "" for name in ALL_FIELDS})
    if isinstance(read, list):
        wrong += read
    if wrong or isinstance(read, list):
        raise RecordError(as_problems(wrong, file, where))
    return read


def as_problems(wrong: Collection[Wrong], file: str, where: str = "") -> list[Problem]:
    """Return problems that name the file, the place in it and the field."""

    def at(name: str) -> Told:
        field = told("field {name}", name=repr(name))
        return told("{where}, {field}", where=where, field=field) if where else field

    return [Problem(file, at(name), what, fix) for name, what, fix in wrong]


def _items(words: list[str], cell: str) -> tuple[tuple[Finding, ...], list[Wrong]]:
    """Return the items of a row and what is wrong with them; fill what ``words`` leaves empty.

    The row then says the same in its short words as in its items, so that whoever reads only the
    words is told everything. A level is filled in only for live bugs that were counted: what old
    stains mean depends on the history of the unit, which a row does not know. A treatment says only
    how things were left, such as an encasement that was put on.
    """
    kind, found, level, count, evidence = words[3], words[5], words[6], words[7], words[8]
    items = read_items(cell)
    if isinstance(items, list):
        return (), items
    if kind == "note" and words[4] in TRAP_STEPS:
        return items, [
            _bad_trap(one)
            for one in items
            if one.item != "interceptors" or one != Finding(one.item, place=one.place)
        ]
    if kind == "treatment":
        return items, [_bad_left(one) for one in items if not _is_left(one)]
    if kind not in SAYS_FOUND:
        what = f"a row of kind {kind or 'unknown'} does not say what was found"
        return (), [("items", what, "put them in an inspection row of its own")]
    signs, bugs = signs_of(items), bugs_counted(items)
    if not evidence:
        words[8] = "+".join(sign for sign in EVIDENCE if sign in signs)
    elif unsaid := [s for s in EVIDENCE if s in signs and s not in [e.strip() for e in evidence.split("+")]]:
        what = f"the items name {' and '.join(unsaid)}, which the evidence {shown(evidence)} leaves out"
        return items, [("evidence", what, "leave the evidence empty to take it from the items")]
    if not count and bugs is not None:
        words[7] = str(bugs)
    if not level and bugs and found == "yes":
        # Only where it is needed: it loads numpy, which the command line starts without.
        from spread.trade.biology import LEVEL_NAMES, level_of_count  # noqa: PLC0415

        words[6] = LEVEL_NAMES[level_of_count(bugs)]
    return items, []


def _job(kind: str, method: str, cell: str) -> tuple[Job | None, list[Wrong]]:
    if not cell.strip():
        return None, []
    notice = kind == "note" and method == "entry-notice"
    if kind != "treatment" and not notice:
        return None, [("job", f"a row of kind {kind or 'unknown'} is no treatment", "leave the job empty")]
    read = read_job(cell)
    if isinstance(read, list):
        return None, read
    more = read is not None and (read != Job(window=read.window, day=read.day) if notice else bool(read.day))
    if more:
        what = "it says more than a notice names" if notice else "a day is for a notice of entry"
        return None, [("job", what, "write a day and a window of a notice of entry alone")]
    return read, []


def _is_left(one: Finding) -> bool:
    """Return whether an item says how something was left, such as an encasement put on, and no more."""
    return bool(one.state) and not (one.evidence or one.stage or one.count is not None)


def _bad_left(one: Finding) -> Wrong:
    what = f"{shown(one.item)} says what was found" if one.state else f"{shown(one.item)} has no state"
    fix = f"write how it was left ({', '.join(STATES)}), as in encasement: intact; finds are an inspection"
    return ("items", f"{what}, in a row of kind treatment", fix)


def _bad_trap(one: Finding) -> Wrong:
    what = f"{shown(one.item)} is no trap, or says more than where it stands"
    return ("items", what, "write where each trap stands, as in interceptors: nothing, at bed 1 leg 2")


def _bad_id(id_: str) -> Wrong:
    if not id_:
        return ("id", "no id is given", "give every row an id of its own")
    return (
        "id",
        f"id {shown(id_)} is not an id",
        "use 1 to 64 letters, digits and . : / _ -, with a letter or digit first",
    )


def _bad_correction(id_: str, supersedes: str) -> list[Wrong]:
    if supersedes == id_:
        return [("supersedes", f"row {shown(id_)} supersedes itself", "name the row that it corrects")]
    if not _ID.fullmatch(supersedes):
        return [("supersedes", f"{shown(supersedes)} is not an id", "name the row that it corrects")]
    return []


def _bad_text(name: str, text: str, limit: int) -> list[Wrong]:
    wrong: list[Wrong] = []
    if len(text) > limit:
        wrong.append((name, f"the text has {len(text)} characters, more than {limit}", "shorten it"))
    if name == "by" and (odd := unseen(text)):
        wrong.append((name, f"the text holds a character that is not seen ({odd})", "type the code again"))
    elif "\0" in text:
        wrong.append((name, "the text holds a NUL character", "take it out"))
    if not text.isascii() and any("\ud800" <= char <= "\udfff" for char in text):
        wrong.append((name, "the text holds half a character that no file can keep", "type it again"))
    return wrong
