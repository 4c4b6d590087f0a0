"""Records: rows of the log searched, corrected by a later row, taken back, taken in and taken away."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Flask, Response, request

from dashboard.desk.keeping import just_kept, keep, keep_answer, said
from dashboard.pages import Page
from dashboard.signin.who import may, may_open, note
from dashboard.web.answering import download
from dashboard.web.bar import desk_frame
from dashboard.web.files import filled
from dashboard.web.sent import sent_json
from dashboard.web.voice import desk_voice
from spread.people.roles import EXPORT, RECORD
from spread.records.cells import to_fields
from spread.records.kinds import EVIDENCE, FOUND, KINDS, LEVELS, METHODS_OF, Record
from spread.records.log import Log
from spread.records.searching import Search, found
from spread.report.exchange.bundle import EXPORTS
from spread.report.exchange.tables import records_csv
from spread.session import Session
from spread.words import Voice
from spread.words.records import describe, kind_name
from spread.words.terms import level_name, method_name, sign_choice
from spread.words.voice import upper

PATH = "/records"
PAGE_ROWS = 50
"""Rows on a page."""
ASKED = ("unit", "kind", "since", "until", "by", "text", "corrected")
"""Fields of the search."""
FOUND_WORDS = {"yes": "found", "no": "not found", "unsure": "could not tell"}
_SEEN = ("found", "level", "count", "evidence")
CHANGED = {
    "report": ("found", "evidence"),
    "inspection": ("method", *_SEEN),
    "monitor": ("method", "days", *_SEEN),
    "treatment": ("method",),
    "no-access": ("method",),
    "turnover": ("method",),
    "note": ("method",),
}
"""What a correction may change in a row of each kind, besides its day and its note."""


def add_records(server: Flask, session: Session) -> None:
    """Put the page, its corrections and its file on a server."""
    pages = Blueprint("records", __name__)

    @pages.get(PATH)
    def records_page() -> str:
        return filled(
            "desk/records.html",
            **desk_frame(PATH, "desk/page.js"),
            **context(session, request.args, desk_voice()),
            kept=just_kept(session, request.args.get("after", "")[:64]),
            may_record=may(RECORD),
            may_import=may_open("/import"),
            exports=[(key, one) for key, one in EXPORTS.items() if one.ready] if may(EXPORT) else [],
        )

    @pages.get(f"{PATH}/found.csv")
    def found_rows() -> Response:
        note("export", "found records")
        rows = found(session.building.store.log, search_of(request.args))
        return download(records_csv(Log(rows[::-1])), "found-records.csv", "text/csv; charset=utf-8")

    @pages.post(f"{PATH}/back")
    def back() -> Response:
        return keep_answer(session, {**sent_json(), "answer": "undo"})

    @pages.post(f"{PATH}/correct")
    def correct() -> Response:
        """Record a row that stands in the place of another; both stay in the log."""
        sent = sent_json()
        old = session.building.store.log.by_id.get(str(sent.get("row") or ""))
        if old is None:
            return said("The log has no such row; load the page again.", ok=False)
        fields = to_fields(old)
        new = fields | corrected_fields(old, sent)
        if new == fields:
            return said("Nothing is changed in it; change a field first.", ok=False)
        return keep(session, [{**new, "id": str(sent.get("id") or "")[:64], "supersedes": old.id}])

    server.register_blueprint(pages)


def corrected_fields(old: Record, sent: Mapping[str, object]) -> dict[str, str]:
    """Return the fields of a row as a form has them; what it does not name stays as it was."""
    new = {}
    for name in ("when", "note", *CHANGED[old.kind]):
        told = sent.get(name)
        if name == "evidence":
            chosen = told if isinstance(told, list) else []
            new[name] = "+".join(word for word in EVIDENCE if word in chosen)
        elif isinstance(told, str):
            new[name] = " ".join(told.split())
    return new


def search_of(args: Mapping[str, str]) -> Search:
    """Return what the address asks for; what is no day or no kind asks for nothing."""
    given = {name: args.get(name, "").strip()[:80] for name in ASKED}
    return Search(
        unit=given["unit"],
        kind=given["kind"] if given["kind"] in KINDS else "",
        since=_day(given["since"]),
        until=_day(given["until"]),
        by=given["by"],
        text=given["text"],
        corrected=bool(given["corrected"]),
    )


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


def context(session: Session, args: Mapping[str, str], voice: Voice) -> dict[str, Any]:
    """Return what the template shows, ready made."""
    log, search = session.view.log, search_of(args)
    rows = found(log, search)
    asked = {name: args.get(name, "").strip()[:80] for name in ASKED}
    query = {name: told for name, told in asked.items() if told}
    last = max(0, (len(rows) - 1) // PAGE_ROWS)
    number = args.get("page", "")
    page = min(int(number), last) if number.isascii() and number.isdigit() and len(number) < 7 else 0
    kept = session.building.store.log
    chosen = kept.by_id.get(args.get("row", "")[:64])
    return {
        "building": session.plan.name,
        "on": voice.day(session.on),
        "version": session.version,
        "asked": asked,
        "query": urlencode(query),
        "summary": voice.many("{number} row found", "{number} rows found", len(rows)),
        "all_rows": len(log.rows),
        "units": list(session.plan.units),
        "kinds": [(kind, kind_name(kind, voice)) for kind in KINDS],
        "rows": [_row(log, row, voice) for row in rows[page * PAGE_ROWS : (page + 1) * PAGE_ROWS]],
        "page": page,
        "pages": last + 1,
        "next": urlencode(query | {"page": str(page + 1)}) if page < last else "",
        "before": urlencode(query | {"page": str(page - 1)}) if page else "",
        "form": _form(chosen, voice)
        if chosen and not session.building.store.log.corrected_by(chosen.id)
        else None,
    }


def _row(log: Log, row: Record, voice: Voice) -> dict[str, Any]:
    told = describe(row, voice)
    return {
        "id": row.id,
        "day": voice.day(row.when),
        "unit": row.unit,
        "kind": kind_name(row.kind, voice),
        "told": told,
        "note": "" if row.note and row.note[:20] in told else row.note,
        "by": row.by,
        "gone": bool(log.corrected_by(row.id)),
    }


def _form(row: Record, voice: Voice) -> dict[str, Any]:
    """Return the form that corrects a row: its fields with what they hold now."""
    return {
        "row": row.id,
        "title": f"{row.unit}, {voice.day(row.when)}: {describe(row, voice)}",
        "fields": to_fields(row),
        "changes": CHANGED[row.kind],
        "methods": [(method, method_name(method, voice)) for method in METHODS_OF[row.kind]],
        "any_method": row.kind in ("no-access", "turnover", "note"),
        "founds": [(word, FOUND_WORDS[word]) for word in FOUND],
        "levels": [(level, upper(level_name(level, voice))) for level in LEVELS],
        "signs": [(*sign_choice(sign, voice), sign in row.evidence) for sign in EVIDENCE],
    }


PAGE = Page(PATH, "Records", "records", routes=add_records, in_bar=False, desk=True)
