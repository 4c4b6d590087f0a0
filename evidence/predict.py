"""What draws predict: ``python -m evidence.predict draws.jsonl --doc docs/evidence.md`` rewrites its table.

Every target is predicted twice: by the draws as weighted, and with its own study's likelihood left out. The
second is by reweighting; a study that decides much needs a fresh start (``evidence.fit --without``).
"""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evidence import sampler
from evidence.fit import Draws, read
from evidence.parameters import NAMES, SHIPPED, Floats, values_of
from evidence.targets import Target, load

ENOUGH = 50.0  #: Effective draws below which the likelihood is taken to a power below 1
BEGIN, END = "<!-- first run: begin -->", "<!-- first run: end -->"
SAMPLES = 4000


@dataclass(frozen=True)
class Predicted:
    """Middle and 5 to 95 % of a figure as it would be published, and at which power of the likelihood."""

    target: Target
    low: float
    middle: float
    high: float
    power: float

    @property
    def inside(self) -> bool:
        """Whether the published figure lies in the interval."""
        return self.low - 1e-9 <= self.target.value <= self.high + 1e-9


def predict(target: Target, rows: list[dict], w: Floats, power: float, rng: np.random.Generator) -> Predicted:
    """Predict one figure: draws by their weights, and in each the luck of a study of the published size."""
    pairs = np.array([row["summaries"][target.key] for row in rows])[rng.choice(len(rows), SAMPLES, p=w)]
    mean, sd = pairs.T
    if target.kind == "count":
        chance = np.clip(mean, target.chance(0.0), target.chance(1.0))
        # A published share is rounded: the count that the likelihood takes is compared, not its percent.
        figures = rng.binomial(target.n, chance) / target.n
        low, high = np.quantile(figures, [0.05, 0.95]) + np.array([-0.5, 0.5]) / target.n
        return Predicted(target, float(low), float(np.median(figures)), float(high), power)
    figures = mean + np.hypot(sd, target.se) * rng.standard_normal(SAMPLES)
    if target.kind == "log":
        figures = np.exp(figures)
    low, middle, high = np.quantile(figures, [0.05, 0.5, 0.95])
    return Predicted(target, float(low), float(middle), float(high), power)


def tables(draws: Draws, seed: int = 1) -> tuple[list[str], list[tuple[Predicted, Predicted]]]:
    """Return lines of markdown, and every prediction with all studies and without its own."""
    targets, rng = load(), np.random.default_rng(seed)
    u, loglik, rounds, rows = draws.whole(targets)
    if not rows:
        raise SystemExit("No round is whole yet; let the fit run on.")
    mixtures = rounds[:-1]
    power, w = sampler.hottest(u, loglik, mixtures, ENOUGH)
    sure = sampler.effective(sampler.weights(u, loglik, mixtures))
    left_out = draws.header["without"]
    fitted = [t for t in targets if t.use == "fitted" and t.study != left_out]
    out, pairs = [], []
    for t in targets:
        if t.use == "listed":
            continue
        with_all = predict(t, rows, w, power, rng)
        own = [x.key for x in fitted if x.study == t.study]
        without = with_all
        if own:
            rest = loglik - np.array([sum(row["loglik"][key] for key in own) for row in rows])
            cooler, w_rest = sampler.hottest(u, rest, mixtures, ENOUGH)
            without = predict(t, rows, w_rest, cooler, rng)
        pairs.append((with_all, without))
    warm = (
        " **This is not the posterior**: the nearer to 0, the more it is the priors." if power < 1.0 else ""
    )
    lines = [
        f"{len(u)} vectors in {len(mixtures)} rounds; best log likelihood {loglik.max():.1f}; {sure:.1f} "
        f"effective draws at the whole likelihood. Predictions take the likelihood to the power {power:.3f}, "
        f"which leaves {sampler.effective(w):.0f}.{warm}"
        + (f" Fitted without {left_out}." if left_out else ""),
        "",
        *_figures(pairs, rows[int(loglik.argmax())]),
        "",
    ]
    lines += ["| parameter | shipped | prior (5 to 95 %) | draws (5 to 95 %) |", "|---|---|---|---|"]
    chosen = rng.choice(len(u), SAMPLES, p=w)
    drawn = [values_of(x) for x in u]
    ends = [values_of(np.full(len(NAMES), z)) for z in (-1.645, 0.0, 1.645)]
    for name in NAMES:
        after = np.quantile([drawn[k][name] for k in chosen], [0.05, 0.5, 0.95])
        before = [end[name] for end in ends]
        shipped = 0.0 if SHIPPED[name] < 1e-6 else SHIPPED[name]
        lines.append(f"| {name} | {shipped:.3g} | {_three(before)} | {_three(after.tolist())} |")
    mix = np.array([[row["summaries"][f"mix-{k}"][0] for k in range(1, 5)] for row in rows])
    standing = w @ mix
    lines += [
        "",
        "Standing mix of trace, low, moderate and heavy in chronic buildings: "
        + ", ".join(f"{x:.2f}" for x in standing)
        + ".",
    ]
    out += lines
    return out, pairs


def _figures(pairs: list[tuple[Predicted, Predicted]], best: dict) -> list[str]:
    """Return the table of figures and what it comes to."""
    lines = [
        "| figure | published | known, use | best vector | predicted (90 %) | without its study | in |",
        "|---|---|---|---|---|---|---|",
    ]
    missed = []
    for with_all, without in pairs:
        t = with_all.target
        n = f" of {t.n}" if t.kind == "count" else ""
        mean, sd = best["summaries"][t.key]
        far = abs(t.off(mean, sd)) > 2.0
        missed += [t.key] * far
        lines.append(
            f"| {t.key}: {t.what} | {t.value:.3g}{n} | {t.known}, {t.use} | "
            f"{math.exp(mean) if t.kind == 'log' else mean:.3g}{' **missed**' if far else ''} | "
            f"{_range(with_all)} | {_range(without)} | {'yes' if without.inside else '**no**'} |"
        )
    met = len(pairs) - len(missed)
    lines += [
        "",
        f"At the best vector, chosen for it, {met} of {len(pairs)} figures lie within two standard errors "
        f"(of the study and of the luck of buildings); missed: {', '.join(missed) or 'none'}.",
    ]
    if any(p.power < 1.0 for pair in pairs for p in pair):
        return [*lines, "Being inside is not counted at a power below 1: wide intervals hold everything."]
    count = {use: [b.inside for _, b in pairs if b.target.use == use] for use in ("fitted", "held-out")}
    told = "; ".join(f"{use}: {sum(each)} of {len(each)}" for use, each in count.items())
    return [*lines, f"Inside their interval when their study is left out: {told}."]


def _range(p: Predicted) -> str:
    low, high = (max(p.low, 0.0), min(p.high, 1.0)) if p.target.kind == "count" else (p.low, p.high)
    return f"{p.middle:.3g} ({low:.3g} to {high:.3g})"


def _three(values: list[float]) -> str:
    return f"{values[1]:.3g} ({values[0]:.3g} to {values[2]:.3g})"


def main(argv: list[str] | None = None) -> int:
    """Print the tables, or write them into a page between its two marks."""
    parser = argparse.ArgumentParser(prog="python -m evidence.predict", description=__doc__)
    parser.add_argument("draws", type=Path, help="file of python -m evidence.fit")
    parser.add_argument("--doc", type=Path, help="page whose table is rewritten; printed without it")
    a = parser.parse_args(argv)
    if not a.draws.is_file():
        parser.error(f"{a.draws} is no file; expected one of python -m evidence.fit")
    text = "\n".join(tables(read(a.draws))[0])
    if a.doc is None:
        sys.stdout.write(text + "\n")
        return 0
    page = a.doc.read_text(encoding="utf-8")
    if page.count(BEGIN) != 1 or page.count(END) != 1:
        parser.error(f"{a.doc} has no place for the table: expected the lines {BEGIN} and {END}")
    before, rest = page.split(BEGIN)
    a.doc.write_text(before + BEGIN + "\n\n" + text + "\n\n" + END + rest.split(END)[1], encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
