"""The usual ring around a complaint: the practice that the model has to beat."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import networkx as nx

from spread.contacts.relations import SIDES, ring_around
from spread.decisions.standing import Standing
from spread.records.kinds import Record

COMPLAINT_WEEKS = 8  #: A report is followed up this long (common practice, no source)


def ring_order(
    graph: nx.MultiGraph,
    records: Sequence[Record],
    standings: Mapping[str, Standing],
    on: dt.date,
    *,
    across: bool = True,
) -> list[str]:
    """Return units in the order in which ring practice would look at them.

    First units reported in the last :data:`COMPLAINT_WEEKS` weeks and not looked at since, the
    newest first; then the neighbours of every unit reported in those weeks, looked at since or
    not, and of every unit known infested, by how recent the complaint or find in the middle is
    (beside, above, below, then across); then the ring around that ring, and so on; then the rest
    in plan order. Units already known infested are left out.

    ``graph``: contacts; ``records``: current records up to ``on``; ``standings``: where each unit stands;
    ``across``: whether doors facing across the hallway belong to the ring.
    """
    known = {unit for unit, standing in standings.items() if standing.status != "look"}
    heard: dict[str, dt.date] = {}
    for record in records:
        if record.is_complaint and 0 <= (on - record.when).days <= 7 * COMPLAINT_WEEKS:
            heard[record.unit] = max(record.when, heard.get(record.unit, record.when))
    waiting = [u for u in heard if u not in known and _unseen(standings[u], heard[u])]
    order = sorted(waiting, key=lambda u: (-heard[u].toordinal(), graph.nodes[u]["index"]))
    centres = dict(heard)
    for unit in known:
        find = standings[unit].last_find or standings[unit].last_treatment
        if find is not None:
            centres[unit] = max(find.when, centres.get(unit, find.when))
    front = sorted(centres, key=lambda u: (-centres[u].toordinal(), graph.nodes[u]["index"]))
    placed = set(order) | known
    reached = set(front)
    while front:
        found_next = []
        for centre in front:
            ring = ring_around(graph, centre, rule="LRUD", across=across)
            for unit in sorted(ring, key=lambda u: SIDES.index(ring[u].sides[0])):
                if unit not in placed:
                    placed.add(unit)
                    order.append(unit)
                if unit not in reached:
                    reached.add(unit)
                    found_next.append(unit)
        front = found_next
    return order + [unit for unit in graph.nodes if unit not in placed]


def _unseen(standing: Standing, since: dt.date) -> bool:
    return standing.last_look is None or standing.last_look.when < since
