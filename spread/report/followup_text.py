"""What ``spread revisits`` prints: who is to be visited again and when, and what clearance lacks."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from spread.decisions.case.followup import IN_FOLLOWUP, FollowUp, followup_data
from spread.decisions.case.revisits import revisit_words, revisits
from spread.decisions.case.visits import KINDS, Visit, days_late
from spread.decisions.words import as_percent
from spread.trade.clearance import NEVER, SOURCES, ClearanceRule, residual_table
from spread.trade.registry import MONITORS
from spread.weeks import speak_date

WIDTH = 100
TITLES = {
    "overdue": "Late: the window is past",
    "due": "Due: the window is open",
    "coming": "Coming",
}
TREAT, SIGN, WATCH = (
    "To treat",
    "Doors to look at because of a sign",
    "Cleared; a visit of the watch is coming",
)


def _groups(followups: Mapping[str, FollowUp]) -> dict[str, list[tuple[FollowUp, Visit]]]:
    """Return every unit that has a visit under its heading: to treat, to revisit, the rest."""
    again = {TITLES[status]: group for status, group in revisits(followups.values()).items()}
    others: dict[str, list[tuple[FollowUp, Visit]]] = {TREAT: [], SIGN: [], WATCH: []}
    for one in followups.values():
        if one.visit is None or one.status == "revisit":
            continue
        title = TREAT if one.status == "treat" else WATCH if one.state == "cleared" else SIGN
        others[title].append((one, one.visit))
    for group in others.values():
        group.sort(key=lambda pair: (pair[1].target, pair[0].unit))
    return {TREAT: others[TREAT], **again, SIGN: others[SIGN], WATCH: others[WATCH]}


def revisits_text(name: str, on: dt.date, followups: Mapping[str, FollowUp], rule: ClearanceRule) -> str:
    """Return visits that are late, due and coming, what each unit lacks, and the rule, as plain text."""
    told = revisit_words(followups)
    counts = {state: sum(one.state == state for one in followups.values()) for state in IN_FOLLOWUP}
    lines = [
        f"{name}, {speak_date(on)}",
        "In follow-up: " + ", ".join(f"{count} {state}" for state, count in counts.items()) + ".",
        f"{told[0].upper()}{told[1:]}.",
    ]
    groups = _groups(followups)
    for title, group in groups.items():
        if group:
            lines += ["", f"{title} ({len(group)})"]
            lines += [line for one, visit in group for line in _unit(one, visit, on)]
    if not any(groups.values()):
        lines += ["", "Nobody has to be visited again."]
    open_ = [one for one in followups.values() if one.state == "not cleared" and one.visit is None]
    if open_:
        lines += ["", f"Not cleared; doors to look at again, with no visit window ({len(open_)})"]
        lines += [line for one in open_ for line in _not_cleared(one)]
    lines += ["", "The rule", _wrap(rule_words(rule)), _wrap(NEVER)]
    return "\n".join(lines)


def revisits_data(
    name: str, on: dt.date, followups: Mapping[str, FollowUp], rule: ClearanceRule
) -> dict[str, Any]:
    """Return the same, ready for JSON: every unit that ever was in follow-up."""
    return {
        "building": name,
        "on": on.isoformat(),
        "rule": {**asdict(rule), "monitors": list(rule.monitors), "words": rule_words(rule)},
        "sources": dict(SOURCES),
        "never": NEVER,
        "units": [followup_data(one) for one in followups.values() if one.since is not None],
        "residual": {
            "words": "chance still infested after 1 to 4 clean periods, by the chance before them "
            "(one unit alone, interceptors under all legs, a trace of survivors)",
            "table": {f"{prior:g}": list(row) for prior, row in residual_table().items()},
        },
    }


def rule_words(rule: ClearanceRule) -> str:
    """Return the clearance rule in a few sentences."""
    traps = " or ".join(MONITORS[monitor].several for monitor in rule.monitors)
    covers = ", encasements recorded as intact," if rule.encasements else ""
    heavy = (
        f" ({rule.heavy_periods} where it was heavy or traps were displaced)"
        if rule.heavy_periods > rule.periods
        else ""
    )
    return (
        f"Cleared takes {rule.periods} clean {rule.period_days}-day periods{heavy} with "
        f"{traps}, {rule.looks} clean looks by eye (early "
        f"and at the end){covers} all since the last find, treatment, report or alert, and a chance of "
        f"{as_percent(rule.chance, 1)} or less by the model. Then a watch of {rule.watch_months} months. "
        f"Visit windows are for rooms at {rule.room_celsius:g} C. "
        "Change it under [clearance] in building.toml."
    )


def _unit(one: FollowUp, visit: Visit, on: dt.date) -> Sequence[str]:
    late = f", {days_late((on - visit.latest).days)}" if visit.status == "overdue" else ""
    lines = [
        textwrap.fill(
            f"{one.unit}  {KINDS[visit.kind]}: {speak_date(visit.target)} "
            f"({speak_date(visit.earliest)} to {speak_date(visit.latest)}){late}",
            WIDTH,
            initial_indent="  - ",
            subsequent_indent="     ",
        ),
        _wrap(f"{one.title[0].upper()}{one.title[1:]}, chance {as_percent(one.chance, 1)}. {visit.words}"),
    ]
    if one.lacks:
        lines.append(_wrap(f"Lacks: {'; '.join(lack.words for lack in one.lacks)}."))
    lines += [_wrap(note) for note in one.notes]
    return lines


def _not_cleared(one: FollowUp) -> Sequence[str]:
    since = one.since_words[:1].upper() + one.since_words[1:]
    lacks = "; ".join(lack.words for lack in one.lacks)
    return [
        f"  - {one.unit}  chance {as_percent(one.chance, 1)}",
        _wrap(f"{since} was followed by two clear looks. To be cleared it lacks: {lacks}."),
    ]


def _wrap(text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent="     ", subsequent_indent="     ")
