"""What happened behind one door on one day: the facts of a job record.

It tells what rows say and what is lacking. It never says that a unit is clear: that is for the follow-up,
which knows the model's chance.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from spread.decisions.case.case import Case
from spread.decisions.case.clearance import Lack
from spread.decisions.case.followup import by_records
from spread.decisions.case.visits import Visit
from spread.facts import Fact
from spread.records.kinds import TRAP_STEPS, Record
from spread.trade.clearance import ClearanceRule


@dataclass(frozen=True, slots=True)
class JobRecord(Fact):
    """What happened behind one door on one day."""

    unit: str
    on: dt.date
    by: tuple[str, ...]  #: Codes of who wrote it down
    treated: tuple[Record, ...]  #: Treatments of the day, each with its job where somebody wrote it down
    looks: tuple[Record, ...]  #: Inspections and monitors read that day
    traps: tuple[Record, ...]  #: Traps set or taken up that day
    others: tuple[Record, ...]  #: Everything else of the day, such as a door that stayed shut
    photographs: tuple[str, ...]  #: Names of the files, each once
    told: bool  #: Whether a row of the day says that the resident was given the result
    lacks: tuple[Lack, ...]  #: What clearance still asks for by the rows alone
    visit: Visit | None  #: When to come again
    case: Case


def job_record(
    records: Sequence[Record], unit: str, on: dt.date, rule: ClearanceRule | None = None
) -> JobRecord | None:
    """Return the record of a day in a unit; None where the log has no row of it.

    Parameters
    ----------
    records : The unit's current records, in any order; those after ``on`` are left out
    unit, on : Unit code and day
    rule : The clearance rule; the default one if None
    """
    rows = [row for row in records if row.when == on]
    if not rows:
        return None
    # Not low: the rows alone never clear.
    follow = by_records(records, unit, on, rule or ClearanceRule(), low=False)
    said = [row for row in rows if row.kind == "note" and row.method in TRAP_STEPS]
    apart = ("inspection", "monitor", "treatment")
    return JobRecord(
        unit=unit,
        on=on,
        by=tuple(dict.fromkeys(row.by for row in rows if row.by)),
        treated=tuple(row for row in rows if row.kind == "treatment"),
        looks=tuple(row for row in rows if row.is_look),
        traps=tuple(said),
        others=tuple(row for row in rows if row.kind not in apart and row not in said),
        photographs=tuple(dict.fromkeys(one.photo for row in rows for one in row.items if one.photo)),
        told=any(row.method == "result-notice" for row in rows),
        lacks=follow.lacks,
        visit=follow.visit,
        case=follow.case,
    )
