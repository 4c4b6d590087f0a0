"""Lines of a terminal and rows of CSV, as every report prints them."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterable, Sequence

WIDTH = 100
"""Letters of a line."""


def folded(text: str, first: str = "", rest: str | None = None) -> str:
    """Fold a text, ``first`` before its first line and ``rest`` (blanks as wide, if None) before others."""
    after = " " * len(first) if rest is None else rest
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=after)


def csv_text(rows: Iterable[Sequence[object]]) -> str:
    """Return rows, the first of them the heads, as CSV."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()
