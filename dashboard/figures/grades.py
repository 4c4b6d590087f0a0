"""Figures of the grade: finds promised and made through time, and how often each band of chance held."""

from __future__ import annotations

from typing import Any

from dashboard.figures.drawn import ACCENT, DATES, OTHER, OUTER, PLAIN, Drawn, layout_of
from spread.decisions.grades.grades import Grades
from spread.report.grades import band_name, heads, sum_row
from spread.words import ENGLISH, Voice


def promised_figure(grades: Grades, voice: Voice = ENGLISH) -> Drawn:
    """Return finds promised and made since the first list, with the band in which the sum should lie."""
    days = grades.days
    x = [day.day.isoformat() for day in days]
    so_far = [day.so_far for day in days]
    edge = {
        "x": x, "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip", "type": "scatter"
    }  # fmt: skip
    hover = [
        voice.text(
            "{day}: {promised} promised (95 % sure: {low} to {high}), {made} made, in {looks} looks",
            day=voice.day(day.day), promised=voice.number(one.promised, 1), low=one.low, high=one.high,
            made=one.made, looks=one.looks,
        )
        for day, one in zip(days, so_far, strict=True)
    ]  # fmt: skip
    line: dict[str, Any] = {
        "type": "scatter",
        "x": x,
        "text": hover,
        "hovertemplate": "%{text}<extra></extra>",
    }
    traces = [
        edge | {"y": [one.low for one in so_far], "showlegend": False},
        edge
        | {
            "y": [one.high for one in so_far], "fill": "tonexty", "fillcolor": OUTER,
            "name": voice.text("95 % band of promised"),
        },
        line
        | {
            "y": [one.promised for one in so_far], "mode": "lines+markers", "name": voice.text("Promised"),
            "line": {"color": ACCENT, "width": 2.5}, "hoverinfo": "skip",
        },
        line
        | {
            "y": [one.made for one in so_far], "mode": "lines+markers", "name": voice.text("Made"),
            "line": {"color": OTHER, "width": 2.5, "dash": "dash"},
            "marker": {"color": OTHER, "size": 8, "symbol": "diamond"},
        },
    ]  # fmt: skip
    last = so_far[-1]
    return Drawn(
        {
            "data": traces,
            "layout": layout_of(
                "", voice.text("Finds so far"), high=360, xaxis=DATES, yaxis={"rangemode": "tozero"}
            ),
        },
        voice.text("Finds promised and made, by the day of the list"),
        voice.text(
            "Up to the lists of {day}: {promised} finds promised (95 % sure: {low} to {high}), {made} made, "
            "in {looks} looks.",
            day=voice.day(days[-1].day), promised=voice.number(last.promised, 1), low=last.low,
            high=last.high, made=last.made, looks=last.looks,
        ),
        heads(voice.text("Lists up to"), voice.per_cent("95"), voice),
        [sum_row(voice.day(day.day), one, voice) for day, one in zip(days, so_far, strict=True)],
    )  # fmt: skip


def reliability_figure(grades: Grades, voice: Voice = ENGLISH) -> Drawn:
    """Return the share found against the chance promised, a dot a band, with what chance alone would do."""
    bands = grades.bands
    promised, made, low, high = (
        [100.0 * part / band.looks.looks for part, band in zip(parts, bands, strict=True)]
        for parts in (
            [band.looks.promised for band in bands],
            [band.looks.made for band in bands],
            [band.looks.low for band in bands],
            [band.looks.high for band in bands],
        )
    )
    hover = [
        voice.text(
            "Promised {band}: {looks} looks, {made} finds made of {promised} promised (95 % sure: {low} to "
            "{high})",
            band=band_name(band, voice), looks=band.looks.looks, made=band.looks.made,
            promised=voice.number(band.looks.promised, 1), low=band.looks.low, high=band.looks.high,
        )
        for band in bands
    ]  # fmt: skip
    top = min(100.0, 5.0 + max((*promised, *made, *high)))
    figure = {
        "data": [
            {
                "type": "scatter", "x": [0, top], "y": [0, top], "mode": "lines", "hoverinfo": "skip",
                "line": {"color": PLAIN, "width": 1.5, "dash": "dot"}, "name": voice.text("As promised"),
            },
            {
                "type": "scatter", "mode": "markers", "x": promised, "y": promised, "hoverinfo": "skip",
                "name": voice.text("95 % by chance alone"),
                "marker": {"symbol": "line-ns", "size": 10, "line": {"color": ACCENT, "width": 6}},
                "error_y": {
                    "type": "data", "symmetric": False, "color": ACCENT, "thickness": 6, "width": 0,
                    "array": [h - p for h, p in zip(high, promised, strict=True)],
                    "arrayminus": [p - a for a, p in zip(low, promised, strict=True)],
                },
            },
            {
                "type": "scatter", "mode": "markers", "x": promised, "y": made, "text": hover,
                "hovertemplate": "%{text}<extra></extra>", "name": voice.text("Made"),
                "marker": {"color": OTHER, "size": 12, "symbol": "diamond"},
            },
        ],
        "layout": layout_of(
            voice.text("Chance promised, %"), voice.text("Looks that found something, %"), high=360,
            xaxis={"range": [0, top]}, yaxis={"range": [-2, top + 2]},
        ),
    }  # fmt: skip
    outside = sum(not band.looks.inside for band in bands)
    return Drawn(
        figure,
        voice.text("What was promised against what was found, by chance promised"),
        voice.many(
            "{number} of {bands} bands lies outside what chance alone would do in 95 % of cases.",
            "{number} of {bands} bands lie outside what chance alone would do in 95 % of cases.",
            outside,
            bands=len(bands),
        ),
        heads(voice.text("Promised chance"), voice.per_cent("95"), voice),
        [sum_row(band_name(band, voice), band.looks, voice) for band in bands],
    )
