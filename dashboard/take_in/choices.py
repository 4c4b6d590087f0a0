"""What may be said to a question about a table, as a desk reads it."""

from __future__ import annotations

from collections.abc import Iterator

from spread.records.kinds import FOUND, LEVELS, METHODS_OF
from spread.tables.answers import Question
from spread.tables.meanings import LEAVE_OUT
from spread.tables.wordings import Meaning

_COLUMNS = {
    "words": "what happened",
    "day": "the day",
    "unit": "the unit",
    "method": "how it was looked",
    "level": "how heavy",
    "count": "how many bugs",
    "by": "a work code",
    "note": "a note, kept as text",
    LEAVE_OUT: "leave out, not read",
}
_LOOKED = ("inspection", "monitor")


def options_of(question: Question) -> list[dict[str, str]]:
    """Return what may be said: the value of each choice and its words."""
    if question.topic == "words":
        values = [*dict.fromkeys([*_meanings(), question.suggestion, LEAVE_OUT])]
    else:
        values = list(question.options)
    return [{"value": value, "words": _COLUMNS.get(value, value)} for value in values if value]


def _meanings() -> Iterator[str]:
    for kind, methods in METHODS_OF.items():
        for method in methods:
            if kind not in _LOOKED:
                yield Meaning(kind, method).words
                continue
            for found in FOUND:
                yield Meaning(kind, method, found).words
                if found == "yes":
                    yield from (Meaning(kind, method, found, level).words for level in LEVELS)
    yield Meaning("report", found="yes").words
