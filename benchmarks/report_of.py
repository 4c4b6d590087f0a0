"""The tables of a benchmark run in Markdown, its targets, and the document that holds them."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from benchmarks.figures_of import Doors, Interval, Rounds, mean_of, part_of, ratio_of
from spread.report.charts import Ranked, bars

OURS = "our chance of a find"
AFTER = "our chance of a find, after each answer"
TRUE_RATES = "our chance, true rates"
BEST_WEIGHTED = ("weighted ring", "weighted ring, not yet looked at first")
BENEFIT = "our benefit per minute"
BENEFIT_AFTER = "our benefit per minute, after each answer"
PASTS = {"usual": "usual practice in the past", "complaints": "complaints only in the past"}
START, END = "<!-- run: written by the script -->\n", "<!-- end of run -->"
RULES = (
    "random",
    "ring",
    "ring, not yet looked at first",
    "weighted ring",
    "weighted ring, not yet looked at first",
    "adaptive ring",
    "adaptive ring, complaints of 26 weeks",
    "highest past count",
    "degree",
    "personalised PageRank",
)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines) + "\n"


def first_doors(doors: Doors) -> str:
    """Return the table of the first doors."""
    rows = []
    for name in doors.names:
        rows.append(
            [
                f"**{name}**" if name == OURS else name,
                mean_of(doors.of(name)).show(),
                mean_of(doors.of(name, "hidden")).show(),
                doors.ratio(OURS, name).show(),
                doors.auc(name).show(3),
            ]
        )
    seen = doors.lines
    rhat = [line["rhat"][0] for line in seen]
    unit = [line["rhat"][1] for line in seen]
    words = (
        f"{len(seen)} worlds of {min(x['units'] for x in seen)} to {max(x['units'] for x in seen)} units; a "
        f"world: {np.mean([x['infested'] for x in seen]):.1f} infested, of them "
        f"{np.mean([x['hidden'] for x in seen]):.1f} not known "
        f"({np.mean([x['expected_hidden'] for x in seen]):.1f} expected by our chances), among "
        f"{np.mean([x['open'] for x in seen]):.0f} doors not known; {sum(x['hidden'] == 0 for x in seen)} "
        f"worlds hide none. Learned fits: R-hat {np.median(rhat):.3f} (median) and {max(rhat):.2f} "
        f"(worst) over everything, {np.median(unit):.3f} and {max(unit):.2f} over units' chances alone."
    )
    head = ["strategy", "finds in 15 doors", "hidden infested among them", f"finds of *{OURS}* over these"]
    return words + "\n\n" + _table([*head, "area under ROC"], rows)


def shapes(doors: Doors) -> str:
    """Return finds by shape: ours, the best rule, and the truth."""
    rows = []
    for shape, part in doors.by_shape().items():
        best = max((name for name in RULES if name in doors.names), key=lambda name: sum(part.of(name)))
        verdict = "**the rule wins**" if sum(part.of(best)) > sum(part.of(OURS)) else "ours"
        rows.append(
            [
                f"{shape} ({len(part.lines)})",
                mean_of(part.of(OURS)).show(),
                f"{best}: {mean_of(part.of(best)).show()}",
                part.ratio(OURS, best).show(),
                mean_of(part.of("the truth")).show(),
                verdict,
            ]
        )
    head = ["shape (worlds)", f"*{OURS}*", "best rule of this shape, chosen afterwards", "ratio", "the truth"]
    return _table([*head, "more finds"], rows)


def rounds_table(rounds: Rounds) -> str:
    """Return the table of the closed loop."""
    none = [rounds.of("no rounds", what) for what in ("found4", "found8", "hidden", "weeks")]
    rows = [["no rounds", *(ratio_of(none[k], none[2]).show() for k in (0, 1)), "", "", "", ""]]
    for name in rounds.names:
        rows.append(
            [
                name,
                ratio_of(rounds.of(name, "found4"), rounds.of(name, "hidden")).show(),
                ratio_of(rounds.of(name, "found8"), rounds.of(name, "hidden")).show(),
                mean_of(rounds.averted(name)).show(1),
                ratio_of(rounds.averted(name), rounds.hours(name)).show(),
                rounds.per_hour(name, "adaptive ring").show(),
                ratio_of(rounds.hours(name), rounds.of(name, "finds")).show(),
            ]
        )
    head = [
        "strategy",
        "hidden infested found by week 4",
        "by week 8",
        "infested-unit-weeks averted in 26 weeks",
    ]
    words = (
        f"{len(rounds.lines)} worlds, 120 doors each; without rounds {np.mean(none[3]):.0f} "
        "infested-unit-weeks a world in 26 weeks.\n\n"
    )
    more = ["averted per technician hour", "the same over the adaptive ring's", "technician hours a find"]
    return words + _table([*head, *more], rows)


def optimum_table(lines: Sequence[dict]) -> str:
    """Return the comparison with the exact optimum on small buildings."""
    rows = []
    best = [line["optimum"] for line in lines]
    for key, name in (
        ("optimum", "exact optimum"),
        ("ahead", "looking ahead"),
        ("greedy", "greedy, ordered anew after each answer"),
        ("fixed", "greedy, fixed list"),
    ):
        values = [line[key] for line in lines]
        loss = [1 - v / b if b else 0.0 for v, b in zip(values, best, strict=True)]
        rows.append(
            [
                name,
                f"{np.mean(values):.4f}",
                f"{100 * (1 - sum(values) / sum(best)):.2f} %",
                f"{100 * max(loss):.1f} %",
            ]
        )
    head = ["rule", "expected finds in 3 visits", "lost against the optimum", "worst building"]
    return f"{len(lines)} buildings of 6 units.\n\n" + _table(head, rows)


def _target(words: str, wanted: float, seen: Interval) -> list[str]:
    met = "met" if seen.value >= wanted else "**missed**"
    sure = (
        "whole interval above"
        if seen.low >= wanted
        else "whole interval below"
        if seen.high < wanted
        else "open"
    )
    return [words, f"{wanted:.2f}", seen.show(3), met, sure]


def targets(lines: Sequence[dict]) -> str:
    """Return every target, what was measured, and whether it is met."""
    return _table(
        ["target, ratio", "at least", "measured (95 % interval)", "", "interval"], list(_targets(lines))
    )


def _targets(lines: Sequence[dict]) -> Iterator[list[str]]:
    for past, words in PASTS.items():
        part = part_of(lines, "first doors", past)
        if not part:
            continue
        doors = Doors(part)
        if past == "usual":
            yield _target(f"{words}: our list over the ring", 1.4, doors.ratio(OURS, "ring"))
            best = max(BEST_WEIGHTED, key=lambda name: sum(doors.of(name)))
            yield _target(f"{words}: our list over the best weighted ring", 1.2, doors.ratio(OURS, best))
        else:
            yield _target(
                f"{words}: ours after each answer over the adaptive ring",
                1.1,
                doors.ratio(AFTER, "adaptive ring"),
            )
        yield _target(
            f"{words}: our list over personalised PageRank",
            1.3,
            doors.ratio(OURS, "personalised PageRank"),
        )
        yield _target(f"{words}: learned rates over true rates", 0.95, doors.ratio("our chance", TRUE_RATES))
    for past, words in PASTS.items():
        part = part_of(lines, "rounds", past)
        if part:
            for name, said in ((BENEFIT_AFTER, " (ordered anew after each answer)"), (BENEFIT, "")):
                yield _target(
                    f"{words}: weeks averted per hour, benefit per minute{said} over the adaptive ring",
                    1.3,
                    Rounds(part).per_hour(name, "adaptive ring"),
                )
    small = part_of(lines, "optimum")
    if small:
        ahead, greedy, best = ([line[key] for line in small] for key in ("ahead", "greedy", "optimum"))
        yield _target("small buildings: looking ahead over greedy", 1.0, ratio_of(ahead, greedy))
        yield _target("small buildings: greedy over the optimum", 0.95, ratio_of(greedy, best))


def text_of(lines: Sequence[dict]) -> str:
    """Return the whole report of what has been run so far."""
    if not lines:
        return "Nothing has been run yet.\n"
    seeds = sorted({line["seed"] for line in lines})
    seconds = sum(line["seconds"] for line in lines)
    counts = {
        (part, past): len(part_of(lines, part, past))
        for part in ("first doors", "rounds", "optimum")
        for past in PASTS
    }
    ran = "; ".join(f"{part}, {past}: {n}" for (part, past), n in counts.items() if n)
    pieces = [
        f"Reported on {dt.date.today():%Y-%m-%d}, seed {', '.join(map(str, seeds))}. Worlds run ({ran}): "
        f"{seconds / 3600:.1f} hours of one process, two at a time on a machine of two cores that did other "
        "work as well. After a figure stands its 95 % interval, from resampling worlds; ratios are paired.\n",
        "## Targets\n",
        targets(lines),
    ]
    for past, words in PASTS.items():
        if part := part_of(lines, "first doors", past):
            doors = Doors(part)
            pieces += [f"## First 15 doors, {words}\n", first_doors(doors), "### By shape\n", shapes(doors)]
    for past, words in PASTS.items():
        if part := part_of(lines, "rounds", past):
            pieces += [f"## Eight weeks of rounds, {words}\n", rounds_table(Rounds(part))]
    if part := part_of(lines, "optimum"):
        pieces += ["## Against the exact optimum\n", optimum_table(part)]
    return "\n".join(pieces)


SHORT = (
    "random",
    "ring",
    "weighted ring, not yet looked at first",
    "adaptive ring",
    "adaptive ring, complaints of 26 weeks",
    "personalised PageRank",
    OURS,
    AFTER,
    TRUE_RATES,
    "the truth",
)
"""Strategies of the short table."""


def short_of(lines: Sequence[dict]) -> str:
    """Return what the README shows: how many worlds, finds in the first doors, and the targets."""
    tables = {past: Doors(part) for past in PASTS if (part := part_of(lines, "first doors", past))}
    seeds = ", ".join(map(str, sorted({line["seed"] for line in lines})))
    worlds = "; ".join(f"{PASTS[past]}: {len(doors.lines)} worlds" for past, doors in tables.items())
    rows = [
        [f"**{name}**" if name == OURS else name, *(mean_of(d.of(name)).show() for d in tables.values())]
        for name in SHORT
    ]
    head = ["finds in the first 15 doors", *(PASTS[past] for past in tables)]
    rounds = len(part_of(lines, "rounds", "usual"))
    words = f"Seed {seeds}; {worlds}; eight weeks of rounds: {rounds} worlds. 95 % intervals in brackets.\n"
    return "\n".join([words, _table(head, rows), targets(lines)])


def write_short(lines: Sequence[dict], path: Path) -> None:
    """Put the short report between the marks of another document."""
    before, rest = path.read_text(encoding="utf-8").split(START)
    path.write_text(f"{before}{START}\n{short_of(lines)}\n{END}{rest.split(END)[1]}", encoding="utf-8")


def _colour(name: str) -> str:
    if name in RULES:
        return "#8a8f98"
    return "#1f6fb2" if name.startswith("our") and "true rates" not in name else "#c9b37e"


def chart(doors: dict[str, Doors]) -> str:
    """Return finds in the first doors by strategy with their intervals, for each past, as SVG."""
    panels = {
        f"Finds in 15 doors, {PASTS[past]} ({len(each.lines)} worlds)": [
            Ranked(name, mean.value, mean.low, mean.high, _colour(name))
            for name in each.names
            for mean in [mean_of(each.of(name))]
        ]
        for past, each in doors.items()
    }
    words = (
        "Grey: rules that go by records alone. Blue: ours with learned rates. Sand: bounds that are told the "
        "truth. Lines: 95 % intervals over worlds."
    )
    return bars(panels, title="Finds in the first 15 doors by strategy", words=words)


def write_docs(lines: Sequence[dict], path: Path) -> None:
    """Put the report between the marks of a document, and beside it the chart and the run they are of."""
    before, rest = path.read_text(encoding="utf-8").split(START)
    after = rest.split(END)[1]
    drawn, run = path.with_suffix(".svg"), path.with_suffix(".jsonl")
    picture = (
        f"![Finds in the first 15 doors by strategy]({drawn.name})\n\nDrawn from [the run]({run.name}).\n"
    )
    path.write_text(f"{before}{START}\n{picture}\n{text_of(lines)}\n{END}{after}", encoding="utf-8")
    run.write_text("".join(f"{json.dumps(line)}\n" for line in lines), encoding="utf-8")
    doors = {past: Doors(part) for past in PASTS if (part := part_of(lines, "first doors", past))}
    drawn.write_text(chart(doors), encoding="utf-8")
