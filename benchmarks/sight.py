"""What a strategy of the benchmark may see: the building, its log and a posterior; never the truth."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import networkx as nx
import numpy as np

from benchmarks.ring import COMPLAINT_WEEKS
from spread.contacts.relations import SIDES, ring_around
from spread.decisions.standing import Standing, is_find, standing_of
from spread.decisions.view import RING_WEEKS, View
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Dynamics, Network, central_dynamics
from spread.records import Log
from spread.records.kinds import Record


@dataclass(frozen=True)
class Ground:
    """What is known of a building without its log: contacts, their central weights, and rings."""

    graph: nx.MultiGraph
    network: Network
    dynamics: Dynamics = field(default_factory=central_dynamics)

    @cached_property
    def weights(self) -> np.ndarray:
        """Shape (N, N): weekly hazard of each contact at the central rates."""
        return self.network.dense(self.dynamics.rates)

    @cached_property
    def rings(self) -> dict[str, dict[str, int]]:
        """For every unit the units beside, above, below and across, each with its place in that order."""
        return {
            unit: {
                other: SIDES.index(place.sides[0])
                for other, place in ring_around(self.graph, unit, rule="LRUD", across=True).items()
            }
            for unit in self.network.units
        }

    @cached_property
    def plain(self) -> nx.Graph:
        """The contacts as a simple graph with ``weight``."""
        graph = nx.Graph()
        graph.add_nodes_from(self.network.units)
        for i, j in zip(*np.nonzero(np.triu(self.weights)), strict=True):
            graph.add_edge(self.network.units[i], self.network.units[j], weight=self.weights[i, j])
        return graph


@dataclass(frozen=True)
class Sight:
    """What a strategy sees on a day: records and posterior.

    Parameters
    ----------
    ground
        The building.
    rows
        Records up to now.
    on
        The day.
    standings
        Where each unit stands by its records.
    posterior
        The model's answer, or None for a strategy that goes by records alone.
    prior
        The dynamics that the model was given.
    doors
        Doors left in this round.
    since
        Day of the first round; None before there was any.
    complaint_weeks
        How long a report that nobody followed up still asks for a look by the rules of the ring.
    """

    ground: Ground
    rows: tuple[Record, ...]
    on: dt.date
    standings: Mapping[str, Standing]
    posterior: Posterior | None = None
    prior: Dynamics = field(default_factory=central_dynamics)
    doors: int = 15
    since: dt.date | None = None
    complaint_weeks: int = COMPLAINT_WEEKS

    @classmethod
    def of(cls, ground: Ground, rows: Sequence[Record], on: dt.date, **more: object) -> Sight:
        """Read the standings from the log."""
        log = Log(tuple(rows))
        standings = {unit: standing_of(log.of(unit), on) for unit in ground.network.units}
        return cls(ground, tuple(rows), on, standings, **more)  # type: ignore[arg-type]

    @cached_property
    def candidates(self) -> list[str]:
        """Units not known infested, in plan order."""
        return [unit for unit in self.ground.network.units if self.standings[unit].status == "look"]

    @cached_property
    def view(self) -> View:
        """The same as the product's own view."""
        assert self.posterior is not None
        g = self.ground
        return View(g.graph, g.network, self.posterior.dynamics or self.prior, Log(self.rows), self.posterior)

    @cached_property
    def finds(self) -> dict[str, dt.date]:
        """The newest find of every unit found in the last 26 weeks."""
        newest: dict[str, dt.date] = {}
        for row in self.rows:
            if is_find(row) and (self.on - row.when).days <= 7 * RING_WEEKS:
                newest[row.unit] = max(row.when, newest.get(row.unit, row.when))
        return newest

    @cached_property
    def waiting(self) -> dict[str, dt.date]:
        """Units reported lately and not looked at since, with the newest report's day."""
        newest: dict[str, dt.date] = {}
        for unit in self.candidates:
            report, look = self.standings[unit].last_report, self.standings[unit].last_look
            recent = report is not None and (self.on - report.when).days <= 7 * self.complaint_weeks
            if recent and report is not None and (look is None or look.when < report.when):
                newest[unit] = report.when
        return newest

    @cached_property
    def centres(self) -> dict[str, dt.date]:
        """What rings are drawn around: recent finds, and complaints that nobody has followed up."""
        return {**self.waiting, **self.finds}

    def looked_since(self, unit: str, day: dt.date) -> bool:
        """Whether a unit was looked at on a day or later."""
        look = self.standings[unit].last_look
        return look is not None and look.when >= day

    def after(self, row: Record) -> Sight:
        """Return what is known after one more door: the posterior is weighed anew, not fitted anew."""
        rows = (*self.rows, row)
        of_unit = [r for r in rows if r.unit == row.unit]
        standings = {**self.standings, row.unit: standing_of(of_unit, self.on)}
        posterior = self.posterior
        if posterior is not None:
            treated = any(r.kind == "treatment" and r.when < row.when for r in of_unit)
            dynamics = posterior.dynamics or self.prior
            posterior = posterior.update(row, self.ground.network, dynamics, treated_before=treated)
        return replace(self, rows=rows, standings=standings, posterior=posterior, doors=self.doors - 1)
