"""What the programme page shows of runs that are done: curves, a table and verdicts; pure."""

from __future__ import annotations

import math
from html import escape
from typing import Any

from spread.programmes.figures import Figure, Share
from spread.programmes.pairs import SURE, Pair
from spread.programmes.results import Comparison, Outcome
from spread.report.charts import tick_step
from spread.report.programmes_text import SURVEY_NOTE, as_figure, as_share, even_words

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
        + [_cell(outcome.figures[name]) for outcome in outcomes]
        for name, label in ROWS.items()
    ]
    nil = [
        f"No unit infested at some time by week {comparison.by_week}",
        *(_signs(as_share(o.nil_by)).replace(" (", "|").rstrip(")") for o in outcomes),
    ]
    surveys = any(outcome.hours_by_kind["surveys"].mean > 0.0 for outcome in outcomes)
    return {
        "runs": comparison.runs,
        "keys": [outcome.key for outcome in outcomes],
        "names": [outcome.name for outcome in outcomes],
        "curves": [curve(outcome, top, step) for outcome in outcomes],
        "rows": [*rows[:2], nil, *rows[2:]],
        "costs": [
            f"{o.name}: {comparison.currency} {o.figures['cost'].median:,.0f} "
            f"({o.figures['cost'].low90:,.0f} to {o.figures['cost'].high90:,.0f}), "
            f"{o.figures['hours'].median:,.0f} hours"
            for o in outcomes
        ],
        "duels": [duel(comparison, pair) for pair in comparison.pairs],
        "evens": [line for even in comparison.break_even for line in even_words(even, comparison)],
        "regrets": [
            [
                comparison.of(r.key).name,
                f"{r.bug_weeks.mean:,.0f}",
                _signs(as_share(r.best_in_bugs)),
                f"{r.cost.mean:,.0f}",
                _signs(as_share(r.best_in_cost)),
            ]
            for r in comparison.regrets
        ],
        "currency": comparison.currency,
        "note": SURVEY_NOTE.replace("\n", " ") if surveys else "",
    }


def duel(comparison: Comparison, pair: Pair) -> list[str]:
    """Return how the second of a pair does against the first: names, then bugs and cost in words.

    A winner is named where nine futures of ten say so; otherwise, and where the bands of the two overlap,
    it is said in words.
    """
    turned = comparison.pair(pair.b, pair.a)
    first, second = comparison.of(pair.a), comparison.of(pair.b)
    bugs = _verdict(
        turned.bug_verdict,
        turned.fewer_bugs,
        ("Fewer infested unit-weeks", "More infested unit-weeks", "fewer infested unit-weeks"),
        _signed(turned.bug_weeks),
    )
    cost = _verdict(
        turned.cost_verdict,
        turned.cheaper,
        ("Cheaper", "Dearer", "cheaper"),
        f"{comparison.currency} {_signed(turned.cost)}",
    )
    return [
        f"{second.name} against {first.name}",
        bugs + _overlap(first, second, "infested unit-weeks"),
        cost + _overlap(first, second, "cost"),
    ]


def _verdict(verdict: str, less: Share, words: tuple[str, str, str], difference: str) -> str:
    """Return a verdict with its chance and difference; ``words`` are for less, for more, and for neither."""
    more = Share(1.0 - less.chance, less.error)
    if verdict.startswith("cannot"):
        lead = f"Cannot be told apart, {words[2]} in {_signs(as_share(less))} of the futures"
    elif less.chance > 0.5:
        lead = f"{words[0]} in {_signs(as_share(less))} of the futures"
    else:
        lead = f"{words[1]} in {_signs(as_share(more))} of the futures"
    close = abs(max(less.chance, more.chance) - SURE) < 2.0 * less.error
    return f"{lead}{' (close to the line; more runs would tell)' if close else ''}; difference {difference}."


def _overlap(first: Outcome, second: Outcome, name: str) -> str:
    a, b = first.figures[name], second.figures[name]
    apart = a.high90 < b.low90 or b.high90 < a.low90
    return "" if apart else " Their bands overlap."


def _cell(figure: Figure) -> str:
    """Return the middle of a figure, then after a bar its band and error."""
    middle, _, rest = _signs(as_figure(figure)).partition(" (")
    rest = rest.replace(")", "")
    # Counts often agree to the digit, which does not mean that their middle is known without an error.
    return f"{middle}|{rest.removesuffix('0') + '< 1' if rest.endswith(' 0') else rest}"


def _signed(figure: Figure) -> str:
    def one(value: float) -> str:
        return f"{round(value):+,d}".replace("-", "\N{MINUS SIGN}") if round(value) else "0"

    return f"{one(figure.median)} ({one(figure.low90)} to {one(figure.high90)})"


def _signs(text: str) -> str:
    return text.replace("+-", "\N{PLUS-MINUS SIGN}")


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
