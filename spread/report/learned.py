"""What ``spread rates`` and ``spread past`` print, as plain text and as JSON-ready data."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from spread.decisions.doors.learned import Range, what_was_learned
from spread.decisions.past import past_of, weekly_chances
from spread.decisions.trust import traits_of
from spread.facts import as_json
from spread.report.lines import folded
from spread.words import ENGLISH, Voice
from spread.words.learned import learned_data, learned_words, not_learned, past_data, past_words, rate_name
from spread.words.trust import pooled_persons, trait_name, trait_range, warning_words, warnings_data

if TYPE_CHECKING:
    from spread.session import Session

STEP = 4
"""Weeks from one printed line of the past to the next."""


def rates_text(session: Session, voice: Voice = ENGLISH) -> str:
    """Return what the log taught, in sentences and a table of prior against posterior."""
    learned = what_was_learned(session.view)
    title = voice.text("what this building taught us")
    lines = [f"{session.building.name}, {voice.day(session.on)}: {title}"]
    if learned is None:
        return "\n".join([*lines, not_learned(voice)])
    lines += ["", *_bullets(learned_words(learned, voice))]
    before, after = voice.text("general experience"), voice.text("with this log")
    lines += [
        "",
        voice.text("Rates a week, or at a move-in: median (90 % interval)"),
        f"{'':<28}{before:<30}{after}",
    ]
    for rate in learned.rates:
        mark = "" if rate.learned else f"  {voice.text('hardly moved')}"
        lines.append(
            f"{rate_name(rate.name, voice):<28}{_range(rate.prior):<30}{_range(rate.posterior)}{mark}"
        )
    lines += ["", voice.text("Who reports, finds and resists: median (90 % interval)")]
    lines.append(f"{'':<42}{before:<26}{after}")
    traits = traits_of(session.view.posterior)
    for trait in traits:
        mark = "" if trait.learned else f"  {voice.text('hardly moved')}"
        told = trait_range(trait, True, voice), trait_range(trait, False, voice)
        lines.append(f"{trait_name(trait, voice):<42}{told[0]:<26}{told[1]}{mark}")
    if pooled := pooled_persons(traits, voice):
        lines += ["", *_bullets([pooled])]
    lines += ["", *_bullets(warning_words(session.warnings(), voice))]
    lines += ["", session.view.posterior.diagnostics.words]
    return "\n".join(lines)


def rates_data(session: Session) -> dict[str, Any]:
    """Return the same ready for JSON; ``learned`` is None where the rates were held."""
    learned = what_was_learned(session.view)
    return _head(session) | {
        "learned": None if learned is None else learned_data(learned),
        "traits": as_json(traits_of(session.view.posterior)),
        "warnings": warnings_data(session.warnings()),
    }


def past_text(session: Session, voice: Voice = ENGLISH) -> str:
    """Return the building through the weeks, a line every :data:`STEP` weeks."""
    past = past_of(session.view)
    title = voice.text("the past as the log lets us see it")
    lines = [f"{session.building.name}, {voice.day(session.on)}: {title}"]
    if past is None:
        return "\n".join([*lines, voice.text("This fit kept no past.")])
    lines += ["", *_bullets(past_words(past, voice))]
    heads = (voice.text("Week of"), voice.text("infested"), voice.text("50 % band"), voice.text("90 % band"))
    lines += ["", f"{heads[0]:<18}{heads[1]:>8}{heads[2]:>14}{heads[3]:>14}"]
    for week in past.weeks[::-STEP][::-1]:
        monday = voice.day(dt.date.fromisoformat(week.monday))
        half, most = (
            voice.text("{low} to {high}", low=low, high=high)
            for low, high in ((week.lower, week.upper), (week.low, week.high))
        )
        lines.append(f"{monday:<18}{week.median:>8}{half:>14}{most:>14}")
    return "\n".join(lines)


def past_json(session: Session) -> dict[str, Any]:
    """Return the whole past ready for JSON, with the chance of every unit in every week."""
    past = past_of(session.view)
    return _head(session) | {
        "past": None if past is None else past_data(past),
        "chances": weekly_chances(session.view),
    }


def _head(session: Session) -> dict[str, Any]:
    return {"building": session.building.name, "on": session.on.isoformat()}


def _bullets(sentences: Sequence[str]) -> list[str]:
    return [folded(sentence, "- ") for sentence in sentences]


def _range(span: Range) -> str:
    return f"{span.median:.5f} ({span.low:.5f} to {span.high:.5f})"
