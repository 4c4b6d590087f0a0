"""How a building is run: the intervals and shares of usual practice, and who the neighbours are.

They are common practice, no source, except where a line says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import networkx as nx

from spread.trade.routes import BY_KEY


@dataclass(frozen=True, slots=True)
class PracticeSettings:
    """How a building is run."""

    #: Coefficient of variation of residents' willingness to report (a gamma number of mean 1 each); 0.7 is
    #: judgement. ``never_report`` names units that never do.
    report_spread: float = 0.7
    never_report: frozenset[str] = frozenset()
    look_within: int = 6  #: Days from a report to the look, at most
    #: Chance that a knock finds nobody home; tried again a week later, ``tries`` times in all
    no_access: float = 0.2
    tries: int = 3
    often_out: frozenset[str] = frozenset()  #: Units where nine knocks in ten find nobody home
    ring_within: int = 8  #: Days from a find to the looks around it (left, right, above, below), at most
    interceptor_share: float = 0.15  #: Share of those looks that are two weeks of interceptors instead
    treatment_every: int = 14  #: Days between treatment visits
    spray_share: float = 0.5  #: Share of cases treated by spray alone; the others by steam, dust and encasing
    heat_after: int = 8  #: After every so many treatments that did not end a case, the next is by heat
    clean_looks: int = 2  #: Clean looks in a row, ``treatment_every`` days apart, that close a case
    sweep_every: int = 26  #: Weeks between dog sweeps of one floor; 0 is none
    stay_weeks: float = 104.0  #: Mean stay of a household (two years); 0 is no turnover
    staying: frozenset[str] = frozenset()  #: Units whose people never move
    empty_weeks: tuple[int, int] = (3, 6)  #: Shortest and longest time a unit stands empty
    unrecorded_weeks: int = 0  #: Weeks lived before the log begins, under the same practice


def ring(graph: nx.MultiGraph, unit: str) -> tuple[str, ...]:
    """Return the units left, right, above and below, in plan order.

    Left and right are the two longest shared walls; above and below share the most floor.

    ``graph``: contact graph (:func:`spread.contacts.graph.build_contacts`).
    """
    beside: list[tuple[float, str]] = []
    stacked: dict[bool, tuple[float, str]] = {}
    for other, edges in graph.adj[unit].items():
        for data in edges.values():
            if BY_KEY[data["route"]].side == "beside":
                beside.append((-data["exposure"], other))
            elif BY_KEY[data["route"]].side == "stacked":
                above = data.get("upper") == other
                stacked[above] = min(stacked.get(above, (0.0, "")), (-data["exposure"], other))
    found = {other for _, other in sorted(beside)[:2]} | {other for _, other in stacked.values()}
    return tuple(sorted(found, key=lambda other: graph.nodes[other].get("index", 0)))
