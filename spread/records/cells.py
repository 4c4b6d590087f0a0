"""How a record looks as one line of ``records.csv``, and how cells are made safe for spreadsheets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from spread.records.kinds import EVIDENCE, FIELDS, Record

FREE_TEXT = ("unit", "by", "note")
"""Fields whose words we do not choose, so the ones that could start like a formula."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
_GUARD = "'"


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
    """Return a record as plain text by field, as a form would send it (not guarded)."""
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
    }


def to_line(fields: Mapping[str, str], columns: Sequence[str] = FIELDS) -> str:
    r"""Return one line of the file, quoted as RFC 4180 says, ending in ``\n``.

    Parameters
    ----------
    fields
        Plain text by field, from :func:`to_fields`.
    columns
        Order of the columns in the file.
    """
    cells = []
    for column in columns:
        text = guard(fields[column]) if column in FREE_TEXT else fields[column]
        # The name of a superseded row is always quoted: cut short by a power cut it leaves an open
        # quote, and never the shorter name of some other row.
        quoted = any(mark in text for mark in '",\r\n') or (column == "supersedes" and text)
        cells.append('"' + text.replace('"', '""') + '"' if quoted else text)
    return ",".join(cells) + "\n"


HEADER = ",".join(FIELDS) + "\n"
