"""The command of the week: who goes to which door on which day, and the notices that go before."""

from __future__ import annotations

import argparse
import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import (
    Adder,
    add_voice,
    answer,
    clock,
    day,
    fit_options,
    hours,
    number,
    open_session,
    print_json,
    voice_of,
    whole,
)
from spread.words.voice import NOTICE_LANGUAGES

if TYPE_CHECKING:
    from spread.report.folder import Format
    from spread.report.week import WeekView
    from spread.session import Session


def add(command: Adder) -> None:
    """Add the command."""
    week = command("week", _week, "plan the week: doors on days on which they may lawfully be entered")
    fit_options(week)
    add_voice(week)
    week.add_argument("--technicians", type=whole, help="how many go; those of building.toml if left out")
    week.add_argument("--hours", type=number, help="hours a day of each; those of building.toml if left out")
    week.add_argument("--begins", type=clock, default=9 * 60, help="when a day begins, as 09:00")
    week.add_argument(
        "--notices", type=day, metavar="DAY", help="write the notices of entry that a day still lacks"
    )
    week.add_argument(
        "--notice-language", default="en", choices=NOTICE_LANGUAGES, help="language of the notices"
    )
    week.add_argument("--window", type=hours, help="hours that the notices name, as 09:00-12:00")
    week.add_argument("--html", metavar="FILE", help="write the notices as a page to print")
    week.add_argument("--pdf", metavar="FILE", help="write the notices as a PDF (needs spread[pdf])")
    week.add_argument(
        "--given", action="store_true", help="record that the notices of that day were handed out"
    )
    week.add_argument("--by", default="", help="work code of whoever handed them out")


def _week(args: argparse.Namespace) -> None:
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.report.planned import week_data, week_text  # noqa: PLC0415
    from spread.report.week import Asked, promise_week, week_view  # noqa: PLC0415

    if args.notices is None and (args.given or args.html or args.pdf or args.window):
        raise SettingsError.at(
            "spread week", "--notices", "the day of the visits is missing", "write --notices 2026-12-02"
        )
    session = open_session(args)
    minutes = None if args.hours is None else 60.0 * args.hours
    shown = week_view(session, Asked(minutes, args.technicians, args.begins))
    if args.notices is not None:
        _notices(args, session, shown)
        return
    promise_week(session, shown)
    answer(args, lambda: week_data(session, shown), lambda: week_text(session, shown, voice_of(args)))


def _notices(args: argparse.Namespace, session: Session, shown: WeekView) -> None:
    from spread.decisions.week.entry import notice_row  # noqa: PLC0415
    from spread.plan.access import clock_of  # noqa: PLC0415
    from spread.report.folder import write_pages  # noqa: PLC0415
    from spread.report.notices import Visit, notices_together  # noqa: PLC0415

    doors = shown.plan.to_announce(args.notices)
    purposes = {door.unit: door.purpose for door in doors}
    visit = Visit("entry", args.notices, session.on, window=args.window)
    wanted: tuple[tuple[str | None, Format], ...] = ((args.html, "html"), (args.pdf, "pdf"))
    pages = [(Path(path), kind) for path, kind in wanted if path]
    if pages and purposes:
        made = notices_together(session.building, shown.rules, purposes, visit, language=args.notice_language)
        write_pages(made, pages)
    given = purposes if args.given else ()
    window = "-".join(map(clock_of, args.window)) if args.window else ""
    for unit in given:
        session.record({**notice_row(unit, args.notices, window), "by": args.by})
    if args.json:
        print_json(
            {
                "building": session.plan.name,
                "on": session.on.isoformat(),
                "day": args.notices.isoformat(),
                "units": list(purposes),
                "files": [path.name for path, _ in pages if purposes],
                "recorded": len(given),
            }
        )
        return
    print(_told(args.notices, list(purposes), [path.name for path, _ in pages if purposes], len(given)))


def _told(visit: dt.date, units: list[str], files: list[str], recorded: int) -> str:
    from spread.words import ENGLISH  # noqa: PLC0415

    day = ENGLISH.day(visit)
    if not units:
        return f"No door of {day} lacks a notice of entry."
    lines = [f"Notices of entry for {day}: {', '.join(units)}."]
    lines += [f"Wrote {name}." for name in files]
    if recorded:
        lines.append(f"Recorded as given: {recorded}.")
    else:
        lines.append("Once handed out, run this again with --given: it records them, which is the proof.")
    return "\n".join(lines)
