"""Programmes side by side, in words, as JSON and as CSV."""

from __future__ import annotations

import csv
import io
import math
import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from spread.programmes.drivers import Tornado
from spread.programmes.figures import Figure, Share, Solved
from spread.programmes.optimise import Point, Search
from spread.programmes.pairs import BreakEven, Pair
from spread.programmes.results import Comparison, Outcome

NAMES = {
    "infested at the end": "Units infested at the end",
    "infested unit-weeks": "Infested unit-weeks",
    "new units infested": "Units newly infested",
    "units found": "Units found infested",
    "relapses": "Found again within 26 weeks of closing",
    "closed while infested": "Closed though bugs were left",
    "false finds": "Treated by mistake",
    "false alerts": "False alerts of dogs",
    "visits": "Visits",
    "hours": "Technician hours",
    "cost": "Cost",
    "cost with what is left": "Cost, and treating what is left",
}
"""Figures of the table, in order."""

SURVEY_NOTE = (
    "A survey by interview, brief look and interceptors is taken to last the published 14.4 minutes a unit "
    "(Wang et al. 2016)\nunless you give your own; by the minutes this package takes for its parts it would "
    "last 35, and surveys would lose by that."
)
"""Said wherever such surveys are compared: it decides between them and ranked doors."""
LINE = 100
"""Letters a line."""


def compare_text(
    comparison: Comparison, building: str, on: object, *, doubt: str = "", pace: str = ""
) -> str:
    """Return the comparison as text.

    Parameters
    ----------
    comparison
        From :func:`spread.programmes.results.summarise`.
    building
        Its name.
    on
        The day the runs start from.
    doubt
        What the fit says of itself where it is not good enough; empty where it is.
    pace
        How fast the simulation spreads beside published buildings, in words.
    """
    lines = [
        f"{building}: {_many(len(comparison.outcomes), 'programme')} over {comparison.weeks} weeks from {on}",
        f"{comparison.runs} runs each from the joint posterior, every programme in the same futures."
        + (
            f" Stopped early: {comparison.asked} were asked for."
            if comparison.runs < comparison.asked
            else ""
        ),
        "Median (the middle nine tenths of the runs); +- is the Monte Carlo error of the median.",
    ]
    if doubt:
        lines.append(doubt)
    for outcome in comparison.outcomes:
        lines += ["", *outcome_lines(outcome, comparison)]
    reference = comparison.of(comparison.reference)
    if len(comparison.outcomes) > 1:
        lines += ["", f"Against {reference.name} (same futures):"]
        others = [outcome for outcome in comparison.outcomes if outcome is not reference]
        pairs = [comparison.pair(outcome.key, reference.key) for outcome in others]
        lines += [
            f"  {outcome.name}: {pair_words(pair, comparison.currency)}"
            for outcome, pair in zip(others, pairs, strict=True)
        ]
        lines += ["", "Where money turns the answer:"]
        lines += [f"  {line}" for even in comparison.break_even for line in even_words(even, comparison)]
        lines += ["", "Regret (against the best choice of each future, mean):"]
        lines += [
            f"  {comparison.of(r.key).name}: {comparison.currency} {r.cost.mean:,.0f}, "
            f"{r.bug_weeks.mean:,.0f} infested unit-weeks; cheapest in {as_share(r.best_in_cost)}, "
            f"fewest bugs in {as_share(r.best_in_bugs)}"
            for r in comparison.regrets
        ]
    lines += [
        "",
        "Bands hold what is not known of the building (levels and rates) and chance; sensitivities,",
        "treatment effects and prices are held at their central values.",
        *textwrap.wrap(pace, LINE),
    ]
    if any(outcome.hours_by_kind["surveys"].mean > 0.0 for outcome in comparison.outcomes):
        lines.append(SURVEY_NOTE)
    return "\n".join(lines)


def outcome_lines(outcome: Outcome, comparison: Comparison) -> list[str]:
    """Return one programme's figures as lines."""
    lines = [outcome.name, f"  {outcome.words}"] if outcome.words else [outcome.name]
    for name, label in NAMES.items():
        shown = outcome.figures[name]
        if name == "false alerts" and shown.mean == 0.0:
            continue
        unit = f"{comparison.currency} " if name.startswith("cost") else ""
        lines.append(f"  {label:<42}{unit}{as_figure(shown)}")
    parts = [
        f"{kind} {figure.mean / outcome.figures['cost'].mean:.0%}"
        for kind, figure in outcome.cost_by_kind.items()
        if figure.mean > 0.0
    ]
    lines.append(f"  {'Where the money goes':<42}{', '.join(parts)}")
    lines.append(f"  {'No unit infested by week ' + str(comparison.by_week):<42}{as_share(outcome.nil_by)}")
    lines.append(f"  {'None infested at the end':<42}{as_share(outcome.nil_at_end)}")
    weeks = outcome.weeks_to_nil
    if math.isfinite(weeks.median):
        lines.append(f"  {'Weeks until none is infested':<42}{as_figure(weeks)}")
    else:
        lines.append(f"  {'Weeks until none is infested':<42}not reached in half of the runs")
    return lines


def pair_words(pair: Pair, currency: str) -> str:
    """Return in a clause how one programme does against another."""
    if pair.cost_verdict.startswith("cannot"):
        money = f"cost cannot be told apart (cheaper in {as_share(pair.cheaper)})"
    else:
        money = (
            f"{pair.cost_verdict} by {currency} {abs(pair.cost.median):,.0f} "
            f"(cheaper in {as_share(pair.cheaper)})"
        )
    if pair.bug_verdict.startswith("cannot"):
        bugs = f"infested unit-weeks cannot be told apart (fewer in {as_share(pair.fewer_bugs)})"
    else:
        bugs = (
            f"{pair.bug_verdict} infested unit-weeks by {abs(pair.bug_weeks.median):,.0f} "
            f"(fewer in {as_share(pair.fewer_bugs)})"
        )
    return f"{money}; {bugs}"


def even_words(even: BreakEven, comparison: Comparison) -> list[str]:
    """Return in sentences where a programme becomes the cheaper one."""
    name, money = comparison.of(even.key).name, comparison.currency
    lines = []
    if even.survey_price is not None and even.survey_price.value is not None:
        now = f", at {money} {even.survey_price_now:,.2f} now" if even.survey_price_now is not None else ""
        if even.survey_price.value >= 0.01:
            lines.append(
                f"{name} is the cheaper one below {money} {as_solved(even.survey_price)} a planned look{now}."
            )
        else:
            lines.append(f"{name} is the dearer one at any price of a planned look{now}.")
    if even.loss is None or even.loss.value is None:
        lines.append(f"{name} averts no infested unit-weeks on average, so no loss makes it pay.")
    elif even.loss.value <= 0.0:
        lines.append(f"{name} costs less on average, whatever an infested unit-week costs the owner.")
    else:
        lines.append(
            f"{name} pays once an infested unit-week costs the owner {money} {as_solved(even.loss)} or more."
        )
    return lines


def as_figure(figure: Figure) -> str:
    """Return a median with its band and its Monte Carlo error."""
    error = f" +- {as_number(figure.median_error)}" if math.isfinite(figure.median_error) else ""
    return f"{as_number(figure.median)} ({as_number(figure.low90)} to {as_number(figure.high90)}){error}"


def as_share(chance: Share) -> str:
    """Return a share of the runs as a percentage with its error."""
    error = 100 * chance.error
    return f"{100 * chance.chance:.0f} % (+- {f'{error:.0f}' if error >= 0.95 else f'{error:.1f}'})"


def as_solved(answer: Solved) -> str:
    """Return a solved figure with its band."""
    value = f"{answer.value:,.2f}" if answer.value is not None else "unknown"
    if answer.low is None or answer.high is None:
        return value
    return f"{value} ({answer.low:,.2f} to {answer.high:,.2f})"


def as_number(value: float) -> str:
    """Return a figure in whole numbers, a small one with a decimal; an infinite one is never reached."""
    if not math.isfinite(value):
        return "never"
    return f"{value:,.1f}" if abs(value) < 10 and value != round(value) else f"{value:,.0f}"


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def compare_data(comparison: Comparison, building: str, on: object, seed: int) -> dict[str, Any]:
    """Return the comparison as plain data for JSON; what never happens is null."""
    data = plain(asdict(comparison))
    assert isinstance(data, dict)
    for outcome in data["outcomes"]:
        outcome["infested"] = dict(
            zip(("low90", "low50", "median", "high50", "high90"), outcome["infested"], strict=True)
        )
    verdicts = [{"cost_verdict": p.cost_verdict, "bug_verdict": p.bug_verdict} for p in comparison.pairs]
    data["pairs"] = [{**pair, **words} for pair, words in zip(data["pairs"], verdicts, strict=True)]
    return {"building": building, "on": str(on), "seed": seed, **data}


def plain(value: object) -> object:
    """Return arrays as lists, and numbers that are not finite as None."""
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


CSV_FIELDS: Sequence[str] = (
    "programme",
    "figure",
    "mean",
    "median",
    "low50",
    "high50",
    "low90",
    "high90",
    "error",
)


def compare_csv(comparison: Comparison) -> str:
    """Return every figure as a row of CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_FIELDS)
    for outcome in comparison.outcomes:
        rows = {
            **outcome.figures,
            **{f"cost: {kind}": figure for kind, figure in outcome.cost_by_kind.items()},
            **{f"hours: {kind}": figure for kind, figure in outcome.hours_by_kind.items()},
            "weeks to nil": outcome.weeks_to_nil,
        }
        for name, f in rows.items():
            cells = (f.mean, f.median, f.low50, f.high50, f.low90, f.high90, f.error)
            shown = (f"{cell:.6g}" if math.isfinite(cell) else "" for cell in cells)
            writer.writerow([outcome.key, name, *shown])
        for name, chance in (("nil by the week", outcome.nil_by), ("nil at the end", outcome.nil_at_end)):
            writer.writerow(
                [outcome.key, name, f"{chance.chance:.6g}", "", "", "", "", "", f"{chance.error:.6g}"]
            )
    return out.getvalue()


def tornado_text(found: Tornado, currency: str) -> str:
    """Return what drives a programme's figures, the largest swing in infested unit-weeks first."""
    against = f" less {found.reference}" if found.reference else ""
    lines = [
        f"What drives {found.key}{against}, one thing at a time ({found.runs} runs a case, same futures):",
        f"  all central: {found.bug_weeks.mean:,.0f} infested unit-weeks (+- {found.bug_weeks.error:,.0f}), "
        f"{currency} {found.cost.mean:,.0f} (+- {found.cost.error:,.0f}), means",
    ]
    for d in found.drivers:
        low, high = d.bug_weeks
        lines.append(
            f"  {d.name} ({d.low_words} to {d.high_words}): {low.mean:,.0f} to {high.mean:,.0f} infested "
            f"unit-weeks; {currency} {d.cost[0].mean:,.0f} to {d.cost[1].mean:,.0f}"
        )
    return "\n".join(lines)


def search_text(found: Search, building: str, on: object, currency: str) -> str:
    """Return what a search for a programme found: the best, its rivals and the frontier."""
    goal = found.goal
    asked = (
        f"a chance of at least {goal.chance:.0%} that no unit is infested at some time by week {goal.by_week}"
        if goal.chance > 0.0
        else "the lowest cost"
    )
    lines = [f"{building} from {on}: {_many(len(found.points), 'programme')} tried for {asked}."]
    if found.best is None:
        likeliest = max(found.points, key=lambda p: p.nil.chance)
        lines.append(f"None of them reaches that; the likeliest is: {point_words(likeliest, currency)}")
    else:
        lines.append(f"Cheapest that does: {point_words(found.best, currency)}")
        if goal.chance > 0.0 and not found.best.surely:
            lines.append("Its chance is within two Monte Carlo errors of the goal: more runs would tell.")
    if found.rivals:
        lines.append("These reach it too, and so many runs cannot tell their cost from it:")
        lines += [f"  {point_words(point, currency)}" for point in found.rivals[:5]]
    if found.perhaps:
        lines.append("These may reach it too, within two Monte Carlo errors; more runs would tell:")
        lines += [f"  {point_words(point, currency)}" for point in found.perhaps[:5]]
    lines += ["Frontier (nothing tried is both cheaper and has fewer infested unit-weeks):"]
    lines += [f"  {point_words(point, currency)}" for point in found.frontier]
    return "\n".join(lines)


def point_words(point: Point, currency: str) -> str:
    """Return one candidate in a line, means with Monte Carlo errors."""
    return (
        f"{point.programme.name}: {currency} {point.cost.mean:,.0f} (+- {point.cost.error:,.0f}), "
        f"{point.bug_weeks.mean:,.0f} infested unit-weeks (+- {point.bug_weeks.error:,.0f}), "
        f"nil {as_share(point.nil)}"
    )


def search_data(found: Search, building: str, on: object, seed: int) -> dict[str, Any]:
    """Return the search as plain data for JSON."""
    data = plain(asdict(found))
    assert isinstance(data, dict)
    return {"building": building, "on": str(on), "seed": seed, **data}
