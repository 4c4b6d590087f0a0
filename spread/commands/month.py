"""The command for the owner's month."""

from __future__ import annotations

import argparse
from pathlib import Path

from spread.commands.common import (
    Adder,
    add_voice,
    answer,
    day,
    fit_options,
    open_session,
    page_voice,
    voice_of,
)


def add(command: Adder) -> None:
    """Add the command."""
    words = "what was done in a month, whether it is getting better, and what comes next, on one page"
    month = command("month", _month, words)
    month.add_argument(
        "--from", dest="since", type=day, help="first day; of the last whole month if left out"
    )
    month.add_argument(
        "--to", dest="until", type=day, help="last day; the day of the answer if --from is given"
    )
    month.add_argument("--board", action="store_true", help="a copy that names no unit")
    month.add_argument("--html", metavar="FILE", help="write it as a page to print")
    month.add_argument("--pdf", metavar="FILE", help="write it as a PDF")
    month.add_argument("--paper", default="a4", choices=("a4", "letter"))
    fit_options(month)
    add_voice(month)


def _month(args: argparse.Namespace) -> None:
    from spread.files import write_together  # noqa: PLC0415
    from spread.report.html import write_html  # noqa: PLC0415
    from spread.report.month import month_data, month_document, month_text, month_view  # noqa: PLC0415
    from spread.report.pdf import check_typst, write_pdf  # noqa: PLC0415

    if args.pdf:
        check_typst("use --html")
    session = open_session(args)
    shown = month_view(session, args.since, args.until)
    made = month_document(session, shown, page_voice(args), board=args.board)
    files: dict[Path, str | bytes] = {}
    if args.html:
        files[Path(args.html)] = write_html(made, args.paper)
    if args.pdf:
        files[Path(args.pdf)] = write_pdf(made, args.paper)
    write_together(files)
    answer(
        args,
        lambda: month_data(session, shown, board=args.board) | {"files": [path.name for path in files]},
        lambda: month_text(session, shown, voice_of(args), board=args.board),
    )
