"""What ``spread revisits`` prints: who is to be visited again and when, and what clearance lacks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from types import MappingProxyType
from typing import Any

from spread.decisions.case.followup import FollowUp, revisits
from spread.decisions.case.shortest import WayToClear
from spread.decisions.case.visits import Visit
from spread.report.lines import folded
from spread.trade.clearance import NEVER, SOURCES, ClearanceRule, residual_table
from spread.words import followup as words
from spread.words import say
from spread.words.shortest import holds_if, short, way_data
from spread.words.voice import ENGLISH, Voice, upper

NO_WAYS: Mapping[str, WayToClear] = MappingProxyType({})


def visit_groups(followups: Mapping[str, FollowUp], voice: Voice) -> dict[str, list[tuple[FollowUp, Visit]]]:
    """Return every unit that has a visit under its heading: to treat, to revisit, the rest."""
    titles = {
        "overdue": voice.text("Late: the window is past"),
        "due": voice.text("Due: the window is open"),
        "coming": voice.text("Coming"),
    }
    treat, sign = voice.text("To treat"), voice.text("Doors to look at because of a sign")
    watch = voice.text("Cleared; a visit of the watch is coming")
    again = {titles[status]: group for status, group in revisits(followups.values()).items()}
    others: dict[str, list[tuple[FollowUp, Visit]]] = {treat: [], sign: [], watch: []}
    for one in followups.values():
        if one.visit is None or one.status == "revisit":
            continue
        title = treat if one.status == "treat" else watch if one.state == "cleared" else sign
        others[title].append((one, one.visit))
    for group in others.values():
        group.sort(key=lambda pair: (pair[1].target, pair[0].unit))
    return {treat: others[treat], **again, sign: others[sign], watch: others[watch]}


def revisits_text(
    name: str,
    on: dt.date,
    followups: Mapping[str, FollowUp],
    rule: ClearanceRule,
    voice: Voice = ENGLISH,
    *,
    ways: Mapping[str, WayToClear] = NO_WAYS,
) -> str:
    """Return visits that are late, due and coming, what each unit lacks, and the rule, as plain text.

    ``ways``: the shortest way to clear each unit, where it is to be told.
    """
    lines = [
        f"{name}, {voice.day(on)}",
        voice.text("In follow-up: {states}.", states=words.states_counted(followups, voice)),
        f"{upper(words.revisit_words(followups, voice))}.",
    ]
    groups = visit_groups(followups, voice)
    for title, group in groups.items():
        if group:
            lines += ["", f"{title} ({len(group)})"]
            lines += [line for one, visit in group for line in _unit(one, visit, on, ways, voice)]
    if not any(groups.values()):
        lines += ["", voice.text("Nobody has to be visited again.")]
    open_ = [one for one in followups.values() if one.state == "not cleared" and one.visit is None]
    if open_:
        told = voice.text("Not cleared; doors to look at again, with no visit window")
        lines += ["", f"{told} ({len(open_)})"]
        lines += [line for one in open_ for line in _not_cleared(one, ways, voice)]
    if any(way.earliest is not None for way in ways.values()):
        lines += ["", folded(holds_if(voice))]
    law = voice.term("line", NEVER)
    lines += ["", voice.text("The rule"), _wrap(words.rule_words(rule, voice)), _wrap(law)]
    return "\n".join(lines)


def revisits_data(
    name: str,
    on: dt.date,
    followups: Mapping[str, FollowUp],
    rule: ClearanceRule,
    *,
    ways: Mapping[str, WayToClear] = NO_WAYS,
) -> dict[str, Any]:
    """Return the same, ready for JSON: every unit that ever was in follow-up."""
    return {
        "building": name,
        "on": on.isoformat(),
        "rule": {**asdict(rule), "monitors": list(rule.monitors), "words": words.rule_words(rule, ENGLISH)},
        "sources": dict(SOURCES),
        "never": NEVER,
        "units": [
            words.followup_data(one) | {"shortest": way_data(ways[one.unit]) if one.unit in ways else None}
            for one in followups.values()
            if one.since is not None
        ],
        "residual": {
            "words": "chance still infested after 1 to 4 clean periods, by the chance before them "
            "(one unit alone, interceptors under all legs, a trace of survivors)",
            "table": {f"{prior:g}": list(row) for prior, row in residual_table().items()},
        },
    }


def _unit(
    one: FollowUp, visit: Visit, on: dt.date, ways: Mapping[str, WayToClear], voice: Voice
) -> Sequence[str]:
    late = f", {words.days_late((on - visit.latest).days, voice)}" if visit.status == "overdue" else ""
    first, last = voice.day(visit.earliest), voice.day(visit.latest)
    window = voice.text("{first} to {last}", first=first, last=last)
    told = f"{words.visit_kind(visit.kind, voice)}: {voice.day(visit.target)} ({window}){late}"
    chance = voice.text("chance {chance}", chance=voice.percent(one.chance, 1))
    lines = [
        folded(f"{one.unit}  {told}", "  - ", "     "),
        _wrap(f"{words.opening(one, voice)}, {chance}. {say(visit, voice)}"),
    ]
    if one.lacks:
        lines.append(_wrap(voice.text("Lacks: {lacks}.", lacks=_lacks(one, voice))))
    return [*lines, *_way(one, ways, voice), *map(_wrap, words.notes(one, voice))]


def _way(one: FollowUp, ways: Mapping[str, WayToClear], voice: Voice) -> list[str]:
    way = ways.get(one.unit)
    return [] if way is None else [_wrap(voice.text("Shortest way: {way}", way=short(way, voice)))]


def _lacks(one: FollowUp, voice: Voice) -> str:
    return "; ".join(say(lack, voice) for lack in one.lacks)


def _not_cleared(one: FollowUp, ways: Mapping[str, WayToClear], voice: Voice) -> Sequence[str]:
    told = upper(voice.text("{sign} was followed by two clear looks.", sign=say(one.sign, voice)))
    lacks = voice.text("To be cleared it lacks: {lacks}.", lacks=_lacks(one, voice))
    chance = voice.text("chance {chance}", chance=voice.percent(one.chance, 1))
    return [f"  - {one.unit}  {chance}", _wrap(f"{told} {lacks}"), *_way(one, ways, voice)]


def _wrap(text: str) -> str:
    return folded(text, "     ")
