"""What ``spread duties`` prints: what is owed by when, because of which record, and where it stands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from spread.building import Building
from spread.decisions.case.case import case_of
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import STEP_OF, WEEKS, Duty, duties, storeys_of
from spread.facts import as_json
from spread.report.lines import folded
from spread.trade.rule_set import ALWAYS_SAY, EntryNotice, Origin, RuleSet
from spread.words import ENGLISH, Voice, say
from spread.words import duties as words
from spread.words.voice import upper

SOON_DAYS = 6
"""What falls due today or up to so many days later is due this week."""
AT_THE_DOOR = ("inspect", "begin-treatment")
"""Steps done in a unit, listed before those on paper, which only a note proves."""
GROUPS = ("overdue", "cannot", "week", "later", "undated", "done")
NOTE_OF_STEP = {step: method for method, step in STEP_OF.items()}


def duties_text(building: Building, rules: RuleSet, on: dt.date, voice: Voice = ENGLISH) -> str:
    """Return what a rule set asks for in a building on a day, grouped by how soon, as plain text."""
    owed = duties(building.log, building.contacts, rules, on)
    lines = [f"{building.name}, {voice.day(on)}", folded(rules_line(rules, voice))]
    why_none = _why_none(building, rules, owed, voice)
    if why_none:
        lines += ["", folded(why_none)]
    groups = group(owed, on)
    lines += [
        part for key, title in group_names(voice).items() for part in _group(title, groups[key], on, voice)
    ]
    if any(duty.of == "neighbours" and duty.status != "done" for duty in owed):
        lines += [
            "",
            voice.text("Words for the notice to a neighbour"),
            folded(neighbour_notice(rules, voice, calm=_calm(building, owed, on)), "  "),
        ]
    lines += _general(rules, voice)
    counted = voice.text("Events of the last {weeks} weeks are counted.", weeks=WEEKS)
    lines += ["", folded(f"{counted} {voice.term('law', ALWAYS_SAY)}")]
    return "\n".join(lines)


def duties_data(building: Building, rules: RuleSet, on: dt.date) -> dict[str, Any]:
    """Return the same, ready for JSON."""
    owed = duties(building.log, building.contacts, rules, on)
    groups = group(owed, on)
    return {
        "building": building.name,
        "on": on.isoformat(),
        "weeks": WEEKS,
        "rules": {
            "id": rules.id,
            "title": rules.title,
            "authority": rules.authority,
            "place": rules.place,
            "text": rules.text,
            "text_date": rules.text_date,
            "applies": _applies(building, rules),
            "triggers": list(rules.triggers),
            "neighbours": None
            if rules.neighbours is None
            else {
                "set": rules.neighbours.set,
                "across": rules.neighbours.across,
                "least_units": rules.neighbours.least_units,
                **asdict(rules.neighbours.origin),
            },
            "notices": [_notice(notice) for notice in rules.notices],
            "records": [{"keep": k.what, "years": k.years, **asdict(k.origin)} for k in rules.keep],
            "notes": list(rules.notes),
            "left_out": list(rules.left_out),
        },
        "duties": [{"group": key, **_duty(duty)} for key in GROUPS for duty in groups[key]],
        "neighbour_notice": neighbour_notice(rules, ENGLISH, calm=_calm(building, owed, on)),
        "always_say": ALWAYS_SAY,
    }


def group(owed: Iterable[Duty], on: dt.date) -> dict[str, list[Duty]]:
    """Sort duties into :data:`GROUPS`, keeping their order."""
    groups: dict[str, list[Duty]] = {key: [] for key in GROUPS}
    for duty in owed:
        if duty.status in ("overdue", "cannot", "done"):
            key = duty.status
        elif duty.due is None:
            key = "undated"
        else:
            key = "week" if (day_of(duty.due) - on).days <= SOON_DAYS else "later"
        groups[key].append(duty)
    return groups


def group_names(voice: Voice) -> dict[str, str]:
    """Return what each of :data:`GROUPS` is called."""
    return {
        "overdue": voice.text("Overdue: no row proves it"),
        "cannot": voice.text("Not done for want of access (still owed)"),
        "week": voice.text("Due this week"),
        "later": voice.text("Due later"),
        "undated": voice.text("Owed, without a date in the rule"),
        "done": voice.text("Done"),
    }


def rules_line(rules: RuleSet, voice: Voice) -> str:
    """Return which rules a list goes by."""
    return voice.text(
        "Rules: {title} ({authority}; {text}; {day}).",
        title=voice.term("law", rules.title), authority=voice.term("law", rules.authority), text=rules.text,
        day=voice.term("law", rules.text_date),
    )  # fmt: skip


def neighbour_notice(rules: RuleSet, voice: Voice = ENGLISH, *, calm: bool = True) -> str:
    """Return words for a neighbour's notice of an inspection.

    They name no unit and nobody who reported, and no rule set here demands more. They calm only where
    nothing is on record of any of those who get them.
    """
    lead = next((n.lead for n in rules.notices if "inspect" in n.before and n.of != "source"), None)
    told = voice.text(
        "Homes in this part of the building are to be inspected for bed bugs, and yours is one of them."
    )
    if calm:
        told = f"{told} {voice.text('This does not mean that any were found in your home.')}"
    if lead is None:
        return told
    ahead = voice.text("You get notice of the day at least {span} before.", span=words.span(lead, voice))
    return f"{told} {ahead}"


def _calm(building: Building, owed: Iterable[Duty], on: dt.date) -> bool:
    """Whether nothing is on record of any neighbour that is still owed something."""
    units = {duty.unit for duty in owed if duty.of == "neighbours" and duty.status != "done"}
    return all(case_of(building.log.of(unit), unit, on, building.settings.clearance).calm for unit in units)


def _group(title: str, owed: Sequence[Duty], on: dt.date, voice: Voice) -> list[str]:
    """Write one group: under what a rule asks for and where it stands, a line a unit."""
    if not owed:
        return []
    lines = ["", f"{title} ({len(owed)})"]
    asked: dict[str, list[Duty]] = {}
    for duty in owed:
        asked.setdefault(duty.deadline.key, []).append(duty)
    for same in sorted(asked.values(), key=lambda same: same[0].step not in AT_THE_DOOR):
        lines.append(folded(_asked(same[0], voice), "  "))
        for duty in same:
            because = voice.text(
                "Because: {reason} ({rows}).",
                reason=words.reason(duty, voice, more=True), rows=_rows(duty.because, voice),
            )  # fmt: skip
            lines.append(folded(f"{_where_it_stands(duty, on, voice)}. {because}", f"    {duty.unit:<6} "))
    return lines


def _asked(duty: Duty, voice: Voice) -> str:
    asked = [words.asked(duty.deadline, voice), words.terms(duty.deadline, voice)]
    source = words.origin(duty.deadline.origin, voice)
    text = voice.text("{asked}. Source: {source}.", asked=", ".join(filter(None, asked)), source=source)
    if duty.notice:
        text += voice.text(
            " Notice of entry at least {span} before: 'spread notices BUILDING --unit {unit} --kind entry "
            "--when DAY -o OUT' writes it.",
            span=words.span(duty.notice.lead, voice),
            unit=duty.unit,
        )
    if duty.status != "done" and duty.step not in AT_THE_DOOR:
        note = NOTE_OF_STEP[duty.step]
        text += voice.text(" A row of kind note with the method {word} proves it.", word=note)
    return text


def _where_it_stands(duty: Duty, on: dt.date, voice: Voice) -> str:
    parts = []
    if duty.due is not None:
        parts.append(voice.text("by {day}", day=words.moment(duty.due, voice)))
    if duty.status == "done":
        row = {"row": duty.proof}
        done = (
            voice.text("done late: row {row}", **row) if duty.late else voice.text("done: row {row}", **row)
        )
        return ", ".join([*parts, done]) if parts else upper(done)
    parts = parts or [voice.text("No date")]
    if duty.late and duty.due is not None:
        parts.append(words.late((on - day_of(duty.due)).days, voice))
    if duty.attempts:
        parts.append(f"{words.tried(len(duty.attempts), voice)} ({_rows(duty.attempts, voice)})")
    if duty.notice_proof:
        parts.append(voice.text("notice of entry given (row {row})", row=duty.notice_proof))
    elif duty.notice_by is not None and duty.notice_by >= on:
        parts.append(voice.text("notice of entry by {day}", day=voice.day(duty.notice_by)))
    return ", ".join(parts)


def _rows(ids: Sequence[str], voice: Voice) -> str:
    shown = ", ".join(ids[:4]) + (" ..." if len(ids) > 4 else "")
    return voice.text("rows {ids}", ids=shown) if len(ids) > 1 else voice.text("row {ids}", ids=shown)


def _general(rules: RuleSet, voice: Voice) -> list[str]:
    def cited(told: str, origin: Origin) -> str:
        return f"{told}: {words.origin(origin, voice)}."

    lines = [cited(_notice_words(notice, voice), notice.origin) for notice in rules.notices]
    for keep in rules.keep:
        years = {"what": keep.what, "years": keep.years}
        told = (
            voice.text("Keep {what}", **years)
            if keep.years is None
            else voice.text("Keep {what} for {years} years", **years)
        )
        lines.append(cited(told, keep.origin))
    if rules.dogs is not None:
        told = (
            voice.text("A dog team's look counts as an inspection")
            if rules.dogs_count
            else voice.text("A dog team's look does not count as an inspection")
        )
        lines.append(f"{cited(told, rules.dogs[1])} {voice.text('It clears no unit.')}")
    lines += rules.notes
    lines += [
        voice.text("Left out, because too little is known of it: {field}", field=field)
        for field in rules.left_out
    ]
    return ["", voice.text("Besides"), *(folded(line, "  - ") for line in lines)] if lines else []


def _notice_words(notice: EntryNotice, voice: Voice) -> str:
    steps = voice.either([words.step_name(step, voice) for step in notice.before])
    told = {"span": words.span(notice.lead, voice), "steps": steps}
    return {
        "all": voice.text("Notice of entry at least {span} before you {steps}", **told),
        "source": voice.text("Notice of entry at least {span} before you {steps} the reported unit", **told),
        "neighbours": voice.text("Notice of entry at least {span} before you {steps} neighbours", **told),
    }[notice.of]


def _applies(building: Building, rules: RuleSet) -> bool:
    return rules.applies_to(building.contacts.number_of_nodes(), storeys_of(building.contacts))


def _why_none(building: Building, rules: RuleSet, owed: Sequence[Duty], voice: Voice) -> str:
    if rules.applies is not None and not _applies(building, rules):
        least = rules.applies
        return voice.text(
            "These rules do not apply here: they are for buildings of {units} units and {storeys} storeys or "
            "more ({source}).",
            units=least.least_units,
            storeys=least.least_storeys,
            source=words.origin(least.origin, voice),
        )
    if not rules.deadlines:
        return voice.text("This rule set names nothing that is due by a record.")
    around = rules.neighbours
    if around is not None and building.contacts.number_of_nodes() < around.least_units:
        return voice.text(
            "Neighbours are not asked for in buildings with fewer than {units} units.",
            units=around.least_units,
        )
    if owed:
        return ""
    return voice.text("Nothing is due: no record of these weeks starts a duty under these rules.")


def _duty(duty: Duty) -> dict[str, Any]:
    """Return a duty as data: its texts in English, and the facts they say."""
    ahead = duty.notice and words.span(duty.notice.lead, ENGLISH)
    return {
        "unit": duty.unit,
        "step": duty.step,
        "of": duty.of,
        "event": duty.deadline.event,
        "due": as_json(duty.due),
        "when": words.when_due(duty.deadline, ENGLISH),
        "who": duty.deadline.who,
        "status": duty.status,
        "late": duty.late,
        "because": list(duty.because),
        "because_words": say(duty.started, ENGLISH),
        "place": words.place(duty.places, ENGLISH),
        "started": as_json(duty.started),
        "places": as_json(duty.places),
        "within": as_json(duty.deadline.within),
        "proof": duty.proof,
        "attempts": list(duty.attempts),
        "notice": f"at least {ahead} before" if ahead else "",
        "notice_by": as_json(duty.notice_by),
        "notice_proof": duty.notice_proof,
        **asdict(duty.deadline.origin),
    }


def _notice(notice: EntryNotice) -> dict[str, Any]:
    return {
        "before": list(notice.before),
        "of": notice.of,
        "amount": notice.lead.amount,
        "in": notice.lead.counted_in,
        **asdict(notice.origin),
    }
