"""What the commands print, as plain text and as JSON-ready data."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from spread.building import Building
from spread.contacts.words import ring_of
from spread.decisions.case.revisits import revisit_words
from spread.decisions.doors.contradictions import doubts_of
from spread.decisions.words import as_percent
from spread.records.words import METHOD_WORDS, describe
from spread.trade.biology import LEVEL_NAMES
from spread.trade.clearance import NEVER
from spread.trade.routes import BY_KEY, ROUTES
from spread.trade.rule_set import ALWAYS_SAY
from spread.weeks import speak_date

if TYPE_CHECKING:
    from spread.decisions.doors.ranking import DoorRow
    from spread.decisions.doors.sources import SourceShare
    from spread.decisions.doors.why import Why
    from spread.session import Session

WIDTH = 100
LIKELY = 0.5
"""A unit under this chance is likely clear, so that what bears on it is said too."""
FEW = 3
ORDER_WORDS = {
    "find": "the chance of a find",
    "benefit": "unit-weeks averted per minute at the door",
}
NO_DOOR = "No door to look at: every unit is known infested."
DOOR_COLUMNS = (
    "unit", "status", "rank", "chance", "chance_of_find", "worth_of_find_weeks", "opens", "minutes",
    "weeks_per_hour", "ring", "duty", "duty_due", "duty_status", "duty_rule", "sure",
    "reason_1", "reason_2", "reason_3",
)  # fmt: skip
"""Columns of the CSV of doors; chances 0 to 1, weeks are infested-unit-weeks averted."""
MOST_DOUBTS = 20
"""As many records that do not go together are printed; JSON has all."""


def building_text(building: Building) -> str:
    """Return what ``spread check`` says: what was read, and what the plan leaves out."""
    plan, graph = building.plan, building.contacts
    counts = {route: sum(data["route"] == route for *_, data in graph.edges(data=True)) for route in ROUTES}
    alone = [unit for unit in graph.nodes if graph.degree(unit) == 0]
    rings = [len(ring_of(graph, unit)) for unit in graph.nodes]
    contacts = ", ".join(f"{counts[r]} by {BY_KEY[r].contacts}" for r in ROUTES if counts[r])
    spread_of_rings = f"{min(rings)} to {max(rings)}" if min(rings) < max(rings) else str(min(rings))
    lines = [
        f"{building.name}: {_count(len(plan.units), 'unit')} on {_count(len(plan.floors), 'floor')}, "
        f"read from {plan.source}.",
        f"Contacts: {contacts or 'none'}.",
        f"Neighbours beside, above and below a unit: {spread_of_rings}.",
        f"Log: {_count(len(building.log.rows), 'row')}"
        + (
            f", {speak_date(building.log.current[0].when)} to {speak_date(building.log.current[-1].when)}."
            if building.log.current
            else "; the log is empty, so every unit starts from the building's prior."
        ),
    ]
    if alone:
        lines.append(f"Without any contact: {', '.join(alone[:10])}{' ...' if len(alone) > 10 else ''}.")
    lines += [f"Note: {warning}" for warning in building.warnings]
    doubts = doubts_of(building.log, tuple(building.plan.units))
    lines += [
        textwrap.fill(
            f"Note: {doubt.unit}: {doubt.words} (rows {', '.join(doubt.rows)})",
            WIDTH,
            subsequent_indent="      ",
        )
        for doubt in doubts[:MOST_DOUBTS]
    ]
    if len(doubts) > MOST_DOUBTS:
        lines.append(f"Note: {len(doubts) - MOST_DOUBTS} more of this kind; --json lists them all.")
    lines.append("Nothing stands in the way of a fit.")
    return "\n".join(lines)


def building_data(building: Building) -> dict[str, Any]:
    """Return what ``spread check`` found, ready for JSON."""
    plan, log = building.plan, building.log
    return {
        "building": building.name,
        "units": len(plan.units),
        "floors": list(plan.floors),
        "contacts": {
            route: sum(data["route"] == route for *_, data in building.contacts.edges(data=True))
            for route in ROUTES
        },
        "rows": len(log.rows),
        "warnings": [str(warning) for warning in building.warnings],
        "doubts": [asdict(doubt) for doubt in doubts_of(log, tuple(plan.units))],
    }


def doors_text(session: Session, method: str, top: int, order: str | None = None) -> str:
    """Return the list of next doors with their reasons, then the units to treat and to visit again."""
    order = order or session.building.settings.order
    view = session.view
    low, median, high = view.posterior.infested_count()
    rows = session.doors(method, order)
    due = [row for row in rows if row.status == "look"]
    look = due[:top]
    lines = [
        f"{session.building.name}, {speak_date(view.on)}",
        f"Infested now: about {median} of {len(view.network.units)} units (90 % sure: {low} to {high}). "
        f"Looking by: {METHOD_WORDS[method].lower()}.",
        "",
        f"Next doors, ranked by {ORDER_WORDS[order]}" if due else NO_DOOR,
    ]
    if due and not look:
        lines.append("     None asked for.")
    for row in look:
        rule = f"  [ring: {row.rule}]" if row.rule else ""
        chances = f"chance {as_percent(row.chance)} ({row.sure}), find {as_percent(row.chance_of_find)}"
        lines.append(f"{row.rank:>3}. {row.unit}  {chances}{rule}")
        lines += [_indent(worth_words(row)), *_duty(row), _indent(row.reason)]
    listed = {row.unit for row in look}
    asked = [row for row in due if row.mandatory and row.unit not in listed]
    if asked:
        duty = " or a duty" if any(row.duty for row in asked) else ""
        lines += ["", f"Also asked for by the ring rule{duty}, whatever their rank"]
        for row in asked:
            ring = f"  [ring: {row.rule}]" if row.rule else ""
            chances = f"chance {as_percent(row.chance)}, find {as_percent(row.chance_of_find)}"
            lines.append(f"  - {row.unit}  rank {row.rank}, {chances}{ring}")
            lines += [_indent(worth_words(row)), *_duty(row)]
    told = revisit_words(view.followups)
    for status, title in (
        ("treat", "Treat (known infested, not treated since)"),
        ("revisit", told[0].upper() + told[1:]),
    ):
        group = [row for row in rows if row.status == status]
        if group:
            lines += ["", title]
        for row in group:
            lines.append(f"  - {row.unit}  chance {as_percent(row.chance)} ({row.sure})")
            if row.visit_words:
                lines.append(_indent(f"{row.visit_words}."))
            lines += [*_duty(row), _indent(row.reason)]
    if any(row.duty for row in rows):
        lines += ["", textwrap.fill(f"Duties: {ALWAYS_SAY[0].lower()}{ALWAYS_SAY[1:]}", WIDTH)]
    lines += ["", view.posterior.diagnostics.words]
    return "\n".join(lines)


def listed_doors(rows: Iterable[DoorRow], top: int) -> tuple[DoorRow, ...]:
    """Return the rows that a list of ``top`` doors holds: what a rule asks for is on it whatever its rank."""
    return tuple(row for row in rows if row.status != "look" or row.rank <= top or row.mandatory)


def worth_words(row: DoorRow) -> str:
    """Return what a find saves and what the visit costs: ``a find saves about 11 unit-weeks; ...``."""
    hour = f"{row.per_hour:.1f}" if row.per_hour >= 0.05 else "under 0.1"
    return f"{saves_words(row)}; {minutes_words(row)} at the door; {hour} unit-weeks averted an hour"


def saves_words(row: DoorRow) -> str:
    """Return ``a find saves about 11 unit-weeks``."""
    if row.worth_of_find < 1:
        return "a find saves under 1 unit-week"
    return f"a find saves about {_count(round(row.worth_of_find), 'unit-week')}"


def minutes_words(row: DoorRow) -> str:
    """Return ``10 minutes``: expected, a door that stays shut counted in."""
    return _count(max(1, round(row.minutes)), "minute")


def doors_csv(rows: Iterable[DoorRow]) -> str:
    """Return doors as CSV with a heading (:data:`DOOR_COLUMNS`), a row a door."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(DOOR_COLUMNS)
    for row in rows:
        figures = (row.chance, row.chance_of_find, row.worth_of_find, row.opens, row.minutes, row.per_hour)
        duty = row.duty
        owed = ("", "", "", "") if duty is None else (duty.words, duty.due, duty.status, duty.rule)
        whys = (*row.reasons, "", "", "")[:3]
        told = (row.unit, row.status, row.rank, *(f"{x:.4f}" for x in figures))
        writer.writerow((*told, row.rule, *owed, row.sure, *whys))
    return out.getvalue()


def _duty(row: DoorRow) -> list[str]:
    """Return the line on the look that a rule set asks for, if any."""
    if row.duty is None:
        return []
    return [_indent(f"duty: {row.duty.words} ({row.duty.rule}; {row.duty.because})")]


def why_text(session: Session, why: Why) -> str:
    """Return one unit explained."""
    levels = ", ".join(f"{name} {as_percent(chance)}" for name, chance in why.levels.items())
    lines = [
        f"{why.unit} in {session.building.name}, {speak_date(session.on)}",
        f"Chance of infestation {as_percent(why.chance)} ({why.sure}). Standing: {why.status}.",
        f"Levels: {levels}.",
    ]
    if why.rule:
        lines.append(f"Asked for by the ring rule: {why.rule}.")
    lines += ["", "Why", *(_indent(reason, "- ") for reason in why.reasons)]
    lines += ["", why.sources_title, _indent(why.sources_note), *_shares(why.sources)]
    if why.sources_kind == "came-from" and why.chance < LIKELY:
        note = "Shares of the pressure on it over the last 26 weeks."
        lines += ["", "What bears on it from now on", _indent(note), *_shares(why.pressure[:FEW])]
    if why.doubts:
        lines += ["", "Records that do not go together"]
        lines += [_indent(f"{doubt.words} (rows {', '.join(doubt.rows)})", "- ") for doubt in why.doubts]
    lines += ["", "History"]
    lines += [f"  {speak_date(record.when)}: {describe(record)}" for record in why.history] or [
        "  Nothing on record."
    ]
    if why.followup is not None and why.followup.since is not None:
        lines += ["", f"Follow-up: {why.followup.title}"]
        lines += [_indent(words, "- ") for words in (*why.followup.words, *why.followup.notes)]
        lines.append(_indent(NEVER, "- "))
    lines += ["", f"Next: {why.next_step}"]
    return "\n".join(lines)


def fit_text(session: Session) -> str:
    """Return chance and levels of every unit as a table."""
    posterior = session.view.posterior
    low, median, high = posterior.infested_count()
    lines = [
        f"{session.building.name}, {speak_date(posterior.on)}: about {median} units infested "
        f"(90 % sure: {low} to {high}).",
        posterior.diagnostics.words,
        f"{'unit':<10}{'chance':>8}" + "".join(f"{name:>10}" for name in LEVEL_NAMES),
    ]
    for unit, chance, levels in zip(posterior.units, posterior.chance, posterior.levels, strict=True):
        figures = "".join(f"{as_percent(p, 1):>10}" for p in levels)
        lines.append(f"{unit:<10}{as_percent(chance, 1):>8}{figures}")
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
            "rate_scale": building.rate_scale,
            "history_weeks": building.history_weeks,
        },
    }


def _shares(sources: tuple[SourceShare, ...]) -> list[str]:
    """Return a line a source, long ones folded."""
    return [
        textwrap.fill(
            source.words,
            WIDTH,
            initial_indent=f"  {as_percent(source.share):>4}  ",
            subsequent_indent="        ",
        )
        for source in sources
        if source.share >= 0.005
    ]


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _indent(text: str, bullet: str = "") -> str:
    return textwrap.fill(
        text, WIDTH, initial_indent="     " + bullet, subsequent_indent="     " + " " * len(bullet)
    )
