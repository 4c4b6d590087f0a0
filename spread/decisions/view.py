"""Everything a decision looks at, gathered once: building, log and posterior on one day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import cached_property

import networkx as nx
import numpy as np

from spread.contacts.relations import RingPlace, ring_around
from spread.decisions.case.followup import FollowUp, by_records, with_chance
from spread.decisions.standing import Standing, standing_of
from spread.posterior.draws import Posterior
from spread.posterior.dynamics import Dynamics, Floats, Network
from spread.records.log import Log
from spread.trade.clearance import ClearanceRule
from spread.trade.prices import WEEK_COSTS
from spread.trade.routes import ROUTES

RING_WEEKS = 26
"""A find asks for its ring this long; older finds have had theirs or missed it (judgement, no source)."""


@dataclass(frozen=True)
class View:
    """What is known on a day."""

    graph: nx.MultiGraph  #: Contacts with their measures
    #: network, dynamics: The same as arrays, and the rates
    network: Network
    dynamics: Dynamics
    log: Log  #: All records
    posterior: Posterior  #: The answer of the model; its day is the day of the view
    ring: str = "LRUD"  #: Letters of LRUD that the ring rule asks for; empty for none
    across: bool = False  #: Whether it asks for the door across the hallway too
    #: What a week at each infested level costs against one of a light infestation, trace to heavy
    week_costs: tuple[float, ...] = WEEK_COSTS
    #: The clearance rule, which says when a unit is visited again
    clearance: ClearanceRule = field(default_factory=ClearanceRule)

    @property
    def on(self) -> dt.date:
        """The day of the view."""
        return self.posterior.on

    @cached_property
    def standings(self) -> dict[str, Standing]:
        """Where each unit stands by its records."""
        on = self.on
        return {unit: self.log.worked_out(unit, on, standing_of, on) for unit in self.network.units}

    @cached_property
    def followups(self) -> dict[str, FollowUp]:
        """Where each unit is between a find and the end of the watch, by the clearance rule."""
        settled = self.posterior.diagnostics.good
        chances = map(float, self.posterior.chance)
        told: dict[str, FollowUp] = {}
        for unit, chance in zip(self.network.units, chances, strict=True):
            low = settled and chance <= self.clearance.chance
            rows_say = self.log.worked_out(unit, self.on, by_records, unit, self.on, self.clearance, low=low)
            told[unit] = with_chance(rows_say, chance, settled=settled)
        return told

    @cached_property
    def tried_today(self) -> frozenset[str]:
        """Units where somebody looked or knocked on the day of the view."""
        rows = self.log.on_day(self.on)
        return frozenset(row.unit for row in rows if row.is_look or row.kind == "no-access")

    @cached_property
    def ring_places(self) -> dict[str, tuple[RingPlace, ...]]:
        """Units that the ring rule asks for, and how each lies to the finds whose rings it belongs to.

        The ring of a find is asked for until the neighbour was looked at after that find.
        """
        places: dict[str, list[RingPlace]] = {}
        for centre, standing in self.standings.items():
            find = standing.last_find
            if find is None or (self.on - find.when).days > 7 * RING_WEEKS:
                continue
            for unit, place in ring_around(self.graph, centre, rule=self.ring, across=self.across).items():
                look = self.standings[unit].last_look
                if look is None or look.when < find.when:
                    places.setdefault(unit, []).append(place)
        return {unit: tuple(around) for unit, around in places.items()}

    @cached_property
    def recent_shedding(self) -> Floats:
        """Shape (N,): mean expected shedding of each unit over the last 26 weeks."""
        return np.asarray(self.posterior.shedding[:, -26:].mean(axis=1))

    def pressure_on(self, unit: str) -> tuple[dict[tuple[str, str], float], float, float, float]:
        """Return the expected weekly hazard on a unit over the last 26 weeks.

        Returns
        -------
        by_contact
            Hazard by (contact, route).
        building_wide
            Hazard from mixing with all other units.
        brought_in
            Hazard from outside, a recent move-in included.
        shared
            Hazard through a shared room that no plan shows, at the chance that there is one.
        """
        i = self.network.index[unit]
        shed = self.recent_shedding
        mine = slice(self.network.indptr[i], self.network.indptr[i + 1])
        contacts, exposure = self.network.indices[mine], self.network.exposure[mine]
        hazard = exposure * self.dynamics.rates * shed[contacts][:, None]
        by_contact = {
            (self.network.units[contacts[k]], ROUTES[r]): float(hazard[k, r])
            for k, r in np.argwhere(exposure > 0).tolist()
        }
        others = (shed.sum() - shed[i]) / max(1, self.network.size)
        moved_in = self.standings[unit].moved_in
        recent = moved_in is not None and (self.on - moved_in).days < 26 * 7
        brought_in = self.dynamics.brought_in + (self.dynamics.move_in / 26 if recent else 0.0)
        shared = self.posterior.shared
        room = 0.0 if shared is None else float(shared.pairs[i] @ shed)
        return by_contact, float(self.dynamics.mixing * others), float(brought_in), room
