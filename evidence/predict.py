"""What the posterior predicts: ``python -m evidence.predict draws.jsonl --more more.jsonl``.

Every fitted figure is predicted twice: by draws given all studies, at which the studies were simulated anew,
and by draws given all but its own. The second are chains of their own, on the same emulator: it was taught by
vectors that the search chose with all studies, which says where it is good and not what is likely there.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from evidence import before, emulator
from evidence.emulator import Emulator
from evidence.fit import read
from evidence.parameters import BEFORE, NAMES, PRIORS, Floats, values_of
from evidence.posterior import known, posterior
from evidence.simulate import simulate
from evidence.targets import Target, load
from spread.trade.joint import joint

BEGIN, END = "<!-- fit: begin -->", "<!-- fit: end -->"
SAMPLES = 4000
STEPS_WITHOUT = 800  #: Steps of the chains without a study


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


def emulated(found: Emulator, target: Target, u: Floats, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return means and deviations of a figure at draws, with what the emulator does not know drawn."""
    part = found.parts[target.key, 0]
    middle, var = part.at(u)
    return part.scale.back(middle + np.sqrt(var) * rng.standard_normal(len(u))), found.sd(target, u)


def left_out(
    found: Emulator, chain: Floats, place: Path, *, steps: int, cores: int, seed: int
) -> dict[str, Floats]:
    """Return draws given all studies but one, by that study; kept in ``place`` for the next call."""
    if place.exists():
        return dict(np.load(place))
    studies = sorted({t.study for t in found.targets if t.use == "fitted"})
    with ProcessPoolExecutor(max_workers=cores) as pool:
        done = list(pool.map(partial(posterior, found, chain, steps=steps, seed=seed), studies))
    for study, each in zip(studies, done, strict=True):
        sys.stderr.write(
            f"without {study}: autocorrelation {each.autocorrelation:.0f} steps, {each.effective:.0f} "
            "effective draws\n"
        )
    out = {study: each.u for study, each in zip(studies, done, strict=True)}
    np.savez(place, **out)
    return out


def tables(
    draws: Path, more: Path, *, steps: int = STEPS_WITHOUT, cores: int = 1, seed: int = 1
) -> tuple[list[str], list[tuple[Predicted, Predicted]]]:
    """Return lines of markdown, and every prediction with all studies and without its own.

    ``draws``: vectors of the fit; ``more``: those simulated at draws of the posterior, of which the last are
    the posterior's; ``steps``: of the chains without a study; ``cores``: processes at once; ``seed``: luck.
    """
    targets, rng = load(), np.random.default_rng(seed)
    taught = known([draws, more], targets)
    found = emulator.fit(taught.u, taught.rows, targets)
    extra = read(more).rows
    last = [row for row in extra if row["round"] == max(each["round"] for each in extra)]
    made = np.load(more.with_suffix(".npz"))
    chain = made["u"]
    without = left_out(found, chain, more.with_suffix(".without.npz"), steps=steps, cores=cores, seed=seed)
    pairs = []
    for t in targets:
        if t.use == "listed":
            continue
        pair = np.array([row["summaries"][t.key] for row in last])
        by_all = predict(t, pair[:, 0], pair[:, 1], rng)
        by_others = by_all
        if t.study in without:
            by_others = predict(t, *emulated(found, t, without[t.study], rng), rng)
        pairs.append((by_all, by_others))
    lines = [
        f"{len(taught.u)} vectors teach the emulator; {len(last)} draws were simulated for the first "
        "prediction."
        + ("" if made["agrees"] else " **Emulated and simulated do not agree: this is not the posterior.**"),
        "",
        *_figures(pairs),
        "",
        "| parameter | before | prior (5 to 95 %) | posterior (5 to 95 %) |",
        "|---|---|---|---|",
    ]
    values = [values_of(x) for x in chain]
    ends = [values_of(np.full(len(NAMES), z)) for z in (-1.645, 0.0, 1.645)]
    for name in NAMES:
        after = np.quantile([v[name] for v in values], [0.05, 0.5, 0.95]).tolist()
        lines.append(
            f"| {name} | {PRIORS[name].before if PRIORS[name].before > 1e-6 else 0:.3g} | "
            f"{_three([end[name] for end in ends])} | {_three(after)} |"
        )
    mix = np.array([[row["summaries"][f"mix-{k}"][0] for k in range(1, 5)] for row in last]).mean(axis=0)
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
    both = [b.inside for _, b in pairs]
    return [
        *lines,
        "",
        f"Inside their 90 % interval when their study is left out: {told}; together {np.mean(both):.0%}.",
    ]


def _range(p: Predicted) -> str:
    low, high = (max(p.low, 0.0), min(p.high, 1.0)) if p.target.kind == "count" else (p.low, p.high)
    return f"{p.middle:.3g} ({low:.3g} to {high:.3g})"


def _three(values: list[float]) -> str:
    return f"{values[1]:.3g} ({values[0]:.3g} to {values[2]:.3g})"


def main(argv: list[str] | None = None) -> int:
    """Print the tables, or write them into a page between its two marks."""
    parser = argparse.ArgumentParser(prog="python -m evidence.predict", description=__doc__)
    parser.add_argument("draws", type=Path, nargs="?", help="file of python -m evidence.fit")
    parser.add_argument("--more", type=Path, help="file of python -m evidence.posterior")
    parser.add_argument("--steps", type=int, default=STEPS_WITHOUT, help="steps of chains without a study")
    parser.add_argument("--cores", type=int, default=1, help="processes at once")
    parser.add_argument("--doc", type=Path, help="page whose table is rewritten; printed without it")
    parser.add_argument(
        "--shipped", type=int, default=0, help="simulate so many of the package's draws instead"
    )
    a = parser.parse_args(argv)
    if a.shipped:
        sys.stdout.write("\n".join(shipped(a.shipped, a.cores)) + "\n")
        return 0
    if a.draws is None or a.more is None:
        parser.error("name the file of draws and --more, or ask for --shipped")
    for place in (a.draws, a.more, a.more.with_suffix(".npz")):
        if not place.is_file():
            parser.error(f"{place} is no file; run python -m evidence.fit, then python -m evidence.posterior")
    text = "\n".join(tables(a.draws, a.more, steps=a.steps, cores=a.cores)[0])
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
