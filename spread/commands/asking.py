"""What commands that read a firm's own tables share: their options, the answers, and what is still open."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spread.tables.answers import Answers, Question


def table_options(command: argparse.ArgumentParser, nothing: str) -> None:
    """Add the options; ``nothing``: what is not done while questions are written."""
    command.add_argument("--answers", metavar="TOML", help="what columns and wordings mean")
    command.add_argument(
        "--ask", metavar="TOML", help=f"write the questions into a file to answer; {nothing}"
    )
    command.add_argument("--sheet", default="", help="which sheet of a workbook; the largest if left out")


def bytes_of(name: str) -> bytes:
    """Return a file that the command names, or refuse in one sentence."""
    from spread.errors import RecordError  # noqa: PLC0415

    source = Path(name)
    try:
        return source.read_bytes()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        fix = "check its name and where you are working"
        raise RecordError.at(source.name, "", f"it cannot be read ({reason})", fix) from None


def answers_of(args: argparse.Namespace) -> Answers:
    """Return what was said before."""
    from spread.tables.answers import Answers, read_answers  # noqa: PLC0415

    return read_answers(Path(args.answers)) if args.answers else Answers()


def asked(questions: Sequence[Question], answers: Answers, name: str, args: argparse.Namespace) -> bool:
    """Write the questions into a file where that is asked for; refuse to go on while any is open."""
    from spread.errors import Problem, SpreadError  # noqa: PLC0415
    from spread.files import write_whole  # noqa: PLC0415
    from spread.words.tables import question_words  # noqa: PLC0415

    if args.ask:
        write_whole(Path(args.ask), answers.text(questions))
        told = f"{len(questions)} questions" if questions else "Nothing to ask"
        print(f"{told}, written to {args.ask}; answer them and name the file with --answers.")
        return True
    if questions and not (getattr(args, "dry_run", False) or getattr(args, "json", False)):
        fix = (
            "write them into a file with --ask words.toml, answer them, and name it with --answers words.toml"
        )
        still = "1 question is" if len(questions) == 1 else f"{len(questions)} questions are"
        raise SpreadError(
            [
                Problem(name, "", question_words(one), "say it in the file of --answers")
                for one in questions[:40]
            ]
            + [Problem(name, "", f"{still} open and nothing was taken in", fix)]
        )
    return bool(questions)
