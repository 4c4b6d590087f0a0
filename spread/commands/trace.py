"""The command that traces a drawing: a photograph, scan, PDF or DXF and what was clicked on it."""

from __future__ import annotations

import argparse
from pathlib import Path

from spread.commands.common import Adder
from spread.errors import SpreadError


def add(command: Adder) -> None:
    """Add the command."""
    trace = command("trace", _trace, "trace units from a photograph, scan, PDF, DXF or IFC and clicks on it")
    trace.add_argument("drawing", nargs="+", help="a file for each floor of the seeds, or one for them all")
    trace.add_argument(
        "--seeds", help="JSON of what was clicked: outline, length, units; see docs/drawings.md"
    )
    trace.add_argument(
        "--name", default="", help="what the building is called; the folder's name if left out"
    )
    trace.add_argument("-o", "--output", help="new folder to write building.toml and plan.geojson to")
    trace.add_argument("--picture", help="only save the first floor's picture, whose pixels the seeds count")


def _trace(args: argparse.Namespace) -> None:
    from spread.drawings.opening import open_drawing, read_drawing  # noqa: PLC0415
    from spread.drawings.stacking import stacked  # noqa: PLC0415
    from spread.drawings.tracer import trace  # noqa: PLC0415
    from spread.drawings.tracing import Opening, load_json, tracings_of  # noqa: PLC0415
    from spread.files import write_whole  # noqa: PLC0415
    from spread.plan.checks import check_plan  # noqa: PLC0415
    from spread.start import create_building  # noqa: PLC0415

    paths = [Path(one) for one in args.drawing]
    if args.seeds is None and args.picture:
        opened = open_drawing(read_drawing(paths[0]), paths[0].name)
        write_whole(Path(args.picture), opened.image)
        print(f"{args.picture}: {opened.wide} x {opened.high} pixels, {opened.pages} pages.")
        for layer, lines in opened.layers.items():
            print(f"layer {layer}: {lines} lines")
        return
    if not args.seeds or not (args.output or args.picture):
        raise SpreadError.at(
            "spread trace", "", "there is no --seeds with -o", "give both, or --picture alone"
        )
    seeds = Path(args.seeds)
    sent = load_json(read_drawing(seeds), seeds.name)
    floors = tracings_of(sent, seeds.name)
    if len(paths) not in (1, len(floors)):
        what = f"there are {len(paths)} drawings for {len(floors)} floors"
        raise SpreadError.at(seeds.name, "floors", what, "name one for each, or one for them all")
    opened_before: dict[tuple[Path, Opening], bytes] = {}
    pictures = []
    for path, floor in zip(paths * (len(floors) if len(paths) == 1 else 1), floors, strict=True):
        key = (path, floor.opening)
        if key not in opened_before:
            opened_before[key] = open_drawing(read_drawing(path), path.name, floor.opening).image
        pictures.append(opened_before[key])
    if args.picture:
        write_whole(Path(args.picture), pictures[0])
        return
    folder = Path(args.output)
    traced = trace(sent, pictures, seeds.name)
    name = args.name.strip() or folder.resolve().name.replace("-", " ").capitalize()
    plan = stacked(floors, traced, name=name, file=seeds.name)
    create_building(folder.resolve().parent, folder.name, plan)
    doors = [door for floor in traced for door in floor["doors"]]
    print(f"{folder}: {len(plan.units)} units on {len(plan.floors)} floors.")
    print(
        f"{sum(door['seen'] for door in doors)} of {len(doors)} doors are gaps seen in the walls; the others"
    )
    print("stand in the middle of the wall to the hallway. Look at the plan before you act on it.")
    lost = sum(len(floor["lost"]) for floor in traced)
    if lost:
        print(f"{lost} moves of corners found no corner any more and were left out.")
    for problem in check_plan(plan)[1]:
        print(problem)
