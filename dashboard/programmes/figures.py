"""What the programme page shows of runs that are done: curves, a table and verdicts; pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from dashboard.figures.graph import told
from dashboard.figures.programmes import cost_figure, curves
from dashboard.programmes.layout import COST, CURVES
from spread.programmes.choice import Choice
from spread.programmes.figures import Figure
from spread.programmes.flips import Flips
from spread.programmes.results import Comparison, Outcome
from spread.words import ENGLISH, Voice, say
from spread.words import figures as f
from spread.words.choice import choice_lines, duel, even_lines, names_of
from spread.words.flips import flip_lines, pace_lines
from spread.words.programmes import figure_names, nil_at_end, nil_by, survey_note

ROWS = ("infested unit-weeks", "new-units", "visits", "put-off", "hours", "crew-days")
"""Figures of the table that are no money, in order."""
MONEY = ("cost", "bill", "guarantee", "cost-with-rest", "loss")
"""Those that are, as far as anybody asked for them: the firm's, what the owner pays, the owner's losses."""


def shown(
    comparison: Comparison,
    on: dt.date,
    choice: Choice | None = None,
    turns: Flips | None = None,
    voice: Voice = ENGLISH,
) -> dict[str, Any]:
    """Return figures, table rows and sentences as plain data for the page.

    ``on``: the runs' first day; ``choice``: the verdict, once the runs are done; ``turns``: what would turn
    it, once that is worked out.
    """
    outcomes = comparison.outcomes
    names, called = figure_names(voice), names_of(comparison, voice)
    money = [name for name in MONEY if outcomes[0].figures.get(name) and _asked(outcomes, name)]
    rows: list[list[Any]] = [
        [names[name] + (f", {comparison.currency}" if name in MONEY else "")]
        + [_cell(outcome.figures[name], voice) for outcome in outcomes]
        for name in (*(row for row in ROWS if row != "put-off" or _asked(outcomes, row)), *money)
    ]
    nil = [
        [
            nil_by(comparison, voice),
            *([f.share(o.nil_by, voice), f.share_error(o.nil_by, voice)] for o in outcomes),
        ],
        [
            nil_at_end(voice),
            *([f.share(o.nil_at_end, voice), f.share_error(o.nil_at_end, voice)] for o in outcomes),
        ],
    ]
    graphs: dict[str, Any] = {}
    for identity, drawn in zip(CURVES, curves(comparison, on, voice), strict=False):
        graphs |= told(identity, drawn)
    return {
        "runs": comparison.runs,
        "keys": [outcome.key for outcome in outcomes],
        "names": [outcome.name for outcome in outcomes],
        "figures": told(COST, cost_figure(comparison, voice)) | graphs,
        "rows": [*rows[:2], *nil, *rows[2:]],
        "verdict": [] if choice is None else choice_lines(choice, called, voice),
        "chosen": "" if choice is None else choice.proposed,
        "turns": [
            *([] if turns is None else flip_lines(turns, called, comparison.currency, voice)),
            *([] if choice is None else pace_lines(choice, voice)),
        ],
        "basis": say(comparison.basis, voice),
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


def _asked(outcomes: Sequence[Outcome], name: str) -> bool:
    """Whether a figure is there at all in any programme."""
    return name == "cost" or any(outcome.figures[name].mean for outcome in outcomes)


def _cell(figure: Figure, voice: Voice) -> list[str]:
    """Return the middle of a figure, its band, and its simulation error."""
    error = f.error(figure, voice)
    # Counts often agree to the digit, which does not mean that their middle is known without an error.
    told = [f"{f.PLUS_MINUS} < 1"] if figure.median_error == 0.0 else [error] if error else []
    return [f.number(figure.median, voice), f.band(figure, voice), *told]
