"""What is not known of the trade, in the futures: each run has its own growth, looks, treatments and reports.

A run's building has its pace and what is brought in from the building's own posterior; of the joint draws of
the trade (:mod:`spread.trade.joint`) it gets one that goes with them. All programmes of a run share it, so
that their difference is not blurred. The firm of the simulation believes the mean rates of contacts, but
weighs looks, silence and growth by the run's own numbers, which no firm knows: ranked doors come out
somewhat too well.
"""

from __future__ import annotations

import numpy as np

from spread.posterior.dynamics import Floats
from spread.programmes.begin import Begin
from spread.programmes.columns import METHODS, TREATMENTS
from spread.programmes.tables import BRIEF, TRAPS, WHOLE_PROTOCOL, Tables
from spread.trade import biology, routes, treatment
from spread.trade.arrays import centrals
from spread.trade.joint import TREATED_BY, Joint, joint
from spread.trade.methods import looks

SHIFTED = (
    ("look", (BRIEF, METHODS.index(looks.THOROUGH.key))),
    ("traps", (TRAPS,)),
    (looks.INTERVIEW.key, (METHODS.index(looks.INTERVIEW.key),)),
)
"""Which shift moves which looks."""


def tables_of_runs(tables: Tables, begin: Begin, seed: int) -> tuple[Tables, ...]:
    """Return the tables of every run.

    ``tables``: with everything central; ``begin``: the starts, with the rates of each run; ``seed``: luck.
    """
    draws = joint()
    chosen = vectors_of_runs(begin.rates, draws, np.random.default_rng([seed, 14]))
    made = {k: unprepared(tables_at(tables, draws, k), begin.unprepared) for k in np.unique(chosen).tolist()}
    return tuple(made[k] for k in chosen.tolist())


def unprepared(tables: Tables, share: float, before: float = 0.0) -> Tables:
    """Return tables where a share of the treatment visits does nothing; ``before``: the share in them now."""
    if share == before:
        return tables
    nothing = np.cumsum(np.eye(tables.act.shape[1]), axis=1)
    made = (tables.act - before * nothing) / (1.0 - before)
    return tables._replace(act=(1.0 - share) * made + share * nothing)


def vectors_of_runs(rates: Floats, draws: Joint, rng: np.random.Generator) -> np.ndarray:
    """Return which draw goes with each run: by how likely a building of its pace is under each.

    ``rates``: shape (runs, 2 + routes), as :attr:`Begin.rates`.
    """
    pace = np.log(rates[:, 2:].sum(axis=1) / routes.rates().sum())
    brought = np.log(rates[:, 0] / routes.BROUGHT_IN.central)
    spread = draws.values["between"]
    far = (pace[:, None] - np.log(draws.moved("routes"))) ** 2
    far = far + (brought[:, None] - np.log(draws.moved("brought_in"))) ** 2
    weight = -0.5 * far / spread**2 - 2.0 * np.log(spread)
    # The largest of log weights plus Gumbel luck is a draw in proportion to the weights.
    return np.asarray((weight + rng.gumbel(size=weight.shape)).argmax(axis=1))


def tables_at(tables: Tables, draws: Joint, k: int) -> Tables:
    """Return tables at one draw of the trade; what the firm believes stays."""
    by = {name: float(draws.moved(name)[k]) for name in draws.values}
    grown = tables.growth.copy()
    down = centrals(biology.DECLINE_PER_WEEK) * np.repeat([by["dying_light"], by["dying_heavy"]], 2)
    grown[0] = biology.growth_matrix(biology.GROWTH_PER_DAY.central * by["growth"], np.minimum(down, 0.45))
    found, report = tables.found.copy(), tables.report.copy()
    for name, methods in SHIFTED:
        for method in methods:
            found[method, 1:] = treatment.shifted(found[method, 1:], by[name])
    found[WHOLE_PROTOCOL] = 1.0 - (1.0 - found[BRIEF]) * (1.0 - found[TRAPS])
    report[0, 1:3] *= by["report_light"]
    report[0, 3:] *= by["report_heavy"]
    share = float(draws.values["resists"][k])
    act = [
        treatment.over_units(treatment.effect_matrix(m, by[TREATED_BY[m]] if m in TREATED_BY else 0.0), share)
        for m in TREATMENTS
    ]
    return tables._replace(
        grow=np.cumsum(grown, axis=2),
        found=found,
        report=np.minimum(report, 0.5),
        act=np.cumsum(np.stack(act), axis=2),
        shedding=tables.shedding ** by["shedding"],
    )
