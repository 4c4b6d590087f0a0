"""The calendar file against RFC 5545, and read back.

The rules are those of the RFC's own text: 3.1 (lines end with CRLF and hold at most 75 octets, longer ones
are folded), 3.3.11 (escapes in text), 3.6 and 3.6.1 (what a calendar and an event must hold, DTEND after
DTSTART and of the same kind), 3.8.4.7 (UID) and 3.8.7.2 (DTSTAMP in UTC).
"""

import datetime as dt
import re

import pytest
from buildings import ON, day, find, report, treatment
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from spread.decisions.case.followup import followup_of
from spread.decisions.duties.owed import Duty, Started
from spread.report.calendar import CalendarEvent, duty_events, visit_events, write_calendar
from spread.trade.rule_set import Deadline, Origin, Span

STAMP = dt.datetime(2024, 5, 15, 9, 30, 1, 5000, tzinfo=dt.timezone(dt.timedelta(hours=2)))
KEYS = ("visit/101/watch/2024-05-01", "visit/206/treat/2024-05-10")
EVENTS = (
    CalendarEvent(KEYS[0], dt.date(2024, 5, 31), "Look (watch): 101", "On time.", "Visit"),
    CalendarEvent(KEYS[1], dt.date(2024, 2, 29), "Treatment visit: 206", "x" * 300, "Visit"),
)


def unfolded(data):
    """Undo the folding as 3.1 has it: a CRLF and one space or tab are taken out."""
    return re.sub(rb"\r\n[ \t]", b"", data).decode("utf-8")


def events_of(data):
    return Calendar.from_ical(data).walk("VEVENT")


def test_lines_end_with_crlf_and_hold_at_most_75_octets():
    data = write_calendar("Häuserblock Nord, Haus 3; hinten " * 5, EVENTS, STAMP)
    assert data.endswith(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert b"\r" not in data.replace(b"\r\n", b"")
    assert max(len(line) for line in data.split(b"\r\n")) <= 75
    assert "Häuserblock Nord\\, Haus 3\\; hinten" in unfolded(data)


def test_a_calendar_and_its_events_hold_what_they_must():
    lines = unfolded(write_calendar("Maple Row", EVENTS, STAMP)).split("\r\n")
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-2:] == ["END:VCALENDAR", ""]
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1
    for name in ("BEGIN:VEVENT", "END:VEVENT", "DTSTAMP:20240515T073001Z"):
        assert lines.count(name) == 2, "07:30:01 in UTC"
    for name in ("UID:", "DTSTART;VALUE=DATE:", "DTEND;VALUE=DATE:", "SUMMARY:"):
        assert sum(line.startswith(name) for line in lines) == 2
    assert "DTSTART;VALUE=DATE:20240229" in lines
    assert "DTEND;VALUE=DATE:20240301" in lines, "the day after a leap day"


def test_it_reads_back_as_what_was_written():
    read = events_of(write_calendar("Maple Row", EVENTS, STAMP))
    assert [(e.decoded("dtstart"), str(e["summary"]), str(e["description"])) for e in read] == [
        (event.day, event.title, event.words) for event in EVENTS
    ]
    for event in read:
        start, end = event.decoded("dtstart"), event.decoded("dtend")
        assert type(start) is dt.date, "all day, and so in no time zone"
        assert end - start == dt.timedelta(days=1)
        assert 0 <= event["sequence"] < 2**31
        assert str(event["transp"]) == "TRANSPARENT"


def test_an_event_keeps_its_id_and_a_later_file_is_a_later_revision():
    first = events_of(write_calendar("Maple Row", EVENTS, STAMP))
    moved = [CalendarEvent(EVENTS[0].key, dt.date(2024, 6, 7), "Moved", "", "Visit"), EVENTS[1]]
    later = events_of(write_calendar("Maple Row", moved, STAMP + dt.timedelta(minutes=1)))
    assert [e["uid"] for e in first] == [e["uid"] for e in later]
    assert all(b["sequence"] > a["sequence"] for a, b in zip(first, later, strict=True))
    other = events_of(write_calendar("Elm Court", EVENTS, STAMP))
    assert not {str(e["uid"]) for e in first} & {str(e["uid"]) for e in other}
    assert len({str(e["uid"]) for e in first}) == 2


def test_one_key_is_one_event_and_no_events_are_a_calendar_too():
    assert len(events_of(write_calendar("Maple Row", [EVENTS[0]] * 3, STAMP))) == 1
    assert events_of(write_calendar("Maple Row", [], STAMP)) == []


def test_a_stamp_without_a_time_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        write_calendar("Maple Row", EVENTS, dt.datetime(2024, 5, 15))


TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=200)


@settings(max_examples=60, deadline=None)
@given(TEXT, TEXT, TEXT)
def test_any_words_come_back_whole_and_lines_stay_short(building, title, words):
    event = CalendarEvent("k", dt.date(2024, 5, 1), title, words, "Visit")
    data = write_calendar(building, [event], STAMP)
    assert max(len(line) for line in data.split(b"\r\n")) <= 75
    data.decode("utf-8")
    (read,) = events_of(data)
    assert (str(read["summary"]), str(read["description"])) == (title, words)


# -- from follow-ups and duties


def followups(*units):
    made = {
        "101": [find("101", 9), treatment("101", 5)],
        "102": [find("102", 60), treatment("102", 55)],
        "103": [report("103", 4)],
    }
    return [followup_of(made[unit], unit, ON, 0.5) for unit in units]


def test_a_visit_is_an_event_on_its_day_and_an_overdue_one_stands_today():
    events = visit_events(followups("101", "102", "103"), ON)
    assert [(e.title, e.day) for e in events] == [
        ("Visit again: 102", ON),
        ("Visit again: 101", day(5 - 14)),
    ]
    assert "Overdue" in events[0].words
    assert [e.key for e in visit_events(followups("101", "102"), day(-30))] == [
        e.key for e in sorted(events, key=lambda e: e.key)
    ], "the id does not move with the day"


def test_an_event_tells_neither_people_nor_what_was_found():
    """Calendars are shared: a unit and what to do at the door, no word of bugs, chances or reports."""
    told = " ".join(f"{e.title} {e.words}" for e in visit_events(followups("101", "102"), ON)).lower()
    for word in ("bug", "infest", "chance", "%", "report", "heavy", "found", "resident"):
        assert word not in told
    data = write_calendar("Maple Row", visit_events(followups("101"), ON), STAMP)
    assert not re.search(rb"ATTENDEE|ORGANIZER|CONTACT|mailto", data)


def duty(unit, due, status="due"):
    deadline = Deadline("inspect", "source", "report", Origin("a code", "read", "B"), Span(96, "hours"))
    started = Started("report", unit, ON)
    return Duty(unit, deadline, due, started, ("r1",), (), status, late=False, proof="", attempts=())


def test_duties_with_a_date_that_are_not_done_are_events_too():
    owed = [
        duty("101", dt.datetime(2024, 5, 20, 9, 0)),
        duty("102", day(3), "overdue"),
        duty("103", day(-2), "done"),
        duty("104", None),
    ]
    assert [(e.title, e.day) for e in duty_events(owed, ON)] == [
        ("Due, 102: inspect", ON),
        ("Due, 101: inspect", dt.date(2024, 5, 20)),
    ]
