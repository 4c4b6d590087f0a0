"""The command calendar: keys of the feed that calendar programs read from a server."""

from __future__ import annotations

import argparse
import datetime as dt

from spread.commands.common import Adder, print_json


def add(command: Adder) -> None:
    """Add the command."""
    feed = command("calendar", _calendar, "make, list and revoke keys of the building's calendar feed")
    way = feed.add_mutually_exclusive_group()
    way.add_argument("--make", action="store_true", help="make a key; it is shown this once")
    way.add_argument("--revoke", metavar="NAME", help="revoke the key of this name; 'all' for every one")
    feed.add_argument("--json", action="store_true", help="print JSON")


def _calendar(args: argparse.Namespace) -> None:
    from dataclasses import asdict  # noqa: PLC0415

    from spread.building import load_building  # noqa: PLC0415
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.records.feed import FEED_FILE, feed_keys, make_key, revoke_key  # noqa: PLC0415
    from spread.words.voice import ENGLISH  # noqa: PLC0415

    store = load_building(args.building).store
    made = make_key(store, dt.date.today()) if args.make else ""
    if args.revoke:
        known = feed_keys(store.beside(FEED_FILE))
        gone = [one.name for one in known if args.revoke in ("all", one.name)]
        if not gone and args.revoke != "all":
            what = f"there is no key {args.revoke[:20]!r}"
            raise SettingsError.at("spread calendar", "--revoke", what, "leave the option out for a list")
        for name in gone:
            revoke_key(store, name)
    keys = feed_keys(store.beside(FEED_FILE))
    if args.json:
        shown = [{name: told for name, told in asdict(one).items() if name != "fingerprint"} for one in keys]
        print_json({"keys": shown, "address": f"/calendar.ics?key={made}" if made else ""})
        return
    if made:
        print("The feed is at this address of your server; it is shown this once:")
        print(f"  /calendar.ics?key={made}")
    number = ENGLISH.many("{number} key opens the feed.", "{number} keys open the feed.", len(keys))
    print("\n".join([number, *(f"  {one.name}  made {one.made}" for one in keys)]))
