"""The phone's round without a browser: its doors, its answers, and what the server refuses."""

from __future__ import annotations

import csv
import datetime as dt
import re
import shutil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small import BRIEF, made_plan

from dashboard import create_app
from dashboard.round.addresses import building_key, style, worker
from dashboard.round.answers import phone_fields
from dashboard.round.bring import bring
from dashboard.round.doors import KEPT, DoorList, wanted_of
from spread.building import load_building
from spread.contacts.distances import distances_of
from spread.decisions.round.asked import plan_asked_round
from spread.decisions.round.parts import RoundSettings
from spread.errors import RecordError
from spread.session import Session
from spread.words import ENGLISH
from spread.words.doors import reason_text

DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
ON = dt.date(2026, 11, 20)
PLAN = made_plan(2, 3)


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("phone") / DEMO.name
    shutil.copytree(DEMO, folder)
    return Session.open(folder, on=ON, settings=BRIEF)


@pytest.fixture
def session(fitted, tmp_path):
    """The fitted demo on a copy of its own."""
    folder = tmp_path / DEMO.name
    shutil.copytree(DEMO, folder)
    building = load_building(folder)
    yield (own := Session(building, fitted.view.posterior, BRIEF))
    own.wait()


@pytest.fixture
def post(session):
    client = create_app(session).server.test_client()

    def send(answers=(), want=None, building=None, **more):
        body = {"building": building or building_key(session), "answers": list(answers), "want": want}
        return client.post("/round/answers", json=body, **more)

    return send


def answer(unit, number, **more):
    return {
        "id": f"00000000-0000-4000-8000-{number:012d}",
        "unit": unit,
        "answer": "clear",
        "method": "brief-visual",
        **more,
    }


def rows(session):
    with (session.building.folder / "records.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


# -- doors


def test_the_phone_gets_the_planned_round_first_and_ranked_doors_after_it(session):
    """Against the planner itself, called with the same settings."""
    given_doors = DoorList(session).next({"minutes": 60})
    own = session.building.settings
    planned = plan_asked_round(
        session.view,
        session.plan,
        distances_of(session.plan),
        RoundSettings(
            minutes=60, method=own.method, pace=own.pace, access=own.access,
            seed=session.view.posterior.seed, effort=20,
        ),
        session.open_looks(),
    )  # fmt: skip
    units = [door["unit"] for door in given_doors["doors"]]
    assert tuple(units[: given_doors["planned"]]) == planned.units
    assert 0 < given_doors["planned"] < KEPT
    assert len(units) == KEPT
    assert len(set(units)) == KEPT
    assert [door["beyond"] for door in given_doors["doors"]].index(True) == given_doors["planned"]
    ranked = [r.unit for r in session.doors() if r.status == "look" and r.unit not in planned.units]
    assert units[given_doors["planned"] :] == ranked[: KEPT - given_doors["planned"]]


def test_a_door_says_where_why_what_to_bring_and_how_long(session):
    listed = DoorList(session).next({})
    door = listed["doors"][0]
    row = next(row for row in session.doors() if row.unit == door["unit"])
    assert door["why"] == reason_text(row.reasons, ENGLISH)
    assert door["floor"].startswith("Floor")
    assert "flashlight" in door["bring"]
    assert door["minutes"] == 13, "3 minutes of knocking and 10 of looking, as in spread.trade.minutes"
    assert door["percent"].endswith("%")
    walks = listed["walk"]
    between = distances_of(session.plan).between(listed["doors"][0]["unit"], listed["doors"][1]["unit"])
    assert walks["between"][0][1] == pytest.approx(between, abs=0.51)
    assert len(walks["from_here"]) == len(listed["doors"])


def test_likeliest_order_goes_by_the_chance_of_a_find(session):
    listed = DoorList(session).next({"order": "likeliest"})
    best = [row.unit for row in session.doors() if row.status == "look"]
    assert [door["unit"] for door in listed["doors"]] == best[: len(listed["doors"])]
    assert listed["finish"] is None


def test_skipped_doors_and_those_tried_today_are_left_out(session):
    first, second = (door["unit"] for door in DoorList(session).next({})["doors"][:2])
    session.record({"unit": second, "kind": "no-access", "method": "nobody-home"})
    units = [door["unit"] for door in DoorList(session).next({"skipped": [first]})["doors"]]
    assert first not in units
    assert second not in units


def test_a_used_up_round_goes_on_with_ranked_doors_and_says_why(session):
    listed = DoorList(session).next({"minutes": 60, "elapsed": 90})
    assert listed["planned"] == 0
    assert "more time" in listed["words"]
    assert all(door["beyond"] for door in listed["doors"])


@settings(max_examples=60, deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.just("A101"),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(["method", "minutes", "begins", "elapsed", "at", "order", "also", "skipped"]),
                inner,
                max_size=6,
            )
        ),
        max_leaves=8,
    )
)
def test_whatever_a_browser_asks_for_is_a_round_that_can_be_planned(ask):
    class Known:
        plan, method = PLAN, "brief-visual"

    wanted = wanted_of(ask, Known)
    assert 15 <= wanted.minutes <= 720
    assert 0 <= wanted.begins < 24 * 60
    assert 0 <= wanted.elapsed <= 24 * 60
    assert wanted.at == "" or wanted.at in PLAN.units
    assert wanted.skipped <= set(PLAN.units)
    assert wanted.kinds[0] == "look"


def test_a_door_that_is_often_shut_asks_for_a_card_to_leave():
    assert not any("card to leave" in thing for thing in bring("brief-visual", "look", 0.9))
    assert any("card to leave" in thing for thing in bring("brief-visual", "look", 0.4))


# -- answers


def test_refused_entry_is_a_no_access_row():
    fields = phone_fields(answer("101", 1, answer="refused"), PLAN, ON)
    assert fields["kind"] == "no-access"
    assert fields["method"] == "refused"


def test_an_answer_keeps_the_day_on_which_it_was_given():
    assert phone_fields(answer("101", 1, when="2026-11-19"), PLAN, ON)["when"] == "2026-11-19"
    assert phone_fields(answer("101", 1), PLAN, ON)["when"] == "2026-11-20"


@pytest.mark.parametrize("when", ["yesterday", "2026-02-30", "20261119", 7, ["2026-11-19"]])
def test_a_day_of_no_calendar_is_refused_in_one_sentence(when):
    with pytest.raises(RecordError, match="none of the calendar"):
        phone_fields(answer("101", 1, when=when), PLAN, ON)


@pytest.mark.parametrize("sent", [None, "clear", 3, [], {}, {"id": "x"}])
def test_what_is_no_answer_is_refused(sent):
    with pytest.raises(RecordError):
        phone_fields(sent, PLAN, ON)


# -- the server


def test_answers_are_kept_in_order_and_each_once_however_often_they_are_sent(session, post):
    before = len(rows(session))
    sent = [answer("A101", 1), answer("A103", 2, answer="refused")]
    sent.append(answer("A101", 3, answer="undo", undoes=sent[0]["id"]))
    first = post(sent).get_json()["replies"]
    again = post(sent).get_json()["replies"]
    assert [(r["ok"], r["new"]) for r in first] == [(True, True)] * 3
    assert [(r["ok"], r["new"]) for r in again] == [(True, False)] * 3
    new = rows(session)[before:]
    assert [row["id"] for row in new] == [one["id"] for one in sent]
    assert new[2]["supersedes"] == sent[0]["id"]
    assert new[2]["kind"] == "note"


def test_a_bad_answer_is_refused_by_its_id_and_the_others_are_kept(session, post):
    before = len(rows(session))
    reply = post(
        [answer("A101", 1), answer("Z9", 2), answer("A103", 3, when="2031-01-01"), answer("A104", 4)]
    )
    replies = reply.get_json()["replies"]
    assert [one["ok"] for one in replies] == [True, False, False, True]
    assert "'Z9'" in replies[1]["words"]
    assert "still to come" in replies[2]["words"]
    assert len(rows(session)) == before + 2


def test_an_answer_that_trips_the_server_does_not_hold_up_the_next(session, post, monkeypatch, caplog):
    real = session.record

    def broken(fields, **more):
        if fields["unit"] == "A101":
            raise ZeroDivisionError
        return real(fields, **more)

    monkeypatch.setattr(session, "record", broken)
    with caplog.at_level("CRITICAL"):
        replies = post([answer("A101", 1), answer("A103", 2)]).get_json()["replies"]
    assert [one["ok"] for one in replies] == [False, True]
    assert "kept on the phone" in replies[0]["words"]


def test_answers_for_another_building_are_not_taken(session, post):
    before = len(rows(session))
    reply = post([answer("A101", 1)], building="0123456789ab")
    assert reply.status_code == 409
    assert reply.get_json()["building"]["key"] == building_key(session)
    assert len(rows(session)) == before


def test_after_an_answer_the_rest_is_planned_again_from_where_the_technician_stands(session, post):
    first = post(want={}).get_json()["round"]
    unit = first["doors"][0]["unit"]
    reply = post(
        [answer(unit, 1, answer="found", level="heavy")], want={"at": unit, "elapsed": 12}
    ).get_json()
    assert unit not in [door["unit"] for door in reply["round"]["doors"]]
    assert reply["round"]["walk"]["here"] == unit
    assert reply["version"] > 0
    raised = {door["unit"]: door["percent"] for door in reply["round"]["doors"]}
    assert raised != {door["unit"]: door["percent"] for door in first["doors"] if door["unit"] in raised}


def test_a_door_chosen_by_its_code_comes_with_its_reasons(session, post):
    treat = next(row for row in session.doors() if row.status != "look")
    door = post(want={"unit": treat.unit}).get_json()["door"]
    assert door["unit"] == treat.unit
    assert door["why"] == reason_text(treat.reasons, ENGLISH)
    assert door["status"] == treat.status


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"7", b'"answers"'])
def test_a_broken_message_is_answered_in_words(session, body):
    client = create_app(session).server.test_client()
    reply = client.post("/round/answers", data=body, content_type="application/json")
    assert reply.status_code == 400
    assert reply.get_json()["words"]


def test_the_guard_holds_for_the_phone_pages_too(session, post):
    assert post(headers={"Origin": "http://elsewhere.example"}).status_code == 403
    assert post(headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403
    assert post([answer("A101", 1, note="x" * 70_000)]).status_code == 413
    client = create_app(session).server.test_client()
    assert client.get("/round", headers={"Host": "elsewhere.example"}).status_code == 400
    page = client.get("/round")
    assert "script-src 'self'" in page.headers["Content-Security-Policy"]
    assert "<script>" not in page.text


def test_everything_that_the_page_and_its_worker_name_is_there(session):
    client = create_app(session).server.test_client()
    text = client.get("/round").text + client.get("/round/manifest.webmanifest").text
    named = set(re.findall(r'"(/round/[^"]+)"', text)) | set(
        re.findall(r'"(/ro[^"]+)"', worker().split("install")[0])
    )
    assert len(named) >= 5
    for path in sorted(named):
        assert client.get(path).status_code == 200, path
    assert client.get("/round/worker.js").headers["Service-Worker-Allowed"] == "/"
    assert "VERSION" not in worker()


def test_an_unchanged_file_is_not_sent_again(session):
    client = create_app(session).server.test_client()
    first = client.get("/files/round/round.js")
    assert (
        client.get("/files/round/round.js", headers={"If-None-Match": first.headers["ETag"]}).status_code
        == 304
    )


def test_the_phone_wears_the_palette_of_the_plan_page():
    """The palette is cut out of ``spread.css``: here both themes must be in it, and none of its layout."""
    palette = style().split("/* Pages for the phone")[0]
    assert palette.count("--accent:") == 2
    assert "prefers-color-scheme: dark" in palette
    assert ".floor-plan" not in style()


@pytest.mark.parametrize("path", ["/round/answers", "/programmes/now", "/programmes/start", "/setup/create"])
@pytest.mark.parametrize("text", ["[" * 50_000, '{"a":' * 12_000, "[" * 50_000 + "]" * 50_000, "9" * 400])
def test_json_that_nobody_meant_is_answered_and_trips_nothing(session, path, text):
    client = create_app(session).server.test_client()
    reply = client.post(path, data=text, content_type="application/json")
    assert reply.status_code < 500, reply.text[:200]


def test_a_number_of_hundreds_of_digits_is_refused_in_words(session):
    client = create_app(session).server.test_client()
    want = {"minutes": 10**400, "elapsed": -(10**400), "begins": float("inf")}
    reply = client.post("/round/answers", json={"want": want})
    assert reply.status_code == 400
    assert reply.json["words"]
    near = {"minutes": 10**30, "elapsed": -(10**30), "begins": 1e300}
    assert client.post("/round/answers", json={"want": near}).json["round"]["doors"]
