"""A server without a building: the set-up page is its home, and what is made there is opened at once."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from small import small_session

from dashboard import create_app
from dashboard.first import Switch, create_first_app
from dashboard.setup.page import PLACE
from spread.building import load_building
from spread.errors import Problem, SpreadError

pytestmark = pytest.mark.usefixtures("read_here")

FORM = {"form": {"floors": "2", "on_floor": "4", "first": "1"}, "name": "Birch House"}


@pytest.fixture
def opened():
    return []


@pytest.fixture
def client(tmp_path, opened):
    return create_first_app(tmp_path, opened.append).test_client()


def create(client, slug="birch-house", **more):
    return client.post("/setup/create", json=FORM | {"slug": slug, "rules": "good-practice"} | more)


def test_its_home_is_the_set_up_page_which_says_what_to_do(client):
    assert client.get("/").headers["Location"] == "/setup"
    text = client.get("/setup").text
    assert "No building is open yet" in text
    assert "Create the building and open it" in text
    assert re.findall(r'<li><a href="([^"]+)"', text) == ["/setup", "/trace"], "the bar leads nowhere else"
    assert client.get("/health").text == "OK"
    assert client.get("/round").status_code == 404
    for path in ("/files/web/spread.css", "/files/setup/page.js", "/setup/sample.csv"):
        assert client.get(path).status_code == 200


def test_it_is_guarded_like_every_server(client):
    assert client.get("/setup", headers={"Host": "evil.example"}).status_code == 400
    assert client.post("/setup/draw", json=FORM, headers={"Origin": "http://evil.example"}).status_code == 403
    page = client.get("/setup")
    assert "script-src 'self';" in page.headers["Content-Security-Policy"]
    assert page.headers["X-Frame-Options"] == "DENY"
    for path in (
        "/files/../first.py",
        "/files/setup/page.py",
        "/files/%2e%2e/first.py",
        "/files//etc/passwd",
        "/files/setup/setup.html",
    ):
        assert client.get(path, follow_redirects=True).status_code in (400, 404)


def test_what_is_made_is_opened_at_once_and_only_the_first(client, tmp_path, opened):
    reply = create(client)
    assert reply.status_code == 201
    assert reply.get_json()["open"] == "/"
    assert opened == [tmp_path / "birch-house"]
    assert len(load_building(opened[0]).plan.units) == 8
    create(client, "second")
    assert opened == [tmp_path / "birch-house"]
    assert (tmp_path / "second").is_dir()


def test_what_is_refused_opens_nothing(client, tmp_path, opened):
    reply = create(client, "no name")
    assert not reply.get_json()["ok"]
    assert opened == []
    assert list(tmp_path.iterdir()) == []


def test_a_building_that_cannot_be_opened_is_kept_and_its_reason_said(tmp_path):
    def fail(_folder):
        raise SpreadError(Problem("records.csv", "", "it is odd", "mend it"))

    reply = create(create_first_app(tmp_path, fail).test_client()).get_json()
    assert reply["ok"]
    assert reply["trouble"] == "records.csv: it is odd; mend it."
    assert "open" not in reply
    assert (tmp_path / "birch-house").is_dir()


def test_a_building_that_trips_the_server_is_said_without_its_insides(tmp_path):
    def trip(_folder):
        raise RuntimeError("insides")

    reply = create(create_first_app(tmp_path, trip).test_client())
    assert reply.status_code == 201
    assert "insides" not in reply.text
    assert reply.get_json()["trouble"]


def test_the_switch_hands_on_to_what_is_shown(tmp_path):
    from werkzeug.test import Client

    switch = Switch()
    with pytest.raises(RuntimeError):
        Client(switch).get("/")
    switch.show(create_first_app(tmp_path, lambda _: None))
    assert Client(switch).get("/").status_code == 302
    switch.show(create_app(small_session(tmp_path)).server)
    assert "Made House" in Client(switch).get("/").text


def test_new_buildings_go_beside_the_open_one_or_where_they_are_told_to(tmp_path):
    (tmp_path / "open").mkdir()
    (tmp_path / "elsewhere").mkdir()
    app = create_app(small_session(tmp_path / "open"))
    client = app.server.test_client()
    assert "No building is open yet" not in client.get("/setup").text
    assert create(client).get_json().keys() == {"ok", "folder", "command"}
    assert (tmp_path / "birch-house").is_dir()
    app.server.config[PLACE] = tmp_path / "elsewhere"
    assert "made in elsewhere" in client.get("/setup").text
    create(client)
    assert (tmp_path / "elsewhere" / "birch-house").is_dir()


@pytest.mark.skipif(os.name == "nt", reason="needs SIGINT")
def test_the_command_opens_what_is_made_in_its_folder(tmp_path):
    """The whole way, by the command itself: no building, a press on Create, its plan at the same address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    code = (
        "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler);"
        "from spread.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    argv = [sys.executable, "-c", code, "serve", "--port", str(port), "--folder", str(tmp_path)]
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parent.parent)}
    process = subprocess.Popen(argv, stdout=subprocess.PIPE, text=True, env=environment)
    url = f"http://127.0.0.1:{port}"
    try:
        assert f"No building is open yet. Set one up at {url}/setup" in process.stdout.readline()
        assert str(tmp_path) in process.stdout.readline()

        body = json.dumps(FORM | {"slug": "birch-house", "rules": "good-practice"}).encode()
        ask = urllib.request.Request(f"{url}/setup/create", body, {"Content-Type": "application/json"})
        began = time.monotonic()
        with urllib.request.urlopen(ask, timeout=120) as reply:
            assert json.load(reply)["open"] == "/"
        print(f"made and opened in {time.monotonic() - began:.1f} s")
        with urllib.request.urlopen(f"{url}/", timeout=20) as reply:
            assert "<title>Birch House" in reply.read().decode()
    finally:
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 0
        process.stdout.close()
    shutil.rmtree(tmp_path / "birch-house")


ROLL = "Rent roll 11/14/2026\nApt,Sq Ft,Tenant,Status,Move In\n" + "".join(
    f"{floor}{n:02d},650,somebody,{'Vacant' if n == 3 else 'Occupied'},{'' if n == 3 else '6/21/2021'}\n"
    for floor in (1, 2)
    for n in range(1, 5)
)


def test_a_rent_roll_is_asked_about_and_becomes_a_building_with_its_moves(client, tmp_path, opened):
    answers, rounds = {}, []
    sent = {"list": ROLL, "name": "Elm Court", "answers": answers}
    while questions := (reply := client.post("/setup/draw", json=sent).json).get("questions"):
        rounds.append([one["key"] for one in questions])
        others = [text for one in questions if one["key"] != "Tenant" for text in one["examples"]]
        assert not any("somebody" in text for text in others)
        for one in questions:
            answers.setdefault(one["topic"], {})[one["key"]] = one["suggestion"]
    columns = ["Apt", "Sq Ft", "Tenant", "Status", "Move In"]
    assert rounds == [columns, ["floors", "Occupied", "Vacant", "vacant since"]]
    assert (reply["units"], reply["floors"], reply["moves"]["new"]) == (8, ["1", "2"], 8)
    assert "somebody" not in json.dumps(reply)
    made = {"slug": "elm-court", "rules": "good-practice", "list": reply["list"], "name": "Elm Court"}
    refused = client.post("/setup/create", json=made | {"roll": {"list": ROLL, "answers": {}}}).json
    assert "questions about the list are open" in refused["problems"][0]
    assert list(tmp_path.iterdir()) == []
    assert client.post("/setup/create", json=made | {"roll": sent}).status_code == 201
    moves = load_building(tmp_path / "elm-court").log.rows
    assert ("103", "moved-out", "2026-11-14") in {(r.unit, r.method, r.when.isoformat()) for r in moves}
    assert len(moves) == 8
    assert opened == [tmp_path / "elm-court"]
    second = client.post("/setup/draw", json=sent | {"answers": {}}).json["questions"]
    assert [one["key"] for one in second] == ["floors", "vacant since"], "only what is a building's own"
