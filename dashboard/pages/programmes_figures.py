"""What the programme page shows of runs that are done: curves, a table and verdicts; pure."""

from __future__ import annotations

import math
from html import escape
from typing import Any

from spread.programmes.results import Comparison, Outcome
from spread.report.charts import tick_step
from spread.report.programmes_text import as_figure, as_share, pair_words

ROWS = {
    "infested unit-weeks": "Infested unit-weeks",
    "new units infested": "Units newly infested",
    "visits": "Visits",
    "hours": "Technician hours",
    "cost": "Cost",
}
WIDE, HIGH = 340.0, 200.0


def shown(comparison: Comparison) -> dict[str, Any]:
    """Return curves (SVG), table rows and sentences as plain data for the page."""
    top = max([1.0, *(float(outcome.infested[4].max()) for outcome in comparison.outcomes)])
    step = tick_step(top)
    top = step * math.ceil(top / step)
    outcomes = comparison.outcomes
    rows = [
        [label + (f", {comparison.currency}" if name == "cost" else "")]
        + [as_figure(outcome.figures[name]) for outcome in outcomes]
        for name, label in ROWS.items()
    ]
    nil = [f"No unit infested by week {comparison.by_week}", *(as_share(o.nil_by) for o in outcomes)]
    return {
        "runs": comparison.runs,
        "names": [outcome.name for outcome in outcomes],
        "curves": [curve(outcome, top, step) for outcome in outcomes],
        "rows": [*rows[:2], nil, *rows[2:]],
        "verdicts": [
            f"{comparison.of(pair.a).name} against {comparison.of(pair.b).name}: "
            f"{pair_words(pair, comparison.currency)}."
            for pair in comparison.pairs
        ],
    }


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
