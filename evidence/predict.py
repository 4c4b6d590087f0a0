"""What the posterior predicts: ``python -m evidence.predict --more more.jsonl``.

Every fitted figure is predicted twice, by studies that :mod:`evidence.posterior` simulated anew: at draws
given all studies, with the crew and inspectors that its own had, and at draws given all but its own, with new
ones.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evidence import before
from evidence.differing import DEVIATIONS, deviation, place_of
from evidence.fit import read
from evidence.parameters import BEFORE, NAMES, PRIORS, Floats, values_of
from evidence.simulate import simulate
from evidence.targets import Target, load
from spread.trade.joint import joint

BEGIN, END = "<!-- fit: begin -->", "<!-- fit: end -->"
SAMPLES = 200_000  #: With 4,000, whether a figure near an end lies inside was decided by their luck


@dataclass(frozen=True)
class Predicted:
    """Middle and 5 to 95 % of a figure as it would be published."""

    target: Target
    low: float
    middle: float
    high: float

    @property
    def inside(self) -> bool:
        """Whether the published figure lies in the interval."""
        return self.low - 1e-9 <= self.target.value <= self.high + 1e-9


def predict(target: Target, mean: Floats, sd: Floats, rng: np.random.Generator) -> Predicted:
    """Predict one figure from simulated or emulated ones: their spread, and a study's own luck in each."""
    chosen = rng.integers(0, len(mean), SAMPLES)
    mean, sd = mean[chosen], sd[chosen]
    if target.kind == "count":
        # A published share is rounded: the count that the likelihood takes is compared, not its percent.
        figures = rng.binomial(target.n, target.chance(mean)) / target.n
        low, high = np.quantile(figures, [0.05, 0.95]) + np.array([-0.5, 0.5]) / target.n
        return Predicted(target, float(low), float(np.median(figures)), float(high))
    figures = mean + np.hypot(sd, target.se) * rng.standard_normal(SAMPLES)
    if target.kind == "log":
        figures = np.exp(figures)
    low, middle, high = np.quantile(figures, [0.05, 0.5, 0.95])
    return Predicted(target, float(low), float(middle), float(high))


def tables(more: Path, *, seed: int = 1) -> tuple[list[str], list[tuple[Predicted, Predicted]]]:
    """Return lines of markdown, and every prediction with all studies and without its own.

    ``more``: what was simulated at draws of the posterior, of which the last round counts; ``seed``: luck.
    """
    targets, rng = load(), np.random.default_rng(seed)
    extra = read(more).rows
    last = [row for row in extra if row["round"] == extra[-1]["round"]]
    made = np.load(more.with_suffix(".npz"))
    pairs = []
    for t in targets:
        if t.use == "listed":
            continue
        figures = []
        for left in ("", t.study):
            ours = [row for row in last if row["without"] == left and row["of"] in ("", place_of(t))]
            if ours:
                mean, sd = np.array([row["summaries"][t.key] for row in ours]).T
                figures.append(predict(t, mean, sd, rng))
        pairs.append((figures[0], figures[-1]))  # of a study that nothing is fitted to, both are one
    number = len([row for row in last if row["of"] == last[0]["of"] and not row["without"]])
    lines = [
        f"{made['taught']} vectors teach the emulator; {number} draws were simulated for each prediction"
        + (", all studies with one crew." if made["alike"] else ".")
        + ("" if made["agrees"] else " **Emulated and simulated do not agree: this is not the posterior.**"),
        "",
        *_figures(pairs),
        "",
        "| parameter | before | prior (5 to 95 %) | posterior (5 to 95 %) |",
        "|---|---|---|---|",
    ]
    values = [values_of(x) for x in made["u"]]
    ends = [values_of(np.full(len(NAMES), z)) for z in (-1.645, 0.0, 1.645)]
    for name in NAMES:
        after = np.quantile([v[name] for v in values], [0.05, 0.5, 0.95]).tolist()
        lines.append(
            f"| {name} | {PRIORS[name].before if PRIORS[name].before > 1e-6 else 0:.3g} | "
            f"{_three([end[name] for end in ends])} | {_three(after)} |"
        )
    for name, t in zip(DEVIATIONS, made["t"].T, strict=True):
        if not made["alike"]:
            after = np.quantile(deviation(t), [0.05, 0.5, 0.95]).tolist()
            prior = deviation(np.array([-1.645, 0.0, 1.645])).tolist()
            lines.append(f"| between studies: {name} | 0 | {_three(prior)} | {_three(after)} |")
    chronic = [row["summaries"] for row in last if row["of"] in ("", "Wang 2016") and not row["without"]]
    mix = np.array([[each[f"mix-{k}"][0] for k in range(1, 5)] for each in chronic]).mean(axis=0)
    was = ", ".join(f"{x:g}" for x in before.LEVEL_MIX)
    lines += [
        "",
        "Standing mix of trace, low, moderate and heavy in chronic buildings: "
        + ", ".join(f"{x:.2f}" for x in mix)
        + f" (judged before: {was}).",
    ]
    return lines, pairs


def shipped(number: int, cores: int) -> list[str]:
    """Return lines of markdown: figures at the numbers before the fit and at draws that the package ships."""
    told = joint()
    kept = np.linspace(0, told.size - 1, number).astype(int)
    vectors = [{name: float(values[k]) for name, values in told.values.items()} for k in kept]
    with ProcessPoolExecutor(max_workers=cores) as pool:
        stood, *drawn = pool.map(simulate, [BEFORE, *vectors], range(1, number + 2))
    rng = np.random.default_rng(1)
    lines = [
        "| figure | published | known, use | before | shipped (90 %) | inside: before, shipped |",
        "|---|---|---|---|---|---|",
    ]
    for t in load():
        if t.use == "listed":
            continue
        two = [
            predict(t, *np.array([row[t.key] for row in rows]).T, rng) for rows in ([stood] * number, drawn)
        ]
        n = f" of {t.n}" if t.kind == "count" else ""
        lines.append(
            f"| {t.key}: {t.what} | {t.value:.3g}{n} | {t.known}, {t.use} | {two[0].middle:.3g} | "
            f"{_range(two[1])} | {', '.join('yes' if each.inside else '**no**' for each in two)} |"
        )
    return lines


def _figures(pairs: list[tuple[Predicted, Predicted]]) -> list[str]:
    """Return the table of figures and what it comes to."""
    lines = [
        "| figure | published | known, use | given all (90 %) | without its study | in |",
        "|---|---|---|---|---|---|",
    ]
    for with_all, without in pairs:
        t = with_all.target
        n = f" of {t.n}" if t.kind == "count" else ""
        lines.append(
            f"| {t.key}: {t.what} | {t.value:.3g}{n} | {t.known}, {t.use} | "
            f"{_range(with_all)}{'' if with_all.inside else ' **missed**'} | {_range(without)} | "
            f"{'yes' if without.inside else '**no**'} |"
        )
    count = {use: [b.inside for _, b in pairs if b.target.use == use] for use in ("fitted", "held-out")}
    told = "; ".join(f"{use}: {sum(each)} of {len(each)}" for use, each in count.items())
    both, given = (sum(pair[k].inside for pair in pairs) for k in (1, 0))
    return [
        *lines,
        "",
        f"Inside their 90 % interval when their study is left out: {told}; together {both} of {len(pairs)} "
        f"({both / len(pairs):.0%}). Given all: {given} of {len(pairs)}.",
    ]


def _range(p: Predicted) -> str:
    low, high = (max(p.low, 0.0), min(p.high, 1.0)) if p.target.kind == "count" else (p.low, p.high)
    return f"{p.middle:.3g} ({low:.3g} to {high:.3g})"


def _three(values: list[float]) -> str:
    return f"{values[1]:.3g} ({values[0]:.3g} to {values[2]:.3g})"


def main(argv: list[str] | None = None) -> int:
    """Print the tables, or write them into a page between its two marks."""
    parser = argparse.ArgumentParser(prog="python -m evidence.predict", description=__doc__)
    parser.add_argument("--more", type=Path, help="file of python -m evidence.posterior")
    parser.add_argument("--cores", type=int, default=1, help="processes at once")
    parser.add_argument("--doc", type=Path, help="page whose table is rewritten; printed without it")
    parser.add_argument(
        "--shipped", type=int, default=0, help="simulate so many of the package's draws instead"
    )
    a = parser.parse_args(argv)
    if a.shipped:
        sys.stdout.write("\n".join(shipped(a.shipped, a.cores)) + "\n")
        return 0
    if a.more is None:
        parser.error("name the file with --more, or ask for --shipped")
    for place in (a.more, a.more.with_suffix(".npz")):
        if not place.is_file():
            parser.error(f"{place} is no file; run python -m evidence.posterior")
    text = "\n".join(tables(a.more)[0])
    if a.doc is None:
        sys.stdout.write(text + "\n")
        return 0
    page = a.doc.read_text(encoding="utf-8")
    if page.count(BEGIN) != 1 or page.count(END) != 1:
        parser.error(f"{a.doc} has no place for the table: expected the lines {BEGIN} and {END}")
    head, rest = page.split(BEGIN)
    a.doc.write_text(head + BEGIN + "\n\n" + text + "\n\n" + END + rest.split(END)[1], encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
