"""What is asked about a firm's own tables, and what is read of them, in words (English: a desk's work)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from spread.tables.answers import Question
from spread.tables.moves import OF_THE_TITLE
from spread.tables.notes import ReadRow

_ASKED = {
    "roll": "what does the column {key!r} mean",
    "occupancy": "is a unit with {key!r} vacant or lived in",
    "building": "is {key!r} this building",
    "columns": "what does the column {key!r} mean",
    "days": "are the days of {key!r} written month first or day first",
    "words": "what does {key!r} mean",
    "method": "which method is {key!r}",
    "level": "which level is {key!r}",
    "units": "which unit is {key!r}; it is none of the plan",
    "list": "which is the {key}",
    "rooms": "what is a room that is called {key!r}",
    "storeys": "which floor is the storey {key!r}",
    "outlines": "which is the {key}",
}
_LIST = {
    "unit of length": "what is one unit of its coordinates",
    "layer": "which layer has the outlines of units",
    "column of codes": "which column has the codes of units",
    "column of floors": "which column has the floor",
    "column of kinds": "which column says what a room is",
    "side where north is": "on which side of the drawing is north",
    "units": "how are rooms gathered into units",
    "units without a code": "how are units called that have no code",
    "codes that stand twice on a floor": "what are areas with one code on one floor",
    "codes that stand on several floors": "what are areas with one code on several floors",
    OF_THE_TITLE: "is the day in the list's title month first or day first",
    "floors": "how is the floor told from a unit's number",
    "vacant since": "since when do units stand empty of which the list does not say it",
}


def asked_words(question: Question) -> str:
    """Return what is asked, without what is suggested."""
    listed = _LIST.get(question.key) if question.topic in ("list", "days", "outlines") else None
    return listed or _ASKED[question.topic].format(key=question.key[:60])


def question_words(question: Question) -> str:
    """Return a question with what is suggested, and where it stands."""
    asked = asked_words(question)
    may_be = f" ({question.suggestion}?)" if question.suggestion else ""
    if not question.rows:
        return f"{asked}{may_be}" + "".join(f"; {one}" for one in question.examples)
    rows = ", ".join(map(str, question.rows))
    return f"{asked}{may_be}: in {question.times} {'row' if question.times == 1 else 'rows'}, as row {rows}"


def read_row_words(row: ReadRow) -> str:
    """Return as what a row is read, or why it is left out."""
    record = row.record
    if record is None:
        return f"left out: {row.why}"
    parts = (record.when.isoformat(), record.unit, record.kind, record.method, record.found, record.level)
    return ", ".join(filter(None, parts))


def rows_left_out(rows: Sequence[tuple[int, str]]) -> str:
    """Return which rows of a list are left out, each with why."""
    told = [f"row {number} ({why})" for number, why in rows[:20]]
    more = f" and {len(rows) - 20} more" if len(rows) > 20 else ""
    return f"Left out: {', '.join(told)}{more}." if rows else "Every row is read."


def left_out_words(left_out: Mapping[str, int]) -> str:
    """Return how many rows are left out and why."""
    if not left_out:
        return "Nothing is left out."
    return "Left out: " + ", ".join(f"{number} ({why})" for why, number in sorted(left_out.items())) + "."
