"""Lines of a terminal and rows of CSV, as every report prints them."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterable, Sequence

from spread.plain import harmless
from spread.records.cells import guard

WIDTH = 100
"""Letters of a line."""


def folded(text: str, first: str = "", rest: str | None = None) -> str:
    """Fold a text, ``first`` before its first line and ``rest`` (blanks as wide, if None) before others."""
    after = " " * len(first) if rest is None else rest
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=after)


def csv_text(rows: Iterable[Sequence[object]]) -> str:
    """Return rows, the first of them the heads, as CSV for people to open.

    Texts that a spreadsheet would run are guarded, and characters that are not seen are told.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    for row in rows:
        writer.writerow([guard(harmless(cell)) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()
