"""The desk's pages at their addresses: what they record, refuse, print, and hand to a calendar program."""

import csv
import datetime as dt
import io
import json
import re
from dataclasses import replace

import pytest
from icalendar import Calendar
from small import LIVED_IN, small_session

from dashboard import create_app
from spread.decisions.week.entry import notices_on_record
from spread.records.feed import FEED_FILE, feed_keys, make_key, opens, revoke_key
from spread.records.kinds import KINDS
from spread.records.searching import Search, found
from spread.session import Session

pytestmark = pytest.mark.notices
ROWS = (*LIVED_IN, ("102", 3, "report", "", ""))
FRIDAY = "2026-11-27"
NUMBER = iter(range(10_000))


@pytest.fixture
def session(tmp_path):
    return small_session(tmp_path / "house", rows=ROWS)


@pytest.fixture
def client(session):
    return create_app(session).server.test_client()


def post(client, address, **sent):
    return client.post(address, json={"id": f"test-{next(NUMBER):08d}", **sent}).get_json()


def rows_of(session, unit):
    session.refresh()
    return session.building.log.of(unit)


# -- cases


def test_a_case_stands_under_what_is_known_and_not_under_its_chance(client):
    page = client.get("/cases").text
    groups = re.split(r'class="desk-group"', page)[1:]
    told = [(re.search(r">([^<]+) \(\d", one)[1], set(re.findall(r"\?unit=(\w+)", one))) for one in groups]
    assert told == [
        ("Found, not treated since", {"104"}),
        ("Found or treated, never closed", {"201"}),
        ("Reported or alerted, nobody has looked since", {"102"}),
    ]


def test_a_complaint_of_this_morning_is_one_row_and_can_be_taken_back(client, session):
    told = post(client, "/cases/report", unit="105", said="bitten", note="")
    assert told["ok"], told
    (row,) = rows_of(session, "105")
    assert (row.kind, row.found, row.when, row.id) == ("report", "unsure", session.on, told["row"])
    page = client.get(f"/cases?after={told['row']}").text
    assert "105, Wed 25 Nov 2026" in page
    assert "Take it back" in page
    assert post(client, "/cases/back", unit="105", undoes=told["row"])["ok"]
    assert [row.kind for row in rows_of(session, "105")] == ["note"]


@pytest.mark.parametrize(
    ("sent", "words"),
    [({"unit": "999", "said": "seen"}, "no unit"), ({"unit": "105", "said": "x"}, "what the resident")],
)
def test_what_cannot_be_a_complaint_is_one_sentence(client, session, sent, words):
    told = post(client, "/cases/report", **sent)
    assert not told["ok"]
    assert words in told["words"]
    assert len(session.building.log) == len(ROWS)


# -- duties and notices


def test_notices_are_given_for_chosen_units_with_their_hours_once_and_taken_back(client, session):
    sent = {"units": ["104", "201"], "other": "105", "day": FRIDAY, "from": "09:00", "to": "12:00"}
    made = client.get("/duties/notices?units=104&units=201&other=105&from=09:00&to=12:00&day=" + FRIDAY)
    assert made.status_code == 200
    assert all(unit in made.text for unit in ("104", "201", "105"))
    assert re.search(r"9(:00)? ?a\.?m|09:00", made.text)
    assert post(client, "/duties/given", **sent)["ok"]
    assert post(client, "/duties/given", **sent)["words"] == "0 recorded."
    day = session.on.replace(day=27)
    assert set(notices_on_record(session.view, day)) == {"104", "201", "105"}
    (row,) = [r for r in session.view.log.of("104") if r.method == "entry-notice"]
    assert (row.job.day, row.job.window) == (day, "09:00-12:00")
    assert "Take back" in client.get("/duties").text
    assert post(client, "/duties/back", day=FRIDAY)["ok"]
    assert notices_on_record(session.view, day) == {}


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"units": ["105"], "day": "2026-11-26"}, "would not have run by Thu 26 Nov 2026 in 105"),
        ({"units": [], "day": FRIDAY}, "no unit is chosen"),
        ({"units": ["104", "999"], "day": FRIDAY}, "not in this building"),
        ({"units": ["104"], "day": FRIDAY, "from": "12:00", "to": "09:00"}, "no hours"),
        ({"units": ["104"], "day": FRIDAY, "from": "12:00"}, "no hours"),
        ({"units": ["104"], "day": "soon"}, "no day"),
    ],
)
def test_a_notice_that_would_not_hold_is_neither_printed_nor_recorded(client, session, sent, words):
    told = post(client, "/duties/given", **sent)
    assert not told["ok"]
    assert words in told["words"]
    assert client.get("/duties/notices", query_string=sent).status_code == 400
    assert len(session.building.log) == len(ROWS)


def under(session, rules, *holidays):
    """The same building under other rules, with days off of its own."""
    own = replace(session.building.settings, rules=rules, holidays=holidays)
    return Session(replace(session.building, settings=own), session.view.posterior, session.fit_settings)


def test_days_off_of_the_settings_are_said_and_put_duties_off(session):
    days = dt.date(2026, 11, 24), dt.date(2026, 11, 26)
    pages = [
        create_app(under(session, "philadelphia", *off)).server.test_client().get("/duties").text
        for off in ((), days)
    ]
    usual, off = (set(re.findall(r"by (\w+ \d+ \w+ \d+)", page)) for page in pages)
    assert usual != off
    assert "days off are written down" in pages[1]
    assert "Thu 26 Nov 2026" in pages[1].split("days off are written down")[1]


def test_a_step_on_paper_is_ticked_and_its_row_is_the_proof(session):
    client = create_app(under(session, "colorado")).server.test_client()
    page = client.get("/duties").text
    steps = re.findall(r'name="step" value="([\w-]+)".*?name="units" value="(\w+)"', page, re.DOTALL)
    assert steps, "the rule set asks for something on paper"
    step, unit = steps[0]
    assert post(client, "/duties/done", step=step, units=[unit])["ok"]
    again = client.get("/duties").text
    done = again.split('id="group-done"')[1]
    assert unit in done
    assert not post(client, "/duties/done", step="inspect", units=[unit])["ok"], "a look proves a look"
    assert not re.search(r"confidence [ABC]|good-practice|\.toml|\[\[", again)


# -- the calendar feed


def test_a_key_opens_the_feed_and_a_wrong_or_revoked_one_finds_nothing(client, session):
    for key in ("", "x", "k" * 5000, "\udcff"):
        assert (
            client.get("/calendar.ics", query_string={"key": key.encode("utf-8", "replace")}).status_code
            == 404
        )
    made = post(client, "/calendar/make")["address"]
    post(client, "/duties/given", units=["104"], day=FRIDAY)
    reply = client.get(made)
    assert reply.status_code == 200
    assert reply.headers["Cache-Control"] == "no-store"
    events = Calendar.from_ical(reply.data).walk("VEVENT")
    titles = [str(event["summary"]) for event in events]
    assert "Announced visit: 104" in titles
    assert any("201" in title for title in titles)
    kept = session.building.store.beside(FEED_FILE)
    assert made.split("key=")[1].encode() not in kept, "nobody reads a key from the file"
    (one,) = feed_keys(kept)
    assert one.name in client.get("/revisits").text
    assert post(client, "/calendar/revoke", name=one.name)["ok"]
    assert client.get(made).status_code == 404


def test_keys_are_told_apart_and_a_file_that_is_none_opens_nothing(session):
    store = session.building.store
    first, second = make_key(store, session.on), make_key(store, session.on, "M1")
    kept = store.beside(FEED_FILE)
    assert opens(kept, first)
    assert opens(kept, second)
    assert not opens(kept, first[:-1])
    assert revoke_key(store, feed_keys(kept)[0].name)
    assert not opens(store.beside(FEED_FILE), first)
    assert opens(store.beside(FEED_FILE), second)
    for broken in (b"", b"{", b"[1]", b'[{"name": "x"}]', b'{"a": 1}', b"\xff"):
        assert not opens(broken, first)


def test_the_command_makes_lists_and_revokes_keys(run, session):
    folder = session.building.folder
    code, out, _ = run("calendar", folder, "--make")
    key = re.search(r"key=(\S+)", out)[1]
    assert (code, opens(session.building.store.beside(FEED_FILE), key)) == (0, True)
    listed = json.loads(run("calendar", folder, "--json")[1])
    assert [sorted(one) for one in listed["keys"]] == [["by", "made", "name"]]
    assert run("calendar", folder, "--revoke", "nothing")[0] == 2
    assert run("calendar", folder, "--revoke", "all")[0] == 0
    assert not opens(session.building.store.beside(FEED_FILE), key)


# -- records


def test_a_search_finds_the_rows_that_hold_all_that_is_asked(session):
    log = session.view.log
    assert {row.unit for row in found(log, Search(kind="treatment"))} == {"201"}
    assert found(log, Search(unit="201", until=session.on.replace(month=9, day=1)))[0].kind == "inspection"
    assert [row.unit for row in found(log, Search(since=session.on.replace(day=1)))] == ["102", "104"]
    assert found(log, Search(text="spray 201")) == []
    assert len(found(log, Search())) == len(ROWS)
    assert sum(len(found(log, Search(kind=kind))) for kind in KINDS) == len(ROWS)


def test_a_correction_stands_in_the_place_of_a_row_that_stays(client, session):
    wrong = next(row for row in session.view.log.of("104") if row.found == "yes")
    page = client.get(f"/records?row={wrong.id}").text
    assert 'value="low" selected' in page
    told = post(client, "/records/correct", row=wrong.id, when=wrong.when.isoformat(), method=wrong.method,
                found="yes", level="heavy", count="", note="counted again", evidence=["live"])  # fmt: skip
    assert told["ok"], told
    (row,) = rows_of(session, "104")
    assert (row.supersedes, row.level, row.note, row.evidence) == (
        wrong.id, "heavy", "counted again", frozenset({"live"}),
    )  # fmt: skip
    assert session.building.store.log.by_id[wrong.id] == wrong, "the log is only added to"
    assert "corrected or taken back since" in client.get("/records?unit=104&corrected=1").text
    same = post(client, "/records/correct", row=row.id, when=row.when.isoformat(), method=row.method,
                found="yes", level="heavy", count="", note="counted again", evidence=["live"])  # fmt: skip
    assert not same["ok"]
    assert "Nothing is changed" in same["words"]
    odd = post(client, "/records/correct", row=row.id, when="2031-01-01", level="heavy", evidence=["live"])
    assert not odd["ok"]
    assert not post(client, "/records/correct", row="nowhere", when="2026-11-01")["ok"]


def test_the_rows_found_are_a_table_that_is_a_log(client):
    data = client.get("/records/found.csv?unit=201").data.decode()
    rows = list(csv.DictReader(io.StringIO(data)))
    assert [(row["unit"], row["kind"]) for row in rows] == [("201", "inspection"), ("201", "treatment")]
    assert "No row of the log fits" in client.get("/records?unit=999&page=7&since=never").text


def test_the_desk_links_its_pages_and_says_no_file_syntax(client):
    for path in ("/week", "/cases", "/revisits", "/duties", "/records"):
        text = client.get(path).text
        nav = text.split('class="desk-bar"')[1].split("</nav>")[0]
        links = re.findall(r'href="(/\w+)"', nav)
        assert links == ["/week", "/cases", "/revisits", "/duties", "/records"]
        assert re.search(rf'href="{path}" aria-current="page"', nav)
        shown = re.sub(r"<[^>]*>", " ", text.split("<main")[1])
        assert not re.search(r"confidence [ABC]\b|good-practice|\.toml|\[\[|after-treatment|no-access", shown)
