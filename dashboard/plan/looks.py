"""The five ways to look at the plan, each a class, a short label and a mark for every unit.

A class is one of the six steps of the scale; what a step means is said by :data:`VIEWS`, which makes the
legend. Labels that begin with ``@`` are dates, which the browser writes in its own way.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from dashboard.plan import view
from dashboard.plan.facts import Facts, facts_of, kept_by
from dashboard.words import CLASS_SPANS, CLASS_WORDS
from spread.decisions.doors.told import Sure
from spread.session import Session
from spread.words import ENGLISH, Voice

LIKELY = 0.05
"""Below this chance no level is told: it would be a guess about bugs that are hardly there."""
SOON = 6
"""Days ahead that count as this week."""


@dataclass(frozen=True, slots=True)
class Look:
    """A way to look at the plan.

    ``name``: as the page offers it. ``title``: over the legend. ``say``: before the label, for a screen
    reader. ``steps``: for each class that is used: its number, a word, and what it means.
    """

    name: str
    title: str
    say: str
    steps: tuple[tuple[int, str, str], ...]


VIEWS = {
    "chance": Look(
        "Chance",
        "Chance that the unit is infested today",
        "chance",
        tuple((i, word, span) for i, (word, span) in enumerate(zip(CLASS_WORDS, CLASS_SPANS, strict=True))),
    ),
    "level": Look(
        "Level",
        "How heavy it most likely is, if it is infested",
        "level if infested",
        (
            (0, "not told", "chance under 5%"),
            (1, "trace", "1 to 3 bugs"),
            (2, "low", "4 to 12"),
            (3, "moderate", "13 to 50"),
            (4, "heavy", "over 50"),
        ),
    ),
    "looked": Look(
        "Last look",
        "How long ago somebody looked, or a monitor was read",
        "last looked at",
        (
            (0, "this month", "30 days or less"),
            (1, "1 to 3 months", "31 to 90 days"),
            (2, "3 to 6 months", "91 to 180 days"),
            (3, "6 to 12 months", "181 to 365 days"),
            (4, "over a year", "366 days or more"),
            (5, "never", "no look on record"),
        ),
    ),
    "duty": Look(
        "Duty",
        "What the rule set asks for",
        "duty",
        (
            (0, "nothing", "no rule asks"),
            (1, "done", "a record proves it"),
            (2, "later", "due after this week, or undated"),
            (3, "this week", "due within 7 days"),
            (4, "no entry", "tried, still owed"),
            (5, "overdue", "its day is past"),
        ),
    ),
    "sure": Look(
        "How sure",
        "What the chance rests on",
        "the chance rests on",
        (
            (0, "records", "a find, or looked at well"),
            (1, "some", "a weak look, or a report"),
            (3, "neighbours", "no look lately, or since a treatment"),
            (5, "nothing", "nothing to go on, or not settled"),
        ),
    ),
}
"""The views by key, in the order of the page."""

_SURE: dict[Sure, int] = {
    "find": 0, "looked": 0, "little": 1, "report": 1, "treated": 3, "neighbours": 3, "nothing": 5,
    "unsettled": 5,
}  # fmt: skip
"""The step of each thing that a chance may rest on; its own word is its label."""
_LEVEL_LABELS = ("trace", "low", "moderate", "heavy")


def paint(session: Session, ask: object = None, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return what colours the plan.

    ``ask``: what the page asked for: ``show`` (a key of :data:`VIEWS`) and ``only`` (a filter). It comes from
    the browser; anything not understood is the chance of all units. Returns what
    :func:`dashboard.plan.view.paint` does, and ``show``, ``only``, and ``kept`` (units) under a filter.
    """
    wanted = ask if isinstance(ask, Mapping) else {}
    show = wanted.get("show")
    if not isinstance(show, str) or show not in VIEWS:
        show = "chance"
    painted = view.paint(session, voice)
    if show != "chance":
        marks = {unit: look[2] for unit, look in painted["units"].items()}
        painted["units"] = {
            unit: [*look, marks.get(unit, "")] for unit, look in _looks(session, show).items()
        }
    kept = kept_by(session, wanted.get("only"))
    painted["show"] = show
    painted["only"] = wanted.get("only") if kept is not None else ""
    if kept is not None:
        painted["kept"] = [unit for unit in session.plan.units if unit in kept]
    return painted


def _looks(session: Session, show: str) -> dict[str, tuple[int, str]]:
    facts, on = facts_of(session), session.on
    if show == "level":
        return _levels(session, facts)
    if show == "looked":
        return {unit: _looked(fact, on) for unit, fact in facts.items()}
    if show == "duty":
        return {unit: _duty(fact, on) for unit, fact in facts.items()}
    return {unit: (_SURE[fact.sure], fact.sure) for unit, fact in facts.items()}


def _levels(session: Session, facts: Mapping[str, Facts]) -> dict[str, tuple[int, str]]:
    posterior = session.view.posterior
    likeliest = np.argmax(np.asarray(posterior.levels)[:, 1:], axis=1)
    found = {}
    for unit, level in zip(posterior.units, likeliest, strict=True):
        told = facts[unit].chance >= LIKELY
        found[unit] = (int(level) + 1, _LEVEL_LABELS[int(level)]) if told else (0, "–")
    return found


def _looked(fact: Facts, on: dt.date) -> tuple[int, str]:
    look = fact.standing.last_look
    if look is None:
        return 5, "never"
    days = (on - look.when).days
    step = next((i for i, most in enumerate((30, 90, 180, 365)) if days <= most), 4)
    if days <= 13:
        return step, "today" if days <= 0 else f"{days} d"
    return step, f"{days // 7} wk" if days < 92 else f"{round(days / 30.4)} mo"


def _duty(fact: Facts, on: dt.date) -> tuple[int, str]:
    if fact.duty == "overdue":
        return 5, "overdue"
    if fact.duty == "cannot":
        return 4, "no entry"
    if fact.duty == "due":
        if fact.due is None:
            return 2, "owed"
        return (3 if (fact.due - on).days <= SOON else 2), f"@{fact.due.isoformat()}"
    return (1, "done") if fact.duty == "done" else (0, "–")
