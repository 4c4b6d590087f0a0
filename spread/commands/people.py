"""The commands ``people`` and ``office people``: who may sign in to a building or an office, and as what."""

from __future__ import annotations

import argparse
import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import Adder

if TYPE_CHECKING:
    from spread.people.kept import People


def add(command: Adder) -> None:
    """Add the command."""
    people_options(command("people", _of_folder, "who may sign in to a building that others can reach"))


def people_options(parser: argparse.ArgumentParser, *, office: bool = False) -> None:
    """Add the options that both commands have, and those of an office's people."""
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument(
        "--add",
        metavar="CODE",
        help="a short work code such as T1, never a name; asks for a pass phrase. For a code that is there: "
        "a new pass phrase, or with --role only what it is",
    )
    which.add_argument("--remove", metavar="CODE", help="takes a code out; what it recorded stays")
    which.add_argument("--list", action="store_true", help="the codes, what they are, and since when")
    which.add_argument("--sign-out", metavar="CODE", help="ends every sign-in of a code")
    which.add_argument("--audit", action="store_true", help="who did what, the latest first")
    parser.add_argument(
        "--role",
        action="append",
        metavar="ROLE",
        help="administrator, manager, technician (if left out) or owner; may be given several times",
    )
    parser.add_argument("--sees-units", action="store_true", help="lets an owner read single units")
    if office:
        parser.add_argument(
            "--building",
            action="append",
            metavar="KEY",
            help="a building that the person works for; repeatable",
        )


def _of_folder(args: argparse.Namespace) -> None:
    from spread.building import SETTINGS_FILE  # noqa: PLC0415
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.people.folder import PEOPLE_FILE, FolderPeople, read_roll  # noqa: PLC0415

    folder = Path(args.building)
    if not (folder / SETTINGS_FILE).is_file():
        what, fix = f"there is no {SETTINGS_FILE} in it", "name the folder of a building"
        raise SettingsError.at(str(args.building), "", what, fix)
    first = read_roll(folder) is None
    args.building = None
    keep_people(FolderPeople(folder), args)
    if first and args.add is not None:
        print(f"Kept in {PEOPLE_FILE}, hashed; leave it out of copies that you hand on.")
        print("A server of this building that is running asks for it after it is started again.")


def keep_people(people: People, args: argparse.Namespace) -> None:
    """Add, change, take out or list those who may sign in."""
    from spread.people.phrases import check_code  # noqa: PLC0415 - hashing loads when it is used

    if args.list:
        for one in people.everyone().values():
            more = [", ".join(one.roles), ", ".join(one.buildings), "sees units" if one.sees_units else ""]
            print(f"{one.code}  since {one.since}  {'; '.join(filter(None, more))}")
        if not people.everyone():
            print("Nobody can sign in. Add a work code: spread people BUILDING --add T1")
    elif args.audit:
        for deed in people.deeds():
            told = (f"{deed.when:%Y-%m-%d %H:%M:%S}", deed.who or "-", deed.what, deed.building, deed.detail)
            print("  ".join(told))
    elif args.remove is not None:
        code = check_code(args.remove)
        people.take_out(code)
        print(f"{code} can no longer sign in; whoever is signed in by it is out at once. Its records stay.")
    elif args.sign_out is not None:
        code = check_code(args.sign_out)
        people.end_all(code)
        print(f"Every sign-in of {code} has ended.")
    else:
        _keep(people, check_code(args.add), args)


def _keep(people: People, code: str, args: argparse.Namespace) -> None:
    import datetime as dt  # noqa: PLC0415
    from dataclasses import replace  # noqa: PLC0415

    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.people.phrases import check_phrase, hashed  # noqa: PLC0415
    from spread.people.roles import ROLES, Person  # noqa: PLC0415

    if wrong := [role for role in args.role or () if role not in ROLES]:
        fix = f"choose among: {', '.join(ROLES)}"
        raise SettingsError.at("spread people", "--role", f"{wrong[0][:40]!r} is no role", fix)
    known = people.everyone().get(code)
    one = known or Person(code, "", "")
    if args.role:
        one = replace(one, roles=tuple(role for role in ROLES if role in args.role))
    if args.building is not None:
        one = replace(one, buildings=tuple(sorted(set(args.building))))
    if args.role or args.sees_units:
        one = replace(one, sees_units=args.sees_units)
    only_what_it_is = known is not None and bool(args.role or args.building or args.sees_units)
    if not only_what_it_is:
        phrase = check_phrase(_phrase(code), code)
        one = replace(one, hash=hashed(phrase), since=dt.date.today().isoformat())
    new = people.keep(one)
    told = f"{code} is now {' and '.join(one.roles)}."
    if new:
        told = f"{code} can sign in."
    elif not only_what_it_is:
        told = f"{code} has a new pass phrase and has to sign in again."
    print(told)


def _phrase(code: str) -> str:
    """Ask for a pass phrase twice without showing it, or read it from a pipe."""
    from spread.errors import SettingsError  # noqa: PLC0415

    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    phrase = getpass.getpass(f"Pass phrase of {code} (15 characters or more; not shown): ")
    if getpass.getpass("The same again: ") != phrase:
        what = "the two were not the same"
        raise SettingsError.at("spread people", f"pass phrase of {code}", what, "try again")
    return phrase
