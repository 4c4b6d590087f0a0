"""The command line: parses, calls, prints. Bad input is one sentence each and exit code 2."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from importlib.metadata import entry_points
from typing import NoReturn

from spread.commands import MODULES
from spread.commands.common import caution
from spread.errors import Problem, SettingsError, SpreadError

NAME_THEIR_OWN = ("draw", "trace", "serve", "credit", "office", "tidy", "buildings", "portfolio")
"""Commands that do not always begin with a building's folder."""
STOPPED = 130
"""Exit code after Ctrl+C, as shells have it."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command ``spread``; return its exit code (0 done, 1 done in part, 2 bad input)."""
    try:
        args = _parser().parse_args(argv)
        code: int = args.run(args) or 0
        sys.stdout.flush()
    except SpreadError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader of our output (such as head) had enough; that is no fault. What is left in the
        # buffer goes nowhere, or Python would complain of the pipe once more on its way out.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return STOPPED
    return code


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with a command line as every other bad input is said."""

    def error(self, message: str) -> NoReturn:
        where, _, what = message.partition(": ") if message.startswith("argument ") else ("", "", message)
        raise SettingsError(
            Problem(self.prog, where.removeprefix("argument "), what, f"see {self.prog} --help")
        )


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="spread",
        description="Which door next: bed bug inspections in multifamily buildings.",
        epilog=caution(),
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(
        name: str, run: Callable[[argparse.Namespace], int | None], words: str
    ) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=words, description=words)
        sub.set_defaults(run=run)
        if name not in NAME_THEIR_OWN:
            sub.add_argument("building", help="the building's folder")
        return sub

    for name in MODULES:
        import_module(f"spread.commands.{name}").add(command)
    for entry in entry_points(group="spread.commands"):
        # The dashboard adds its own command here, so that nothing in this package imports it.
        entry.load()(command)
    return parser


if __name__ == "__main__":
    sys.exit(main())
