"""An office served as a whole: three buildings, who may open which, and what is kept of it."""

from __future__ import annotations

import datetime as dt
import shutil
import threading
from pathlib import Path

import pytest
from small import BRIEF
from staff import a_person, hash_cheaply
from werkzeug.test import Client

from dashboard.office.front import Office
from dashboard.office.opening import Openings
from spread.building import load_building
from spread.errors import SettingsError
from spread.office.buildings import mark_of, take_in
from spread.office.connecting import open_office
from spread.office.rows import verify
from spread.office.summaries import read_office
from spread.records.kinds import Record
from spread.session import Session
from spread.trade.rules import rule_ids

PHRASE = "three lamps under oak"
DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
VISIT = {"Accept": "text/html", "Sec-Fetch-Mode": "navigate"}


@pytest.fixture(scope="module")
def cheap():
    with pytest.MonkeyPatch.context() as patch:
        hash_cheaply(patch)
        yield


@pytest.fixture(scope="module")
def served(tmp_path_factory, cheap):
    folder = tmp_path_factory.mktemp("office")
    url = str(folder / "office.db")
    engine = open_office(url, make=True)
    building = load_building(DEMO)
    for key in ("elm", "oak", "ash"):
        take_in(engine, DEMO, key, f"{building.name} {key}", building.log)
    first = Session.open(f"{url}#elm", on=dt.date(2026, 11, 20), settings=BRIEF)

    def opened(key):
        own = load_building(f"{url}#{key}")
        return Session(own, first.view.posterior, first.fit_settings)

    office = Office(engine, opened)
    for code, roles, buildings in (
        ("A1", ("administrator",), ()),
        ("M1", ("manager",), ("elm", "oak")),
        ("T1", ("technician",), ("elm",)),
        ("O1", ("owner",), ("oak",)),
    ):
        office.people.keep(a_person(code, PHRASE, roles, buildings))
    for key in ("elm", "oak"):
        assert office.openings.wait(key).server is not None
    return office


def entered(office, code):
    client = Client(office)
    reply = client.post("/sign-in", data={"who": code, "phrase": PHRASE})
    assert reply.status_code == 303
    return client


@pytest.fixture(scope="module")
def clients(served):
    return {code: entered(served, code) for code in ("A1", "M1", "T1", "O1")}


def test_everybody_sees_the_buildings_that_they_work_for_and_no_other(clients):
    home = {code: client.get("/", headers=VISIT).text for code, client in clients.items()}
    keys = ("elm", "oak", "ash")
    shown = {code: [key for key in keys if f"/at/{key}/" in text] for code, text in home.items()}
    assert shown == {"A1": [], "M1": ["elm", "oak"], "T1": ["elm"], "O1": ["oak"]}
    assert "The office has 3 more" in home["A1"]


def test_figures_and_the_search_for_units_go_by_role_and_by_who_works_where(clients, served):
    kept = {one.key: one for one in read_office(served.engine, ("elm", "oak"))}
    assert kept["elm"].summary is not None, "the fit of elm was kept in the office"
    unit = next(iter(kept["elm"].summary.chances))
    home = {code: client.get(f"/?unit={unit}", headers=VISIT).text for code, client in clients.items()}
    assert f"{unit} in {kept['elm'].name}" in home["M1"]
    assert f"{unit} in {kept['elm'].name}" in home["T1"]
    assert "Find a unit" not in home["O1"], "an owner reads no units"
    assert kept["elm"].name not in home["O1"], "nor of a building that is not theirs"
    assert f"of {kept['elm'].summary.units} (" in home["M1"]
    assert "One team" not in home["A1"], "an administrator reads no figures"


@pytest.mark.parametrize(
    ("code", "key", "allowed"),
    [("M1", "elm", True), ("M1", "oak", True), ("M1", "ash", False), ("T1", "elm", True),
     ("T1", "oak", False),
     ("O1", "oak", True), ("O1", "elm", False), ("A1", "elm", False), ("M1", "nowhere", False)],
)  # fmt: skip
def test_a_building_opens_to_who_works_for_it(clients, served, code, key, allowed):
    page = "past" if code == "O1" else "round"
    reply = clients[code].get(f"/at/{key}/{page}", headers=VISIT)
    assert reply.status_code == (200 if allowed else 403)
    assert (key in served.openings._known) == (key in ("elm", "oak")), "nobody else makes the server open it"


def test_without_a_sign_in_every_address_leads_to_the_form_and_back(served):
    client = Client(served)
    for path in ("/", "/at/elm/", "/at/elm/round", "/at/nowhere/", "/people", "/audit", "/setup"):
        reply = client.get(path, headers=VISIT)
        assert reply.status_code == 302
        assert reply.location == f"/sign-in?next={path}"
        assert client.get(path).status_code == 401
    assert client.get("/health").status_code == 200


def test_every_address_of_a_page_stands_below_its_building(clients):
    desk = ("cases", "revisits", "duties", "records")
    for path in ("", "round", "week", *desk, "past", "programmes", "setup", "room/A101"):
        text = clients["M1"].get(f"/at/elm/{path}", headers=VISIT).text
        assert 'data-root="/at/elm"' in text
        for shared in ("/files/", "/sign-in", "/sign-out", "/people", "/audit", "/at/elm", "/assets"):
            text = text.replace(f'="{shared}', '="there:')
        own = [part.split('"')[0] for part in text.split('="/')[1:]]
        assert own == [""] * len(own), (path, own)  # "/" alone: the list of buildings


def test_the_feed_of_a_building_opens_by_its_key_alone_and_opens_no_other_building(clients, served):
    made = clients["M1"].post("/at/elm/calendar/make", json={}).get_json()["address"]
    assert clients["T1"].post("/at/elm/calendar/make", json={}).status_code == 403
    stranger = Client(served)
    reply = stranger.get(f"/at/elm{made}")
    assert (reply.status_code, reply.mimetype) == (200, "text/calendar")
    wrong = [f"/at/elm{made}x", "/at/elm/calendar.ics", f"/at/oak{made}", f"/at/ash{made}", f"/at/no{made}"]
    assert [stranger.get(path).status_code for path in wrong] == [404] * len(wrong)
    assert set(served.openings._known) == {"elm", "oak"}, "a key of another building opens none"
    for path in ("round", "week", "records", "calendar/make"):
        assert stranger.get(f"/at/elm/{path}?{made.split('?')[1]}").status_code == 401


FRONT = {
    # written apart from the product's own table, as in test_roles.py: who may, by initial
    "GET /": "AMTO",
    "GET /health": "AMTO",
    "GET /files/<folder>/<name>": "AMTO",
    "GET /opening/<key>": "MT",  # who works for the building, which is elm here
    "POST /opening/<key>": "MT",
    "GET /setup": "A",
    "GET /setup/sample.csv": "A",
    "POST /setup/draw": "A",
    "POST /setup/create": "A",
    "GET /trace": "A",
    "POST /trace/open": "A",
    "POST /trace/see": "A",
    "POST /trace/create": "A",
    "GET /sign-in": "AMTO",
    "POST /sign-in": "AMTO",
    "GET /sign-in/page.css": "AMTO",
    "GET /sign-in/page.js": "AMTO",
    "GET /sign-out": "AMTO",
    "POST /sign-out": "AMTO",
    "GET /phrase": "AMTO",
    "POST /phrase": "AMTO",
    "GET /people": "A",
    "POST /people/keep": "A",
    "POST /people/take-out": "A",
    "POST /people/end": "A",
    "GET /audit": "A",
}


def test_every_role_at_every_address_of_the_office_itself(served, clients):
    listed = list(served.front.url_map.iter_rules())
    rules = {rule.rule for rule in listed}
    assert {f"{way} {rule.rule}" for rule in listed for way in rule.methods - {"HEAD", "OPTIONS"}} == set(
        FRONT
    )
    wrong, tried = [], 0
    for rule in sorted(rules):
        path = rule.replace("<key>", "elm").replace("<folder>/<name>", "web/spread.css")
        for method in ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE"):
            if method == "POST" and rule in ("/sign-in", "/sign-out"):
                continue  # they would end the sign-in of this client
            told = FRONT.get(f"{'GET' if method == 'HEAD' else method} {rule}", "")
            for code, client in clients.items():
                tried += 1
                reply = client.open(path, method=method, json={} if method == "POST" else None)
                if (reply.status_code not in (401, 403, 404, 405)) != (code[0] in told):
                    wrong.append((method, rule, code, reply.status_code))
    assert not wrong
    assert tried > 400


def test_an_answer_goes_to_the_building_that_it_was_given_for(served, clients):
    client = clients["M1"]
    before = {
        key: len(load_building(f"{served.engine.url.database}#{key}").log.rows) for key in ("elm", "oak")
    }
    keys = {
        key: client.post(f"/at/{key}/round/answers", json={}).get_json()["building"]["key"]
        for key in ("elm", "oak")
    }
    assert keys["elm"] != keys["oak"]
    answer = {
        "id": "00000000-0000-4000-8000-000000000001",
        "unit": "A101",
        "answer": "clear",
        "method": "brief-visual",
    }
    wrong = client.post("/at/oak/round/answers", json={"building": keys["elm"], "answers": [answer]})
    assert wrong.status_code == 409
    right = client.post("/at/elm/round/answers", json={"building": keys["elm"], "answers": [answer]})
    assert right.get_json()["replies"][0]["ok"]
    after = {
        key: len(load_building(f"{served.engine.url.database}#{key}").log.rows) for key in ("elm", "oak")
    }
    assert after == {"elm": before["elm"] + 1, "oak": before["oak"]}
    assert verify(served.engine, "elm") == (after["elm"], 0)


def test_a_building_taken_from_somebody_is_shut_at_the_next_request(served, clients):
    client = entered(served, "T1")
    assert client.get("/at/elm/round").status_code == 200
    served.people.keep(a_person("T1", PHRASE, ("technician",), ()))
    shut = client.get("/at/elm/round").status_code
    served.people.keep(a_person("T1", PHRASE, ("technician",), ("elm",)))
    clients["T1"] = entered(served, "T1")
    assert shut in (401, 403)


def test_the_administrator_says_who_works_where_on_the_page(served, clients):
    page = clients["A1"].get("/people").text
    assert 'name="building" value="ash"' in page
    clients["A1"].post("/people/keep", data={"code": "O1", "role": ["owner"], "building": ["oak", "ash"]})
    assert served.people.everyone()["O1"].buildings == ("ash", "oak")
    clients["A1"].post("/people/keep", data={"code": "O1", "role": ["owner"], "building": ["oak"]})
    wrong = clients["A1"].post(
        "/people/keep", data={"code": "O1", "role": ["owner"], "building": ["no-such"]}
    )
    assert wrong.status_code == 400
    assert "there is no building" in wrong.text


def test_an_administrator_takes_a_building_in_on_the_page_and_a_manager_may_not(served, clients):
    described = {"list": "unit,floor\n101,1\n102,1\n103,1\n104,1\n", "name": "New House", "slug": "new-house",
                 "rules": rule_ids()[0], "hour": "50", "edits": [], "records": []}  # fmt: skip
    assert clients["M1"].post("/setup/create", json=described).status_code == 403
    made = clients["A1"].post("/setup/create", json=described)
    assert made.status_code == 201, made.get_json()
    assert "new-house" in load_building(f"{served.engine.url.database}#new-house").folder.name
    assert any(deed.what == "building taken in" for deed in served.people.deeds())


def test_a_building_that_cannot_be_opened_says_why_and_stops_no_other(served, clients, monkeypatch):
    served.people.keep(a_person("M2", PHRASE, ("manager",), ("ash", "elm")))
    client = entered(served, "M2")

    def fails(key):
        raise SettingsError("building.toml: it is spoilt; mend it")

    monkeypatch.setattr(served, "openings", Openings(fails))
    assert served.openings.wait("ash").problem
    reply = client.get("/at/ash/round", headers=VISIT)
    assert reply.status_code == 503
    assert "it is spoilt; mend it" in reply.text
    assert 'http-equiv="refresh"' not in reply.text, "nothing changes by itself"
    assert "Content-Security-Policy" in reply.headers
    assert client.get("/").status_code == 200


def test_a_building_that_cannot_be_opened_is_fitted_again_only_when_it_has_changed_or_somebody_says_so(
    served, monkeypatch
):
    served.people.keep(a_person("M3", PHRASE, ("manager",), ("ash",)))
    client, tried = entered(served, "M3"), []

    def fails(key):
        tried.append(key)
        raise SettingsError(f"attempt {len(tried)} went wrong")

    monkeypatch.setattr(served, "openings", Openings(fails, lambda key: mark_of(served.engine, key)))

    def page(path="/at/ash/"):
        served.openings.wait("ash")
        return client.get(path, headers=VISIT)

    for _ in range(3):
        assert "attempt 1 went wrong" in page().text
    assert client.post("/at/ash/round/answers", json={}).status_code == 503
    assert tried == ["ash"]
    again = client.post("/opening/ash")
    assert (again.status_code, again.location) == (303, "/at/ash/")
    assert "attempt 2 went wrong" in page().text
    store = load_building(f"{served.engine.url.database}#ash").store
    store.append(Record("new-row", dt.date(2026, 11, 19), "A101", "report"))
    page()
    assert "attempt 3 went wrong" in page().text
    store.keep_beside("prices.toml", 'currency = "EUR"')
    page()
    assert "attempt 4 went wrong" in page().text
    assert len(tried) == 4
    elsewhere = client.post("/opening/ash", headers={"Origin": "http://elsewhere.example"})
    assert (elsewhere.status_code, len(tried)) == (403, 4)


def test_how_far_a_building_is_is_said_to_who_works_for_it(served, clients, monkeypatch):
    tried = []
    monkeypatch.setattr(served, "openings", Openings(tried.append))
    assert clients["T1"].get("/opening/oak").status_code == 404
    assert clients["T1"].post("/opening/oak").status_code == 404
    assert clients["T1"].get("/opening/nowhere").status_code == 404
    assert tried == []
    monkeypatch.undo()
    open_ = clients["T1"].get("/opening/elm", headers=VISIT)
    assert (open_.status_code, open_.location) == (303, "/at/elm/")


def test_doors_that_are_taken_and_what_tables_mean_outlive_a_server_that_ends(served, clients):
    plan = load_building(f"{served.engine.url.database}#elm").plan
    unit = next(iter(plan.units))

    def now(client, phone, holds):
        key = client.post("/at/elm/round/now", json={"building": ""}).get_json()["building"]["key"]
        body = {"building": key, "phone": phone, "holds": holds}
        reply = client.post("/at/elm/round/now", json=body)
        assert reply.status_code == 200, reply.text
        return reply.get_json()

    assert now(clients["M1"], "p1", [unit])["holds"] == [unit]
    notes = {"pasted": f"unit,date,result\n{unit},2026-11-02,all quiet\n"}
    answers = {"columns": {"unit": "unit", "date": "day", "result": "words"},
               "words": {"all quiet": "inspection, brief-visual, no"}}  # fmt: skip
    read = clients["M1"].post("/at/elm/import/read", json={**notes, "answers": answers}).get_json()
    assert (read["questions"], read["new"]) == ([], 1)
    took = {**notes, "answers": answers, "batch": read["batch"]}
    assert clients["M1"].post("/at/elm/import/take", json=took).get_json()["ok"]

    first = served.openings.get("elm").server.extensions  # the next server knows nothing of this one
    after = Office(open_office(served.engine.url.database), served._open_session)
    assert after.openings.wait("elm").server.extensions is not first
    other, same = entered(after, "T1"), entered(after, "M1")
    assert now(other, "p2", [unit])["holds"] == []
    assert now(other, "p2", [])["taken"] == {unit: "M1"}
    again = same.post("/at/elm/import/read", json=notes).get_json()
    assert again["questions"] == [], "what was said once is not asked again"
    assert now(same, "p1", [])["holds"] == []


def test_while_a_building_opens_a_visit_waits_and_a_script_is_told(served, clients, monkeypatch):
    import threading

    gate = threading.Event()

    def slow(key):
        gate.wait(20)
        raise SettingsError("never")

    monkeypatch.setattr(served, "openings", Openings(slow))
    page = clients["M1"].get("/at/elm/round", headers=VISIT)
    assert page.status_code == 503
    assert 'http-equiv="refresh"' in page.text
    told = clients["M1"].post("/at/elm/round/answers", json={})
    assert (told.status_code, told.headers["Retry-After"]) == (503, "2")
    assert "Opening" in told.get_json()["words"]
    gate.set()


def test_people_of_a_folder_do_not_come_along_into_an_office(tmp_path, cheap):
    from spread.people.folder import FolderPeople

    folder = tmp_path / DEMO.name
    shutil.copytree(DEMO, folder)
    FolderPeople(folder).keep(a_person("T1", PHRASE))
    FolderPeople(folder).sign_in("T1")
    engine = open_office(str(tmp_path / "o.db"), make=True)
    take_in(engine, folder, "elm", "Elm")
    from spread.office.buildings import lay_out

    names = {path.name for path in lay_out(engine, "elm").iterdir()}
    assert not names & {"people.json", "sign-ins.json", "audit.jsonl"}
    assert "building.toml" in names


def test_a_plan_that_was_changed_is_shown_anew_and_taken_back(served, clients):
    address = f"{served.engine.url.database}#oak"
    before = load_building(address)
    unit, shown = next(iter(before.plan.units)), served.openings.wait("oak").server

    def anew(than):
        end = threading.Event()
        for _ in range(2400):
            if served.openings.get("oak").server is not than:
                return served.openings.get("oak").server
            end.wait(0.05)
        raise AssertionError("the building was not shown anew")

    change = {"step": "rename", "on": "2026-11-20", "unit": unit, "to": "renamed"}
    sent = {"changes": [change], "kept": 0}
    assert clients["O1"].post("/at/oak/change/keep", json=sent).status_code == 403
    told = clients["M1"].post("/at/oak/change/keep", json=sent).get_json()
    assert (told["ok"], told["reopens"]) == (True, True), told
    second = anew(shown)
    seen = clients["M1"].post("/at/oak/change/see", json={"changes": []}).get_json()
    assert {"renamed"} <= {one["id"] for one in seen["units"]}
    after = load_building(address)
    assert {r.id for r in after.log.of("renamed")} == {r.id for r in before.log.of(unit)}
    assert after.store.log.rows == before.store.log.rows, "the log is never rewritten"
    assert clients["M1"].post("/at/oak/change/keep", json={"back": 0}).get_json()["ok"]
    anew(second)
    assert load_building(address).plan.units.keys() == before.plan.units.keys()
