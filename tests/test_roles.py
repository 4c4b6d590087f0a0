"""Who may do what: every address of the server for every role, and what a correction and the audit say."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
from pathlib import Path

import pytest
from small import BRIEF, small_session
from staff import a_person, add_person, hash_cheaply

from dashboard import create_app
from spread.building import load_building
from spread.people.folder import FolderPeople
from spread.people.roles import ROLES
from spread.session import Session
from spread.words import ENGLISH

PHRASE = "three lamps under oak"
PEOPLE = {"A1": "administrator", "M1": "manager", "T1": "technician", "O1": "owner"}
CALL = "/_dash-update-component"
DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"

ALL, NONE = "AMTO", ""
ADDRESSES = {
    # written apart from the product's own table: method, rule of the server, the roles that may (by initial)
    "GET /": "MT",  # an owner is led on to the past, an administrator to the people
    "GET /<path:path>": NONE,
    "GET /health": ALL,
    "GET /_favicon.ico": ALL,
    "GET /_reload-hash": ALL,
    "GET /_dash-component-suites/<string:package_name>/<path:fingerprinted_path>": ALL,
    "GET /static/<path:filename>": NONE,  # Flask's own; there is no such folder
    "GET /_dash-layout": ALL,
    "GET /_dash-dependencies": ALL,
    "POST /_dash-update-component": ALL,
    "GET /assets/<path:filename>": ALL,
    "GET /files/<folder>/<name>": ALL,
    "GET /guard/now": "MTO",
    "POST /guard/put-back": "M",
    "POST /guard/accept": "M",
    "GET /round": "MT",
    "GET /round/field.css": "MT",
    "GET /round/worker.js": "MT",
    "GET /round/manifest.webmanifest": "MT",
    "GET /round/icon.svg": "MT",
    "GET /round/icon-<int:size>.png": "MT",
    "POST /round/answers": "MT",
    "POST /round/now": "MT",
    "GET /round/visit/<path:unit>": "MT",
    "GET /round/notice/<path:unit>": "MT",
    "GET /photographs/<path:name>": "MT",
    "POST /photographs/<path:name>": "MT",
    "GET /room/": "MT",
    "GET /room/<path:unit>": "MT",
    "GET /room/sheet.json": "MT",
    "GET /week": "MT",
    "GET /week/document": "MT",
    "GET /week/sheets": "MT",
    "GET /week/export/<name>": "M",
    "GET /week/notices/<day>": "MT",
    "POST /week/notices": "MT",
    "POST /week/move": "M",
    "GET /cases": "MT",
    "POST /cases/report": "MT",
    "POST /cases/back": "MT",
    "GET /revisits": "MT",
    "GET /calendar.ics": ALL,  # it asks for a key
    "POST /calendar/make": "M",
    "POST /calendar/revoke": "M",
    "GET /records": "MT",
    "GET /records/found.csv": "M",
    "POST /records/back": "MT",
    "POST /records/correct": "MT",
    "GET /duties": "MT",
    "GET /duties/notices": "MT",
    "POST /duties/given": "MT",
    "POST /duties/back": "MT",
    "POST /duties/done": "MT",
    "GET /month/show": "MTO",
    "GET /month/<any(document, pdf):kind>": "MTO",
    "POST /programmes/start": "M",
    "POST /programmes/accept": "MO",
    "POST /programmes/renew": "M",
    "POST /programmes/stop": "M",
    "POST /programmes/drivers": "M",
    "POST /programmes/own": "M",
    "POST /programmes/now": "MTO",
    "POST /programmes/prices": "MTO",
    "GET /programmes/prices.toml": "MTO",
    "GET /programmes/offer.toml": "MTO",
    "GET /programmes/residents.pdf": "MTO",
    "GET /programmes/proposal": "MTO",
    "GET /programmes/proposal.pdf": "MTO",
    "GET /import": "M",
    "POST /import/read": "M",
    "POST /import/take": "M",
    "POST /import/back": "M",
    "GET /setup": "M",
    "GET /setup/sample.csv": "M",
    "POST /setup/draw": "M",
    "POST /setup/create": "M",
    "GET /change": "M",
    "GET /change/now": "M",
    "POST /change/see": "M",
    "POST /change/try": "M",
    "POST /change/keep": "M",
    "GET /trace": "M",
    "POST /trace/open": "M",
    "POST /trace/see": "M",
    "POST /trace/create": "M",
    "GET /sign-in": ALL,
    "POST /sign-in": ALL,
    "GET /sign-in/page.css": ALL,
    "GET /sign-in/page.js": ALL,
    "GET /sign-out": ALL,
    "GET /phrase": ALL,
    "POST /phrase": ALL,
    "GET /people": "A",
    "POST /people/keep": "A",
    "POST /people/take-out": "A",
    "POST /people/end": "A",
    "GET /audit": "A",
    "POST /sign-out": ALL,
}


@pytest.fixture(scope="module")
def cheap():
    with pytest.MonkeyPatch.context() as patch:
        hash_cheaply(patch)
        yield


@pytest.fixture(scope="module")
def server(tmp_path_factory, cheap):
    folder = tmp_path_factory.mktemp("roles")
    for code, role in PEOPLE.items():
        add_person(folder, code, PHRASE, (role,))
    return create_app(small_session(folder)).server


def entered(server, code):
    client = server.test_client()
    assert client.post("/sign-in", data={"who": code, "phrase": PHRASE}).status_code == 303
    return client


@pytest.fixture(scope="module")
def clients(server):
    return {code[0]: entered(server, code) for code in PEOPLE}


def rules(server):
    for rule in server.url_map.iter_rules():
        for method in sorted(rule.methods - {"HEAD", "OPTIONS"}):
            if not (rule.rule in ("/", "/<path:path>") and method == "POST"):  # Dash answers 404 or 405 there
                yield method, rule.rule


def path_of(rule):
    for part, example in (
        ("<path:unit>", "101"), ("<path:path>", "nowhere"), ("<name>", "nothing"),
        ("<day>", "2026-11-27"), ("<int:size>", "192"),
        ("<folder>/nothing", "web/spread.css"), ("<string:package_name>", "dash"),
        ("<path:fingerprinted_path>", "x.js"), ("<path:path_to_file>", "x/y.js"), ("<path:filename>", "x"),
        ("<any(document, pdf):kind>", "document"),
    ):  # fmt: skip
        rule = rule.replace(part, example)
    return rule


def test_the_table_here_names_every_address_of_the_server(server):
    assert {f"{method} {rule}" for method, rule in rules(server)} == set(ADDRESSES)


def test_every_role_at_every_address_and_method(server, clients):
    """Every pair: whoever may not gets 403 in a sentence, whoever may is let through."""
    wrong, pairs = [], 0
    for method, rule in rules(server):
        told = ADDRESSES[f"{method} {rule}"]
        if method == "POST" and rule in ("/sign-out", "/sign-in"):
            continue  # tried below: they would end the sign-in of this client
        for initial, client in clients.items():
            pairs += 1
            reply = client.open(path_of(rule), method=method, json={} if method == "POST" else None)
            allowed = reply.status_code not in (401, 403)
            if rule == "/" and initial in "AO":
                assert reply.status_code == 302
                assert reply.location == ("/past" if initial == "O" else "/people")
                continue
            if allowed != (initial in told):
                wrong.append((method, rule, initial, reply.status_code))
            if not allowed:
                assert "Your role here (" in reply.get_json()["words"]
    assert not wrong
    assert pairs >= 190


def test_unknown_methods_are_shut_too(clients):
    for method in ("PUT", "DELETE", "PATCH"):
        for initial, client in clients.items():
            for path in ("/round/answers", "/people/keep", "/week", "/"):
                assert client.open(path, method=method).status_code in (403, 405), (method, path, initial)


def test_a_callback_asks_for_the_right_of_its_page(server, clients):
    """All callbacks come in at one address; an owner may have those of the past, and none of the plan."""
    call = {
        "output": "..reply.data...seen.data...poll.disabled...busy.children..",
        "outputs": [], "inputs": [{"id": "answer", "property": "data", "value": {}}], "changedPropIds": [],
    }  # fmt: skip
    assert clients["O"].post(CALL, json=call).status_code == 403
    assert clients["A"].post(CALL, json=call).status_code == 403
    assert clients["M"].post(CALL, json=call).status_code != 403
    assert clients["T"].post(CALL, json=call).status_code != 403


def test_every_callback_of_the_plan_is_shut_to_an_owner(server, clients):
    outputs = [one["output"] for one in clients["M"].get("/_dash-dependencies").get_json()]
    plan = [
        one
        for one in outputs
        if not one.startswith(("page-box.", "..past-", "past-")) and "programmes" not in one
    ]
    served = [
        one for one in plan if clients["O"].post(CALL, json={"output": one, "outputs": []}).status_code != 403
    ]
    clientside = {
        one["output"]
        for one in clients["M"].get("/_dash-dependencies").get_json()
        if one["clientside_function"]
    }
    assert len(plan) > 10
    assert set(served) <= clientside, "what the browser works out by itself asks the server nothing"


def test_a_layout_is_given_only_to_who_may_open_the_page(clients):
    there = {"Referer": "http://localhost/"}
    assert "does not include" in clients["O"].get("/_dash-layout", headers=there).text
    assert "does not include" not in clients["T"].get("/_dash-layout", headers=there).text


def test_the_grade_of_the_lists_is_for_those_who_may_read_figures(clients):
    there = {"Referer": "http://localhost/grades"}
    for initial, client in clients.items():
        shut = "does not include" in client.get("/_dash-layout", headers=there).text
        assert shut == (initial == "A"), initial
        assert (client.get("/grades").status_code == 403) == (initial == "A"), initial
    past = clients["O"].get("/_dash-layout", headers={"Referer": "http://localhost/past"}).get_json()
    assert "'href': '/grades'" in str(past)


def test_the_bar_links_only_to_what_one_may_open(clients):
    shown = {i: clients[i].get("/past" if i != "A" else "/people").text for i in "MTOA"}
    assert 'href="/setup"' in shown["M"]
    assert 'href="/setup"' not in shown["T"]
    assert 'href="/week"' not in shown["O"]
    assert 'href="/audit"' in shown["A"]
    assert all('href="/audit"' not in shown[i] for i in "MTO")


def test_roles_and_rights_are_those_that_are_written_down():
    assert ROLES["owner"] == {"figures", "accept"}
    assert ROLES["administrator"] == {"people", "buildings", "audit"}
    assert ROLES["technician"] == {"figures", "units", "record"}
    assert "correct" in ROLES["manager"]
    assert not ROLES["manager"] & {"people", "buildings", "audit"}


def test_roles_add_up_and_an_owner_may_be_let_see_units():
    assert (
        a_person("X1", PHRASE, ("manager", "administrator")).rights
        == ROLES["manager"] | ROLES["administrator"]
    )
    assert a_person("X1", PHRASE, ("owner",), sees_units=True).rights == {
        "figures", "accept", "units",
    }  # fmt: skip
    assert "units" not in a_person("X1", PHRASE, ("administrator",), sees_units=True).rights


# -- sign-ins


def test_signing_out_ends_the_sign_in_also_for_a_copied_cookie(server):
    client = entered(server, "T1")
    copied = client.get_cookie(server.config["SESSION_COOKIE_NAME"]).value
    assert client.get("/round").status_code == 200
    client.post("/sign-out")
    thief = server.test_client()
    thief.set_cookie(server.config["SESSION_COOKIE_NAME"], copied)
    assert thief.get("/round").status_code == 401


def test_a_new_pass_phrase_and_the_administrator_end_every_sign_in(server, clients):
    phone, desk = entered(server, "T1"), entered(server, "T1")
    clients["A"].post("/people/end", data={"code": "T1"})
    assert [one.get("/round").status_code for one in (phone, desk)] == [401, 401]
    phone, desk = entered(server, "T1"), entered(server, "T1")
    new = "seven wet boots on a roof"
    wrong = desk.post("/phrase", data={"old": "not the one it is", "new": new})
    assert wrong.status_code == 400
    assert phone.get("/round").status_code == 200
    short = desk.post("/phrase", data={"old": PHRASE, "new": "short"})
    assert "expected at least 15 characters" in short.text
    assert desk.post("/phrase", data={"old": PHRASE, "new": new}).status_code == 303
    assert [one.get("/round").status_code for one in (phone, desk)] == [401, 401]
    back = server.test_client()
    assert back.post("/sign-in", data={"who": "T1", "phrase": new}).status_code == 303
    back.post("/phrase", data={"old": new, "new": PHRASE})
    clients["T"] = entered(server, "T1")


def test_a_sign_in_outlives_a_server_that_is_started_again(server):
    client = entered(server, "T1")
    name = server.config["SESSION_COOKIE_NAME"]
    folder = server.config["SPREAD_GATED"].people._folder
    again = create_app(small_session(folder)).server
    phone = again.test_client()
    phone.set_cookie(name, client.get_cookie(name).value)
    assert phone.get("/round").status_code == 200


def test_another_role_counts_from_the_next_request_on(server, clients):
    client = entered(server, "T1")
    assert client.get("/setup").status_code == 403
    clients["A"].post("/people/keep", data={"code": "T1", "role": ["technician", "manager"]})
    assert client.get("/setup").status_code == 200
    clients["A"].post("/people/keep", data={"code": "T1", "role": ["technician"]})
    assert client.get("/setup").status_code == 403


# -- the administrator's pages


def test_somebody_new_gets_a_pass_phrase_that_is_shown_once_and_works(server, clients):
    page = clients["A"].post("/people/keep", data={"code": "t7", "role": ["technician"]}).text
    phrase = page.split("<code>")[1].split("</code>")[0]
    people = clients["A"].get("/people").text
    assert phrase not in people
    assert f"since {ENGLISH.day(dt.date.today())}" in people, "days in words, as on every page"
    client = server.test_client()
    assert client.post("/sign-in", data={"who": "T7", "phrase": phrase}).status_code == 303
    assert client.get("/round").status_code == 200
    clients["A"].post("/people/take-out", data={"code": "T7"})
    assert client.get("/round").status_code == 401


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"code": "Maria", "role": ["technician"]}, "is no work code"),
        ({"code": "T8"}, "no role is chosen"),
        ({"code": "T8", "role": ["chief"]}, "no role is chosen"),
        ({"code": "A1", "role": ["manager"]}, "take the role from yourself"),
    ],
)
def test_what_cannot_be_kept_is_one_sentence_and_nothing_changes(server, clients, given, words):
    people = server.config["SPREAD_GATED"].people
    before = dict(people.everyone())
    reply = clients["A"].post("/people/keep", data=given)
    assert reply.status_code == 400
    assert words in reply.text
    assert dict(people.everyone()) == before


def test_nobody_takes_themselves_out(clients):
    assert "this is you" in clients["A"].post("/people/take-out", data={"code": "A1"}).text


def test_the_audit_has_sign_ins_failures_changes_exports_and_never_a_pass_phrase(server, clients):
    server.test_client().post("/sign-in", data={"who": "T9", "phrase": "some wrong phrase"})
    server.test_client().post("/sign-in", data={"who": "my whole pass phrase", "phrase": "x"})
    clients["M"].get("/week/export/log")
    clients["O"].get("/week")
    page = clients["A"].get("/audit").text
    for words in (
        "sign-in",
        "failed sign-in",
        "sign-out",
        "person kept",
        "export",
        "refused",
        "T9",
        "GET /week",
    ):
        assert words in page, words
    file = (server.config["SPREAD_GATED"].people._folder / "audit.jsonl").read_text()
    for secret in ("wrong phrase", "my whole", PHRASE, "lamps"):
        assert secret.lower() not in file.lower()
    only = clients["A"].get("/audit?what=export").text
    assert "<td>export</td>" in only
    assert "<td>sign-in</td>" not in only


def test_half_a_line_at_the_end_of_the_audit_hides_nothing_else(tmp_path, cheap):
    people = FolderPeople(tmp_path)
    people.note("T1", "sign-in")
    with (tmp_path / "audit.jsonl").open("a") as file:
        file.write('{"when": "2026-')
    assert [deed.what for deed in people.deeds()] == ["sign-in"]


# -- corrections


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("roles-real") / DEMO.name
    shutil.copytree(DEMO, folder)
    return Session.open(folder, settings=BRIEF)


@pytest.fixture
def real(fitted, tmp_path, cheap):
    folder = tmp_path / DEMO.name
    shutil.copytree(DEMO, folder)
    for code, role in {"T1": "technician", "T2": "technician", "M1": "manager"}.items():
        add_person(folder, code, PHRASE, (role,))
    yield (own := Session(load_building(folder), fitted.view.posterior, fitted.fit_settings, live=True))
    own.wait()


def sent(client, **answer):
    key = client.post("/round/answers", json={}).get_json()["building"]["key"]
    reply = client.post("/round/answers", json={"building": key, "answers": [answer]}).get_json()
    return reply["replies"][0]


def rows(session):
    with (session.building.folder / "records.csv").open(newline="", encoding="utf-8") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def identity(number):
    return f"00000000-0000-4000-8000-{number:012d}"


def test_a_technician_takes_back_their_own_row_of_the_day_and_no_other(real):
    server = create_app(real).server
    mine, other, manager = entered(server, "T1"), entered(server, "T2"), entered(server, "M1")
    look = {"unit": "A101", "answer": "clear", "method": "brief-visual"}
    assert sent(mine, id=identity(1), **look)["ok"]
    refused = sent(other, id=identity(2), unit="A101", answer="undo", undoes=identity(1))
    assert not refused["ok"]
    assert "it was recorded by T1; ask a manager to correct it" in refused["words"]
    assert sent(mine, id=identity(3), unit="A101", answer="undo", undoes=identity(1))["ok"]
    assert sent(mine, id=identity(4), **look)["ok"]
    assert sent(manager, id=identity(5), unit="A101", answer="undo", undoes=identity(4))["ok"]
    kept = rows(real)
    assert identity(2) not in kept
    assert (kept[identity(3)]["supersedes"], kept[identity(3)]["by"]) == (identity(1), "T1")


def test_a_row_of_another_day_is_a_managers_to_correct(real):
    server = create_app(real).server
    mine, manager = entered(server, "T1"), entered(server, "M1")
    old = (dt.date.today() - dt.timedelta(days=9)).isoformat()
    look = {"unit": "A101", "answer": "clear", "method": "brief-visual", "when": old}
    assert sent(mine, id=identity(11), **look)["ok"]
    undo = {"unit": "A101", "answer": "undo", "undoes": identity(11)}
    for when in ({}, {"when": old}):
        refused = sent(mine, id=identity(12), **undo, **when)
        assert not refused["ok"]
        assert "it is of another day; ask a manager" in refused["words"]
    assert sent(manager, id=identity(13), **undo)["ok"]


def test_a_correction_stands_under_the_unit_of_the_row_that_it_corrects(real):
    server = create_app(real).server
    manager = entered(server, "M1")
    look = {"unit": "A101", "answer": "clear", "method": "brief-visual"}
    assert sent(manager, id=identity(21), **look)["ok"]
    refused = sent(manager, id=identity(22), unit="A102", answer="undo", undoes=identity(21))
    assert not refused["ok"]
    assert "A101" in refused["words"]
    assert identity(22) not in rows(real)


def test_the_audit_names_what_a_correction_corrects(real):
    server = create_app(real).server
    mine = entered(server, "T1")
    sent(mine, id=identity(31), unit="A101", answer="clear", method="brief-visual")
    sent(mine, id=identity(32), unit="A101", answer="undo", undoes=identity(31))
    deed = next(one for one in FolderPeople(real.building.folder).deeds() if one.what == "correction")
    assert (deed.who, deed.detail) == ("T1", f"{identity(32)} corrects {identity(31)} of A101")
