"""What ``spread rates`` and ``spread past`` print, as plain text and as JSON-ready data."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from spread.decisions.doors.learned import NAMES, Range, what_was_learned
from spread.decisions.past import past_of, weekly_chances
from spread.weeks import speak_date

if TYPE_CHECKING:
    from spread.session import Session

WIDTH = 100
STEP = 4
"""Weeks from one printed line of the past to the next."""
NOT_LEARNED = "The rates were held at the general experience: nothing was learned from the log."
NO_PAST = "This fit kept no past."


def rates_text(session: Session) -> str:
    """Return what the log taught, in sentences and a table of prior against posterior."""
    learned = what_was_learned(session.view)
    lines = [f"{session.building.name}, {speak_date(session.on)}: what this building taught us"]
    if learned is None:
        return "\n".join([*lines, NOT_LEARNED])
    lines += ["", *_bullets(learned.words)]
    lines += ["", "Rates a week: median (90 % interval)", f"{'':<28}{'general experience':<30}with this log"]
    for rate in learned.rates:
        mark = "" if rate.learned else "  hardly moved"
        lines.append(f"{NAMES[rate.name]:<28}{_range(rate.prior):<30}{_range(rate.posterior)}{mark}")
    lines += ["", session.view.posterior.diagnostics.words]
    return "\n".join(lines)


def rates_data(session: Session) -> dict[str, Any]:
    """Return the same ready for JSON; ``learned`` is None where the rates were held."""
    learned = what_was_learned(session.view)
    return _head(session) | {"learned": None if learned is None else asdict(learned)}


def past_text(session: Session) -> str:
    """Return the building through the weeks, a line every :data:`STEP` weeks."""
    past = past_of(session.view)
    lines = [f"{session.building.name}, {speak_date(session.on)}: the past as the log lets us see it"]
    if past is None:
        return "\n".join([*lines, NO_PAST])
    lines += ["", *_bullets(past.words)]
    lines += ["", f"{'Week of':<18}{'infested':>8}{'50 % band':>14}{'90 % band':>14}"]
    for week in past.weeks[::-STEP][::-1]:
        monday = speak_date(dt.date.fromisoformat(week.monday))
        half, most = f"{week.lower} to {week.upper}", f"{week.low} to {week.high}"
        lines.append(f"{monday:<18}{week.median:>8}{half:>14}{most:>14}")
    return "\n".join(lines)


def past_data(session: Session) -> dict[str, Any]:
    """Return the whole past ready for JSON, with the chance of every unit in every week."""
    past = past_of(session.view)
    return _head(session) | {
        "past": None if past is None else asdict(past),
        "chances": weekly_chances(session.view),
    }


def _head(session: Session) -> dict[str, Any]:
    return {"building": session.building.name, "on": session.on.isoformat()}


def _bullets(sentences: Sequence[str]) -> list[str]:
    return [
        textwrap.fill(sentence, WIDTH, initial_indent="- ", subsequent_indent="  ") for sentence in sentences
    ]


def _range(span: Range) -> str:
    return f"{span.median:.5f} ({span.low:.5f} to {span.high:.5f})"
