"""The command guard: what a log's file has lost, and the two ways out."""

from __future__ import annotations

import argparse

from spread.commands.common import Adder, print_json


def add(command: Adder) -> None:
    """Add the command."""
    guard = command("guard", _guard, "say what the log's file has lost; put it back, or let it go")
    way = guard.add_mutually_exclusive_group()
    way.add_argument("--put-back", action="store_true", help="write the known rows into the file again")
    way.add_argument("--accept", action="store_true", help="take the file as it is; that stays on record")
    guard.add_argument("--why", default="", help="with --accept: why, in a few words")
    guard.add_argument("--json", action="store_true", help="print JSON")


def _guard(args: argparse.Namespace) -> None:
    from spread.building import load_building  # noqa: PLC0415
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.facts import as_json  # noqa: PLC0415
    from spread.words.guard import trouble_sentences  # noqa: PLC0415
    from spread.words.voice import ENGLISH  # noqa: PLC0415

    if args.why and not args.accept:
        raise SettingsError.at("guard", "--why", "it goes with --accept", "leave it out")
    store = load_building(args.building).store
    if args.put_back:
        done = ENGLISH.many("Put {number} row back.", "Put {number} rows back.", store.put_back())
    elif args.accept:
        count = store.accept(why=args.why or "taken as it is on the command line")
        done = ENGLISH.many(
            "Took the file as it is; {number} row is let go or changed.",
            "Took the file as it is; {number} rows are let go or changed.",
            count,
        )
    else:
        done = ""
    if args.json:
        print_json({"rows": len(store.log.rows), "trouble": as_json(store.trouble)})
        return
    told = [] if store.trouble is None else trouble_sentences(store.trouble, ENGLISH, args.building)
    rows = ENGLISH.many("{number} row is known.", "{number} rows are known.", len(store.log.rows))
    print(
        "\n".join([*filter(None, [done]), rows, *(told or ["The file holds them all, as they were known."])])
    )
