"""The houses of the open benchmark: five shapes, rates drawn from the priors, and a past that left a log."""

from __future__ import annotations

import copy
import datetime as dt
import tempfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import networkx as nx
import numpy as np
from shapely import Point, Polygon, box

from demo_buildings import mid_rise
from spread.contacts.graph import build_contacts
from spread.plan.model import Door, Plan, Shaft, Space, Unit
from spread.plan.unit_list import draw_plan, read_unit_list
from spread.posterior.dynamics import Dynamics, Network, central_dynamics, network_of
from spread.records.kinds import Record
from spread.trade import biology
from spread.weeks import monday_of, week_of
from spread.worlds.practice import Practice, PracticeSettings, _Task, number_records
from spread.worlds.truth import World

MORNING = dt.date(2026, 11, 16)
"""The Monday of the first round; the log ends the day before."""
PAST_WEEKS = {"usual": 104, "complaints": 40}
"""Weeks of log. Complaints only: as long as in the prototypes that the targets were taken from."""
SETTINGS = PracticeSettings(sweep_every=0)
"""Usual practice as the benchmark asks for it: no dog sweeps."""


def _listed(rows: list[str], layout: str, name: str) -> Plan:
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "units.csv"
        path.write_text("\n".join(rows) + "\n", encoding="utf-8")
        return draw_plan(read_unit_list(path), layout, name=name)


def tower(floors: int) -> Plan:
    """Six units a floor around a core."""
    rows = [f"{f}{k:02d},{f}" for f in range(1, floors + 1) for k in range(1, 7)]
    return _listed(["unit,floor", *rows], "core", f"tower of {floors} floors")


def l_mid_rise(_: int) -> Plan:
    """The drawn L of the demo: five floors, two wings, 88 units."""
    return mid_rise.draw()


def walk_up(houses: int) -> Plan:
    """Houses of three floors with four doors a landing."""
    rows = [f"{chr(65 + h)}{f}{k:02d},{f}" for h in range(houses) for f in range(1, 4) for k in range(1, 5)]
    return _listed(["unit,floor", *rows], "walk-up-4", f"{houses} walk-ups")


def mixed_sizes(floors: int) -> Plan:
    """A double-loaded hallway of studios and large flats, the two sides cut differently."""
    areas = (34, 88, 41, 52, 96, 47, 62, 33, 33, 74, 58, 45, 80)
    rows = [
        f"{f}{k:02d},{f},{areas[k - 1]}"
        for f in range(1, floors + 1)
        for k in range(1, len(areas) + 1)
        if not (f == 1 and k in (5, 6))  # a lobby on the ground floor
    ]
    return _listed(["unit,floor,area_m2", *rows], "double-loaded", f"mixed sizes, {floors} floors")


def courtyard(floors: int) -> Plan:
    """A square around a courtyard: a gallery along the inner side, five units a side and one in each corner.

    Drawn here in metres: no layout of a unit list goes around a courtyard.
    """
    width, depth, wall, gallery = 6.6, 7.5, 0.2, 1.6
    names = tuple(str(f) for f in range(1, floors + 1))
    half = 5 * (width + wall) / 2  # from the middle to the gallery's outer edge
    ring = Polygon(
        box(-half, -half, half, half).exterior,
        [box(gallery - half, gallery - half, half - gallery, half - gallery).exterior],
    )

    def turned(x: float, y: float, side: int) -> tuple[float, float]:
        for _ in range(side):
            x, y = y, -x
        return x, y

    stacks: dict[str, tuple[Polygon, Point]] = {}
    risers: list[tuple[str, Polygon]] = []
    number = 0
    for side in range(4):
        for k in range(5):
            left = -half + k * (width + wall)
            corners = [(left, half), (left + width, half), (left + width, half + depth), (left, half + depth)]
            number += 1
            stacks[f"{number:02d}"] = (
                Polygon([turned(*c, side) for c in corners]),
                Point(turned(left + 1.2, half, side)),
            )
            if k in (0, 2):
                x = left + width
                pipe = [(x, half + 0.4), (x + wall, half + 0.4), (x + wall, half + 2.0), (x, half + 2.0)]
                risers.append((f"riser {side}{k}", Polygon([turned(*c, side) for c in pipe])))
        # The corner unit opens on the last metre and a half of the gallery, past its neighbour's wall.
        number += 1
        far, near = half + depth, half
        corner = [(near, near), (far, near), (far, far), (near, far)]
        stacks[f"{number:02d}"] = (
            Polygon([turned(*c, side) for c in corner]),
            Point(turned(near, near, side)),
        )
    units, doors, halls = {}, [], []
    for floor in names:
        halls.append(Space(f"gallery {floor}", "hallway", floor, ring))
        for code, (outline, at) in stacks.items():
            units[floor + code] = Unit(floor + code, {floor: outline}, stack=code)
            doors.append(Door(f"door {floor}{code}", floor + code, floor, at))
    shafts = [Shaft(name, "riser", names, outline) for name, outline in risers]
    inner = half - gallery
    for side in (0, 2):
        stair = [(-1.3, inner - 5.0), (1.3, inner - 5.0), (1.3, inner), (-1.3, inner)]
        shafts.append(Shaft(f"stair {side}", "stair", names, Polygon([turned(*c, side) for c in stair])))
    return Plan("courtyard", names, units, tuple(halls), (), tuple(doors), tuple(shafts), ())


SHAPES: dict[str, tuple[Callable[[int], Plan], tuple[int, ...]]] = {
    "tower": (tower, (8, 10, 12, 15)),
    "L mid-rise": (l_mid_rise, (5,)),
    "walk-up": (walk_up, (4, 6, 8)),
    "courtyard": (courtyard, (2, 3, 4)),
    "mixed sizes": (mixed_sizes, (4, 5, 6)),
}
"""How each shape is drawn, and the sizes taken in turn."""


@lru_cache(maxsize=32)
def contacts_of(shape: str, size: int) -> nx.MultiGraph:
    """Return the contact graph of a shape."""
    return build_contacts(SHAPES[shape][0](size))


def drawn_dynamics(rng: np.random.Generator) -> Dynamics:
    """Return the truth of a world: rates from the priors, growth from its range; the tool is not told."""
    central = central_dynamics()
    shapes, rates = (np.array(part) for part in central.rate_priors)
    theta = np.maximum(rng.standard_gamma(shapes) / rates, 1e-9)
    g = biology.GROWTH_PER_DAY
    growth = biology.growth_matrix(float(rng.triangular(g.low, g.central, g.high)))
    return replace(
        central,
        brought_in=float(theta[0]),
        mixing=float(theta[1]),
        rates=theta[2:-1],
        move_in=float(theta[-1]),
        growth=np.stack([growth, biology.vacant_matrix()]),
    )


class Firm(Practice):
    """A firm whose ways can be switched.

    Attributes
    ----------
    quiet
        Residents report and nobody comes: the log holds reports and turnovers alone.
    paired
        The firm's own choices (days, methods) go by unit, week and purpose, so that programmes that
        start alike meet the same luck there too, whatever else they did.
    """

    quiet = False
    paired = False

    def _add(self, task: _Task) -> None:
        if not self.quiet:
            super()._add(task)

    def _visit(self, task: _Task) -> None:
        self._deal_again(task.unit, task.purpose)
        super()._visit(task)

    def _take_report(self, unit: str, monday: dt.date) -> None:
        self._deal_again(unit, "heard")
        super()._take_report(unit, monday)

    def _deal_again(self, unit: str, purpose: str) -> None:
        if self.paired:
            place = [self.world.week, self.world.network.index[unit], zlib.crc32(purpose.encode())]
            self._rng = np.random.default_rng(place)


@dataclass
class House:
    """A world at the end of its past: what is hidden, what was logged, and a firm to go on with."""

    number: int
    past: str
    shape: str
    graph: nx.MultiGraph
    network: Network
    truth: Dynamics
    practice: Firm

    @property
    def weeks(self) -> int:
        """Weeks of log."""
        return PAST_WEEKS[self.past]

    @property
    def records(self) -> tuple[Record, ...]:
        """The log up to the day before the first round."""
        return number_records(r for r in self.practice.records if r.when < MORNING)

    def branch(self) -> Firm:
        """Return a copy of the firm and its world that meets the same luck as every other copy."""
        shared = [self.graph, self.network, self.truth, self.practice.settings, *self.practice.records]
        return copy.deepcopy(self.practice, {id(thing): thing for thing in shared})


def build_house(number: int, past: str, seed: int) -> House:
    """Draw a house's shape and rates, and let it live through its past.

    Parameters
    ----------
    number
        The same number, past and seed give the same house.
    past
        ``usual`` or ``complaints``.
    seed
        Of the whole run.
    """
    shape = tuple(SHAPES)[number % len(SHAPES)]
    sizes = SHAPES[shape][1]
    rng = np.random.default_rng([seed, number, sorted(PAST_WEEKS).index(past)])
    graph = contacts_of(shape, sizes[number // len(SHAPES) % len(sizes)])
    network, truth = network_of(graph), drawn_dynamics(rng)
    world_rng, firm_rng = rng.spawn(2)
    first = week_of(MORNING) - PAST_WEEKS[past]
    world = World(network, truth, rng=world_rng, week=first, report_spread=SETTINGS.report_spread)
    practice = Firm(world, graph, SETTINGS, firm_rng)
    practice.quiet = past == "complaints"
    for week in range(first, week_of(MORNING)):
        practice.run_week(week)
    return House(number, past, shape, graph, network, truth, practice)


def morning_of(round_: int) -> dt.date:
    """Return the Monday of a round, 0 for the first."""
    return monday_of(week_of(MORNING) + round_)
