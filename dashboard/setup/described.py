"""What the set-up page sent: a list, a file or a plan with its corrections, and what the page shows of it."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dashboard.setup.drawing import floor_drawing, numbered_checks
from dashboard.web.asked import answers_sent, asked, asked_of_outlines, kept_in, rows_shown, table_sent
from spread.errors import SpreadError
from spread.outlines.opening import is_outlines, open_outlines
from spread.outlines.reading import MOST_FLOORS, read_outlines
from spread.plan.drawing.reading import parse_unit_list
from spread.plan.editing import apply_edits
from spread.plan.geojson import parse_plan, plan_text
from spread.plan.list_file import list_text
from spread.plan.listing import clean_list, list_from_form
from spread.plan.model import Plan
from spread.plan.unit_list import choose_layout, draw_plan
from spread.records.log import Log
from spread.tables.answers import Answers
from spread.tables.moves import read_moves
from spread.tables.notes import Notes
from spread.tables.roll import Roll, roll_of
from spread.words.tables import rows_left_out

MOST_EDITS = 200
MOST_UNITS = 2_000
"""Units that the page draws; a longer list is drawn by ``spread draw``."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a request describes: the plan after its corrections, and how it came about."""

    plan: Plan
    text: str
    clean: str
    layout: str
    why: str


def told(sent: Mapping[str, Any], firm: Path) -> dict[str, Any]:
    """Return what the page shows next: what must be said first of a file, or the plan.

    Raises SpreadError with every problem of the first step that has any.
    """
    if sent.get("file") and is_outlines(*_table_of(sent)[:2]):
        return _outlined(sent, firm)
    read = roll_sent(sent, firm)
    if read is None:
        return answer(drawn_from(sent))
    roll, moves, _ = read
    questions = tuple(dict.fromkeys((*roll.questions, *moves.questions)))
    reply = asked(questions, roll.table, roll.grid)
    if questions:
        return reply
    drawn = drawn_from({**sent, "list": roll.text, "file": None, "form": None})
    return reply | answer(drawn) | {"roll": rows_left_out(roll.left_out), "moves": rows_shown(moves)}


def _outlined(sent: Mapping[str, Any], firm: Path) -> dict[str, Any]:
    """Return what must be said first of a file of outlines, or its plan; the page sends that back."""
    data, file, _ = _table_of(sent)
    outlined = read_outlines(
        open_outlines(data, file), answers_sent(sent, kept_in(firm)), name=_name_of(sent), file=file
    )
    reply = asked_of_outlines(outlined.questions)
    if outlined.plan is None:
        return reply
    again = {
        **sent,
        "file": None,
        "plan": plan_text(outlined.plan),
        "plan_floors": list(outlined.plan.floors),
    }
    notes = [str(problem) for problem in outlined.notes]
    return reply | answer(drawn_from(again)) | {"plan": again["plan"], "notes": notes}


def _plan_sent(sent: Mapping[str, Any]) -> Plan:
    """Return the plan that a page got for a file of outlines, and sends back."""
    floors = sent.get("plan_floors")
    known = isinstance(floors, list) and 0 < len(floors) <= MOST_FLOORS
    if not isinstance(floors, list) or not known or not all(isinstance(one, str) for one in floors):
        raise SpreadError.at("The plan", "", "its floors did not arrive", "choose the file again")
    try:
        collection = json.loads(str(sent["plan"]))
    except (ValueError, RecursionError):
        raise SpreadError.at("The plan", "", "it did not arrive whole", "choose the file again") from None
    return parse_plan(collection, floors, name=_name_of(sent), file="The plan")


def _name_of(sent: Mapping[str, Any]) -> str:
    return " ".join(str(sent.get("name") or "").split())[:80] or "New building"


def roll_sent(sent: Mapping[str, Any], firm: Path) -> tuple[Roll, Notes, Answers] | None:
    """Read what a page sent as somebody's own list of units; None if it has our columns, or is a form."""
    if isinstance(sent.get("form"), Mapping) or not (sent.get("file") or sent.get("list")):
        return None
    answers = answers_sent(sent, kept_in(firm))
    roll = roll_of(*_table_of(sent)[:2], answers, _table_of(sent)[2])
    if roll is None:
        return None
    return roll, read_moves(roll.grid, answers, (), Log(), dt.date.today()), answers


def drawn_from(sent: Mapping[str, Any]) -> Drawn:
    """Draw what a page sent: a list, a file or the numbers of a form, and corrections.

    Raises SpreadError with every problem of the first step that has any.
    """
    if sent.get("plan"):
        plan = _plan_sent(sent)
        if len(plan.units) > MOST_UNITS:
            raise _too_many(len(plan.units), "The plan")
        return Drawn(_edited(plan, sent), "", "", "", "Read from the file.")
    text = _list_of(sent)
    units = parse_unit_list(text, name=str(sent.get("file_name") or "The list")[:80])
    if len(units.rows) > MOST_UNITS:
        raise _too_many(len(units.rows), units.source)
    chosen, why = choose_layout(units)
    layout = str(sent.get("layout") or "")
    if layout:
        chosen, why = layout, "Drawn in the layout that you chose."
    plan = draw_plan(units, chosen, name=_name_of(sent), source="The plan")
    return Drawn(_edited(plan, sent), text, clean_list(units), chosen, why[0].upper() + why[1:])


def _too_many(units: int, source: str) -> SpreadError:
    what = f"it has {units} units, and this page draws {MOST_UNITS:,} at most"
    return SpreadError.at(source, "", what, "use the command spread draw")


def _edited(plan: Plan, sent: Mapping[str, Any]) -> Plan:
    edits = sent.get("edits") or []
    if not isinstance(edits, list) or len(edits) > MOST_EDITS or not all(isinstance(e, dict) for e in edits):
        what = f"the corrections are no list of at most {MOST_EDITS}"
        raise SpreadError.at("The plan", "", what, "create the building and go on in its drawing")
    return apply_edits(plan, edits)


def answer(drawn: Drawn) -> dict[str, Any]:
    """Return what the page shows of a drawing."""
    plan = drawn.plan
    checks = numbered_checks(plan)
    return {
        "list": drawn.text,
        "layout": drawn.layout,
        "why": drawn.why,
        "name": plan.name,
        "units": len(plan.units),
        "floors": list(plan.floors),
        "drawings": {floor: floor_drawing(plan, floor, checks) for floor in plan.floors},
        "checks": [
            {
                "number": c.number,
                "words": c.words,
                "stops": c.stops,
                "floor": c.place.floor if c.place else "",
            }
            for c in checks
        ],
        "risers": [riser.id for riser in plan.risers],
    }


def _list_of(sent: Mapping[str, Any]) -> str:
    file, form, text = sent.get("file"), sent.get("form"), sent.get("list")
    if isinstance(file, str) and file:
        return list_text(*_table_of(sent)[:2])
    if isinstance(form, Mapping):
        numbers = [_whole(form.get(key)) for key in ("floors", "on_floor", "first")]
        return list_from_form(numbers[0], numbers[1], first=numbers[2])
    if isinstance(text, str) and text.strip():
        return text
    raise SpreadError.at(
        "The list", "", "there is none yet", "drop a list, fill in the form, or take the sample"
    )


def _table_of(sent: Mapping[str, Any]) -> tuple[bytes, str, str]:
    fallback = "The file" if sent.get("file") else "The list"
    return table_sent({**sent, "pasted": sent.get("list")}, fallback)


def _whole(value: object) -> int:
    text = str(value).strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else -1
