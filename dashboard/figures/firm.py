"""The page of a firm's buildings: first doors, where an hour averts most, what they taught, who departs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import Any

from plotly.io import to_html
from plotly.offline import get_plotlyjs

from dashboard.figures.drawn import ACCENT, PLAIN, Drawn, Look, layout_of, name_ticks, rows_high, span_rows
from dashboard.figures.graph import CONFIG
from spread.commands.common import caution
from spread.firm.overview import Overview, Pays
from spread.portfolio.standing import Standing
from spread.portfolio.team import Team
from spread.report.buildings import not_counted, stay_words
from spread.report.portfolio import outlier_words, pooled_line, quantity_name
from spread.words import ENGLISH
from spread.words.doors import access_words, reason_text, sure_words, worth_words
from spread.words.terms import method_name

MOST = 30
"""Buildings of a figure; the files have all."""
_STYLE = """
:root { --ink: #29241e; --soft: #6b6155; --rule: #d9cfbd; --sheet: #fffdf8; }
body { font: 16px/1.5 system-ui, sans-serif; color: var(--ink); background: #f4efe4; margin: 0; }
main { max-width: 62rem; margin: 0 auto; padding: 1rem; }
section { background: var(--sheet); border: 1px solid var(--rule); border-radius: 8px; padding: 1rem; }
section { margin: 1rem 0; }
h1 { font-size: 1.5rem; margin: 0.5rem 0; } h2 { font-size: 1.15rem; margin: 0 0 0.5rem; }
ol, ul { padding-left: 1.4rem; } li { margin: 0.5rem 0; } .soft { color: var(--soft); font-size: 0.9rem; }
table { border-collapse: collapse; font-size: 0.875rem; } .wide { overflow: auto; }
th, td { text-align: left; padding: 0.25rem 0.8rem 0.25rem 0; border-bottom: 1px solid var(--rule); }
summary { cursor: pointer; min-height: 2.75rem; padding: 0.6rem 0; box-sizing: border-box; }
"""


def page(seen: Overview, team: Team) -> str:
    """Return the page as one file of HTML that needs nothing else and asks nobody."""
    parts = [_doors(seen, team)]
    if any(one.averted is not None for one in seen.stood):
        parts.append(_section(standing_figure(seen.stood), "standing"))
    if seen.lesson is not None:
        learned = _section(learned_figure(seen.lesson.told["learned"]), "learned")
        pooled = pooled_line(seen.lesson.told, moved=seen.lesson.moved)
        parts += [learned, f"<p class='soft'>{escape(pooled)}</p>"]
        if seen.pays:
            parts.append(_section(pays_figure(seen.pays), "pays"))
        apart = [outlier_words(one) for one in seen.apart]
        parts.append(_list("Buildings that depart from what the others taught", apart or ["None."]))
    title = f"{seen.name}, {seen.on.isoformat()}"
    policy = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data: blob:"
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{_STYLE}</style>\n<script>{get_plotlyjs()}</script></head>\n<body><main>\n"
        f"<h1>{escape(title)}</h1>\n<p class='soft'>{escape(not_counted(ENGLISH))}</p>\n"
        + "\n".join(parts)
        + f"\n<p class='soft'>{escape(caution())}</p>\n</main></body></html>\n"
    )


def standing_figure(stood: Sequence[Standing]) -> Drawn:
    """Return what an hour averts in each building, the first ones."""
    first = [one for one in stood if one.averted is not None][:MOST][::-1]
    names = [one.kept.name for one in first]
    values = [one.averted or 0.0 for one in first]
    told = [one.kept.summary for one in first]
    infested = [f"{s.median} of {s.units} ({s.low} to {s.high})" if s else "" for s in told]
    rows = [(n, f"{v:.2f}", i) for n, v, i in zip(names, values, infested, strict=True)]
    bars = {
        "type": "bar", "orientation": "h", "x": values, "y": list(range(len(first))),
        "marker": {"color": ACCENT}, "text": [f"{n}: {v} weeks an hour; infested {i}" for n, v, i in rows],
        "textposition": "none", "hovertemplate": "%{text}<extra></extra>",
    }  # fmt: skip
    return Drawn(
        {
            "data": [bars],
            "layout": layout_of(
                "infested weeks averted by an hour at the next doors", "", high=80 + rows_high(names, 26),
                yaxis=name_ticks(names), xaxis={"rangemode": "tozero"},
            ),
        },
        "Where an hour averts most",
        f"The first {len(first)} of {len(stood)} buildings, travel left out.",
        ["Building", "Weeks averted by an hour", "Infested (90% sure)"],
        rows[::-1],
    )  # fmt: skip


def learned_figure(learned: dict[str, Any]) -> Drawn:
    """Return the firm's own centre of each quantity beside the general figure, as factors."""
    names, spans, general, rows = [], [], [], []
    for name, one in reversed([(name, one) for name, one in learned.items() if one["taught"]]):
        middle, width = one["general"]
        names.append(quantity_name(name))
        low, centre, high = (math.exp(x - middle) for x in one["centre"])
        spans.append((low, centre, high))
        half = math.exp(1.645 * width)
        general.append((1 / half, 1.0, half))
        rows.append([names[-1], f"{centre:.2f} ({low:.2f} to {high:.2f})", f"{1 / half:.2f} to {half:.2f}",
                     f"x / {math.exp(one['spread'][1]):.2f}"])  # fmt: skip
    hover = [f"{row[0]}: {row[1]} times the general figure; between buildings {row[3]}" for row in rows]
    before = [f"{row[0]}: general experience {row[2]}" for row in rows]
    usual = Look(PLAIN, "line-ns-open", shift=0.16)
    ticks = [0.1, 0.2, 0.5, 1, 2, 5, 10]
    return Drawn(
        {
            "data": [
                span_rows(general, before, "one building, in general", usual),
                span_rows(spans, hover, "this firm's centre", Look(width=4, cap=0, shift=-0.12)),
            ],
            "layout": layout_of(
                "times the general figure (shares: their odds)", "", high=90 + rows_high(names, 44),
                yaxis=name_ticks(names),
                xaxis={"type": "log", "tickvals": ticks, "ticktext": [f"{tick:g}" for tick in ticks]},
            ),
        },
        "What the buildings taught one another",
        "Dots are middles, lines hold 90%. A line as wide as the other was not taught.",
        ["Quantity", "This firm (90% sure)", "In general (90%)", "Between its buildings"],
        rows[::-1],
    )  # fmt: skip


def pays_figure(pays: Sequence[Pays]) -> Drawn:
    """Return finds in an hour of each way of looking, as this firm's buildings taught."""
    order = tuple(reversed(pays))
    names = [method_name(one.method, ENGLISH) + ("" if one.taught else " (as usual)") for one in order]
    said = [f"{one.an_hour[1]:.1f} ({one.an_hour[0]:.1f} to {one.an_hour[2]:.1f})" for one in order]
    hover = [f"{name}: {told} finds an hour" for name, told in zip(names, said, strict=True)]
    rows = [
        [name, told, f"{100 * one.find[1]:.0f}%", f"{100 * one.general:.0f}%", f"{one.minutes:.0f}"]
        for name, told, one in zip(names, said, order, strict=True)
    ]
    return Drawn(
        {
            "data": [span_rows([one.an_hour for one in order], hover, "", Look(width=4, cap=0))],
            "layout": layout_of(
                "finds in an hour at units with 4 to 12 bugs", "", high=80 + rows_high(names, 44),
                yaxis=name_ticks(names), xaxis={"rangemode": "tozero"},
            ),
        },
        "Which way of looking pays in this firm",
        "Dots are middles, lines hold 90%; the way between doors and buildings is left out.",
        ["Way of looking", "Finds an hour", "Chance of a find", "Usual chance", "Minutes"],
        rows[::-1],
    )  # fmt: skip


def _doors(seen: Overview, team: Team) -> str:
    items = []
    for one in seen.tomorrow.doors:
        row = one.row
        chance = f"chance {ENGLISH.percent(row.chance)} ({sure_words(row.sure, ENGLISH)})"
        head = f"{one.session.building.name}, {row.unit}: {chance}"
        rest = (
            f"{access_words(row, ENGLISH)}; {worth_words(row, ENGLISH)}",
            reason_text(row.reasons, ENGLISH),
        )
        items.append(f"<li><strong>{escape(head)}</strong><br>{'<br>'.join(map(escape, rest))}</li>")
    stays = "".join(f"<li>{escape(stay_words(stay, ENGLISH))}</li>" for stay in seen.tomorrow.stays)
    notes = [
        f"{name}: something changed since its fit; fit it again first." for name in seen.tomorrow.changed
    ]
    told = "".join(f"<p>{escape(note)}</p>" for note in (*notes, *seen.tomorrow.problems))
    none = "" if items else "<p>No door to look at is known: fit the buildings first.</p>"
    return (
        f"<section><h2>First doors</h2><ol>{''.join(items)}</ol>{none}"
        f"<h2>One team's day, {team.hours:g} h</h2>"
        f"<ul>{stays}</ul>{told}</section>"
    )


def _list(title: str, items: Sequence[str]) -> str:
    told = "".join(f"<li>{escape(item)}</li>" for item in items)
    return f"<section><h2>{escape(title)}</h2><ul>{told}</ul></section>"


def _section(drawn: Drawn, identity: str) -> str:
    # plotly takes keys out of the settings that it is given: it gets its own.
    figure = to_html(
        dict(drawn.figure), config=dict(CONFIG), include_plotlyjs=False, full_html=False, div_id=identity
    )
    head = "".join(f"<th>{escape(cell)}</th>" for cell in drawn.head)
    rows = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in drawn.rows)
    return (
        f"<section><h2>{escape(drawn.title)}</h2><p class='soft'>{escape(drawn.said)}</p>{figure}"
        "<details><summary>The same as a table</summary><div class='wide'>"
        f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div></details></section>"
    )
