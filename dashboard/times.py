"""The weeks of the building for the slider: what is now believed of each, and what was on record by then."""

from __future__ import annotations

from typing import Any

from spread.decisions.standing import is_find
from spread.records.kinds import Record
from spread.session import Session
from spread.weeks import monday_of, week_of


def weeks_of(session: Session) -> dict[str, Any]:
    """Return every week of the window for every unit, and the events in it.

    Returns ``version``; ``weeks`` (Mondays, oldest first); ``chances``: unit to whole per cents, one a week,
    as the fit of today sees that week; ``events``: ``[week index, unit, letter]`` by day, the letter of
    :func:`_letter`; what happened before the window stands in its first week.
    """
    version, view = session.version, session.view
    posterior = view.posterior
    count = posterior.weekly.shape[1]
    units = posterior.units
    events = []
    for record in view.log.current:
        letter = _letter(record)
        week = week_of(record.when) - posterior.first_week
        if letter and week < count and record.when <= view.on:
            events.append([max(week, 0), record.unit, letter])
    return {
        "version": version,
        "weeks": [monday_of(posterior.first_week + week).isoformat() for week in range(count)],
        "chances": {
            unit: [round(100 * float(chance)) for chance in row]
            for unit, row in zip(units, posterior.weekly, strict=True)
        },
        "events": events,
    }


def _letter(record: Record) -> str:
    """Return f(ound), t(reated), r(eported), a(lert or hint), c(lear look), n(o access), m(oved) or none."""
    if record.is_look:
        if is_find(record):
            return "f"
        return "c" if record.found == "no" else "a"
    if record.kind == "report":
        return "r" if record.is_complaint else ""
    return {"treatment": "t", "no-access": "n", "turnover": "m"}.get(record.kind, "")
