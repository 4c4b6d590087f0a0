"""What any test could tell of a building that is not as the model assumes, were it told the truth.

    python -m proofs.tellable --buildings 400

For every kind of :mod:`proofs.realities` the likelihood ratio of it against a building as assumed, of the
log *and* of the true levels of every unit and week, with the building's own rates: no test of the log, nor of
the truth, finds more at the same false alarms (Neyman and Pearson). Who resists, hides or never
reports is averaged out; who would share a laundry is told. Where even this is too little, no warning can be
asked for.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from proofs.realities import KINDS, START, WEEKS, Building, Kind
from spread.posterior.dynamics import LEVELS
from spread.trade import biology, detection, treatment

Floats = NDArray[np.float64]
ALONE, TOGETHER = 0.10, 0.01
"""False alarms of one warning alone, and of each of some ten that together are to stay under a tenth."""
SHOWS = 10.0
"""Likelihood ratio from which a departure shows in a building."""
MOST = 64
"""Most buildings that are put together to tell how much would be enough."""


class Seen(NamedTuple):
    """A building with its truth, as arrays."""

    x: NDArray[np.int64]  # (N, T)
    reports: NDArray[np.bool_]  # (N, T)
    turnovers: NDArray[np.bool_]  # (N, T)
    treated: NDArray[np.bool_]  # (N, T)
    looks: tuple[tuple[int, int, str, str, bool], ...]  # unit, week, method, by, found


def seen_of(made: Building) -> Seen:
    """Return a building that was lived in as arrays."""
    x = np.array(made.lived).T.astype(np.int64)
    flags = {kind: np.zeros(x.shape, dtype=bool) for kind in ("report", "turnover", "treatment")}
    looks = []
    for row in made.log:
        i, t = made.network.index[row.unit], (row.when - START).days // 7
        if row.is_look:
            looks.append((i, t, row.method, row.by, row.found == "yes"))
        else:
            flags[row.kind][i, t] = True
    return Seen(x, flags["report"], flags["turnover"], flags["treatment"], tuple(looks))


def log_density(made: Building, seen: Seen, kind: Kind) -> float:
    """Return the log density of truth and log in a world of a kind, up to what is the same in all kinds."""
    parts = (_of_reports(seen, kind), _of_looks(seen, kind), _of_levels(made, seen, kind))
    return float(sum(part.sum() for part in parts))


def log_ratio(made: Building, kind: Kind) -> float:
    """Return the log of how much likelier truth and log of a building are in a kind than as assumed."""
    seen = seen_of(made)
    return log_density(made, seen, kind) - log_density(made, seen, KINDS["as assumed"])


def _mixed(share: float, usual: Floats, other: Floats) -> Floats:
    """Return per unit the log of a mixture, of which ``share`` is other."""
    if share == 0.0:
        return usual
    return np.logaddexp(np.log1p(-share) + usual, np.log(share) + other)


def _of_reports(seen: Seen, kind: Kind) -> Floats:
    chance = detection.report_chance()
    levels = seen.x[:, : WEEKS - 1]
    p = chance[np.minimum(levels, 2) if kind.heavy_as_light else levels]
    p[levels == 0] *= kind.false_reports
    clear = np.where(levels == 0, p, 0.0)
    said = seen.reports[:, : WEEKS - 1]
    speak = np.log(np.where(said, p, 1.0 - p)).sum(axis=1)
    never = np.log(np.where(said, np.maximum(clear, 1e-300), 1.0 - clear)).sum(axis=1)
    return _mixed(kind.never, speak, never)


def _of_looks(seen: Seen, kind: Kind) -> Floats:
    logs = np.zeros((2, len(seen.x)))
    for i, t, method, by, found in seen.looks:
        level = seen.x[i, t]
        for hides in range(2):
            if level == 0:
                chance = kind.false_alerts if method == "dog" else 0.5
            else:
                misses = kind.misses * (3.0 if hides else 1.0) * (kind.blind if by == "T2" else 1.0)
                chance = 1.0 - min(0.98, misses * (1.0 - detection.sensitivity(method)[level]))
            logs[hides, i] += np.log(chance if found else 1.0 - chance)
    return _mixed(kind.hide, logs[0], logs[1])


def _of_levels(made: Building, seen: Seen, kind: Kind) -> Floats:
    x, n = seen.x, len(seen.x)
    push = made.push.copy()
    push[np.ix_(made.club, made.club)] += kind.laundry - made.kind.laundry
    np.fill_diagonal(push, 0.0)
    move_in = made.move_in * kind.move_ins / made.kind.move_ins
    growth = biology.growth_matrix(biology.GROWTH_PER_DAY.central * kind.growth)
    effect = treatment.effect_matrix("spray")
    acts = [np.eye(LEVELS) + part * (effect - np.eye(LEVELS)) for part in (1.0, 0.3)]
    logs = np.zeros((2, n))
    for t in range(WEEKS - 1):
        now, after = x[:, t], x[:, t + 1]
        hazard = made.brought_in + made.d.shedding[now] @ push + move_in * seen.turnovers[:, t]
        own = np.where(now >= 3, kind.own, 0.0)[:, None]
        rows = (1.0 - own) * growth[now] + own * growth[np.maximum(now - 1, 0)]
        clear = now == 0
        rows[clear] = 0.0
        rows[clear, 0], rows[clear, 1] = np.exp(-hazard[clear]), 1.0 - np.exp(-hazard[clear])
        for hard in range(2):
            moved = np.where(seen.treated[:, t, None], rows @ acts[hard], rows)
            logs[hard] += np.log(np.maximum(moved[np.arange(n), after], 1e-300))
    return _mixed(kind.resist, logs[0], logs[1])


def informative(name: str, made: Building) -> int:
    """Return how many events of a building tell of a kind, as :data:`TOLD_BY` names them."""
    seen = seen_of(made)
    x, at = seen.x, np.array([one[:2] for one in seen.looks]).reshape(-1, 2)
    level = x[at[:, 0], at[:, 1]]
    events = {
        "weeks of moderate and heavy ones": x >= 3,
        "weeks infested": x > 0,
        "looks at infested units": level > 0,
        "looks of his at infested units": (level > 0) & [by == "T2" for *_, by, _ in seen.looks],
        "dog looks at clear units": (level == 0) & [one[2] == "dog" for one in seen.looks],
        "units treated while infested": (seen.treated & (x > 0)).any(axis=1),
        "move-ins": seen.turnovers & (x == 0),
        "arrivals in units that share it": ((x[:, :-1] == 0) & (x[:, 1:] > 0))[made.club],
        "complaints of nothing": seen.reports & (x == 0),
    }
    return int(np.sum(events[TOLD_BY[name]]))


TOLD_BY = {
    "heavy ones report as rarely as light": "weeks of moderate and heavy ones",
    "looks miss twice as much": "looks at infested units",
    "a third never report": "weeks infested",
    "four in ten dog alerts in clear units": "dog looks at clear units",
    "seven in ten units resist treatment": "units treated while infested",
    "move-ins tenfold": "move-ins",
    "a laundry that no plan shows": "arrivals in units that share it",
    "one of two inspectors misses three times as much": "looks of his at infested units",
    "a third of units hide what they have": "looks at infested units",
    "bugs grow half as fast": "weeks infested",
    "people treat by themselves, off the log": "weeks of moderate and heavy ones",
    "complaints of nothing fivefold": "complaints of nothing",
    "some never report, some miss, some resist": "looks at infested units",
}
"""What the likelihood ratio of a kind mostly rests on."""


def power(null: Floats, other: Floats, alarms: float) -> float:
    """Return the share of ``other`` above the level that ``alarms`` of ``null`` are above."""
    return float((other > np.quantile(null, 1.0 - alarms)).mean())


def enough(null: Floats, other: Floats) -> int | None:
    """Return how many such buildings together give 80 % at a tenth false alarms; None above :data:`MOST`."""
    rng = np.random.default_rng(0)
    for k in range(1, MOST + 1):
        one, two = (rng.choice(logs, size=(4000, k)).sum(axis=1) for logs in (null, other))
        if power(one, two, ALONE) >= 0.8:
            return k
    return None


def main(words: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--buildings", type=int, default=400)
    parser.add_argument("--first", type=int, default=10_000, help="seed of the first building")
    parser.add_argument("--kind", choices=sorted(TOLD_BY), action="append")
    chosen = parser.parse_args(words)
    seeds = range(chosen.first, chosen.first + chosen.buildings)
    assumed = [_lived(KINDS["as assumed"], seed) for seed in seeds]
    sys.stdout.write(
        f"{'reality':50} {'at 10 %':>8} {'at 1 %':>7} {'shows':>6} {'events':>7} {'enough':>7}  events are\n"
    )
    for name in chosen.kind or TOLD_BY:
        kind = KINDS[name]
        other = [_lived(kind, seed) for seed in seeds]
        null, logs = (np.array([log_ratio(made, kind) for made in many]) for many in (assumed, other))
        events = float(np.mean([informative(name, one) for one in other]))
        times = enough(null, logs)
        sys.stdout.write(
            f"{name:50} {power(null, logs, ALONE):8.2f} {power(null, logs, TOGETHER):7.2f} "
            f"{np.mean(logs > np.log(SHOWS)):6.2f} {events:7.1f} "
            f"{f'{events * times:.0f}' if times else '-':>7}  {TOLD_BY[name]}\n"
        )
        sys.stdout.flush()


def _lived(kind: Kind, seed: int) -> Building:
    made = Building(kind, seed)
    made.live()
    return made


if __name__ == "__main__":
    main()
