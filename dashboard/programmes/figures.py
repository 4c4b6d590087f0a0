"""What the programme page shows of runs that are done: curves, a table and verdicts; pure."""

from __future__ import annotations

import math
from html import escape
from typing import Any

from spread.programmes.figures import Figure
from spread.programmes.results import Comparison, Outcome
from spread.report.charts import tick_step
from spread.words import ENGLISH, Voice
from spread.words import figures as f
from spread.words.programmes import duel, even_lines, figure_names, nil_by, survey_note

ROWS = ("infested unit-weeks", "new units infested", "visits", "hours", "cost")
"""Figures of the table, in order."""
WIDE, HIGH = 340.0, 200.0


def shown(comparison: Comparison, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return curves (SVG), table rows and sentences as plain data for the page."""
    top = max([1.0, *(float(outcome.infested[4].max()) for outcome in comparison.outcomes)])
    step = tick_step(top)
    top = step * math.ceil(top / step)
    outcomes = comparison.outcomes
    names = figure_names(voice)
    rows: list[list[Any]] = [
        [names[name] + (f", {comparison.currency}" if name == "cost" else "")]
        + [_cell(outcome.figures[name], voice) for outcome in outcomes]
        for name in ROWS
    ]
    nil = [
        nil_by(comparison, voice),
        *([f.share(o.nil_by, voice), f.share_error(o.nil_by, voice)] for o in outcomes),
    ]
    return {
        "runs": comparison.runs,
        "keys": [outcome.key for outcome in outcomes],
        "names": [outcome.name for outcome in outcomes],
        "curves": [curve(outcome, top, step) for outcome in outcomes],
        "rows": [*rows[:2], nil, *rows[2:]],
        "costs": [
            voice.text(
                "{name}: {currency} {cost} ({low} to {high}), {hours} hours",
                name=o.name,
                currency=comparison.currency,
                cost=voice.number(o.figures["cost"].median),
                low=voice.number(o.figures["cost"].low90),
                high=voice.number(o.figures["cost"].high90),
                hours=voice.number(o.figures["hours"].median),
            )
            for o in outcomes
        ],
        "duels": [list(duel(comparison, pair, voice)) for pair in comparison.pairs],
        "evens": [line for even in comparison.break_even for line in even_lines(even, comparison, voice)],
        "regrets": [
            [
                comparison.of(r.key).name,
                [voice.number(r.bug_weeks.mean)],
                [f.share_with_error(r.best_in_bugs, voice)],
                [voice.number(r.cost.mean)],
                [f.share_with_error(r.best_in_cost, voice)],
            ]
            for r in comparison.regrets
        ],
        "currency": comparison.currency,
        "note": survey_note(comparison, voice),
    }


def _cell(figure: Figure, voice: Voice) -> list[str]:
    """Return the middle of a figure, its band, and its simulation error."""
    error = f.error(figure, voice)
    # Counts often agree to the digit, which does not mean that their middle is known without an error.
    told = [f"{f.PLUS_MINUS} < 1"] if figure.median_error == 0.0 else [error] if error else []
    return [f.number(figure.median, voice), f.band(figure, voice), *told]


def curve(outcome: Outcome, top: float, step: float) -> str:
    """Return one programme's units infested by week as SVG: median, and bands of 50 and 90 % of the runs."""
    weeks = outcome.infested.shape[1] - 1
    x0, x1, y0, y1 = 36.0, WIDE - 10, HIGH - 36, 12.0

    def at(week: int, value: float) -> str:
        return f"{x0 + (x1 - x0) * week / weeks:.1f},{y0 - (y0 - y1) * value / top:.1f}"

    def area(low: int, high: int, name: str) -> str:
        there = [at(week, float(outcome.infested[high, week])) for week in range(weeks + 1)]
        back = [at(week, float(outcome.infested[low, week])) for week in range(weeks, -1, -1)]
        return f'<polygon class="{name}" points="{" ".join(there + back)}"/>'

    parts = []
    for tick in range(round(top / step) + 1):
        y = y0 - (y0 - y1) * tick * step / top
        parts.append(f'<path class="grid" d="M{x0} {y:.1f}H{x1}"/>')
        parts.append(f'<text x="{x0 - 6}" y="{y + 4:.1f}" text-anchor="end">{tick * step:g}</text>')
    parts += [area(0, 4, "band90"), area(1, 3, "band50")]
    median = " ".join(at(week, float(outcome.infested[2, week])) for week in range(weeks + 1))
    parts.append(f'<polyline class="median" points="{median}"/>')
    for week in range(0, weeks + 1, 26 if weeks > 52 else 13):
        x = x0 + (x1 - x0) * week / weeks
        parts.append(f'<text x="{x:.1f}" y="{y0 + 16}" text-anchor="middle">{week}</text>')
    parts.append(f'<text x="{x1}" y="{HIGH - 4}" text-anchor="end">weeks from now</text>')
    last = outcome.infested[:, -1]
    words = (
        f"{outcome.name}: median {outcome.infested[2, 0]:.0f} units infested now, {last[2]:.0f} after "
        f"{weeks} weeks (90 % of runs {last[0]:.0f} to {last[4]:.0f})"
    )
    head = f'<svg viewBox="0 0 {WIDE:.0f} {HIGH:.0f}" role="img" aria-label="{escape(words)}">'
    return f"{head}{''.join(parts)}</svg>"
