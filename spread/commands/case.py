"""The commands on one case after a find: revisits, treat, visit."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import (
    Adder,
    add_voice,
    answer,
    day,
    fit_options,
    open_building,
    open_session,
    page_voice,
    print_json,
    voice_of,
    whole,
)

if TYPE_CHECKING:
    from spread.building import Building
    from spread.decisions.case.followup import FollowUp
    from spread.report.document import Document
    from spread.report.folder import Format
    from spread.session import Session


def add(command: Adder) -> None:
    """Add the commands."""
    again = command(
        "revisits", _revisits, "list visits overdue, due and coming, and what each unit lacks to be cleared"
    )
    fit_options(again)
    add_voice(again)
    again.add_argument("--ics", metavar="FILE", help="write the visits as a calendar file (iCalendar)")
    again.add_argument("--duties", action="store_true", help="put what the rule set asks for in it too")

    treat = command(
        "treat", _treat, "plan the treatment of a unit: steps, materials, what to prepare, what to beware of"
    )
    treat.add_argument("unit", help="unit code")
    treat.add_argument("--level", help="trace, low, moderate or heavy; that of the last find if left out")
    treat.add_argument("--beds", help="sizes of the beds, as 'queen, twin'")
    treat.add_argument("--sofa", action="store_true", help="people sleep on a sofa")
    treat.add_argument("--sofas", type=whole, default=0, help="sofas and chairs that get interceptors")
    treat.add_argument("--supports", type=whole, help="supports counted, beds and sofas together")
    treat.add_argument("--on", type=day, help="the day it is for, as 2026-11-25; today if left out")
    treat.add_argument("--html", metavar="FILE", help="write it as a page to print")
    treat.add_argument("--pdf", metavar="FILE", help="write it as a PDF")
    add_voice(treat)
    visit = command(
        "visit", _visit, "print the record of a visit: what was done and found, products, next visit"
    )
    visit.add_argument("unit", help="unit code")
    visit.add_argument(
        "--on", type=day, help="the day, as 2026-11-25; that of the unit's last row if left out"
    )
    visit.add_argument("--html", metavar="FILE", help="write it as a page to print")
    visit.add_argument("--pdf", metavar="FILE", help="write it as a PDF")
    add_voice(visit)
    visit.add_argument("--json", action="store_true", help="print JSON")
    treat.add_argument("--json", action="store_true", help="print JSON")


def _revisits(args: argparse.Namespace) -> None:
    from spread.decisions.case.shortest import ways_to_clear  # noqa: PLC0415
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.report.followup_text import revisits_data, revisits_text  # noqa: PLC0415
    from spread.report.text import warned_lines  # noqa: PLC0415
    from spread.words.trust import warnings_data  # noqa: PLC0415

    if args.duties and not args.ics:
        raise SettingsError.at(
            "spread revisits", "--duties", "it goes with a calendar file", "add --ics FILE"
        )
    session = open_session(args)
    rule = session.building.settings.clearance
    found = session.view.followups
    told = (session.building.name, session.on, found, rule)
    ways = ways_to_clear(session.view, session.entries())
    events = _write_calendar(args, session, found) if args.ics else None
    if args.json:
        data = revisits_data(*told, ways=ways) | {"warnings": warnings_data(session.warnings())}
        print_json(data if events is None else {**data, "calendar": {"file": args.ics, "events": events}})
        return
    text = revisits_text(*told, voice_of(args), ways=ways)
    print("\n".join([*warned_lines(session, voice_of(args)), text]))
    if events is not None:
        wrote = voice_of(args).many(
            "Wrote {file}: {number} event.", "Wrote {file}: {number} events.", events, file=args.ics
        )
        print(f"\n{wrote}")


def _write_calendar(args: argparse.Namespace, session: Session, found: Mapping[str, FollowUp]) -> int:
    from spread.decisions.duties.owed import duties  # noqa: PLC0415
    from spread.files import write_whole  # noqa: PLC0415
    from spread.report.calendar import duty_events, visit_events, write_calendar  # noqa: PLC0415

    building = session.building
    voice = page_voice(args)
    events = visit_events(found.values(), session.on, voice)
    if args.duties:
        rules = session.rules
        events += duty_events(duties(building.log, building.contacts, rules, session.on), session.on, voice)
    write_whole(Path(args.ics), write_calendar(building.name, events, dt.datetime.now(dt.UTC), voice))
    return len(events)


def _treat(args: argparse.Namespace) -> None:
    from spread.decisions.case.materials import Home, read_beds  # noqa: PLC0415
    from spread.decisions.case.treatment import plan_of  # noqa: PLC0415
    from spread.report.treat_text import treat_data, treat_document, treat_text  # noqa: PLC0415
    from spread.trade.room import load_room  # noqa: PLC0415

    building = open_building(args)
    _check_unit(building, args.unit)
    home = Home(
        beds=read_beds(args.beds) if args.beds is not None else (),
        places=sum(bed.unit == args.unit for bed in building.plan.beds),
        sleeping="sofa" if args.sofa else "bed",
        sofas=max(args.sofas, int(args.sofa)),
        supports=args.supports,
        room_celsius=building.settings.clearance.room_celsius,
    )
    rows, on = building.log.of(args.unit), args.on or dt.date.today()
    plan = plan_of(rows, args.unit, on, load_room(building.folder), home, level=args.level or "")
    _write_papers(args, lambda: treat_document(building.name, plan, page_voice(args)))
    told = (building.name, plan)
    answer(args, lambda: treat_data(*told), lambda: treat_text(*told, voice_of(args)))


def _visit(args: argparse.Namespace) -> None:
    from spread.decisions.case.job import job_record  # noqa: PLC0415
    from spread.errors import SpreadError  # noqa: PLC0415
    from spread.report.job_text import job_data, job_document, job_text  # noqa: PLC0415
    from spread.report.photographs import kept_in  # noqa: PLC0415

    building = open_building(args)
    _check_unit(building, args.unit)
    rows = building.log.of(args.unit)
    on = args.on or max((row.when for row in rows), default=dt.date.today())
    record = job_record(rows, args.unit, on, building.settings.clearance)
    if record is None:
        days = ", ".join(sorted({row.when.isoformat() for row in rows})[-3:])
        fix = f"its last days are {days}" if days else "the unit has no row yet"
        what = f"no row of {on.isoformat()} is on record for unit {args.unit}"
        raise SpreadError.at(building.name, "", what, fix)

    photographs = kept_in(building.store)
    _write_papers(args, lambda: job_document(building.name, record, page_voice(args), photographs))
    answer(
        args,
        lambda: job_data(building.name, record, voice_of(args)),
        lambda: job_text(building.name, record, voice_of(args)),
    )


def _check_unit(building: Building, unit: str) -> None:
    from spread.errors import SpreadError  # noqa: PLC0415
    from spread.records.sense import guess  # noqa: PLC0415

    if unit not in building.plan.units:
        fix = guess(unit, building.plan.units, "use a unit code of the plan")
        raise SpreadError.at(building.name, "", f"there is no unit {unit[:40]!r}", fix)


def _write_papers(args: argparse.Namespace, made: Callable[[], Document]) -> None:
    """Write the document where the options ask for it; it is made only then."""
    wanted: tuple[tuple[str | None, Format], ...] = ((args.html, "html"), (args.pdf, "pdf"))
    pages = [(Path(path), kind) for path, kind in wanted if path]
    if pages:
        from spread.report.folder import write_pages  # noqa: PLC0415

        write_pages(made(), pages)
