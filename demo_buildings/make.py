"""Make the demo buildings: ``python -m demo_buildings.make [--seed N] [--into DIR] [NAME ...]``.

The same seed makes the same files. Everything in them is invented.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import networkx as nx

from demo_buildings import garden, mid_rise, tower
from demo_buildings.life import LAST_DAY, RATE_SPREAD, WEEKS, Scenario, live
from demo_buildings.words import write_readme
from spread.contacts.graph import build_contacts
from spread.contacts.links import Link
from spread.plan.geojson import read_plan, write_plan
from spread.plan.model import Plan
from spread.plan.unit_list import draw_plan, read_unit_list
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.kinds import Record
from spread.records.store import read_log
from spread.trade.biology import LEVEL_NAMES

SEED = 2026
ANNOUNCED = LAST_DAY - dt.timedelta(days=4)  #: Monday: two working days have run on the last day
HERE = Path(__file__).parent


@dataclass(frozen=True)
class Demo:
    """How one demo building is made.

    Parameters
    ----------
    name, floors
        As in its ``building.toml``.
    scenario
        What its log must hold.
    plan
        Returns the drawn plan; None for a building that has a unit list only.
    links
        Ties given by hand: unit, unit, why.
    """

    name: str
    floors: tuple[str, ...]
    scenario: Scenario
    plan: Callable[[], Plan] | None = None
    links: tuple[tuple[str, str, str], ...] = ()


DEMOS = {
    "ostrel-court": Demo(
        mid_rise.NAME,
        mid_rise.FLOORS,
        Scenario(source="313", missed_interception=True, false_alert=True),
        mid_rise.draw,
    ),
    "verrin-tower": Demo(tower.NAME, tower.FLOORS, Scenario()),
    "tolliwick-gardens": Demo(garden.NAME, garden.FLOORS, Scenario(), garden.draw, garden.LINKS),
}
"""The three buildings, by folder."""


def make_building(name: str, seed: int, folder: Path) -> None:
    """Write one demo building into ``folder``.

    Parameters
    ----------
    name
        One of :data:`DEMOS`.
    seed
        Another seed is another life in the same walls.
    folder
        Made if missing; the files in it that this script writes are replaced.
    """
    demo = DEMOS[name]
    folder.mkdir(parents=True, exist_ok=True)
    _write(folder / "building.toml", _settings(demo))
    if demo.plan is None:
        _write(folder / "units.csv", tower.unit_list())
        listed = read_unit_list(folder / "units.csv", demo.floors)
        plan = draw_plan(listed, "double-loaded", floors=demo.floors, name=demo.name)
    else:
        write_plan(demo.plan(), folder / "plan.geojson")
        plan = read_plan(folder / "plan.geojson", demo.floors, name=demo.name)
    graph: nx.MultiGraph = build_contacts(plan, links=[Link(a, b, why) for a, b, why in demo.links])
    life = live(graph, demo.scenario, seed)
    _write_log(folder / "records.csv", (*life.records, *notices(plan, len(life.records))), plan)
    levels = dict(zip(graph.nodes, (LEVEL_NAMES[level] for level in life.truth[:, -1]), strict=True))
    rows = "".join(f"{unit},{level}\n" for unit, level in levels.items())
    _write(folder / "truth.csv", "unit,level\n" + rows)
    words = write_readme(
        name,
        demo.name,
        demo.scenario,
        life,
        levels,
        last_day=LAST_DAY,
        weeks=WEEKS,
        spread=RATE_SPREAD,
        seed=seed,
    )
    _write(folder / "README.md", words)


def _settings(demo: Demo) -> str:
    floors = ", ".join(f'"{floor}"' for floor in demo.floors)
    text = f'name = "{demo.name}"\nfloors = [{floors}]\n'
    if demo.plan is None:
        text += '\n[plan]\nlayout = "double-loaded"\n'
    for a, b, why in demo.links:
        text += f'\n[[links]]\na = "{a}"\nb = "{b}"\nwhy = "{why}"\n'
    return text


def notices(plan: Plan, rows: int) -> tuple[Record, ...]:
    """Return a notice of entry to every unit, so that rounds may go to any door on the last day.

    They are written down below the ``rows`` that the log has.
    """
    return tuple(
        Record(f"r{number:04d}", ANNOUNCED, unit, "note", "entry-notice", by="office")
        for number, unit in enumerate(sorted(plan.units), rows + 1)
    )


def _write_log(path: Path, records: tuple[Record, ...], plan: Plan) -> None:
    """Write the log as the store writes rows, and read it back to be sure that every row is valid."""
    _write(path, HEADER + "".join(to_line(to_fields(record)) for record in records))
    if read_log(path, plan.units).rows != records:
        raise RuntimeError(f"{path} does not read back as it was written")


def _write(path: Path, text: str) -> None:
    part = path.with_name(path.name + ".part")
    part.write_text(text, encoding="utf-8", newline="\n")
    os.replace(part, path)  # noqa: PTH105  (atomic)


def main(argv: list[str] | None = None) -> None:
    """Make the buildings named on the command line, or all."""
    parser = argparse.ArgumentParser(
        prog="python -m demo_buildings.make", description="Make the demo buildings."
    )
    parser.add_argument(
        "names", nargs="*", metavar="NAME", help=f"any of {', '.join(DEMOS)}; all if none is given"
    )
    parser.add_argument("--seed", type=int, default=SEED, help=f"default {SEED}")
    parser.add_argument("--into", type=Path, default=HERE, metavar="DIR", help="default: beside this script")
    args = parser.parse_args(argv)
    unknown = [name for name in args.names if name not in DEMOS]
    if unknown:
        parser.error(f"no demo building is called {', '.join(unknown)}; there are {', '.join(DEMOS)}")
    for name in args.names or DEMOS:
        make_building(name, args.seed, args.into / name)
        print(f"{args.into / name}: made with seed {args.seed}")


if __name__ == "__main__":
    main()
