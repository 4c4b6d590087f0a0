"""What the commands print, as plain text and as JSON-ready data."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from spread.facts import as_json
from spread.report.lines import csv_text, folded
from spread.trade.biology import LEVEL_NAMES
from spread.trade.clearance import NEVER
from spread.trade.rule_set import ALWAYS_SAY
from spread.words import ENGLISH, Voice, followup, say
from spread.words.contradictions import doubt_data
from spread.words.doors import (
    access_words,
    because_words,
    door_data,
    order_words,
    reason_text,
    reason_words,
    sure_words,
    visit_words,
    weighed_words,
    worth_words,
)
from spread.words.records import describe
from spread.words.relations import places
from spread.words.terms import level_name, method_name
from spread.words.trust import warning_words, warnings_data
from spread.words.voice import upper
from spread.words.why import (
    bears_note,
    bears_title,
    never_closed,
    source_data,
    sources_note,
    sources_title,
    span_data,
)

if TYPE_CHECKING:
    from spread.decisions.doors.ranking import DoorRow
    from spread.decisions.doors.sources import SourceShare
    from spread.decisions.doors.why import Why
    from spread.decisions.trust import Warned
    from spread.session import Session

LIKELY = 0.5
"""A unit under this chance is likely clear, so that what bears on it is said too."""
FEW = 3
DOOR_COLUMNS = (
    "unit", "status", "rank", "chance", "chance_of_find", "worth_of_find_weeks", "opens", "minutes",
    "weeks_per_hour", "finds_a_knock", "ring", "duty", "duty_due", "duty_status", "duty_rule", "sure",
    "reason_1", "reason_2", "reason_3",
)  # fmt: skip
"""Columns of the CSV of doors; chances 0 to 1, weeks are infested-unit-weeks averted."""


def doors_text(
    session: Session, method: str, top: int, order: str | None = None, voice: Voice = ENGLISH
) -> str:
    """Return the list of next doors with their reasons, then the units to treat and to visit again."""
    order = order or session.building.settings.order
    view = session.view
    low, median, high = view.posterior.infested_count()
    rows = session.doors(method, order)
    due = [row for row in rows if row.status == "look"]
    look = due[:top]
    infested = voice.text(
        "Infested now: about {median} of {units} units (90 % sure: {low} to {high}). Looking by: {method}.",
        median=median,
        units=len(view.network.units),
        low=low,
        high=high,
        method=method_name(method, voice).lower(),
    )
    ranked = voice.text("Next doors, ranked by {order}", order=order_words(order, voice))
    no_door = voice.text("No door to look at: every unit is known infested.")
    head = [f"{session.building.name}, {voice.day(view.on)}", infested, *warned_lines(session, voice)]
    lines = [*head, "", ranked if due else no_door]
    if due and not look:
        lines.append("     " + voice.text("None asked for."))
    for row in look:
        lines.append(f"{row.rank:>3}. {row.unit}  {_chances(row, voice, sure=True)}{_ring(row, voice)}")
        lines += [
            _indent(_visit(row, voice)),
            *_duty(row, voice),
            _reasons(row, voice),
            *_instead(row, voice),
        ]
    listed = {row.unit for row in look}
    asked = [row for row in due if row.mandatory and row.unit not in listed]
    if asked:
        also = (
            voice.text("Also asked for by the ring rule or a duty, whatever their rank")
            if any(row.duty for row in asked)
            else voice.text("Also asked for by the ring rule, whatever their rank")
        )
        lines += ["", also]
        for row in asked:
            rank = voice.text("rank {rank}", rank=row.rank)
            lines.append(f"  - {row.unit}  {rank}, {_chances(row, voice)}{_ring(row, voice)}")
            lines += [_indent(_visit(row, voice)), *_duty(row, voice)]
    for status, title in (
        ("treat", voice.text("Treat (known infested, not treated since)")),
        ("revisit", upper(followup.revisit_words(view.followups, voice))),
    ):
        group = [row for row in rows if row.status == status]
        if group:
            lines += ["", title]
        for row in group:
            chance = voice.text("chance {chance}", chance=voice.percent(row.chance))
            lines.append(f"  - {row.unit}  {chance} ({sure_words(row.sure, voice)})")
            lines += [_indent(f"{visit_words(row, view.on, voice)}.")] if row.visit else []
            lines += [*_duty(row, voice), _reasons(row, voice)]
    if look and (weighed := weighed_words(view.week_costs, voice)):
        lines += ["", folded(weighed)]
    if any(row.duty for row in rows):
        lines += ["", folded(f"Duties: {ALWAYS_SAY[0].lower()}{ALWAYS_SAY[1:]}")]
    lines += ["", view.posterior.diagnostics.words]
    return "\n".join(lines)


def warned_lines(session: Session, voice: Voice) -> list[str]:
    """Return the lines that warn where the log contradicts the model; none where it does not."""
    heading = voice.text("Warning")
    return [folded(f"{heading}: {told}", rest="  ") for told in warning_words(session.warnings(), voice)]


def _chances(row: DoorRow, voice: Voice, *, sure: bool = False) -> str:
    chance = voice.text("chance {chance}", chance=voice.percent(row.chance))
    find = voice.text("find {chance}", chance=voice.percent(row.chance_of_find))
    told = f"{chance} ({sure_words(row.sure, voice)})" if sure else chance
    return f"{told}, {find}"


def _visit(row: DoorRow, voice: Voice) -> str:
    return f"{access_words(row, voice)}; {worth_words(row, voice)}"


def _instead(row: DoorRow, voice: Voice) -> list[str]:
    return [_indent(say(row.instead, voice))] if row.instead else []


def _ring(row: DoorRow, voice: Voice) -> str:
    return f"  [{voice.text('ring: {places}', places=places(row.ring, voice))}]" if row.ring else ""


def _reasons(row: DoorRow, voice: Voice) -> str:
    return _indent(reason_text(row.reasons, voice))


def listed_doors(rows: Iterable[DoorRow], top: int) -> tuple[DoorRow, ...]:
    """Return the rows that a list of ``top`` doors holds: what a rule asks for is on it whatever its rank."""
    return tuple(row for row in rows if row.status != "look" or row.rank <= top or row.mandatory)


def doors_csv(rows: Iterable[DoorRow]) -> str:
    """Return doors as CSV with a heading (:data:`DOOR_COLUMNS`), a row a door."""
    table: list[Sequence[object]] = [DOOR_COLUMNS]
    for row in rows:
        figures = (
            row.chance,
            row.chance_of_find,
            row.worth_of_find,
            row.opens,
            row.minutes,
            row.per_hour,
            row.finds,
        )
        duty = row.duty
        owed = (
            ("", "", "", "") if duty is None else (say(duty, ENGLISH), duty.due or "", duty.status, duty.rule)
        )
        whys = (*reason_words(row.reasons, ENGLISH), "", "", "")[:3]
        told = (row.unit, row.status, row.rank, *(f"{x:.4f}" for x in figures))
        table.append((*told, places(row.ring, ENGLISH), *owed, sure_words(row.sure, ENGLISH), *whys))
    return csv_text(table)


def _duty(row: DoorRow, voice: Voice) -> list[str]:
    """Return the line on the look that a rule set asks for, if any."""
    if row.duty is None:
        return []
    duty = voice.text("duty: {duty}", duty=say(row.duty, voice))
    return [_indent(f"{duty} ({row.duty.rule}; {because_words(row.duty, voice)})")]


def why_text(session: Session, why: Why, voice: Voice = ENGLISH) -> str:
    """Return one unit explained."""
    levels = ", ".join(
        f"{level_name(level, voice)} {voice.percent(chance)}" for level, chance in why.levels.items()
    )
    lines = [
        voice.text(
            "{unit} in {building}, {day}",
            unit=why.unit,
            building=session.building.name,
            day=voice.day(session.on),
        ),
        voice.text(
            "Chance of infestation {chance} ({sure}). Standing: {status}.",
            chance=voice.percent(why.chance),
            sure=sure_words(why.sure, voice),
            status=voice.term("status", why.status),
        ),
        voice.text("Levels: {levels}.", levels=levels),
        *([say(why.heavier, voice)] if why.heavier else []),
        *([apart] if (apart := never_closed(why.followup, why.chance, voice)) else []),
    ]
    if why.ring:
        asked = voice.text("Asked for by the ring rule: {places}.", places=places(why.ring, voice))
        lines.append(asked)
    reasons = reason_words(why.reasons, voice)
    lines += ["", voice.text("Why"), *(_indent(reason, "- ") for reason in reasons)]
    told = why.attribution
    lines += [
        "",
        sources_title(told, voice),
        _indent(sources_note(told, voice)),
        *_shares(told.sources, voice),
    ]
    if why.sources_kind == "came-from" and why.chance < LIKELY:
        lines += ["", bears_title(voice), _indent(bears_note(voice)), *_shares(why.pressure[:FEW], voice)]
    if why.doubts:
        lines += ["", voice.text("Records that do not go together")]
    for doubt in why.doubts:
        rows = voice.text("rows {rows}", rows=", ".join(doubt.rows))
        lines.append(_indent(f"{say(doubt, voice)} ({rows})", "- "))
    lines += ["", voice.text("History")]
    lines += [f"  {voice.day(record.when)}: {describe(record, voice)}" for record in why.history] or [
        "  " + voice.text("Nothing on record.")
    ]
    if why.followup is not None and why.followup.since is not None:
        state = followup.title(why.followup, voice)
        lines += ["", voice.text("Follow-up: {state}", state=state)]
        said = (*followup.sentences(why.followup, voice), *followup.notes(why.followup, voice))
        lines += [_indent(words, "- ") for words in (*said, voice.term("line", NEVER))]
    lines += ["", voice.text("Next: {step}", step=say(why.next_step, voice))]
    return "\n".join(lines)


def doors_data(rows: Iterable[DoorRow], on: dt.date, warnings: Sequence[Warned] = ()) -> list[dict[str, Any]]:
    """Return doors ready for JSON, each with what its chance is to be read with."""
    return [door_data(row, on, warnings) for row in rows]


def why_data(why: Why) -> dict[str, Any]:
    """Return one unit explained, ready for JSON: texts in English, and the facts that they say."""
    history = [
        {
            **asdict(row),
            "when": row.when.isoformat(),
            "evidence": "+".join(sorted(row.evidence)),
            "items": [{**asdict(item), "evidence": "+".join(sorted(item.evidence))} for item in row.items],
        }
        for row in why.history
    ]
    return {
        "unit": why.unit,
        "chance": why.chance,
        "status": why.status,
        "rule": places(why.ring, ENGLISH),
        "sure": sure_words(why.sure, ENGLISH),
        "levels": why.levels,
        "heavier": as_json(why.heavier),
        "reasons": list(reason_words(why.reasons, ENGLISH)),
        "sources": [source_data(source) for source in why.sources],
        "sources_kind": why.sources_kind,
        "sources_title": sources_title(why.attribution, ENGLISH),
        "sources_note": sources_note(why.attribution, ENGLISH),
        "began": span_data(why.began),
        "pressure": [source_data(source) for source in why.pressure],
        "doubts": [doubt_data(doubt) for doubt in why.doubts],
        "history": history,
        "next_step": say(why.next_step, ENGLISH),
        "trail": why.trail,
        "followup": followup.followup_data(why.followup) if why.followup else None,
        "reasons_facts": as_json(why.reasons),
        "ring_facts": as_json(why.ring),
        "attribution_fact": as_json(why.attribution),
        "pressure_facts": as_json(why.pressure),
        "next_step_fact": as_json(why.next_step),
        "sure_fact": why.sure,
    }


def fit_text(session: Session, voice: Voice = ENGLISH) -> str:
    """Return chance and levels of every unit as a table."""
    posterior = session.view.posterior
    low, median, high = posterior.infested_count()
    infested = voice.text(
        "about {median} units infested (90 % sure: {low} to {high}).", median=median, low=low, high=high
    )
    lines = [
        f"{session.building.name}, {voice.day(posterior.on)}: {infested}",
        posterior.diagnostics.words,
        *warned_lines(session, voice),
        f"{voice.text('unit'):<10}{voice.text('chance'):>8}"
        + "".join(f"{level_name(name, voice):>10}" for name in LEVEL_NAMES),
    ]
    for unit, chance, levels in zip(posterior.units, posterior.chance, posterior.levels, strict=True):
        figures = "".join(f"{voice.percent(p, 1):>10}" for p in levels)
        lines.append(f"{unit:<10}{voice.percent(chance, 1):>8}{figures}")
    return "\n".join(lines)


def fit_data(session: Session) -> dict[str, Any]:
    """Return chance and levels of every unit, diagnostics, seed and settings, ready for JSON."""
    posterior = session.view.posterior
    d = posterior.diagnostics
    low, median, high = posterior.infested_count()
    building = session.building.settings
    return {
        "building": session.building.name,
        "on": posterior.on.isoformat(),
        "infested": {"low": low, "median": median, "high": high, "interval": 0.9},
        "warnings": warnings_data(session.warnings()),
        "units": [
            {
                "unit": unit,
                "chance": float(chance),
                "levels": {name: float(p) for name, p in zip(LEVEL_NAMES, levels, strict=True)},
            }
            for unit, chance, levels in zip(posterior.units, posterior.chance, posterior.levels, strict=True)
        ],
        "diagnostics": {
            "good": d.good,
            "words": d.words,
            "chains": d.chains,
            "sweeps": d.sweeps,
            "warmup": d.warmup,
            "seconds": d.seconds,
            "rhat_count": d.rhat_count,
            "rhat_worst_unit": d.rhat_worst_unit,
            "ess_count": d.ess_count,
            "ess_worst_unit": d.ess_worst_unit,
            "nanoseconds_per_unit_week": d.nanoseconds_per_unit_week,
        },
        "seed": posterior.seed,
        "settings": {
            "prevalence": building.prevalence,
            "rate_scale": 1.0,  # no setting any more; the field stays for who reads it
            "history_weeks": building.history_weeks,
        },
    }


def _shares(sources: Iterable[SourceShare], voice: Voice) -> list[str]:
    """Return a line a source, long ones folded."""
    return [
        folded(say(source, voice), f"  {voice.percent(source.share):>4}  ", " " * 8)
        for source in sources
        if source.share >= 0.005
    ]


def _indent(text: str, bullet: str = "") -> str:
    return folded(text, "     " + bullet)
