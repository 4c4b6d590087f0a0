"""When a unit may lawfully be entered: notice of entry as the rule set asks for it and the log proves it.

Nothing but a row of the log proves a notice, and no exception is made that a rule set does not make itself:
an empty unit is announced too, and what a resident says at the door is for whoever stands there.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from spread.decisions.duties.deadlines import IsHoliday, first_entry, holidays_of
from spread.decisions.duties.owed import notice_for, storeys_of
from spread.decisions.view import View
from spread.facts import Fact
from spread.records.jobs import job_text
from spread.records.kinds import Job, Record, said_by
from spread.trade.registry import HEARSAY
from spread.trade.rule_set import EntryNotice, RuleSet

GOOD_FOR = dt.timedelta(days=14)
"""How long a notice that names no day stays good after it has run (judgement, no source)."""
_ENTRIES = ("inspection", "monitor", "treatment", "no-access")


@dataclass(frozen=True, slots=True)
class Entry(Fact):
    """When one unit may be entered, by its notice.

    Parameters
    ----------
    unit
        Unit code.
    state
        ``free`` (no rule asks for notice), ``given`` (it has run), ``running``, ``needed`` (none on record
        that is good for a visit to come) or ``refused`` (entry was refused, and nothing arranged since).
    notice
        What the rule set asks for; None where nothing.
    first, last
        The days that the notice on record is good for; where none is, ``first`` is the first lawful day if
        notice is given on the day of the answer, and ``last`` None.
    again
        The first lawful day if notice is given on the day of the answer, whatever is on record.
    proof, given
        The row that proves the notice, and its day.
    why
        Why the notice on record is good no more: ``used``, ``lapsed``, ``short`` (it names a day before its
        time has run); ``never`` where there is none; empty otherwise.
    refused
        The day of the last refusal that waits for an arrangement.
    """

    unit: str
    state: Literal["free", "given", "running", "needed", "refused"]
    notice: EntryNotice | None
    first: dt.date
    last: dt.date | None
    again: dt.date
    proof: str = ""
    given: dt.date | None = None
    why: Literal["", "never", "used", "lapsed", "short"] = ""
    refused: dt.date | None = None

    def lawful_on(self, day: dt.date) -> bool:
        """Whether the notice that is on record has run on a day and is good for it."""
        if self.state == "free":
            return day >= self.first
        good = self.state in ("given", "running") and self.last is not None
        return good and self.first <= day and (self.last is None or day <= self.last)

    def may_plan(self, day: dt.date) -> bool:
        """Whether a day can be planned: lawful by the notice on record, or by one that is given at once.

        A notice on record that is still good holds its unit to the days that it is good for.
        """
        if self.state == "refused":
            return False
        return day >= self.first if self.state == "needed" else self.lawful_on(day)


def entry_of(
    records: Sequence[Record], unit: str, on: dt.date, notice: EntryNotice | None, is_holiday: IsHoliday
) -> Entry:
    """Return when a unit may be entered, by its records.

    Parameters
    ----------
    records
        The unit's current records, in any order; later ones are left out.
    unit, on
        Unit code and day.
    notice
        What the rule set asks for before this visit; None where nothing.
    is_holiday
        Whether a day is a public holiday.
    """
    rows = sorted((r for r in records if r.when <= on), key=lambda r: (r.when, r.id))
    again = on if notice is None else first_entry(on, notice.lead, is_holiday)
    refused = _refused(rows)
    if refused is not None:
        return Entry(unit, "refused", notice, again, None, again, refused=refused)
    if notice is None:
        return Entry(unit, "free", None, on, None, on)
    why: Literal["never", "used", "lapsed", "short"] = "never"
    for row in reversed([r for r in rows if said_by(r) == "entry-notice"]):
        first = first_entry(row.when, notice.lead, is_holiday)
        named = row.job.day if row.job else None
        last = named or first + GOOD_FOR
        if last < first:
            told: Literal["used", "lapsed", "short"] = "short"
        elif last < on:
            told = "lapsed"
        elif any(_enters(r) and r.when >= (named or first) for r in rows):
            told = "used"
        else:
            first = named or first
            state: Literal["given", "running"] = "running" if first > on else "given"
            return Entry(unit, state, notice, first, last, again, row.id, row.when)
        why = told if why == "never" else why
    return Entry(unit, "needed", notice, again, None, again, why=why)


def notice_row(unit: str, day: dt.date, window: str = "") -> dict[str, str]:
    """Return the fields of a row that says that notice was given for a day, but for its date.

    ``window``: the hours that the notice names, as ``09:00-12:00``; empty where it names none.
    """
    job = job_text(Job(day=day, window=window))
    return {"unit": unit, "kind": "note", "method": "entry-notice", "job": job}


def notices_on_record(view: View, day: dt.date) -> dict[str, str]:
    """Return the rows that announce a visit on a day, by unit."""
    return {
        row.unit: row.id
        for row in view.log.current
        if said_by(row) == "entry-notice" and row.job is not None and row.job.day == day
    }


def entries_of(view: View, rules: RuleSet) -> dict[str, Entry]:
    """Return when every unit may be entered for its next visit: a treatment where it is to be treated."""
    is_holiday = holidays_of(rules.calendar)
    applies = rules.applies_to(view.graph.number_of_nodes(), storeys_of(view.graph))
    found = {}
    for unit, told in view.followups.items():
        step = "begin-treatment" if told.status == "treat" else "inspect"
        of = "neighbours" if told.case.calm else "source"
        asked = notice_for(rules.notices, step, of) if applies else None
        found[unit] = entry_of(view.log.of(unit, view.on), unit, view.on, asked, is_holiday)
    return found


def _enters(row: Record) -> bool:
    """Whether somebody came to the unit, and so used its notice."""
    return row.kind in _ENTRIES and row.method not in HEARSAY


def _refused(rows: Sequence[Record]) -> dt.date | None:
    """Return the last refusal, unless somebody was let in, talked to the resident or gave notice since."""
    last = next((r for r in reversed(rows) if r.kind == "no-access" and r.method == "refused"), None)
    if last is None:
        return None
    arranged = (
        (r.kind in ("inspection", "monitor", "treatment", "turnover") and r.when > last.when)
        or (said_by(r) in ("contact", "entry-notice") and r.when >= last.when)
        for r in rows
    )
    return None if any(arranged) else last.when
