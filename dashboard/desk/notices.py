"""Notices of entry from the desk: printed for a day or for chosen units, and ticked, in one press each.

Neither is done for a day on which a notice that is given today would not have run: the sentence says which
day would be the first.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping

from flask import Response, request

from dashboard.desk.keeping import keep
from dashboard.web.answering import download, page, paper
from dashboard.web.voice import desk_voice
from spread.decisions.week.entry import notice_row, notices_on_record
from spread.errors import SpreadError
from spread.plan.access import clock_of
from spread.report.notices import Visit, notices_together, read_window
from spread.report.pdf import write_pdf
from spread.session import Session


def asked_window(told: Mapping[str, object]) -> tuple[int, int] | None:
    """Return the hours that a form names with ``from`` and ``to``; None where it names none.

    Raises SpreadError for half of them, or hours that are none.
    """
    first, last = (str(told.get(name) or "").strip() for name in ("from", "to"))
    if not first and not last:
        return None
    window = read_window(f"{first}-{last}")
    if window is None:
        what = f"{first[:10] or 'nothing'} to {last[:10] or 'nothing'} are no hours of one day"
        fix = "choose both, the earlier first, or leave both empty"
        raise SpreadError.at("The notice", "hours", what, fix)
    return window


def purpose_of(session: Session, unit: str) -> str:
    """Return what a unit would be entered for next."""
    return "treatment" if session.view.followups[unit].status == "treat" else "inspection"


def checked(session: Session, units: Collection[str], day: dt.date) -> list[str]:
    """Return chosen units in plan order.

    Raises SpreadError where none is chosen or known, and where a notice given today would not have run.
    """
    chosen = [unit for unit in session.plan.units if unit in set(units)]
    if not chosen or len(chosen) < len(set(units)):
        what = "no unit is chosen" if not units else "one of the units is not in this building"
        raise SpreadError.at("The notice", "units", what, "choose units of the list")
    entries = session.entries()
    early = [unit for unit in chosen if entries[unit].again > day]
    if early:
        voice, first = desk_voice(), max(entries[unit].again for unit in early)
        what = f"a notice given today would not have run by {voice.day(day)} in {', '.join(early[:8])}"
        raise SpreadError.at("The notice", "day", what, f"choose {voice.day(first)} or a later day")
    return chosen


def notices_page(
    session: Session, purposes: Mapping[str, str], day: dt.date, window: tuple[int, int] | None = None
) -> Response:
    """Return the notices of some units as one document, a page each; as PDF where the address asks for it."""
    spanish = request.args.get("language") == "es"
    visit = Visit("entry", day, session.on, window=window)
    try:
        made = notices_together(
            session.building, session.rules, purposes, visit, language="es" if spanish else "en"
        )
        if request.args.get("as") != "pdf":
            return page(made, paper())
        return download(write_pdf(made, paper()), f"notices-{day.isoformat()}.pdf", "application/pdf")
    except SpreadError as error:
        return Response(str(error), status=404, mimetype="text/plain")


def give(
    session: Session, units: Collection[str], day: dt.date, window: tuple[int, int] | None = None
) -> Response:
    """Record that notices for a day were handed out; a unit whose notice of that day is on record has it."""
    kept = notices_on_record(session.view, day)
    hours = "" if window is None else f"{clock_of(window[0])}-{clock_of(window[1])}"
    today = session.today.isoformat()
    rows = [{**notice_row(unit, day, hours), "when": today} for unit in units if unit not in kept]
    return keep(session, rows)


def take_back(session: Session, day: dt.date) -> Response:
    """Take back all notices of a day."""
    today = session.today.isoformat()
    rows = [
        {"unit": unit, "kind": "note", "supersedes": row, "when": today, "note": "notice taken back"}
        for unit, row in notices_on_record(session.view, day).items()
    ]
    return keep(session, rows)
