"""What ``spread duties`` prints: what is owed by when, because of which record, and where it stands."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

from spread.building import Building
from spread.decisions.duties.deadlines import When, day_of
from spread.decisions.duties.owed import NOTE_WORDS, WEEKS, Duty, duties, storeys_of
from spread.trade.rule_set import ALWAYS_SAY, STEPS, EntryNotice, Keep, Origin, RuleSet
from spread.weeks import speak_date

WIDTH = 100
SOON_DAYS = 6
"""What falls due today or up to so many days later is due this week."""
AT_THE_DOOR = ("inspect", "begin-treatment")
"""Steps done in a unit, listed before those on paper, which only a note proves."""
GROUPS = {
    "overdue": "Overdue: no row proves it",
    "cannot": "Not done for want of access (still owed)",
    "week": "Due this week",
    "later": "Due later",
    "undated": "Owed, without a date in the rule",
    "done": "Done",
}
_NOTE_OF_STEP = {step: word for word, step in NOTE_WORDS.items()}


def duties_text(building: Building, rules: RuleSet, on: dt.date) -> str:
    """Return what a rule set asks for in a building on a day, grouped by how soon, as plain text."""
    owed = duties(building.log, building.contacts, rules, on)
    lines = [
        f"{building.name}, {speak_date(on)}",
        _wrap(f"Rules: {rules.title} ({rules.authority}; {rules.text}; {rules.text_date}).", ""),
    ]
    why_none = _why_none(building, rules, owed)
    if why_none:
        lines += ["", _wrap(why_none, "")]
    groups = group(owed, on)
    lines += [part for key, title in GROUPS.items() for part in _group(title, groups[key], on)]
    if any(duty.of == "neighbours" and duty.status != "done" for duty in owed):
        lines += ["", "Words for the notice to a neighbour", _wrap(neighbour_notice(rules))]
    lines += _general(rules)
    lines += ["", _wrap(f"Events of the last {WEEKS} weeks are counted. {ALWAYS_SAY}", "")]
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
                **_origin(rules.neighbours.origin),
            },
            "notices": [_notice(notice) for notice in rules.notices],
            "records": [{"keep": k.what, "years": k.years, **_origin(k.origin)} for k in rules.keep],
            "notes": list(rules.notes),
            "left_out": list(rules.left_out),
        },
        "duties": [{"group": key, **_duty(duty)} for key in GROUPS for duty in groups[key]],
        "neighbour_notice": neighbour_notice(rules),
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


def neighbour_notice(rules: RuleSet) -> str:
    """Return words for a neighbour's notice of an inspection.

    They name no unit and nobody who reported, and no rule set here demands more.
    """
    lead = next((n.lead for n in rules.notices if "inspect" in n.before and n.of != "source"), None)
    ahead = f" You get notice of the day at least {lead} before." if lead else ""
    return (
        "Homes in this part of the building are to be inspected for bed bugs, and yours is one of them. "
        f"This does not mean that any were found in your home.{ahead}"
    )


def _group(title: str, owed: Sequence[Duty], on: dt.date) -> list[str]:
    """Write one group: under what a rule asks for and where it stands, a line a unit."""
    if not owed:
        return []
    lines = ["", f"{title} ({len(owed)})"]
    asked: dict[tuple[str, str, str], list[Duty]] = {}
    for duty in owed:
        asked.setdefault((duty.step, duty.of, duty.event), []).append(duty)
    for same in sorted(asked.values(), key=lambda same: same[0].step not in AT_THE_DOOR):
        lines.append(_wrap(_asked(same[0])))
        lines += [
            _wrap(f"{_where_it_stands(duty, on)}. {_because(duty)}", f"    {duty.unit:<6} ") for duty in same
        ]
    return lines


def _asked(duty: Duty) -> str:
    step = STEPS[duty.step]
    text = step[0].upper() + step[1:] + (" neighbours" if duty.of == "neighbours" else "")
    text += f", {duty.when_words}" if duty.when_words else ""
    text += f", by {duty.who}" if duty.who else ""
    text += f". Source: {duty.origin}."
    if duty.notice:
        text += (
            f" Notice of entry {duty.notice}: 'spread notices BUILDING --unit {duty.unit} --kind entry "
            "--when DAY -o OUT' writes it."
        )
    if duty.status != "done" and duty.step not in AT_THE_DOOR:
        text += f" A note that begins with '{_NOTE_OF_STEP[duty.step]}:' proves it."
    return text


def _where_it_stands(duty: Duty, on: dt.date) -> str:
    by = f"by {speak_when(duty.due)}" if duty.due is not None else ""
    if duty.status == "done":
        done = f"{by}, done{' late' if duty.late else ''}: row {duty.proof}"
        return done.removeprefix(", ").capitalize() if not by else done
    text = by or "No date"
    if duty.late and duty.due is not None:
        days = (on - day_of(duty.due)).days
        text += f", {days} day{'s' if days > 1 else ''} late"
    if duty.attempts:
        tried = "once" if len(duty.attempts) == 1 else f"{len(duty.attempts)} times"
        text += f", tried {tried} without access ({_rows(duty.attempts)})"
    if duty.notice_proof:
        text += f", notice of entry given (row {duty.notice_proof})"
    elif duty.notice_by is not None and duty.notice_by >= on:
        text += f", notice of entry by {speak_date(duty.notice_by)}"
    return text


def _because(duty: Duty) -> str:
    more = f" and {len(duty.because) - 1} more" if len(duty.because) > 1 else ""
    place = f"{duty.place}; " if duty.place else ""
    return f"Because: {place}{duty.because_words}{more} ({_rows(duty.because)})."


def _rows(ids: Sequence[str]) -> str:
    shown = ", ".join(ids[:4]) + (" ..." if len(ids) > 4 else "")
    return f"row{'s' if len(ids) > 1 else ''} {shown}"


def speak_when(when: When) -> str:
    """Return a day or a moment as people read it."""
    return speak_date(day_of(when)) + (f" {when:%H:%M}" if isinstance(when, dt.datetime) else "")


def _general(rules: RuleSet) -> list[str]:
    lines = [f"- Notice of entry {_notice_words(n)}: {n.origin}." for n in rules.notices]
    lines += [f"- Keep {_keep_words(keep)}: {keep.origin}." for keep in rules.keep]
    if rules.dogs is not None:
        counts = "counts" if rules.dogs_count else "does not count"
        lines.append(f"- A dog team's look {counts} as an inspection: {rules.dogs[1]}. It clears no unit.")
    lines += [f"- {note}" for note in rules.notes]
    lines += [f"- Left out, because too little is known of it: {field}" for field in rules.left_out]
    return ["", "Besides", *(_wrap(line[2:], "  - ") for line in lines)] if lines else []


def _notice_words(notice: EntryNotice) -> str:
    steps = " or ".join(STEPS[step] for step in notice.before)
    of = {"all": "", "source": " the reported unit", "neighbours": " neighbours"}[notice.of]
    return f"at least {notice.lead} before you {steps}{of}"


def _keep_words(keep: Keep) -> str:
    return keep.what if keep.years is None else f"{keep.what} for {keep.years} years"


def _applies(building: Building, rules: RuleSet) -> bool:
    return rules.applies_to(building.contacts.number_of_nodes(), storeys_of(building.contacts))


def _why_none(building: Building, rules: RuleSet, owed: Sequence[Duty]) -> str:
    if rules.applies is not None and not _applies(building, rules):
        least = rules.applies
        return (
            f"These rules do not apply here: they are for buildings of {least.least_units} units and "
            f"{least.least_storeys} storeys or more ({least.origin})."
        )
    if not rules.deadlines:
        return "This rule set names nothing that is due by a record."
    around = rules.neighbours
    if around is not None and building.contacts.number_of_nodes() < around.least_units:
        return f"Neighbours are not asked for in buildings with fewer than {around.least_units} units."
    return "" if owed else "Nothing is due: no record of these weeks starts a duty under these rules."


def _duty(duty: Duty) -> dict[str, Any]:
    return {
        "unit": duty.unit,
        "step": duty.step,
        "of": duty.of,
        "event": duty.event,
        "due": None if duty.due is None else duty.due.isoformat(),
        "when": duty.when_words,
        "who": duty.who,
        "status": duty.status,
        "late": duty.late,
        "because": list(duty.because),
        "because_words": duty.because_words,
        "place": duty.place,
        "proof": duty.proof,
        "attempts": list(duty.attempts),
        "notice": duty.notice,
        "notice_by": None if duty.notice_by is None else duty.notice_by.isoformat(),
        "notice_proof": duty.notice_proof,
        **_origin(duty.origin),
    }


def _notice(notice: EntryNotice) -> dict[str, Any]:
    return {
        "before": list(notice.before),
        "of": notice.of,
        "amount": notice.lead.amount,
        "in": notice.lead.counted_in,
        **_origin(notice.origin),
    }


def _origin(origin: Origin) -> dict[str, str]:
    return {"source": origin.source, "read": origin.read, "confidence": origin.confidence}


def _wrap(text: str, lead: str = "  ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead))
