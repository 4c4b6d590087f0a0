"""Programmes side by side, in words, as JSON and as CSV."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from spread.facts import as_json
from spread.programmes.by_pace import ByPace
from spread.programmes.choice import MATTERS, Choice
from spread.programmes.drivers import Tornado
from spread.programmes.figures import Figure, Share
from spread.programmes.optimise import Point, Search
from spread.programmes.results import Comparison, Outcome
from spread.report.lines import WIDTH, csv_text
from spread.words import ENGLISH, figures, say
from spread.words.choice import bug_verdict, choice_lines, cost_verdict, even_lines, names_of, pair_line
from spread.words.programmes import (
    driver_names,
    figure_names,
    programme_name,
    survey_note,
)


def compare_text(
    comparison: Comparison,
    building: str,
    on: object,
    *,
    choice: Choice | None = None,
    doubt: str = "",
    pace: str = "",
) -> str:
    """Return the comparison as text.

    ``comparison``: from :func:`spread.programmes.results.summarise`. ``on``: the day the runs start from.
    ``choice``: the verdict (:func:`spread.programmes.choice.choice_of`), which stands first.
    ``doubt``: what the fit says of itself where it is not good enough; empty where it is. ``pace``: how fast
    the simulation spreads beside published buildings, in words.
    """
    lines = [
        f"{building}: {_many(len(comparison.outcomes), 'programme')} over {comparison.weeks} weeks from {on}",
        f"{comparison.runs} runs each from the joint posterior, every programme in the same futures."
        + (
            f" Stopped early: {comparison.asked} were asked for."
            if comparison.runs < comparison.asked
            else ""
        ),
    ]
    if doubt:
        lines.append(doubt)
    if choice is not None:
        lines += ["", "Verdict:"]
        told = choice_lines(choice, names_of(comparison, ENGLISH), ENGLISH)
        lines += [
            line
            for one in told
            for line in textwrap.wrap(
                one, WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
            )
        ]
    lines += ["", "Median (the middle nine tenths of the runs); +- is the Monte Carlo error of the median."]
    for outcome in comparison.outcomes:
        lines += ["", *outcome_lines(outcome, comparison)]
    reference = comparison.of(comparison.reference)
    if len(comparison.outcomes) > 1:
        lines += ["", f"Against {reference.name} (same futures):"]
        lines += [
            f"  {o.name}: {pair_line(comparison.pair(o.key, reference.key), comparison.currency, ENGLISH)}"
            for o in comparison.outcomes
            if o is not reference
        ]
        lines += ["", "Where money turns the answer:"]
        lines += [
            f"  {line}" for even in comparison.break_even for line in even_lines(even, comparison, ENGLISH)
        ]
        lines += ["", "Regret (against the best choice of each future, mean):"]
        lines += [
            f"  {comparison.of(r.key).name}: {comparison.currency} {r.cost.mean:,.0f}, "
            f"{r.bug_weeks.mean:,.0f} infested unit-weeks; cheapest in {_share(r.best_in_cost)}, "
            f"fewest bugs in {_share(r.best_in_bugs)}"
            for r in comparison.regrets
        ]
    lines += [
        "",
        "Bands hold chance and what is not known: levels, rates, growth, looks, reports, treatments. Prices",
        "and minutes are held at their central values.",
        *textwrap.wrap(pace, WIDTH),
        *textwrap.wrap(survey_note(comparison, ENGLISH), WIDTH),
    ]
    return "\n".join(lines)


def pace_lines(turning: Sequence[ByPace]) -> list[str]:
    """Return whether the answers turn with the building's pace, as lines."""
    told = [textwrap.wrap(say(fact, ENGLISH), WIDTH - 2, subsequent_indent="  ") for fact in turning]
    return ["", "By the building's pace:", *(f"  {line}" for lines in told for line in lines)] if told else []


def outcome_lines(outcome: Outcome, comparison: Comparison) -> list[str]:
    """Return one programme's figures as lines."""
    lines = [outcome.name, f"  {outcome.words}"] if outcome.words else [outcome.name]
    for name, label in figure_names(ENGLISH).items():
        if name not in outcome.figures:
            continue
        shown = outcome.figures[name]
        if name in ("false alerts", "loss", "put-off") and shown.mean == 0.0:
            continue
        unit = f"{comparison.currency} " if name in MONEY else ""
        lines.append(f"  {label:<42}{unit}{_figure(shown)}")
    parts = [
        f"{kind} {figure.mean / outcome.figures['cost'].mean:.0%}"
        for kind, figure in outcome.cost_by_kind.items()
        if figure.mean > 0.0
    ]
    lines.append(f"  {'Where the money goes':<42}{', '.join(parts)}")
    lines.append(f"  {'No unit infested by week ' + str(comparison.by_week):<42}{_share(outcome.nil_by)}")
    lines.append(f"  {'None infested at the end':<42}{_share(outcome.nil_at_end)}")
    weeks = outcome.weeks_to_nil
    if math.isfinite(weeks.median):
        lines.append(f"  {'Weeks until none is infested':<42}{_figure(weeks)}")
    else:
        lines.append(f"  {'Weeks until none is infested':<42}not reached in half of the runs")
    return lines


def _figure(figure: Figure) -> str:
    """Return a median with its band and its Monte Carlo error."""
    error = figures.error(figure, ENGLISH, "+-")
    return f"{figures.with_band(figure, ENGLISH)}{error and f' {error}'}"


def _share(chance: Share) -> str:
    return figures.share_with_error(chance, ENGLISH, "+-")


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


MONEY = ("cost", "bill", "guarantee", "cost-with-rest", "loss")
"""Figures that are money."""
FIELDS = {
    "new-units": "new units infested", "closed-infested": "closed while infested",
    "infested-at-end": "infested at the end", "cost-with-rest": "cost with what is left",
}  # fmt: skip
"""Figures that files for other programs have under an older name."""


def compare_data(
    comparison: Comparison, building: str, on: object, seed: int, choice: Choice | None = None
) -> dict[str, Any]:
    """Return the comparison as plain data for JSON; what never happens is null."""
    data = plain(asdict(comparison))
    assert isinstance(data, dict)
    for outcome in data["outcomes"]:
        outcome["figures"] = {FIELDS.get(name, name): row for name, row in outcome["figures"].items()}
        outcome["infested"] = dict(
            zip(("low90", "low50", "median", "high50", "high90"), outcome["infested"], strict=True)
        )
    verdicts = [
        {
            "cost_verdict": cost_verdict(pair, ENGLISH),
            "bug_verdict": bug_verdict(pair, ENGLISH),
            "verdicts": {"cost": pair.cost_verdict, "bugs": pair.bug_verdict},
        }
        for pair in comparison.pairs
    ]
    data["pairs"] = [{**pair, **words} for pair, words in zip(data["pairs"], verdicts, strict=True)]
    verdict = {} if choice is None else {"verdict": plain(as_json(choice))}
    return {"building": building, "on": str(on), "seed": seed, **data, **verdict}


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


CSV_FIELDS = ("programme", "figure", "mean", "median", "low50", "high50", "low90", "high90", "error")


def compare_csv(comparison: Comparison) -> str:
    """Return every figure as a row of CSV."""
    table: list[Sequence[object]] = [CSV_FIELDS]
    for outcome in comparison.outcomes:
        rows = {
            **{FIELDS.get(name, name): figure for name, figure in outcome.figures.items()},
            **{f"cost: {kind}": figure for kind, figure in outcome.cost_by_kind.items()},
            **{f"hours: {kind}": figure for kind, figure in outcome.hours_by_kind.items()},
            "weeks to nil": outcome.weeks_to_nil,
        }
        for name, f in rows.items():
            cells = (f.mean, f.median, f.low50, f.high50, f.low90, f.high90, f.error)
            shown = (f"{cell:.6g}" if math.isfinite(cell) else "" for cell in cells)
            table.append([outcome.key, name, *shown])
        for name, chance in (("nil by the week", outcome.nil_by), ("nil at the end", outcome.nil_at_end)):
            table.append([outcome.key, name, f"{chance.chance:.6g}", *[""] * 5, f"{chance.error:.6g}"])
    return csv_text(table)


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
            f"  {driver_names(ENGLISH)[d.name]} ({say(d.low, ENGLISH)} to {say(d.high, ENGLISH)}): "
            f"{low.mean:,.0f} to {high.mean:,.0f} infested unit-weeks; "
            f"{currency} {d.cost[0].mean:,.0f} to {d.cost[1].mean:,.0f}"
        )
    return "\n".join(lines)


def tornado_data(found: Tornado) -> dict[str, Any]:
    """Return what drives the figures as plain data for JSON."""
    data = plain(asdict(found))
    assert isinstance(data, dict)
    for driver, d in zip(data["drivers"], found.drivers, strict=True):
        driver["name"] = driver_names(ENGLISH)[d.name]
        driver |= {"low_words": say(d.low, ENGLISH), "high_words": say(d.high, ENGLISH)}
        driver |= {"low": as_json(d.low), "high": as_json(d.high)}
    return data


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
        first = "One of several that cannot be told apart" if found.rivals else "Chosen"
        lines.append(f"{first}: {point_words(found.best, currency)}")
        if goal.chance > 0.0 and not found.best.surely:
            lines.append("Its chance is within two Monte Carlo errors of the goal: more runs would tell.")
        lines += _confirmed_lines(found, currency)
    if found.perhaps:
        lines.append("These may reach it too, within two Monte Carlo errors; more runs would tell:")
        lines += [f"  {point_words(point, currency)}" for point in found.perhaps[:5]]
    lines += ["Frontier, what a budget buys (nothing tried has less money and fewer infested unit-weeks):"]
    lines += [f"  {point_words(point, currency)}" for point in found.frontier]
    return "\n".join(lines)


def _confirmed_lines(found: Search, currency: str) -> list[str]:
    """Return what fresh futures said of the best few."""
    if found.confirmed is None:
        return []
    made, names = (
        found.confirmed,
        {p.programme.key: programme_name(p.programme, ENGLISH) for p in found.points},
    )
    lines = [
        f"By {made.runs:,} fresh futures of the best {len(made.pairs) + 1}, which had no part in finding "
        f"them; chance that none of these is cheaper by more than {MATTERS:.0%}: "
        f"{ENGLISH.percent(made.chosen.right)}."
    ]
    for pair in made.pairs:
        tie = " (as good)" if pair.b in made.chosen.ties else ""
        lines.append(f"  Against {names[pair.b]}{tie}: {pair_line(pair, currency, ENGLISH)}")
    return lines


def point_words(point: Point, currency: str) -> str:
    """Return one candidate in a line, means with Monte Carlo errors."""
    return (
        f"{programme_name(point.programme, ENGLISH)}: "
        f"{currency} {point.paid.mean:,.0f} (+- {point.paid.error:,.0f}), with the treatment of what is left "
        f"{point.cost.mean:,.0f}, "
        f"{point.bug_weeks.mean:,.0f} infested unit-weeks (+- {point.bug_weeks.error:,.0f}), "
        f"nil at some time {_share(point.nil)}, at the end {_share(point.nil_at_end)}"
    )


def search_data(found: Search, building: str, on: object, seed: int) -> dict[str, Any]:
    """Return the search as plain data for JSON; a candidate's name is in English, what it is a fact."""
    data = plain(asdict(found))
    assert isinstance(data, dict)

    def named(point: Point, made: dict[str, Any]) -> None:
        made["programme"] |= {
            "name": programme_name(point.programme, ENGLISH), "made": as_json(point.programme.made)
        }  # fmt: skip

    for key in ("points", "rivals", "perhaps"):
        for point, made in zip(getattr(found, key), data[key], strict=True):
            named(point, made)
    if found.best is not None:
        named(found.best, data["best"])
    return {"building": building, "on": str(on), "seed": seed, **data}
