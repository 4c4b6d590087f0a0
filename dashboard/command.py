"""The command ``spread serve``, offered to the command line through an entry point."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spread.session import Session

Adder = Callable[[str, Callable[[argparse.Namespace], None], str], argparse.ArgumentParser]


def add(command: Adder) -> None:
    """Add ``serve`` to the commands of ``spread``."""
    from spread.commands.common import PAGES, fit_options  # noqa: PLC0415 - it is importing us

    PAGES["portfolio.html"] = "dashboard.figures.firm:page"
    words = "show a building in the browser; without one, set a new one up there"
    serve = command("serve", run, words)
    serve.add_argument(
        "building",
        nargs="?",
        help="the building's folder, or one that holds several; left out, the set-up page makes one",
    )
    fit_options(serve, json_too=False)
    serve.add_argument(
        "--office", default="", metavar="OFFICE", help="every building of an office instead of one folder"
    )
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


def run(args: argparse.Namespace) -> None:
    """Open the building and serve it until interrupted."""
    from dashboard.server import (  # noqa: PLC0415 - dash loads when used
        check_address,
        serve,
        serve_first,
        serve_folders,
        serve_office,
    )
    from spread.commands.common import open_session  # noqa: PLC0415
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.portfolio.folders import is_many  # noqa: PLC0415

    def open_building(folder: Path) -> Session:
        def tell(line: str) -> None:
            print(f"{folder.name}: {line}", file=sys.stderr, flush=True)

        tell("Reading its plan and its log.")
        return open_session(argparse.Namespace(**{**vars(args), "building": str(folder)}), tell)

    if args.office:
        if args.building:
            raise SettingsError.at(
                "spread serve", "--office", "a building is named too", "serve one or the other"
            )
        serve_office(
            args.office,
            lambda key: open_building(Path(f"{args.office}#{key}")),
            args.host,
            args.port,
            public=args.public,
        )
        return
    if not args.building:
        check_address(args.host, args.port, args.public)
        serve_first(Path(args.folder or "."), open_building, args.host, args.port)
        return
    if is_many(Path(args.building)):
        check_address(args.host, args.port, args.public)
        serve_folders(Path(args.building), open_building, args.host, args.port)
        return
    check_address(args.host, args.port, args.public, Path(args.building))
    new_buildings = _folder(args.folder) if args.folder else None
    session = open_building(Path(args.building))
    serve(session, args.host, args.port, public=args.public, new_buildings=new_buildings)


def _folder(text: str) -> Path:
    from spread.errors import SettingsError  # noqa: PLC0415

    if not Path(text).is_dir():
        raise SettingsError.at("spread serve", "--folder", f"there is no folder {text!r}", "make it first")
    return Path(text)
