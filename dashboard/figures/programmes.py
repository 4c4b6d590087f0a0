"""Figures of programmes side by side: units infested by week, costs, and what drives the difference."""

from __future__ import annotations

import datetime as dt

from dashboard.figures.drawn import (
    ACCENT,
    DATES,
    OTHER,
    Drawn,
    Look,
    bands,
    layout_of,
    name_ticks,
    rows_high,
    span_rows,
)
from spread.programmes.drivers import Driver, Tornado
from spread.programmes.results import Comparison, Outcome
from spread.words import ENGLISH, Voice, say
from spread.words import figures as f
from spread.words.programmes import driver_names
from spread.words.voice import upper

EVERY = 13
"""Weeks from one row of a curve's table to the next."""


def curve_figure(outcome: Outcome, top: float, on: dt.date, voice: Voice = ENGLISH) -> Drawn:
    """Return one programme's units infested by week with its bands.

    ``outcome``: the programme. ``top``: of the upright axis, the same for all that are compared. ``on``: the
    day that the runs begin.
    """
    weeks = outcome.infested.shape[1] - 1
    dates = [on + dt.timedelta(weeks=week) for week in range(weeks + 1)]
    points = outcome.infested.tolist()
    names = (voice.text("90 % of runs"), voice.text("50 % of runs"), voice.text("Middle"))
    traces = bands([day.isoformat() for day in dates], points, names)
    low, lower, median, upper_, high = ([f.number(value, voice) for value in row] for row in points)
    traces[-1] |= {
        "text": [
            voice.text(
                "{day}: {median}<br>50 % of runs: {lower} to {upper}<br>90 % of runs: {low} to {high}",
                day=voice.day(day), median=median[k], lower=lower[k], upper=upper_[k],
                low=low[k], high=high[k],
            )
            for k, day in enumerate(dates)
        ],
        "hovertemplate": "%{text}<extra></extra>",
    }  # fmt: skip
    shown = [*range(0, weeks, EVERY), weeks]
    return Drawn(
        {
            "data": traces,
            "layout": layout_of(
                "", voice.text("Units infested"), high=290, hovermode="x",
                xaxis=DATES, yaxis={"range": [0, 1.04 * max(1.0, top)]},
            ),
        },
        outcome.name,
        voice.text(
            "Middle of the runs: {now} units infested now, {then} on {day} (90 % of runs: {low} to {high}).",
            now=median[0], then=median[-1], day=voice.day(dates[-1]), low=low[-1], high=high[-1],
        ),
        [
            voice.text("Day"), voice.text("Middle"), voice.text("50 % of runs"), voice.text("90 % of runs"),
        ],
        [
            [
                voice.day(dates[k]), median[k], voice.text("{low} to {high}", low=lower[k], high=upper_[k]),
                voice.text("{low} to {high}", low=low[k], high=high[k]),
            ]
            for k in shown
        ],
    )  # fmt: skip


def curves(comparison: Comparison, on: dt.date, voice: Voice = ENGLISH) -> list[Drawn]:
    """Return a figure a programme, all on one scale."""
    top = max(float(outcome.infested[4].max()) for outcome in comparison.outcomes)
    return [curve_figure(outcome, top, on, voice) for outcome in comparison.outcomes]


def cost_figure(comparison: Comparison, voice: Voice = ENGLISH) -> Drawn:
    """Return what each programme costs: the middle of the runs, half of them and nine tenths."""
    outcomes = comparison.outcomes[::-1]
    names = [outcome.name for outcome in outcomes]
    costs = [outcome.figures["cost"] for outcome in outcomes]
    said = [
        voice.text(
            "{currency} {cost} (90 % of runs: {band})",
            currency=comparison.currency, cost=f.number(cost.median, voice), band=f.band(cost, voice),
        )
        for cost in costs
    ]  # fmt: skip
    hover = [f"{name}<br>{words}" for name, words in zip(names, said, strict=True)]
    nine, half = voice.text("90 % of runs"), voice.text("50 % of runs")
    outer = [(cost.low90, cost.median, cost.high90) for cost in costs]
    inner = [(cost.low50, cost.median, cost.high50) for cost in costs]
    rows = [
        [
            outcome.name, f.number(cost.median, voice),
            voice.text("{low} to {high}", low=f.number(cost.low50, voice), high=f.number(cost.high50, voice)),
            f.band(cost, voice), f.number(outcome.figures["hours"].median, voice),
        ]
        for outcome in comparison.outcomes
        for cost in [outcome.figures["cost"]]
    ]  # fmt: skip
    return Drawn(
        {
            "data": [
                span_rows(outer, hover, ""),
                span_rows(inner, hover, "", Look(width=8, cap=0)),
            ],
            "layout": layout_of(
                voice.text(
                    "{currency} over {weeks} weeks", currency=comparison.currency, weeks=comparison.weeks
                ),
                "", high=110 + rows_high(names, 40), yaxis=name_ticks(names),
                xaxis={"rangemode": "tozero", "tickformat": ",", "nticks": 4, "tickangle": 0},
            ),
        },
        voice.text("Cost"),
        voice.text(
            "Dots are the middle of the runs, thick lines half of them, thin lines nine tenths: {said}.",
            said="; ".join(f"{name} {words}" for name, words in zip(names[::-1], said[::-1], strict=True)),
        ),
        ["", voice.text("Middle, {currency}", currency=comparison.currency), half, nine, voice.text("Hours")],
        rows,
    )  # fmt: skip


def drivers_figure(found: Tornado, name: str, reference: str, voice: Voice = ENGLISH) -> Drawn:
    """Return what each thing does to the difference when it is set low and high, the largest swing on top.

    ``found``: from :func:`spread.programmes.drivers.tornado`. ``name``, ``reference``: what the two
    programmes are called.
    """
    drivers = found.drivers[::-1]
    names = [upper(driver_names(voice)[driver.name]) for driver in drivers]
    centre = found.bug_weeks.mean

    def bar(end: int, title: str, color: str, pattern: str) -> dict[str, object]:
        return {
            "type": "bar", "orientation": "h", "name": title, "base": centre,
            "x": [driver.bug_weeks[end].mean - centre for driver in drivers],
            "y": list(range(len(names))), "width": 0.7,
            "marker": {
                "color": color, "pattern": {"shape": pattern, "fgcolor": color, "fillmode": "replace"},
            },
            "text": [
                f"{words}<br>{_set(driver, end, voice)}: {_mean(driver, end, voice)}"
                for words, driver in zip(names, drivers, strict=True)
            ],
            "textposition": "none", "hovertemplate": "%{text}<extra></extra>",
        }  # fmt: skip

    largest = voice.joined(names[::-1][:3]) if names else ""
    along = voice.text("difference in infested unit-weeks")
    return Drawn(
        {
            "data": [
                bar(0, voice.text("set low"), ACCENT, ""),
                bar(1, voice.text("set high"), OTHER, "/"),
            ],
            "layout": layout_of(
                along, "", high=120 + rows_high(names, 44), barmode="overlay",
                yaxis=name_ticks(names), xaxis={"nticks": 5, "tickangle": 0},
            ),
        },
        voice.text("{name} less {other}", name=name, other=reference),
        voice.text(
            "One thing at a time set to the ends of its range, everything else and all "
            "luck kept: {centre} (± {error}) infested unit-weeks with all at the centre, mean of {runs} "
            "runs. Widest: {largest}.",
            centre=f.signed(centre, voice),
            error=f.number(found.bug_weeks.error, voice), runs=found.runs, largest=largest,
        ),
        [
            voice.text("What"), voice.text("Set low"), voice.text("Unit-weeks"), voice.text("Cost"),
            voice.text("Set high"), voice.text("Unit-weeks"), voice.text("Cost"),
        ],
        [
            [upper(driver_names(voice)[driver.name]), *_cells(driver, 0, voice), *_cells(driver, 1, voice)]
            for driver in found.drivers
        ],
    )  # fmt: skip


def _set(driver: Driver, end: int, voice: Voice) -> str:
    return say((driver.low, driver.high)[end], voice)


def _mean(driver: Driver, end: int, voice: Voice) -> str:
    return voice.text("{weeks} unit-weeks", weeks=f.signed(driver.bug_weeks[end].mean, voice))


def _cells(driver: Driver, end: int, voice: Voice) -> list[str]:
    return [
        _set(driver, end, voice),
        f.signed(driver.bug_weeks[end].mean, voice),
        f.signed(driver.cost[end].mean, voice),
    ]
