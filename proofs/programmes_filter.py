"""What the fast filter inside the programmes gives away against the full sampler.

Small simulated buildings are lived in for a year under usual practice (:mod:`spread.worlds.practice`). The
sampler fits each log; the filter steps through the same evidence week by week, from the same prior. Both then
name fifteen doors by the chance of a find, and the truth says how many of them held bugs that nobody knew of.
``python -m proofs.programmes_filter`` prints the figures.
"""

from __future__ import annotations

import datetime as dt
import sys
from dataclasses import dataclass

import numpy as np

from spread.contacts.graph import build_contacts
from spread.plan.drawing.listed import UnitRow
from spread.plan.unit_list import UnitList, draw_plan
from spread.posterior.dynamics import central_dynamics, network_of
from spread.posterior.fit import FitSettings, fit
from spread.posterior.observations import build_evidence
from spread.programmes import filter as firm
from spread.programmes import rules as r
from spread.programmes.tables import stacked, tables_of
from spread.trade import detection
from spread.weeks import monday_of
from spread.worlds.practice import PracticeSettings, usual_practice

DOORS = 15
WEEKS = 52


@dataclass(frozen=True)
class Compared:
    """Means over buildings; ``finds`` are those expected of a brief look at fifteen doors, by the truth."""

    finds_sampler: float
    finds_filter: float
    finds_best: float
    finds_random: float
    finds_error: float
    rank_correlation: float
    mean_gap: float
    worst_gap: float
    buildings: int

    def __str__(self) -> str:
        return (
            f"{self.buildings} buildings: finds in {DOORS} doors {self.finds_sampler:.2f} by the sampler, "
            f"{self.finds_filter:.2f} by the filter, {self.finds_best:.2f} at best, "
            f"{self.finds_random:.2f} at random (error of the difference {self.finds_error:.2f}); rank "
            f"correlation {self.rank_correlation:.3f}, mean absolute gap of a chance {self.mean_gap:.3f}, "
            f"largest {self.worst_gap:.2f}"
        )


def filtered(network, dynamics, evidence):
    """Return the chances (N, levels) that the filter holds at the end of the evidence."""
    tables, which = stacked([tables_of(dynamics)])
    n, weeks = evidence.shape
    belief = np.tile(dynamics.start, (n, 1))
    state = np.zeros((r.N_STATE, n), np.int32)
    contacts = network.indptr, network.indices, network.weights(dynamics.rates)
    empty_for = np.zeros(n, np.int32)
    for week in range(weeks):
        belief *= evidence.likelihood[:, week]
        belief /= belief.sum(axis=1, keepdims=True)
        if week == weeks - 1:
            break
        state[r.VACANT] = evidence.vacant[:, week]
        empty_for = np.where(state[r.VACANT] > 0, empty_for, 0)
        state[r.EMPTY_WEEKS] = empty_for
        empty_for += state[r.VACANT]
        state[r.MOVED_IN] = evidence.introduction[:, week] > dynamics.brought_in
        firm.predict(belief[None], state[None], contacts, dynamics.brought_in, dynamics.mixing, tables, which)
        for i in np.flatnonzero(evidence.treated[:, week] >= 0):
            firm.treat(belief, int(i), evidence.effects[evidence.treated[i, week]])
    return belief


def ranks(x):
    return np.argsort(np.argsort(x, kind="stable"), kind="stable")


def compare(buildings: int = 24, floors: int = 8, a_floor: int = 10, seed: int = 5) -> Compared:
    names = tuple(str(f + 1) for f in range(floors))
    rows = tuple(UnitRow(f"{f}{k:02d}", f) for f in names for k in range(1, a_floor + 1))
    plan = draw_plan(UnitList(rows, names), "double-loaded", floors=names, name="small")
    graph = build_contacts(plan)
    network, dynamics = network_of(graph), central_dynamics(prevalence=0.1)
    start_date = dt.date(2025, 1, 6)
    found = detection.sensitivity("brief-visual")
    got = []
    for number in range(buildings):
        records, truth = usual_practice(
            network, graph, dynamics, weeks=WEEKS, rng=np.random.default_rng([seed, number]),
            start_date=start_date, settings=PracticeSettings(),
        )  # fmt: skip
        on = monday_of((start_date.toordinal() - 1) // 7 + WEEKS - 1) + dt.timedelta(days=6)
        evidence = build_evidence(records, network.units, dynamics, on=on, weeks=WEEKS)
        settings = FitSettings(
            weeks=WEEKS, chains=2, warmup=100, sweeps=400, most_sweeps=400, learn=False, seed=number
        )
        sampled = fit(network, records, dynamics, on=on, settings=settings).levels
        fast = filtered(network, dynamics, evidence)
        # Units with a find or a treatment in the last half year are known: nobody ranks those.
        known = {x.unit for x in records if x.kind == "treatment" and (on - x.when).days < 182}
        free = np.array([unit not in known for unit in network.units])
        worth = found[truth[:, -1]]
        lists = [np.where(free, levels @ found, -1.0) for levels in (sampled, fast)]
        chosen = [np.argsort(-scores, kind="stable")[:DOORS] for scores in lists]
        gap = np.abs(sampled[:, 0] - fast[:, 0])[free]
        got.append(
            (
                worth[chosen[0]].sum(),
                worth[chosen[1]].sum(),
                np.sort(worth[free])[-DOORS:].sum(),
                worth[free].mean() * DOORS,
                np.corrcoef(ranks(lists[0][free]), ranks(lists[1][free]))[0, 1],
                gap.mean(),
                gap.max(),
            )
        )
    means = np.array(got)
    each = means.mean(axis=0).tolist()
    error = float((means[:, 1] - means[:, 0]).std(ddof=1) / buildings**0.5)
    return Compared(*each[:4], error, *each[4:6], float(means[:, 6].max()), buildings)


if __name__ == "__main__":
    sys.stdout.write(f"{compare()}\n")
