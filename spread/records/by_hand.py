"""Units that somebody put on another day of the week, kept beside the log: they are a plan, and no record."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping

SUFFIX = ".moves"


def file_of(log: str) -> str:
    """Return the name of the file beside a log."""
    return f"{log}{SUFFIX}"


def text_of_moves(moves: Mapping[str, dt.date]) -> str:
    """Return moves as JSON, the days by unit."""
    return json.dumps({unit: day.isoformat() for unit, day in sorted(moves.items())}, ensure_ascii=False)


def moves_of_text(text: str | bytes) -> dict[str, dt.date]:
    """Return the day of each unit that was moved; what cannot be read is left to the plan."""
    try:
        told = json.loads(text)
        return {str(unit): dt.date.fromisoformat(day) for unit, day in told.items()}
    except (ValueError, TypeError, AttributeError, RecursionError):
        return {}
