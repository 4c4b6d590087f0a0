"""The command ``spread serve``, offered to the command line through an entry point."""

from __future__ import annotations

import argparse
from collections.abc import Callable

Adder = Callable[[str, Callable[[argparse.Namespace], None], str], argparse.ArgumentParser]


def add(command: Adder) -> None:
    """Add ``serve`` to the commands of ``spread``."""
    from spread.commands.common import fit_options  # noqa: PLC0415 - the command line is importing us

    serve = command("serve", run, "show a building as a floor plan in the browser, on this machine")
    fit_options(serve, json_too=False)
    serve.add_argument("--port", type=int, default=8050, help="port to listen on")
    serve.add_argument("--host", default="127.0.0.1", help="a loopback address; others are refused")


def run(args: argparse.Namespace) -> None:
    """Open the building and serve it until interrupted."""
    from dashboard.server import check_address, serve  # noqa: PLC0415 - dash loads only when it is used
    from spread.commands.common import open_session  # noqa: PLC0415

    check_address(args.host, args.port)
    serve(open_session(args), args.host, args.port)
