"""Figures of one building: its past, when it began, a unit's chance, its rates and their sources."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import TypeVar

from dashboard.figures.drawn import (
    ACCENT,
    DATES,
    OTHER,
    PLAIN,
    Drawn,
    Look,
    bands,
    layout_of,
    name_ticks,
    rows_high,
    span_rows,
)
from spread.decisions.doors.learned import Learned, Range
from spread.decisions.past import Past
from spread.records.kinds import Record
from spread.words import ENGLISH, Voice
from spread.words.learned import rate_name
from spread.words.records import kind_name

MARKS = {
    "inspection": "circle", "monitor": "square", "treatment": "triangle-up", "report": "diamond",
    "no-access": "x", "turnover": "cross",
}  # fmt: skip
Row = TypeVar("Row")
LONGEST_TABLE = 60
"""Rows of a table; of more weeks every fourth, the last among them, is in it."""


def past_figure(past: Past, voice: Voice = ENGLISH) -> Drawn:
    """Return the units infested through the weeks with their bands."""
    weeks = past.weeks
    days = [week.monday for week in weeks]
    points = [[getattr(week, name) for week in weeks] for name in ("low", "lower", "median", "upper", "high")]
    traces = bands(days, points, _band_names(voice))
    traces[-1] |= {
        "text": [
            voice.text(
                "{day}: about {median}<br>50 % sure: {lower} to {upper}<br>90 % sure: {low} to {high}",
                day=_day(week.monday, voice), median=week.median, lower=week.lower, upper=week.upper,
                low=week.low, high=week.high,
            )
            for week in weeks
        ],
        "hovertemplate": "%{text}<extra></extra>",
    }  # fmt: skip
    first, last = weeks[0], weeks[-1]
    return Drawn(
        {
            "data": traces,
            "layout": layout_of(
                "", voice.text("Units infested"), high=360, hovermode="x",
                yaxis={"rangemode": "tozero"}, xaxis=DATES,
            ),
        },
        voice.text("Units infested through time"),
        voice.text(
            "From about {first} (90 % sure: {a} to {b}) in the week of {begin} to about {last} "
            "({c} to {d}) in that of {end}, of {units} units.",
            first=first.median, a=first.low, b=first.high, begin=_day(first.monday, voice),
            last=last.median, c=last.low, d=last.high, end=_day(last.monday, voice), units=past.units,
        ),
        [voice.text("Week of"), voice.text("Middle"), voice.text("50 % band"), voice.text("90 % band")],
        [
            [
                _day(w.monday, voice), str(w.median),
                _ends(w.lower, w.upper, voice), _ends(w.low, w.high, voice),
            ]
            for w in _few(weeks)
        ],
    )  # fmt: skip


def began_figure(past: Past, voice: Voice = ENGLISH) -> Drawn:
    """Return the chance by month that the first infestation of the window began in it."""
    pairs = zip(past.weeks[1:], past.began[1:], strict=True)
    months = [
        (month, sum(chance for _, chance in group))
        for month, group in groupby(pairs, key=lambda pair: pair[0].monday[:7])
    ]
    days = [dt.date.fromisoformat(f"{month}-01") for month, _ in months]
    begin = voice.day(dt.date.fromisoformat(past.weeks[0].monday))
    before = voice.text("Before {day}, when the window begins", day=begin)
    names = [voice.month(day) for day in days]
    said = [voice.percent(chance) for _, chance in months]
    top = max([0.05, *(chance for _, chance in months)])
    return Drawn(
        {
            "data": [
                {
                    "type": "bar",
                    "x": [day.isoformat() for day in days],
                    "y": [100.0 * chance for _, chance in months],
                    "marker": {"color": ACCENT}, "showlegend": False,
                    "text": [f"{name}: {chance}" for name, chance in zip(names, said, strict=True)],
                    "textposition": "none", "hovertemplate": "%{text}<extra></extra>",
                }
            ],
            "layout": layout_of(
                "", voice.text("Chance that it began then, %"), high=280,
                xaxis=DATES, yaxis={"range": [0, min(100.0, 110.0 * top)]},
            ),
        },
        voice.text("When the first infestation of the window began"),
        voice.text(
            "{chance} that some unit was infested before {day}, when the window begins; the bars are for the "
            "months since.",
            chance=voice.percent(past.before), day=begin,
        ),
        [voice.text("Month"), voice.text("Chance")],
        [[before, voice.percent(past.before)], *([n, c] for n, c in zip(names, said, strict=True))],
    )  # fmt: skip


def trail_figure(
    unit: str,
    mondays: Sequence[str],
    chances: Sequence[float],
    records: Sequence[Record],
    voice: Voice = ENGLISH,
) -> Drawn:
    """Return one unit's chance through the weeks with a mark for every record of it.

    ``unit``: its code. ``mondays``, ``chances``: ISO days and chances, oldest first. ``records``: of the
    unit; those before the window are left out.
    """
    shown = [voice.percent(chance) for chance in chances]
    lines = zip(mondays, shown, strict=True)
    traces = [
        {
            "type": "scatter", "x": mondays, "y": [100.0 * chance for chance in chances],
            "mode": "lines", "showlegend": False,
            "line": {"color": ACCENT, "width": 2.5},
            "text": [f"{_day(monday, voice)}: {chance}" for monday, chance in lines],
            "hovertemplate": "%{text}<extra></extra>",
        }
    ]  # fmt: skip
    inside = sorted((r for r in records if r.when.isoformat() >= mondays[0]), key=lambda r: (r.kind, r.when))
    for place, (kind, group) in enumerate(groupby(inside, key=lambda r: r.kind)):
        days = [record.when for record in group]
        name = kind_name(kind, voice)
        traces.append(
            {
                "type": "scatter", "x": [day.isoformat() for day in days],
                "y": [-5.0 - 6.0 * place] * len(days),
                "mode": "markers", "name": name, "cliponaxis": False,
                "marker": {
                    "symbol": MARKS.get(kind, "line-ew-open"), "size": 10,
                    "color": (OTHER, ACCENT, PLAIN)[place % 3],
                },
                "text": [f"{name}: {voice.day(day)}" for day in days],
                "hovertemplate": "%{text}<extra></extra>",
            }
        )  # fmt: skip
    lanes = len(traces) - 1
    most = max(range(len(chances)), key=chances.__getitem__)
    return Drawn(
        {
            "data": traces,
            "layout": layout_of(
                "", voice.text("Chance of bed bugs, %"), high=320, xaxis=DATES,
                yaxis={
                    "range": [-8.0 - 6.0 * lanes, 102.0], "tickvals": [0, 25, 50, 75, 100],
                },
            ),
        },
        voice.text("Unit {unit}: chance through time", unit=unit),
        voice.text(
            "{first} in the week of {begin}, {last} in that of {end}; highest {most} in that of {then}. As "
            "today’s fit sees the past, with all that is on record since.",
            first=shown[0], begin=_day(mondays[0], voice), last=shown[-1], end=_day(mondays[-1], voice),
            most=shown[most], then=_day(mondays[most], voice),
        ),
        [voice.text("Week of"), voice.text("Chance")],
        [[_day(monday, voice), chance] for monday, chance in _few(list(zip(mondays, shown, strict=True)))],
    )  # fmt: skip


def rates_figure(learned: Learned, voice: Voice = ENGLISH) -> Drawn:
    """Return every rate before and after the log, as multiples of the middle before it."""
    rates = learned.rates[::-1]
    names = [rate_name(rate.name, voice) for rate in rates]
    shared = [rate.prior.median for rate in rates]
    before, after = voice.text("General experience"), voice.text("With this log")
    times, untold = voice.text("times general experience"), voice.text("the general experience")
    if any(rate.taught_by for rate in rates):
        before, times = (
            voice.text("The firm’s buildings"),
            voice.text("times what the firm’s buildings taught"),
        )
        untold = voice.text("what the firm’s buildings taught")

    def row(ranges: Sequence[Range], name: str, look: Look) -> dict[str, object]:
        spans = [(r.low / m, r.median / m, r.high / m) for r, m in zip(ranges, shared, strict=True)]
        hover = [
            voice.text(
                "{rate}, {when}: {median} times (90 %: {low} to {high})",
                rate=rate, when=name.lower(), median=voice.number(middle, 2), low=voice.number(low, 2),
                high=voice.number(high, 2),
            )
            for rate, (low, middle, high) in zip(names, spans, strict=True)
        ]  # fmt: skip
        return span_rows(spans, hover, name, look)

    ends = [
        v / m
        for r, m in zip(rates, shared, strict=True)
        for v in (r.prior.low, r.prior.high, r.posterior.high)
    ]
    ticks = [t for t in (0.01, 0.03, 0.1, 0.3, 1, 3, 10, 30, 100) if min(ends) * 0.8 <= t <= max(ends) * 1.3]
    return Drawn(
        {
            "data": [
                row([r.prior for r in rates], before, Look(PLAIN, "line-ns-open", shift=0.16)),
                row([r.posterior for r in rates], after, Look(width=4, cap=0, shift=-0.12)),
            ],
            "layout": layout_of(
                times, "",
                high=90 + rows_high(names, 52), yaxis=name_ticks(names),
                xaxis={"type": "log", "tickvals": ticks, "ticktext": [f"{tick:g}" for tick in ticks]},
            ),
        },
        voice.text("What the log taught about each rate"),
        voice.text(
            "Dots are middles, lines hold 90 %. A rate whose two lines are alike was not learned here: it is "
            "{untold}.",
            untold=untold,
        ),
        [
            voice.text("Rate a week"), f"{before} (90 %)", f"{after} (90 %)", voice.text("The log"),
        ],
        [
            [
                rate_name(rate.name, voice), _range(rate.prior, voice), _range(rate.posterior, voice),
                voice.text("moved it") if rate.learned else voice.text("hardly moved it"),
            ]
            for rate in learned.rates
        ],
    )  # fmt: skip


def sources_figure(learned: Learned, voice: Voice = ENGLISH) -> Drawn:
    """Return how many new infestations a year come by each way at the pace of today."""
    new: Mapping[str, Range] = learned.new_per_year
    order = sorted(new, key=lambda name: new[name].median)
    names = [rate_name(name, voice) for name in order]
    hover = [f"{words}: {_yearly(new[name], voice)}" for words, name in zip(names, order, strict=True)]
    spans = [(new[name].low, new[name].median, new[name].high) for name in order]
    return Drawn(
        {
            "data": [span_rows(spans, hover, "", Look(width=4, cap=0))],
            "layout": layout_of(
                voice.text("new infestations a year"), "", high=80 + rows_high(names, 44),
                yaxis=name_ticks(names), xaxis={"rangemode": "tozero"},
                margin={"l": 8, "r": 12, "t": 30, "b": 8},
            ),
        },
        voice.text("New infestations a year, by source"),
        voice.text(
            "At the pace of today, {all} in all. Dots are middles, lines hold 90 %.",
            all=_yearly(learned.new_in_all, voice),
        ),
        [voice.text("Source"), voice.text("New a year (90 %)")],
        [
            *([rate_name(name, voice), _yearly(new[name], voice)] for name in reversed(order)),
            [voice.text("All together"), _yearly(learned.new_in_all, voice)],
        ],
    )  # fmt: skip


def _band_names(voice: Voice) -> tuple[str, str, str]:
    return voice.text("90 % sure"), voice.text("50 % sure"), voice.text("Middle")


def _few(rows: Sequence[Row]) -> Sequence[Row]:
    return rows if len(rows) <= LONGEST_TABLE else rows[::-4][::-1]


def _day(iso: str, voice: Voice) -> str:
    return voice.day(dt.date.fromisoformat(iso))


def _ends(low: object, high: object, voice: Voice) -> str:
    return voice.text("{low} to {high}", low=low, high=high)


def _range(span: Range, voice: Voice) -> str:
    digits = max(2, 2 - math.floor(math.log10(max(span.median, 1e-6))))
    low, median, high = (voice.number(value, digits) for value in (span.low, span.median, span.high))
    return f"{median} ({_ends(low, high, voice)})"


def _yearly(span: Range, voice: Voice) -> str:
    low, median, high = (
        voice.number(value, 1 if value < 10 else 0) if value >= 0.1 else voice.text("under 0.1")
        for value in (span.low, span.median, span.high)
    )
    return f"{median} ({_ends(low, high, voice)})"
