"""The commands ``spread serve`` and ``spread people``, offered to the command line through an entry point."""

from __future__ import annotations

import argparse
import getpass
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spread.session import Session

Adder = Callable[[str, Callable[[argparse.Namespace], None], str], argparse.ArgumentParser]


def add(command: Adder) -> None:
    """Add ``serve`` and ``people`` to the commands of ``spread``."""
    from spread.commands.common import fit_options  # noqa: PLC0415 - the command line is importing us

    words = "show a building in the browser; without one, set a new one up there"
    serve = command("serve", run, words)
    serve.add_argument(
        "building", nargs="?", help="the building's folder; left out, the set-up page makes one"
    )
    fit_options(serve, json_too=False)
    serve.add_argument("--port", type=int, default=8050, help="port to listen on")
    serve.add_argument(
        "--host", default="127.0.0.1", help="address to listen on; one that others reach needs people"
    )
    serve.add_argument(
        "--public",
        default="",
        metavar="ADDRESS",
        help="the https address that a TLS proxy passes on to this server",
    )
    serve.add_argument(
        "--folder", help="where the set-up page makes new buildings; beside the open one, or here"
    )
    people = command("people", keep_people, "who may sign in to a building that others can reach")
    which = people.add_mutually_exclusive_group(required=True)
    which.add_argument(
        "--add",
        metavar="CODE",
        help="a short work code such as T1, never a name; asks for a pass phrase, and sets a new one for a "
        "code that is there",
    )
    which.add_argument("--remove", metavar="CODE", help="takes a code out; what it recorded stays")
    which.add_argument("--list", action="store_true", help="the codes, and since when")


def run(args: argparse.Namespace) -> None:
    """Open the building and serve it until interrupted."""
    from dashboard.server import check_address, serve, serve_first  # noqa: PLC0415 - dash loads when used
    from spread.commands.common import open_session  # noqa: PLC0415

    def open_building(folder: Path) -> Session:
        return open_session(argparse.Namespace(**{**vars(args), "building": str(folder)}))

    if not args.building:
        check_address(args.host, args.port, args.public)
        serve_first(Path(args.folder or "."), open_building, args.host, args.port)
        return
    check_address(args.host, args.port, args.public, Path(args.building))
    new_buildings = _folder(args.folder) if args.folder else None
    session = open_building(Path(args.building))
    serve(session, args.host, args.port, public=args.public, new_buildings=new_buildings)


def keep_people(args: argparse.Namespace) -> None:
    """Add, take out or list those who may sign in."""
    from dashboard.signin import people  # noqa: PLC0415
    from spread.building import SETTINGS_FILE  # noqa: PLC0415
    from spread.errors import Problem, SettingsError  # noqa: PLC0415

    folder = Path(args.building)
    if not (folder / SETTINGS_FILE).is_file():
        what, fix = f"there is no {SETTINGS_FILE} in it", "name the folder of a building"
        raise SettingsError(Problem(str(args.building), "", what, fix))
    if args.list:
        roll = people.read_roll(folder)
        for one in roll.people.values() if roll else ():
            print(f"{one.code}  since {one.since}")
        if not (roll and roll.people):
            print("Nobody can sign in. Add a work code: spread people BUILDING --add T1")
        return
    if args.remove is not None:
        code = people.check_code(args.remove)
        people.remove_person(folder, code)
        print(f"{code} can no longer sign in; whoever is signed in by it is out at once. Its records stay.")
        return
    code = people.check_code(args.add)
    first = people.read_roll(folder) is None
    new = people.add_person(folder, code, people.check_phrase(_phrase(code), code))
    print(f"{code} can sign in." if new else f"{code} has a new pass phrase and has to sign in again.")
    if first:
        print(f"Kept in {people.PEOPLE_FILE}, hashed; leave it out of copies that you hand on.")
        print("A server of this building that is running asks for it after it is started again.")


def _phrase(code: str) -> str:
    """Ask for a pass phrase twice without showing it, or read it from a pipe."""
    from spread.errors import Problem, SettingsError  # noqa: PLC0415

    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    phrase = getpass.getpass(f"Pass phrase of {code} (15 characters or more; not shown): ")
    if getpass.getpass("The same again: ") != phrase:
        what = "the two were not the same"
        raise SettingsError(Problem("spread people", f"pass phrase of {code}", what, "try again"))
    return phrase


def _folder(text: str) -> Path:
    from spread.errors import Problem, SettingsError  # noqa: PLC0415

    if not Path(text).is_dir():
        raise SettingsError(
            Problem("spread serve", "--folder", f"there is no folder {text!r}", "make it first")
        )
    return Path(text)
