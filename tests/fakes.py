"""A made session for the page's own tests: a made plan and made but plausible behaviour.

Nothing here is a model. It only moves as the real session moves: a find raises the unit and its
neighbours, a clear look lowers them, a repeat of an id is one record.
"""

from __future__ import annotations

import csv
import datetime as dt
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace

import networkx as nx
import numpy as np
from shapely import Point, Polygon, box

from spread.contacts.relations import RingPlace, SharedWall
from spread.decisions.doors.ranking import DoorRow
from spread.decisions.doors.sources import Origin, SourceShare
from spread.decisions.doors.told import FromContact, LastLook, MovedIn, SuspectedThere
from spread.decisions.doors.why import LookInTurn, Why
from spread.decisions.kept import Kept, KeptBefore, Moved
from spread.decisions.span import Span
from spread.errors import RecordError
from spread.plan.model import Bed, Door, Plan, Shaft, Space, Unit
from spread.records.kinds import FIELDS, METHODS_OF, Record
from spread.records.log import Log
from spread.session import Answer
from spread.weeks import week_of


def made_plan(floors: int = 3, a_side: int = 6, *, front: float = 7.0, name: str = "Made House") -> Plan:
    """A double-loaded building; the first unit of each floor is an L around the stair."""
    units: dict[str, Unit] = {}
    hallways, doors, beds, commons = [], [], [], []
    names = tuple(str(number + 1) for number in range(floors))
    depth, hall, wall = 8.0, 1.8, 0.2
    length = a_side * front
    for level, floor in enumerate(names):
        hallways.append(Space(f"hall-{floor}", "hallway", floor, box(0, depth, length, depth + hall)))
        for place in range(a_side):
            for side in (0, 1):
                code = f"{level + 1}{place * 2 + side + 1:02d}"
                left, right = place * front + wall / 2, (place + 1) * front - wall / 2
                low, high = (0, depth) if side == 0 else (depth + hall, 2 * depth + hall)
                shape = box(left, low, right, high)
                if place == 0 and side == 0:
                    shape = Polygon([(left, 0), (right, 0), (right, depth), (3, depth), (3, 4), (left, 4)])
                if level == 0 and place == a_side - 1 and side == 1:
                    commons.append(Space("laundry", "common", floor, shape))
                    continue
                units[code] = Unit(code, {floor: shape}, stack=code[-2:])
                at_y = depth if side == 0 else depth + hall
                doors.append(Door(f"door-{code}", code, floor, Point(right - 1.2, at_y)))
                beds.append(
                    Bed(f"bed-{code}", code, floor, Point(left + 1.6, low + 1.4 if side == 0 else high - 1.4))
                )
    risers = tuple(
        Shaft(f"riser-{place}", "riser", names, box(place * front - 0.35, 2.0, place * front + 0.35, 2.7))
        for place in range(1, a_side, 2)
    )
    stair = Shaft("stair-1", "stair", names, box(0.1, 4.2, 2.8, 8.0))
    return Plan(
        name=name, floors=names, units=units, hallways=tuple(hallways), commons=tuple(commons),
        doors=tuple(doors), shafts=(*risers, stair), beds=tuple(beds),
    )  # fmt: skip


class FakeSession:
    """Behaves like ``spread.session.Session`` for the page."""

    def __init__(self, folder: Path, plan: Plan | None = None, *, refit_seconds: float = 0.0) -> None:
        self.plan = plan or made_plan()
        self.on = dt.date(2026, 11, 25)
        self.today = self.on
        self.method = "thorough-visual"
        self.order = "find"
        self.path = Path(folder) / "records.csv"
        self.refit_seconds = refit_seconds
        self._busy_until = 0.0
        self._version = 1
        self._lock = threading.RLock()
        self._records: dict[str, Record] = {}
        codes = list(self.plan.units)
        self._chance = {code: 0.01 + 0.06 * ((i * 37) % 11) / 11 for i, code in enumerate(codes)}
        self._status: dict[str, str] = {}
        for i, chance in ((3, 0.93), (len(codes) // 2, 0.71)):
            self._raise(codes[i], chance)
        self._status[codes[3]] = "treat"
        self._status[codes[len(codes) // 2]] = "revisit"

    # -- made behaviour
    def _near(self, unit: str) -> list[str]:
        floor, place = int(unit[:-2]), int(unit[-2:])
        around = [(floor, place - 2), (floor, place + 2), (floor - 1, place), (floor + 1, place)]
        return [code for f, p in around if (code := f"{f}{p:02d}") in self.plan.units]

    def _raise(self, unit: str, chance: float) -> None:
        self._chance[unit] = chance
        for other in self._near(unit):
            self._chance[other] += (0.45 - self._chance[other]) * 0.6 if self._chance[other] < 0.45 else 0.0

    # -- the interface
    @property
    def view(self) -> SimpleNamespace:
        """Log and posterior as the page reads them; the weeks are made, rising to today's chance."""
        with self._lock:
            chances = np.array(list(self._chance.values()))
            levels = np.column_stack([1 - chances, *(chances * share for share in (0.3, 0.4, 0.2, 0.1))])
            posterior = SimpleNamespace(
                units=tuple(self._chance),
                levels=levels,
                weekly=chances[:, None] * np.linspace(0.1, 1, 53),
                first_week=week_of(self.on) - 52,
            )
            followups = {
                code: SimpleNamespace(unit=code, status=self._status.get(code, "look"), visit=None)
                for code in self.plan.units
            }
            return SimpleNamespace(
                log=Log(tuple(self._records.values())),
                posterior=posterior,
                on=self.on,
                followups=followups,
            )

    @property
    def building(self) -> SimpleNamespace:
        settings = SimpleNamespace(rules="good-practice")
        store = SimpleNamespace(trouble=None, identity="made")
        return SimpleNamespace(
            settings=settings, folder=self.path.parent, store=store, plan=self.plan, log=Log()
        )

    def refresh(self) -> bool:
        return False

    @property
    def contacts(self) -> nx.MultiGraph:
        graph: nx.MultiGraph = nx.MultiGraph()
        for index, (code, unit) in enumerate(self.plan.units.items()):
            graph.add_node(code, index=index, levels=tuple(map(self.plan.level_of, unit.parts)))
        return graph

    @property
    def version(self) -> int:
        with self._lock:
            if self._busy_until and time.monotonic() >= self._busy_until:
                self._busy_until = 0.0
                self._version += 1
                for code in self._chance:
                    self._chance[code] *= 0.99
            return self._version

    @property
    def busy(self) -> bool:
        return self.version >= 0 and self._busy_until > 0

    def chances(self) -> dict[str, float]:
        return dict(self._chance)

    def doors(self, method: str | None = None) -> tuple[DoorRow, ...]:
        hit = {"brief-visual": 0.3, "dog": 0.75}.get(method or self.method, 0.6)
        rows: list[DoorRow] = []
        for status in ("look", "treat", "revisit"):
            group = [code for code in self.plan.units if self._status.get(code, "look") == status]
            group.sort(key=lambda code: -self._chance[code])
            for rank, code in enumerate(group, 1):
                sick = [near for near in self._near(code) if self._chance[near] > 0.6]
                story = SuspectedThere(0.7, 90, "no")
                beside = [FromContact(o, SharedWall(o, 6.2), 0.4, "came-from", story) for o in sick[:1]]
                reasons = (*beside, LastLook(420, "brief-visual", 0.4))
                ring = tuple(RingPlace(o, ("beside",)) for o in sick[:1] if status == "look")
                chance = self._chance[code]
                known = (code, rank, chance, chance * hit, reasons, ring, status, "little")
                rows.append(
                    DoorRow(*known, opens=1.0, worth_of_find=0.0, worth=0.0, minutes=0.0, per_hour=0.0)
                )
        return tuple(rows)

    def why(self, unit: str) -> Why:
        chance = self._chance[unit]
        near = self._near(unit)
        share, wall = 0.5 / len(near), SharedWall(unit, 6.2)
        walls = [SourceShare(o, "wall", share, "came-from", (wall,), {"wall": share}) for o in near]
        sources = (*walls, SourceShare("", "brought in", 0.5, "came-from"))
        began = Span(None, dt.date(2026, 10, 5), dt.date(2026, 11, 2), dt.date(2025, 11, 24), 0.1)
        row = next(row for row in self.doors() if row.unit == unit)
        return Why(
            unit=unit, chance=chance, status=row.status, ring=row.ring, sure=row.sure,
            levels={"clear": 1 - chance, "trace": chance * 0.3, "low": chance * 0.4,
                    "moderate": chance * 0.2, "heavy": chance * 0.1},
            reasons=(*row.reasons, MovedIn(60)), attribution=Origin(sources, began, False, False),
            pressure=sources, doubts=(),
            history=tuple(r for r in reversed(self._records.values()) if r.unit == unit),
            next_step=LookInTurn("thorough-visual"),
            trail=tuple(
                ((dt.date(2025, 11, 24) + dt.timedelta(days=7 * week)).isoformat(), chance * (week + 5) / 58)
                for week in range(53)
            ),
        )  # fmt: skip

    def learned(self) -> None:
        return None

    def past(self) -> None:
        return None

    def record(self, fields: Mapping[str, str], *, keep_day: bool = False) -> Answer:
        with self._lock:
            if fields["unit"] not in self.plan.units:
                raise RecordError(f"records.csv: no unit {fields['unit']!r} in the plan.")
            if fields["id"] in self._records:
                return Answer(self._records[fields["id"]], False, KeptBefore())
            method, kind = fields.get("method", ""), fields["kind"]
            if method and method not in METHODS_OF[kind]:
                raise RecordError(
                    f"records.csv, field 'method': {method!r} is no way to look; choose one of the list."
                )
            if "impossible" in fields.get("note", ""):
                raise RecordError(
                    "records.csv, field 'note': this made session refuses the word 'impossible'."
                )
            evidence = frozenset(filter(None, fields.get("evidence", "").split("+")))
            record = Record(
                id=fields["id"], when=dt.date.fromisoformat(fields["when"]), unit=fields["unit"], kind=kind,
                method=method, found=fields.get("found", ""), level=fields.get("level", ""),
                evidence=evidence, note=fields.get("note", ""), supersedes=fields.get("supersedes", ""),
            )  # fmt: skip
            before = self._chance[record.unit]
            self._records[record.id] = record
            self._keep(fields)
            if record.found == "yes":
                self._raise(record.unit, 0.97)
                self._status[record.unit] = "treat"
            elif record.found == "no":
                self._chance[record.unit] *= 0.35
            self._version += 1
            if self.refit_seconds:
                self._busy_until = time.monotonic() + self.refit_seconds
            here = Moved(record.unit, before, self._chance[record.unit])
            return Answer(record, True, Kept(here, (), bool(record.supersedes), self.busy))

    def _keep(self, fields: Mapping[str, str]) -> None:
        new = not self.path.exists()
        with self.path.open("a", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, FIELDS)
            if new:
                writer.writeheader()
            writer.writerow({name: fields.get(name, "") for name in FIELDS})
