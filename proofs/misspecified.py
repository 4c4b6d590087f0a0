"""What a fit makes of buildings that are not as it assumes: bias, coverage, calibration, warnings.

Run all of it from the top folder::

    python -m proofs.misspecified --buildings 24

The simulator is :mod:`proofs.realities`. ``--before`` fits without learning who reports, finds and resists.

Finds are those of a brief look (its chance by the true level) at the first 15 doors of units not known to be
infested: of the product's list, and of rules of the open benchmark that go by the log alone.

A warning is needed where what is broken shows: where log and truth are ten times likelier with it
(:mod:`proofs.tellable`). It hurts where the interval misses or the number expected is far off.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from benchmarks.sight import Ground, Sight
from benchmarks.strategies import METHOD, STRATEGIES
from proofs.realities import KINDS, ON, WEEKS, Building, Kind
from proofs.tellable import SHOWS, log_ratio
from spread.decisions.departures import Departs
from spread.decisions.trust import Warned, warnings_of
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Dynamics, central_dynamics
from spread.posterior.fit import FitSettings, fit_evidence
from spread.posterior.observations import build_evidence
from spread.trade import detection

CHAIN = FitSettings(weeks=WEEKS, chains=4, warmup=100, sweeps=250, most_sweeps=500)
DOORS = 15
"""Doors of the round whose finds are counted."""
OURS = "our chance of a find"
RULES = ("ring", "weighted ring", "weighted ring, not yet looked at first")
"""What the list is held against, with 1.4, 1.3 and 1.2 times as many finds asked for."""


WARNED = {
    "little-reported": "reporting",
    "many-never-report": "reporting",
    "little-found": "finding",
    "false-alerts": "alerts",
    "many-resist": "treatment",
    "shared-room": "shared room",
    "silent": "reporting",
    "silent-heavy": "reporting",
    "silent-light": "reporting",
    "never": "reporting",
    "looks": "finding",
    "looks-by": "finding",
    "resist": "treatment",
    "moved-in": "move-ins",
    "room": "shared room",
}
"""What a warning is about, by its kind, a departure's by its own; others keep their name."""


def finds_of(made: Building, posterior: Posterior, seed: int) -> dict[str, float]:
    """Return expected finds in the first doors of the product's list and of the rules it is held against."""
    ground = Ground(made.graph, made.network, made.d)
    sight = Sight.of(ground, made.log, ON, posterior=posterior, prior=made.d, doors=DOORS)
    found = detection.sensitivity(METHOD)[made.x]
    finds = {}
    for one in STRATEGIES:
        if one.name in (OURS, *RULES):
            doors = one.order(sight, np.random.default_rng([seed, 78]))[:DOORS]
            finds[one.name] = float(sum(found[made.network.index[unit]] for unit in doors))
    return finds


def hurts(true: int, expected: float, low: int, high: int) -> bool:
    """Return whether the answer is off: the interval misses, or by more than two units and a third."""
    return not low <= true <= high or abs(expected - true) > max(2.0, true / 3.0)


def about(warned: Warned) -> str:
    """Return what a warning is about."""
    kind = warned.kind if isinstance(warned, Departs) else warned.fact
    return WARNED.get(kind, kind)


def judge(kind: Kind, seed: int, *, before: bool) -> dict[str, object]:
    """Fit one building and hold the answer against the truth."""
    made = Building(kind, seed)
    made.live()
    prior: Dynamics = replace(central_dynamics(), room=not before)
    evidence = build_evidence(made.log, made.network.units, prior, on=ON, weeks=WEEKS)
    if before:
        evidence = replace(evidence, seeing=None)
    posterior = fit_evidence(
        made.network, evidence, prior, on=ON, settings=replace(CHAIN, seed=seed), warm=None
    )
    truth = made.x > 0
    low, _, high = posterior.infested_count()
    return {
        "rows": len(made.log),
        "true": int(truth.sum()),
        "expected": float(posterior.chance.sum()),
        "covered": bool(low <= truth.sum() <= high),
        "chances": posterior.chance.round(4).tolist(),
        "infested": truth.astype(int).tolist(),
        "finds": finds_of(made, posterior, seed),
        "warnings": sorted({about(one) for one in warnings_of(posterior)}),
        "ratio": log_ratio(made, kind),
        "hurts": bool(hurts(truth.sum(), float(posterior.chance.sum()), low, high)),
        "rhat": posterior.diagnostics.worst_rhat,
    }


def warned_of(rows: Sequence[dict[str, object]], needs: set[str]) -> str:
    """Return shares of buildings: warned, rightly, wrongly, and rightly where it shows and where it hurts."""
    told: list[set[str]] = [set(row["warnings"]) for row in rows]  # type: ignore[call-overload]
    right = np.array([bool(needs & one) for one in told])
    shows = np.array([float(row["ratio"]) >= np.log(SHOWS) for row in rows])  # type: ignore[arg-type]
    harm = np.array([bool(row["hurts"]) for row in rows])
    words = [f"{np.mean([bool(one) for one in told]):7.2f}"]
    words.append(f"{right.mean():8.2f}" if needs else f"{'-':>8}")
    words.append(f"{np.mean([bool(one - needs) for one in told]):8.2f}")
    for which in (shows, harm):
        share = (
            f"{right[which].mean():.2f} of {which.sum()}" if needs and which.any() else f"- of {which.sum()}"
        )
        words.append(f"{share:>10}")
    return " ".join(words)


def calibration_error(chances: np.ndarray, infested: np.ndarray) -> float:
    """Mean distance of chance and share infested over ten equal groups of units."""
    order = np.argsort(chances)
    return float(np.mean([abs(chances[g].mean() - infested[g].mean()) for g in np.array_split(order, 10)]))


HEAD = (
    f"{'reality':50} {'true':>5} {'bias':>6} {'cover':>6} {'calib.':>7} {'warned':>7} {'rightly':>8} "
    f"{'wrongly':>8} {'it shows':>10} {'it hurts':>10} "
    f"{'finds':>6} {' '.join(f'{rule:>13.13}' for rule in RULES)}\n"
)


def line_of(name: str, rows: Sequence[dict[str, object]]) -> str:
    """Return the line of the table of the buildings of one kind."""
    chances = np.concatenate([row["chances"] for row in rows])  # type: ignore[arg-type]
    infested = np.concatenate([row["infested"] for row in rows])  # type: ignore[arg-type]
    needs = set(KINDS[name].needs)
    mean = {
        key: float(np.mean([row[key] for row in rows]))  # type: ignore[arg-type]
        for key in ("true", "expected", "covered")
    }
    finds: list[dict[str, float]] = [row["finds"] for row in rows]  # type: ignore[misc]
    found = [np.mean([one[key] for one in finds]) for key in (OURS, *RULES)]
    return (
        f"{name:50} {mean['true']:5.1f} {mean['expected'] - mean['true']:6.1f} {mean['covered']:6.2f} "
        f"{calibration_error(chances, infested):7.3f} "
        f"{warned_of(rows, needs)} "
        f"{found[0]:6.2f} {' '.join(f'{mean:13.2f}' for mean in found[1:])}\n"
    )


def ratio_of(finds: Sequence[dict[str, float]], rule: str) -> tuple[float, float, float]:
    """Return the list's finds over a rule's, and its 95 % interval from resampling buildings."""
    ours, theirs = (np.array([one[key] for one in finds]) for key in (OURS, rule))
    again = np.random.default_rng(0).integers(len(finds), size=(4000, len(finds)))
    low, high = np.quantile(ours[again].sum(axis=1) / theirs[again].sum(axis=1), (0.025, 0.975))
    return float(ours.sum() / theirs.sum()), float(low), float(high)


def main(words: Sequence[str] | None = None) -> None:
    """Print the table; with ``--out`` also write every building as a line of JSON."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--buildings", type=int, default=24)
    parser.add_argument("--first", type=int, default=0, help="seed of the first building")
    parser.add_argument("--kind", choices=sorted(KINDS), action="append")
    parser.add_argument("--before", action="store_true", help="learn the rates only")
    parser.add_argument("--out")
    chosen = parser.parse_args(words)
    sys.stdout.write(HEAD)
    pooled: list[dict[str, float]] = []
    for name in chosen.kind or KINDS:
        rows = [judge(KINDS[name], chosen.first + k, before=chosen.before) for k in range(chosen.buildings)]
        pooled += [row["finds"] for row in rows]  # type: ignore[misc]
        sys.stdout.write(line_of(name, rows))
        sys.stdout.flush()
        if chosen.out:
            with open(chosen.out, "a", encoding="utf-8") as file:  # noqa: PTH123
                file.writelines(json.dumps({"kind": name, **row}) + "\n" for row in rows)
    for rule in RULES:
        ratio, low, high = ratio_of(pooled, rule)
        sys.stdout.write(f"finds over {rule}, pooled: {ratio:.2f} ({low:.2f} to {high:.2f})\n")


if __name__ == "__main__":
    main()
