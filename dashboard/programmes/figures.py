"""What the programme page shows of runs that are done: curves, a table and verdicts; pure."""

from __future__ import annotations

import datetime as dt
from typing import Any

from dashboard.figures.graph import told
from dashboard.figures.programmes import cost_figure, curves
from dashboard.programmes.layout import COST, CURVES
from spread.programmes.figures import Figure
from spread.programmes.results import Comparison
from spread.words import ENGLISH, Voice
from spread.words import figures as f
from spread.words.choice import duel, even_lines
from spread.words.programmes import figure_names, nil_by, survey_note

ROWS = ("infested unit-weeks", "new-units", "visits", "hours", "cost")
"""Figures of the table, in order."""


def shown(comparison: Comparison, on: dt.date, voice: Voice = ENGLISH) -> dict[str, Any]:
    """Return figures, table rows and sentences as plain data for the page; ``on`` is the runs' first day."""
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
    graphs: dict[str, Any] = {}
    for identity, drawn in zip(CURVES, curves(comparison, on, voice), strict=False):
        graphs |= told(identity, drawn)
    return {
        "runs": comparison.runs,
        "keys": [outcome.key for outcome in outcomes],
        "names": [outcome.name for outcome in outcomes],
        "figures": told(COST, cost_figure(comparison, voice)) | graphs,
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
