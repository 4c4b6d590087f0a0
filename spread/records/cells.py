"""How a record looks as one line of ``records.csv``, and how cells are made safe for spreadsheets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from spread.records.items import items_text
from spread.records.jobs import job_text
from spread.records.kinds import EVIDENCE, EXTRA_FIELDS, FIELDS, Record

FREE_TEXT = ("unit", "by", "note")
"""Fields whose words we do not choose, so the ones that could start like a formula."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
_GUARD = "'"
_LAST = ("supersedes", *EXTRA_FIELDS)


def guard(text: str) -> str:
    """Return ``text`` so that a spreadsheet shows it instead of running it.

    A cell that begins with ``= + - @`` or a control character, also behind spaces, gets a leading
    apostrophe (OWASP ASVS 5.0, requirement 1.2.10; CWE-1236). A text that already has apostrophes
    before such a beginning gets one more, so that :func:`unguard` gives back every text exactly.
    """
    return _GUARD + text if _is_risky(text) else text


def unguard(cell: str) -> str:
    """Return the text that :func:`guard` was given."""
    return cell[1:] if cell.startswith(_GUARD) and _is_risky(cell) else cell


def _is_risky(text: str) -> bool:
    return text.lstrip(_GUARD).lstrip(" ").startswith(_FORMULA)


def to_fields(record: Record) -> dict[str, str]:
    """Return a record as plain text by field, as a form would send it (not guarded).

    Fields that not every log has are there only where the record says something in them.
    """
    evidence = [word for word in EVIDENCE if word in record.evidence]
    evidence += sorted(record.evidence.difference(EVIDENCE))
    return {
        "id": record.id,
        "when": record.when.isoformat(),
        "unit": record.unit,
        "kind": record.kind,
        "method": record.method,
        "found": record.found,
        "level": record.level,
        "count": "" if record.count is None else str(record.count),
        "evidence": "+".join(evidence),
        "days": "" if record.days is None else str(record.days),
        "by": record.by,
        "note": record.note,
        "supersedes": record.supersedes,
        **({"items": items_text(record.items)} if record.items else {}),
        **({"job": job_text(record.job)} if record.job else {}),
    }


def to_line(
    fields: Mapping[str, str], columns: Sequence[str] = FIELDS, separator: str = ",", spare: int = 0
) -> str:
    r"""Return one line of the file, quoted as RFC 4180 says, ending in ``\n``.

    Parameters
    ----------
    fields : Plain text by field, from :func:`to_fields`
    columns
        Order of the columns in the file. Those of :data:`~spread.records.kinds.EXTRA_FIELDS` may be
        missing from ``fields``.
    separator, spare : What parts the cells, and empty columns at the right end: those of the file
    """
    cells = []
    for column in columns:
        text = fields.get(column, "") if column in EXTRA_FIELDS else fields[column]
        text = guard(text) if column in FREE_TEXT else text
        # A cell that may end a line is always quoted: cut short by a power cut it leaves an open
        # quote, and never the shorter name of some other row, or fewer items.
        quoted = any(mark in text for mark in ('"', separator, "\r", "\n")) or (column in _LAST and text)
        cells.append('"' + text.replace('"', '""') + '"' if quoted else text)
    return separator.join(cells + [""] * spare) + "\n"


def columns_for(fields: Mapping[str, str], columns: Sequence[str] = ()) -> tuple[str, ...]:
    """Return the columns that a file needs to take one more row.

    ``fields``: plain text by field, from :func:`to_fields`; ``columns``: columns of the file; none for a new
    file.
    """
    has = tuple(columns) or FIELDS
    return (*has, *(name for name in EXTRA_FIELDS if fields.get(name) and name not in has))


def header(columns: Sequence[str]) -> str:
    """Return the first line of a file with these columns."""
    return ",".join(columns) + "\n"


HEADER = header(FIELDS)
