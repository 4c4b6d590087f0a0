"""The README of a demo building: its scenario in plain words, with the figures of its own log."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping

from demo_buildings.life import SHARE_INFESTED, Life, Scenario
from spread.weeks import speak_date

HOUSES = {
    "ostrel-court": (
        "A five-storey house in the form of an L: two wings on one hallway with eighteen doors a floor, "
        "two stairs, risers between back-to-back units, a laundry in place of unit 108 and one large flat "
        "(507) on the top floor. Beds are drawn in a third of the units."
    ),
    "verrin-tower": (
        "A fifteen-storey tower with fifteen units a floor on both sides of a hallway. Nobody has a "
        "drawing: there is only the list of units, as most managers have it, and the plan is drawn from that."
    ),
    "tolliwick-gardens": (
        "Four walk-up buildings (A to D) of twelve units around a lawn, three storeys, two entries with an "
        "open stair each, two doors a landing, and one laundry building that all share. Two ties between "
        "households were noted by hand in building.toml."
    ),
}


def write_readme(
    folder: str,
    name: str,
    scenario: Scenario,
    life: Life,
    levels: Mapping[str, str],
    *,
    last_day: dt.date,
    weeks: int,
    spread: float,
    seed: int,
) -> str:
    """Return the README of a building."""
    infested = {unit: level for unit, level in levels.items() if level != "clear"}
    known = [unit for unit in infested if unit in life.known]
    kinds = Counter(record.kind for record in life.records)
    low, high = SHARE_INFESTED
    events = ", and the events above" if scenario.source else ""
    lines = [
        f"# {name}",
        "",
        f"**Invented: there is no such building, and no such people or firm.** {HOUSES[folder]}",
        "",
        f"Made by `python -m demo_buildings.make --seed {seed} {folder}`. Use it with "
        f"`--on {last_day.isoformat()}`, the last day of its log.",
        "",
        "## What happened",
        "",
        f"The log holds {weeks} weeks up to {speak_date(last_day)}: {kinds['report']} reports by residents, "
        f"{kinds['inspection']} inspections, {kinds['monitor']} monitor periods, {kinds['treatment']} "
        f"treatments, {kinds['no-access']} visits without access and {kinds['turnover']} moves in or out; then "
        "a notice of entry to every unit, so that a round may go to any door. "
        "The firm works as is usual: it comes when somebody reports, looks at the units left, right, above "
        "and below a find, treats every two weeks until two clean looks, and brings a dog to one floor every "
        "half year. A quarter of a year of the same went by before the log begins.",
        "",
        *_events(scenario, life),
        "## How it was made",
        "",
        "Bugs and people were simulated with the package's own process (`spread.worlds`), but every rate of "
        f"spread was drawn for this building around the central value (log-normal, sigma {spread}), and "
        "residents differ in how readily they report, so the model does not meet its own assumptions. Lives "
        f"were drawn from the seed until one had {100 * low:.0f} to {100 * high:.0f} % of units infested on "
        f"the last day, at least one of them known and two unknown{events}; this was number {life.tries}. "
        "How well the package ranks doors played no part in the choice.",
        "",
        "## The hidden truth (spoiler)",
        "",
        "`truth.csv` has every unit's level on the last day. No code of the product reads it. "
        f"Infested: {len(infested)} of {len(levels)} units ({100 * len(infested) / len(levels):.1f} %), "
        f"{len(known)} of them known to the firm and {len(infested) - len(known)} not.",
    ]
    return "\n".join(lines) + "\n"


def _events(scenario: Scenario, life: Life) -> list[str]:
    if not scenario.source:
        return []
    alert = life.false_alerts[-1]
    missed = [record for record in life.missed if record.unit != scenario.source][-1]
    return [
        "Three things were put in or asked for deliberately:",
        "",
        f"- **A source that is never reported.** Unit {scenario.source} was infested before the log begins. "
        "Its people never report, stay, and are seldom in (nine knocks in ten find nobody); the firm has not "
        "found it, and it is heavy now.",
        f"- **A missed interception.** On {speak_date(missed.when)} a look by {missed.method} said no in "
        f"unit {missed.unit}, which was infested, has been ever since, and is not known.",
        f"- **A false alert.** On {speak_date(alert.when)} the dog alerted in unit {alert.unit}, which was "
        "clear.",
        "",
    ]
