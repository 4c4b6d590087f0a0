"""The command on visits after a treatment: revisits."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import Adder, add_voice, fit_options, open_session, print_json, voice_of

if TYPE_CHECKING:
    from spread.decisions.case.followup import FollowUp
    from spread.session import Session


def add(command: Adder) -> None:
    """Add the command."""
    again = command(
        "revisits", _revisits, "list visits overdue, due and coming, and what each unit lacks to be cleared"
    )
    fit_options(again)
    add_voice(again)
    again.add_argument("--ics", metavar="FILE", help="write the visits as a calendar file (iCalendar)")
    again.add_argument("--duties", action="store_true", help="put what the rule set asks for in it too")


def _revisits(args: argparse.Namespace) -> None:
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.report.followup_text import revisits_data, revisits_text  # noqa: PLC0415

    if args.duties and not args.ics:
        raise SettingsError.at(
            "spread revisits", "--duties", "it goes with a calendar file", "add --ics FILE"
        )
    session = open_session(args)
    rule = session.building.settings.clearance
    found = session.view.followups
    told = (session.building.name, session.on, found, rule)
    events = _write_calendar(args, session, found) if args.ics else None
    if args.json:
        data = revisits_data(*told)
        print_json(data if events is None else {**data, "calendar": {"file": args.ics, "events": events}})
        return
    print(revisits_text(*told, voice_of(args)))
    if events is not None:
        print(f"\nWrote {args.ics}: {events} event{'' if events == 1 else 's'}.")


def _write_calendar(args: argparse.Namespace, session: Session, found: Mapping[str, FollowUp]) -> int:
    from spread.decisions.duties.owed import duties  # noqa: PLC0415
    from spread.files import write_whole  # noqa: PLC0415
    from spread.report.calendar import duty_events, visit_events, write_calendar  # noqa: PLC0415
    from spread.trade.rules import load_rules  # noqa: PLC0415

    building = session.building
    events = visit_events(found.values(), session.on)
    if args.duties:
        rules = load_rules(building.settings.rules, building.folder)
        events += duty_events(duties(building.log, building.contacts, rules, session.on), session.on)
    write_whole(Path(args.ics), write_calendar(building.name, events, dt.datetime.now(dt.UTC)))
    return len(events)
