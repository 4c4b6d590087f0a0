"""The command plan: dated changes of a building that has a log, shown first, kept, taken back."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spread.commands.asking import bytes_of
from spread.commands.common import Adder, answer, day, open_building, print_json

if TYPE_CHECKING:
    from spread.building import Building
    from spread.plan.changes import Change


def add(command: Adder) -> None:
    """Add the command."""
    plan = command("plan", _choose, "what became of units: rename, split, merge, gone, new; list and undo")
    steps = plan.add_subparsers(required=True, metavar="STEP")

    def step(name: str, made: Callable[[argparse.Namespace, Building], list[Change]] | None, words: str, *,
    dated: bool = True) -> argparse.ArgumentParser:  # fmt: skip
        sub = steps.add_parser(name, help=words, description=words)
        sub.set_defaults(made=made, step=name)
        if dated:
            sub.add_argument(
                "--from", dest="day", type=day, required=True, help="the first day on which it is so"
            )
        if name != "list":
            sub.add_argument(
                "--try", dest="trying", action="store_true", help="show what it does, write nothing"
            )
            sub.add_argument(
                "--chances",
                action="store_true",
                help="fit the log before and after, and show which chances move",
            )
        sub.add_argument("--json", action="store_true", help="print JSON")
        return sub

    step("list", None, "every change that is kept", dated=False)
    named = step("rename", _rename, "a unit has another code; its records follow it")
    named.add_argument("unit", help="its code so far")
    named.add_argument("to", help="its code from then on")
    parted = step(
        "split",
        _split,
        "a unit is parted in two; what was found in it holds for both until each is looked at",
    )
    parted.add_argument("unit", help="its code so far")
    parted.add_argument(
        "into", nargs=2, help="the code of the part with its door, then of the other; one may be the old"
    )
    parted.add_argument("--floor", default="", help="the floor of the line")
    parted.add_argument(
        "--line",
        nargs="+",
        type=_place,
        default=[],
        help="where it is parted, as 3.5,0 3.5,8 in metres of the plan; across its middle if left out",
    )
    joined = step(
        "merge", _merge, "two units are one; what was found in either holds, and clearance needs the whole"
    )
    joined.add_argument("unit", nargs=2, help="their codes so far")
    joined.add_argument("into", help="the code of the whole; one of the two may stay")
    gone = step("gone", _gone, "a unit is none any more; the log keeps its records")
    gone.add_argument("unit", help="its code")
    gone.add_argument("--room", default="", help="the common room that it is now, such as laundry")
    new = step("new", _new, "a unit that there was not")
    new.add_argument("unit", help="its code")
    new.add_argument("--floor", required=True, help="its floor")
    new.add_argument("--room", default="", help="the common room that it was")
    new.add_argument(
        "--outline",
        nargs="+",
        type=_place,
        default=[],
        help="its corners, as 0,0 6,0 6,8 0,8 in metres of the plan",
    )
    many = step("apply", _apply, "changes of a file, in lines as plan_changes.jsonl has them", dated=False)
    many.add_argument("file", help="the file")
    again = step(
        "redraw",
        None,
        "another drawing under the changes; those that no longer fit it are named",
        dated=False,
    )
    again.add_argument("file", help="the drawing, as GeoJSON")
    undo = step("undo", None, "take a change back; the plan is again what it was", dated=False)
    undo.add_argument("number", nargs="?", type=int, help="its number in the list; the last if left out")


def _place(text: str) -> list[float]:
    try:
        x, y = text.split(",")
        return [float(x), float(y)]
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no place, expected one such as 3.5,8") from None


def _choose(args: argparse.Namespace) -> None:
    from spread.changing import difference, keep, redrawn, with_more, without  # noqa: PLC0415
    from spread.plan.changes import CHANGES_FILE  # noqa: PLC0415
    from spread.words.changes import change_words, difference_lines  # noqa: PLC0415

    before = open_building(args)
    if args.step == "list":
        rows = [
            {"number": n, "words": change_words(c), **_data(c)} for n, c in enumerate(before.changes, start=1)
        ]
        lines = [f"{row['number']}. {row['words'][0].upper()}{row['words'][1:]}." for row in rows]
        answer(args, lambda: rows, lambda: "\n".join(lines) or "The plan has no changes since it was drawn.")
        return
    if args.step == "undo":
        place = len(before.changes) if args.number is None else args.number
        after = without(before, place - 1)
    elif args.step == "redraw":
        after = redrawn(before, bytes_of(args.file), Path(args.file).name)
    else:
        after = with_more(before, args.made(args, before))
    told = difference(before, after)
    lines = [*difference_lines(told), *(f"Note: {p}" for p in after.warnings if p.file == CHANGES_FILE)]
    moved = _chances(before, after) if args.chances else []
    if not args.trying:
        keep(before, after)
    if args.json:
        print_json({"kept": not args.trying, "gained": told.gained, "lost": told.lost, "units": told.units,
                    "gone": told.gone, "following": dict(told.following), "resting": told.resting,
                    "homeless": told.homeless, "says": lines, "chances": moved})  # fmt: skip
        return
    print("\n".join(lines + moved))
    back = f"Kept. To take it back: spread plan {args.building} undo"
    print(
        "Nothing was written: this was a try."
        if args.trying
        else "Taken back."
        if args.step == "undo"
        else back
    )


def _data(change: Change) -> dict[str, Any]:
    return {"step": change.step, "on": change.on.isoformat(), **change.said}


def _chances(before: Building, after: Building) -> list[str]:
    """Return the units whose chances move most, by a fit of the log with each plan."""
    from spread.commands.common import ProgressBar  # noqa: PLC0415
    from spread.session import Session  # noqa: PLC0415
    from spread.trying import moves_between  # noqa: PLC0415
    from spread.words.changes import moved_line  # noqa: PLC0415

    with ProgressBar("Fitting the log twice") as progress:
        old = Session.of(before, progress=lambda share: progress(share / 2))
        new = Session.of(after, on=old.on, progress=lambda share: progress(0.5 + share / 2))
    moves = moves_between(old, new)
    return [moved_line(m.unit, m.origins, m.after) for m in moves] or [
        "No chance moves more than the fits differ by themselves."
    ]


def _change(step: str, args: argparse.Namespace, **said: object) -> list[Change]:
    from spread.plan.changes import change_of  # noqa: PLC0415

    told = {
        "step": step,
        "on": args.day.isoformat(),
        **{name: value for name, value in said.items() if value},
    }
    return [change_of(told, file="spread plan")]


def _rename(args: argparse.Namespace, _before: Building) -> list[Change]:
    return _change("rename", args, unit=args.unit, to=args.to)


def _split(args: argparse.Namespace, before: Building) -> list[Change]:
    from spread.plan.rebuilding import middle_line  # noqa: PLC0415

    floor, line = args.floor, args.line
    unit = before.plan.units.get(args.unit)
    if not line and unit is not None and (args.floor or len(unit.parts) == 1):
        floor = args.floor or next(iter(unit.parts))
        line = middle_line(before.plan, args.unit, floor)
    elif line and not floor and unit is not None:
        floor = next(iter(unit.parts))
    return _change("split", args, unit=args.unit, into=args.into, floor=floor, line=line)


def _merge(args: argparse.Namespace, _before: Building) -> list[Change]:
    return _change("merge", args, units=args.unit, into=args.into)


def _gone(args: argparse.Namespace, _before: Building) -> list[Change]:
    return _change("gone", args, unit=args.unit, room=args.room)


def _new(args: argparse.Namespace, _before: Building) -> list[Change]:
    return _change("new", args, unit=args.unit, floor=args.floor, room=args.room, outline=args.outline)


def _apply(args: argparse.Namespace, _before: Building) -> list[Change]:
    from spread.plan.changes import read_changes  # noqa: PLC0415

    return [*read_changes(bytes_of(args.file), file=Path(args.file).name)]
