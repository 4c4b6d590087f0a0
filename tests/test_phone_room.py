"""The room page without a browser: findings from untrusted words to one record, and what the page shows."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point
from small import BRIEF, made_plan

from dashboard import create_app
from dashboard.round.addresses import building_key
from dashboard.round.answers import phone_fields
from dashboard.round.room_answers import MOST_ITEMS, read_findings
from dashboard.round.rooms import Rooms
from spread.building import load_building
from spread.decisions.room.findings import propose_level
from spread.errors import RecordError
from spread.plan.model import Bed, Outlet
from spread.records.items import read_items
from spread.records.kinds import EVIDENCE, STAGES, STATES, Finding, Record
from spread.records.log import Log
from spread.session import Session
from spread.trade.room import load_room
from spread.words import ENGLISH

DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
ON = dt.date(2026, 11, 20)
PLAN = made_plan(2, 3)
CODES = load_room().by_code
NUMBER = "00000000-0000-4000-8000-{:012d}"


def room(number=1, unit="101", **more):
    items = [{"item": "mattress", "evidence": ["live"], "count": 6}]
    usual = {"answer": "room", "method": "thorough-visual", "level": "proposed", "items": items}
    return {"id": NUMBER.format(number), "unit": unit, **usual, **more}


def fields(answer, log=None):
    return phone_fields(answer, PLAN, ON, log or Log(), CODES)


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("room") / DEMO.name
    shutil.copytree(DEMO, folder)
    return load_building(folder), Session.open(folder, on=ON, settings=BRIEF)


@pytest.fixture
def session(fitted, tmp_path):
    """The fitted demo on a copy of its own."""
    _, open_one = fitted
    folder = tmp_path / DEMO.name
    shutil.copytree(DEMO, folder)
    own = Session(load_building(folder), open_one.view.posterior, BRIEF)
    yield own
    own.wait()


@pytest.fixture
def post(session):
    client = create_app(session).server.test_client()

    def send(answers=(), want=None):
        body = {"building": building_key(session), "answers": list(answers), "want": want}
        return client.post("/round/answers", json=body).get_json()

    return send


def rows(session):
    with (session.building.folder / "records.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def fresh(session):
    log = session.view.log
    return next(row.unit for row in session.doors() if all(r.kind == "note" for r in log.of(row.unit)))


# -- answers


def test_a_look_with_findings_takes_the_level_that_is_proposed():
    """Against ``propose_level``: 6 live bugs are low, 4 to 12."""
    made = fields(room())
    assert (made["found"], made["level"]) == ("yes", "low")
    assert made["level"] == propose_level([Finding("mattress", frozenset({"live"}), count=6)]).level
    assert made["items"] == "mattress: live, 6"


@pytest.mark.parametrize(
    ("level", "found", "kept"),
    [("heavy", "yes", "heavy"), ("signs", "yes", ""), ("unsure", "unsure", ""), ("nothing", "no", "")],
)
def test_the_technician_has_the_last_word(level, found, kept):
    made = fields(room(level=level))
    assert (made["found"], made.get("level", "")) == (found, kept)


@pytest.mark.parametrize(
    "answer",
    [
        room(items=[]), room(items="mattress"), room(items=[7]), room(level=""), room(level="enormous"),
        room(method="dog"), room(items=[{"item": "ceiling-fan", "evidence": []}]),
        room(items=[{"item": "mattress", "evidence": ["ghosts"]}]),
        room(items=[{"item": "mattress", "evidence": [], "count": 3}]),
        room(items=[{"item": "mattress", "photo": "../../secret.jpg"}]),
        room(items=[{"item": "mattress", "place": "bed; sofa: live"}]),
        room(items=[{"item": "mattress"}] * (MOST_ITEMS + 1)),
        {**room(), "answer": "treated", "method": "prayer"},
        {**room(), "answer": "traps", "method": "interceptors"},
        {**room(), "answer": "traps", "method": "interceptors", "caught": -1},
        {**room(), "answer": "traps", "method": "brief-visual", "caught": 0},
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_refused_in_words(answer):
    with pytest.raises(RecordError) as refused:
        fields(answer)
    assert len(str(refused.value)) > 20


def with_traps(ago, *more):
    """A log in which traps were set some days before."""
    legs = [Finding("interceptors", place=f"bed leg {leg}") for leg in (1, 2, 3, 4)]
    row = Record("set", ON - dt.timedelta(days=ago), "101", "note", "traps-set", items=tuple(legs))
    return Log((row, *more))


def test_days_of_traps_come_from_their_dates_and_a_room_without_traps_has_no_clean_period():
    """Two taps on what was filled in once recorded 14 clean days in a room that never had traps."""
    asked = {**room(items=[]), "answer": "traps", "method": "interceptors", "days": 14, "caught": 0}
    with pytest.raises(RecordError, match="No row says since when these traps stand here"):
        fields(asked)
    with pytest.raises(RecordError, match="No row says since when"):
        fields(asked, with_traps(0))
    up = Record("up", ON - dt.timedelta(days=2), "101", "note", "traps-taken-up")
    with pytest.raises(RecordError, match="No row says since when"):
        fields(asked, with_traps(14, up))
    assert fields(asked, with_traps(9))["days"] == "9"
    read = Record("read", ON - dt.timedelta(days=5), "101", "monitor", "interceptors", "no", days=9)
    assert fields(asked, with_traps(14, read))["days"] == "5"
    caught = fields({**asked, "caught": 4})
    assert (caught["found"], caught["count"], caught.get("days")) == ("yes", "4", None), (
        "a catch is never lost"
    )
    with pytest.raises(RecordError, match="bugs were caught"):
        fields({key: value for key, value in asked.items() if key != "caught"}, with_traps(9))


def test_traps_are_set_with_a_place_each_and_taken_up():
    placed = {**room(), "answer": "traps-set", "places": ["bed 1 leg 1", "bed 1 leg 2"]}
    made = fields(placed)
    assert (made["kind"], made["method"]) == ("note", "traps-set")
    assert made["items"] == "interceptors: nothing, at bed 1 leg 1; interceptors: nothing, at bed 1 leg 2"
    for wrong in ([], ["bed 1", "bed 1"], ["bed; sofa"], [""], ["leg"] * 99):
        with pytest.raises(RecordError):
            fields({**placed, "places": wrong})
    with pytest.raises(RecordError, match="none can be taken up"):
        fields({**room(), "answer": "traps-taken-up"})
    assert fields({**room(), "answer": "traps-taken-up"}, with_traps(9))["method"] == "traps-taken-up"


def test_bugs_in_one_trap_are_kept_at_its_leg():
    held = [{"item": "interceptors", "evidence": ["live"], "count": 3, "place": "bed leg 2"}]
    asked = {**room(items=held), "answer": "traps", "method": "interceptors", "caught": 3}
    assert fields(asked, with_traps(14))["items"] == "interceptors: live, 3, at bed leg 2"
    with pytest.raises(RecordError, match="hold 3 bugs, and 2 were caught"):
        fields({**asked, "caught": 2}, with_traps(14))


def test_one_item_makes_no_thorough_look():
    door_stop = [{"item": "door-stop", "evidence": []}]
    made = fields(room(level="nothing", items=door_stop))
    assert (made["method"], made["found"]) == ("brief-visual", "no")
    everything = [{"item": code, "evidence": []} for code in CODES]
    assert fields(room(level="nothing", items=everything))["method"] == "thorough-visual"
    assert fields(room(level="nothing", items=everything, method="brief-visual"))["method"] == "brief-visual"


def test_a_treatment_and_a_clean_period_are_rows_of_their_kind():
    treated = fields({**room(), "answer": "treated", "method": "whole-room-heat"})
    assert (treated["kind"], treated["method"]) == ("treatment", "whole-room-heat")
    states = [{"item": "encasement", "evidence": ["live"], "state": "intact"}]
    asked = {"answer": "traps", "method": "interceptors", "days": 99, "caught": 0, "items": states}
    log = with_traps(13)
    clean = fields({**room(), **asked}, log)
    assert (clean["kind"], clean["found"], clean["days"]) == ("monitor", "no", "13")
    assert clean["items"] == "encasement: nothing, intact"
    caught = fields({**room(), **asked, "caught": 3}, log)
    assert (caught["found"], caught["count"], caught["evidence"]) == ("yes", "3", "live")


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.fixed_dictionaries(
            {"item": st.sampled_from(sorted(CODES))},
            optional={
                "evidence": st.lists(st.sampled_from(EVIDENCE), max_size=3),
                "stage": st.sampled_from(("", *STAGES)),
                "state": st.sampled_from(("", *STATES)),
                "count": st.integers(-2, 200) | st.none() | st.text(max_size=2),
                "metres": st.floats(-1, 40) | st.none() | st.booleans(),
                "photo": st.sampled_from(["", "photos/a.jpg", "/etc/x", "a:b"]) | st.text(max_size=6),
                "place": st.sampled_from(["", "bed 1"]) | st.text(max_size=6),
            },
        ),
        max_size=5,
    )
)
def test_findings_are_read_as_they_will_be_read_again_or_refused(sent):
    """The cell of the log is the reference: whatever is let in comes back from it the same."""
    try:
        items = read_findings(sent, CODES)
    except RecordError:
        return
    again = read_items(fields(room(items=sent, level="unsure"))["items"] if sent else "")
    rounded = [one if one.metres is None else replace(one, metres=round(one.metres, 2)) for one in items]
    assert tuple(rounded) == again


# -- the server


def test_a_repeat_is_one_row_though_its_level_was_worked_out_here(session, post):
    before, unit = len(rows(session)), fresh(session)
    first = post([room(1, unit), {**room(2, unit), "answer": "treated", "method": "spray"}])["replies"]
    again = post([room(1, unit), {**room(2, unit), "answer": "treated", "method": "spray"}])["replies"]
    assert [(one["ok"], one["new"]) for one in first] == [(True, True)] * 2
    assert [(one["ok"], one["new"]) for one in again] == [(True, False)] * 2
    assert len(rows(session)) == before + 2


def test_an_id_that_another_unit_has_is_refused_and_not_taken_for_kept(session, post):
    one, other = (row.unit for row in session.doors()[:2])
    post([room(1, one)])
    (reply,) = post([room(1, other)])["replies"]
    assert not reply["ok"]


def test_the_sheet_of_a_look_corrects_the_find_at_the_door(session, post):
    unit = fresh(session)
    door = {"id": NUMBER.format(1), "unit": unit, "answer": "found", "method": "brief-visual"}
    (kept,) = post([door, room(2, unit, **{"from": NUMBER.format(1)})])["replies"][1:]
    assert kept["ok"], kept
    assert rows(session)[-1]["supersedes"] == NUMBER.format(1)
    (third,) = post([room(3, unit, **{"from": NUMBER.format(1)})])["replies"]
    assert third["ok"], "a find that was corrected already is not corrected twice"
    assert rows(session)[-1]["supersedes"] == ""


def test_the_room_shows_sheet_proposal_plan_and_what_clearance_lacks(session, post):
    unit = fresh(session)
    items = room()["items"]
    shown = post(want={"room": unit, "items": items, "places": "bed, sofa"})["room"]
    assert shown["proposal"]["level"] == "low"
    assert [place["kind"] for place in shown["sheet"]["places"]] == ["bed", "sofa"]
    assert shown["followup"]["state"] == "looked-for"
    assert "no find on record" in shown["plan"]["none"]
    after = post([room(1, unit)], want={"room": unit})["room"]
    assert after["followup"]["state"] == "infested"
    assert after["plan"]["level"] == "Low"
    assert after["plan"]["steps"]
    assert "The label is the law" in after["plan"]["cautions"][0]
    (mattress,) = (row for row in after["sheet"]["rows"] if row["code"] == "mattress")
    assert mattress["last"] == f"live, 6 ({ENGLISH.day(ON)})"


def test_sleeping_places_that_make_no_sense_are_said_and_the_room_is_shown_all_the_same(session, post):
    shown = post(want={"room": fresh(session), "places": "hammock"})["room"]
    assert "hammock" in shown["places_wrong"]
    assert shown["sheet"]["rows"]


def test_rooms_of_the_building_have_a_page_and_others_are_not_found(session):
    client = create_app(session).server.test_client()
    unit = fresh(session)
    assert client.get(f"/room/{unit}").status_code == 200
    assert client.get("/room/Z99").status_code == 404
    any_room = client.get("/room/sheet.json").get_json()
    assert {row["code"] for row in any_room["sheet"]["rows"]} <= set(CODES)
    assert any_room["building"]["key"] == building_key(session)


def test_the_outlets_row_names_those_within_reach_and_only_in_their_own_room(session, monkeypatch):
    """The first unit: its rows are also the sheet that a phone keeps for rooms that it never asked for."""
    plan = session.plan
    unit = next(iter(plan.units.values()))
    floor, outline = next(iter(unit.parts.items()))
    west, south, _, _ = outline.bounds
    bed = Bed("bed", unit.id, floor, Point(west + 1, south + 1))
    outlet = Outlet("TV", unit.id, floor, Point(west + 1, south))
    wired = replace(session.building, plan=replace(plan, beds=(bed,), outlets=(outlet,)))
    monkeypatch.setattr(session, "building", wired)
    rooms = Rooms(session)
    (told,) = (row["near"] for row in rooms.room({"room": unit.id})["sheet"]["rows"] if row["near"])
    assert told.startswith("Within 2.1 m of the bed: outlet TV (1.0 m away, on the ")
    assert told.endswith("Cover off only with the power off; dust only.")
    assert not any(row["near"] for row in rooms.any_room()["sheet"]["rows"])
