"""Visits and duties as an iCalendar file (RFC 5545) that calendar programs open.

All-day events that take no time from anybody, one a visit, with an id of their own that stays the same from
one export to the next, so that a newer file moves an event and does not double it. Calendars are shared:
an event names a unit and what to do at the door, and neither people nor what was found.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from icalendar import Calendar, Event

from spread.decisions.case.followup import FollowUp
from spread.decisions.duties.deadlines import day_of
from spread.decisions.duties.owed import Duty
from spread.records.kinds import Record, said_by
from spread.words import ENGLISH, Voice
from spread.words.duties import step_name, when_due

PRODUCT = "-//Spread//Revisits and duties//{language}"
NAMESPACE = uuid.UUID("6f6b1f5e-6e0a-5d0c-9b53-0a7c5b3f7d11")
"""Ids of events are made in this namespace (a version 5 UUID of building, unit, kind and day); RFC 7986
asks for ids that tell nothing about the machine that made them."""
WHAT = {
    "treat": "Treatment visit",
    "confirm": "Look",
    "after-treatment": "Visit again",
    "next-visit": "Visit again",
    "watch": "Look (watch)",
}
"""What an event is called, a term of the context ``event``; a calendar on a wall need not say more."""


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """One all-day event.

    ``key``: what makes it this event and no other: unit, kind, the day it counts from. ``day``: the day to
    aim for. ``title``, ``words``: one line, and the text below it; without personal data. ``category``:
    ``Visit`` or ``Duty``.
    """

    key: str
    day: dt.date
    title: str
    words: str
    category: str


def visit_events(
    followups: Iterable[FollowUp], on: dt.date, voice: Voice = ENGLISH
) -> tuple[CalendarEvent, ...]:
    """Return an event for the next visit of each unit that has one, by day and unit.

    A visit whose day is past stands on ``on``: in a calendar nobody looks back.
    """
    events = []
    for one in followups:
        visit = one.visit
        if visit is None:
            continue
        window = {"first": voice.day(visit.earliest), "last": voice.day(visit.latest)}
        words = (
            voice.text("Overdue. It was on time from {first} to {last}.", **window)
            if visit.status == "overdue"
            else voice.text("On time from {first} to {last}.", **window)
        )
        events.append(
            CalendarEvent(
                key=f"visit/{one.unit}/{visit.kind}/{visit.after.isoformat()}",
                day=max(visit.target, on),
                title=f"{voice.term('event', WHAT[visit.kind])}: {one.unit}",
                words=words,
                category="Visit",
            )
        )
    return tuple(sorted(events, key=lambda event: (event.day, event.key)))


def duty_events(duties: Iterable[Duty], on: dt.date, voice: Voice = ENGLISH) -> tuple[CalendarEvent, ...]:
    """Return an event for each duty that is not done and has a date, by day and unit; late ones on ``on``."""
    events = [
        CalendarEvent(
            key=f"duty/{duty.unit}/{duty.step}/{duty.of}/{duty.deadline.event}/{duty.because[0]}",
            day=max(day_of(duty.due), on),
            title=voice.text("Due, {unit}: {step}", unit=duty.unit, step=step_name(duty.step, voice)),
            words=voice.text("{when}. Check your local code.", when=when_due(duty.deadline, voice)),
            category="Duty",
        )
        for duty in duties
        if duty.due is not None and duty.status != "done"
    ]
    return tuple(sorted(events, key=lambda event: (event.day, event.key)))


def announced_events(
    records: Iterable[Record], on: dt.date, voice: Voice = ENGLISH
) -> tuple[CalendarEvent, ...]:
    """Return an event for each visit of a day to come that a notice of entry on record announces."""
    events = [
        CalendarEvent(
            key=f"announced/{row.unit}/{row.job.day.isoformat()}",
            day=row.job.day,
            title=voice.text("Announced visit: {unit}", unit=row.unit),
            words=voice.text("Between {hours}.", hours=row.job.window)
            if row.job.window
            else voice.text("The notice names no hours."),
            category="Visit",
        )
        for row in records
        if said_by(row) == "entry-notice" and row.job and row.job.day and row.job.day >= on
    ]
    return tuple(sorted(events, key=lambda event: (event.day, event.key)))


def write_calendar(
    building: str, events: Iterable[CalendarEvent], stamp: dt.datetime, voice: Voice = ENGLISH
) -> bytes:
    """Return events as the bytes of an ``.ics`` file.

    ``building``: what the building is called; it names the calendar and is part of the ids. ``events``: the
    events; two with one key are one event. ``stamp``: when the file is made (DTSTAMP), with its time zone.
    Raises ValueError when ``stamp`` has no time zone.
    """
    if stamp.tzinfo is None:
        raise ValueError("the stamp of a calendar needs a time zone")
    moment = stamp.astimezone(dt.UTC).replace(microsecond=0)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT.format(language=voice.language.upper()))
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", voice.text("Visits, {building}", building=building))
    for event in {event.key: event for event in events}.values():
        calendar.add_component(_event(building, event, moment))
    return bytes(calendar.to_ical())


def _event(building: str, event: CalendarEvent, moment: dt.datetime) -> Event:
    made = Event()
    made.add("uid", str(uuid.uuid5(NAMESPACE, f"{building}/{event.key}")))
    made.add("dtstamp", moment)
    made.add("dtstart", event.day)
    # The end of an all-day event is the day after it (RFC 5545, 3.6.1).
    made.add("dtend", event.day + dt.timedelta(days=1))
    made.add("summary", event.title)
    made.add("description", event.words)
    made.add("location", building)
    made.add("categories", [event.category])
    made.add("class", "PRIVATE")
    made.add("transp", "TRANSPARENT")
    # A later export is a later revision of the same event; seconds since 2020 fit the 32 bits of RFC 5545.
    since = dt.datetime(2020, 1, 1, tzinfo=dt.UTC)
    made.add("sequence", max(0, int((moment - since).total_seconds())))
    return made
