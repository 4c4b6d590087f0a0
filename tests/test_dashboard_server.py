"""What the server answers and refuses, without a browser."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from dash import html
from small import LIVED_IN, small_session

from dashboard import create_app
from dashboard.pages import Page, pages
from dashboard.security import LARGEST_BODY
from dashboard.server import check_address, serve
from spread.errors import SettingsError
from spread.words import ENGLISH, say

CALL = "/_dash-update-component"


@pytest.fixture
def session(tmp_path):
    return small_session(tmp_path)


@pytest.fixture
def client(session):
    return create_app(session).server.test_client()


def panel_call(unit):
    outputs = ["panel-first.children", "panel-rest.children", "panel-history.children"]
    outputs += ["trail.data", "arrows.data", "bed.data"]
    split = [dict(zip(("id", "property"), output.split("."), strict=True)) for output in outputs]
    return {
        "output": ".." + "...".join(outputs) + "..",
        "outputs": split,
        "inputs": [
            {"id": "selected", "property": "data", "value": unit},
            {"id": "seen", "property": "data", "value": 1},
            {"id": "voice", "property": "data", "value": ""},
        ],
        "changedPropIds": ["selected.data"],
    }


def test_the_page_has_a_language_a_title_and_no_address_but_its_own(client):
    text = client.get("/").text
    assert re.search(r'<html lang="en" data-root="" data-version="\d+" data-measure="metres">', text)
    assert "<title>Made House" in text
    sources = [
        one for one in re.findall(r'(?:src|href)="([^"]+)"', text) if one != "#plan"
    ]  # the way to the plan
    assert sources
    assert all(source.startswith("/") and not source.startswith("//") for source in sources)


def test_a_page_is_laid_out_for_the_address_that_the_browser_stands_on(client):
    assert '"doors"' in client.get("/_dash-layout", headers={"Referer": "http://localhost/"}).text
    for referer in ({}, {"Referer": "http://elsewhere.example/"}):
        unknown = client.get("/_dash-layout", headers=referer).text
        assert '"doors"' not in unknown, "its script asks again with the address"
        assert '"laid-out"' in unknown


def test_an_address_without_a_page_is_a_404_with_the_way_back(client):
    answer = client.get("/nowhere/at<b>all")
    assert answer.status_code == 404
    assert "<b>" not in answer.text
    assert 'class="pages-bar"' in answer.text
    assert client.get("/").status_code == 200


def test_two_pages_of_one_app_each_get_their_own_layout_title_bar_and_assets(session, monkeypatch):
    """A made page beside the plan; with the Referer withheld the page asks again with its address."""
    made = Page(
        "/made",
        "Made",
        "a made page",
        layout=lambda _: html.Main("made here", id="made"),
        scripts=("plan/trail.js",),
    )
    both = (next(page for page in pages() if page.path == "/"), made)
    for module in ("dashboard.pages", "dashboard.app", "dashboard.web.bar"):
        monkeypatch.setattr(f"{module}.pages", lambda: both)
    client = create_app(session).server.test_client()
    text = client.get("/made").text
    assert "<title>Made House · a made page</title>" in text
    assert '<a href="/made" aria-current="page">Made</a>' in text
    assert "/files/plan/trail.js" in text
    assert "/files/plan/page.js" not in text
    assert "/files/plan/page.js" in client.get("/").text
    there = client.get("/_dash-layout", headers={"Referer": "http://localhost/made"}).text
    assert "made here" in there
    assert '"doors"' not in there
    call = {
        "output": "page-box.children",
        "outputs": {"id": "page-box", "property": "children"},
        "inputs": [{"id": "asked-path", "property": "data", "value": "/made"}],
        "changedPropIds": ["asked-path.data"],
    }
    assert "made here" in client.post(CALL, json=call).text


def test_health_answers_ok(client):
    assert client.get("/health").text == "OK"


def test_every_answer_carries_the_security_headers(client):
    headers = client.get("/").headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    policy = headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe-eval" not in policy
    assert "unsafe-inline" not in policy.split("script-src")[1].split(";")[0]


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "192.168.1.4:8050"])
def test_a_host_that_is_not_this_machine_is_refused(client, host):
    assert client.get("/", headers={"Host": host}).status_code == 400
    assert client.post(CALL, json=panel_call("101"), headers={"Host": host}).status_code == 400


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_page_elsewhere_cannot_write(client, headers):
    assert client.post(CALL, json=panel_call("101"), headers=headers).status_code == 403


def test_the_page_itself_can(client):
    headers = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    assert client.post(CALL, json=panel_call("101"), headers=headers).status_code == 200


def test_a_large_body_is_refused(client):
    body = json.dumps(panel_call("x" * LARGEST_BODY))
    assert client.post(CALL, data=body, content_type="application/json").status_code == 413


@pytest.mark.parametrize("unit", ["nowhere", 7, ["101"], {"$ne": 1}])
def test_an_unknown_unit_is_answered_politely(client, unit):
    answer = client.post(CALL, json=panel_call(unit))
    assert answer.status_code == 200
    assert "no such unit" in answer.text


def test_a_known_unit_gets_its_reasons(client, session):
    unit = session.doors()[0].unit
    assert say(session.why(unit).reasons[0], ENGLISH) in client.post(CALL, json=panel_call(unit)).text


def test_two_apps_in_one_process_keep_their_own_callbacks(tmp_path):
    """Dash's global callback list is drained by whichever app serves first; ours must not use it."""
    first, second = (create_app(small_session(tmp_path)) for _ in range(2))
    first.server.test_client().get("/")
    calls = [len(app.server.test_client().get("/_dash-dependencies").json) for app in (first, second)]
    assert calls[0] == calls[1] > 8


def test_the_page_is_sent_compressed(client):
    answer = client.get("/_dash-layout", headers={"Accept-Encoding": "gzip"})
    assert answer.headers["Content-Encoding"] == "gzip"


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.4", "example.com"])
def test_a_host_that_others_could_reach_is_refused_with_a_sentence(session, host):
    with pytest.raises(SettingsError, match="nobody has to sign in") as caught:
        serve(session, host=host)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("port", [0, -1, 70000])
def test_a_port_that_is_no_port_is_refused(port):
    with pytest.raises(SettingsError, match="no port"):
        check_address("127.0.0.1", port)


def test_a_port_that_is_taken_is_said_in_a_sentence(session):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(SettingsError, match="cannot be used"):
            serve(session, port=taken.getsockname()[1])


@pytest.mark.skipif(os.name == "nt", reason="needs SIGINT")
def test_serve_says_its_address_answers_and_stops_on_ctrl_c(tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    here = Path(__file__).parent
    code = (
        # A test run in the background of a shell ignores the signal, and its children with it.
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler);"
        "from pathlib import Path; from small import small_session; from dashboard import serve;"
        f"serve(small_session(Path({str(tmp_path)!r})), port={port})"
    )
    environment = os.environ | {"PYTHONPATH": os.pathsep.join((str(here), str(here.parent)))}
    process = subprocess.Popen(
        [sys.executable, "-c", code],
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )
    try:
        line = process.stdout.readline()
        assert f"http://127.0.0.1:{port}/" in line
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/health", timeout=10) as answer:
            assert answer.read() == b"OK"
            assert "Server" not in answer.headers
    finally:
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 0
        process.stdout.close()


def test_serve_says_what_it_does_and_how_long_it_has_taken_before_it_is_open(tmp_path, run, monkeypatch):
    """In a pipe: a line a step, and one every few seconds of the fit."""
    session, opened, clock = small_session(tmp_path / "elm", rows=LIVED_IN), [], [100.0]

    def fitted(building, *, on, seed, progress):
        assert len(building.log.rows) == len(LIVED_IN)
        for share in (0.1, 0.4, 0.5, 0.9):
            clock[0] += 3.0
            progress(share)
        return session

    monkeypatch.setattr("spread.commands.common.time.monotonic", lambda: clock[0])
    monkeypatch.setattr("spread.session.Session.of", fitted)
    monkeypatch.setattr("dashboard.server.serve", lambda shown, *_, **__: opened.append(shown))
    code, _, said = run("serve", tmp_path / "elm", "--port", "8050")
    assert (code, opened) == (0, [session])
    lines = [line.removeprefix("elm: ") for line in said.splitlines() if line.startswith("elm: ")]
    assert lines[0] == "Reading its plan and its log."
    assert lines[1].startswith(f"Read {len(session.plan.units)} units and {len(LIVED_IN)} rows in ")
    assert [line for line in lines if "so far" in line] == [
        "40% fitted, 6 s so far.",
        "90% fitted, 12 s so far.",
    ]
    assert lines[-1] == "Fitted; 12 s in all."
