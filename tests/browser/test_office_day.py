"""A day in an office: three buildings, a manager, two technicians, an owner; the server is killed."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from conftest import WORKER
from staff import CHEAP, a_person, hash_cheaply

from spread.building import load_building
from spread.office.buildings import take_in
from spread.office.connecting import open_office
from spread.office.people import OfficePeople
from spread.office.rows import verify

pytestmark = pytest.mark.browser

DEMOS = Path(__file__).parent.parent.parent / "demo_buildings"
PHRASE = "three lamps under oak"
PHONE = {"width": 390, "height": 760, "phone": True}
KEYS = ("elm", "oak", "ash")


class Server:
    """``spread serve --office`` in a process of its own, which can be killed and started again."""

    def __init__(self, office):
        self.office = office
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.process = None

    def start(self):
        command = [
            sys.executable,
            "-m",
            "spread",
            "serve",
            "--office",
            str(self.office),
            "--port",
            str(self.port),
        ]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        deadline = time.monotonic() + 60
        while True:
            try:
                with urllib.request.urlopen(f"{self.url}/health", timeout=2):
                    return
            except OSError:
                assert time.monotonic() < deadline, "the server did not start"
                time.sleep(0.1)

    def kill(self):
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()


@pytest.fixture
def office(tmp_path, monkeypatch):
    hash_cheaply(monkeypatch)
    path = tmp_path / "office.db"
    engine = open_office(str(path), make=True)
    building = load_building(DEMOS / "tolliwick-gardens")
    for key in KEYS:
        take_in(engine, DEMOS / "tolliwick-gardens", key, f"{building.name} {key}", building.log)
    people = OfficePeople(engine)
    for code, role, buildings in (
        ("M1", "manager", KEYS), ("T1", "technician", ("elm", "oak")), ("T2", "technician", ("elm",)),
        ("O1", "owner", ("elm",)),
    ):  # fmt: skip
        people.keep(a_person(code, PHRASE, (role,), buildings))
    assert CHEAP
    server = Server(path)
    server.start()
    yield server, engine
    server.kill()


def until(page, check, seconds=40.0):
    deadline = time.monotonic() + seconds
    while not check():
        assert time.monotonic() < deadline, "never true"
        page.wait_for_timeout(50)


def entered(new_page, server, code, path, **size):
    page = new_page(**size)
    page.goto(f"{server.url}/sign-in?next={path}")
    page.locator("#who").fill(code)
    page.locator("#phrase").fill(PHRASE)
    page.locator("button[type=submit]").click()
    return page


def answer(page, what):
    until(page, lambda: page.locator(".still").count() == 0)
    unit = page.locator("#unit").evaluate("node => node.lastChild.textContent")
    page.locator(f'[data-answer="{what}"]').tap()
    return unit


def line(page):
    return page.locator("#line").text_content()


def rows_of(server, key):
    return load_building(f"{server.office}#{key}").log.rows


@pytest.mark.slow  # its parts: test_crash, test_round_page, test_together_page
def test_a_day_with_a_phone_offline_and_the_server_killed(office, new_page):  # pages close first
    server, engine = office
    before = {key: len(rows_of(server, key)) for key in KEYS}
    manager = entered(new_page, server, "M1", "/at/elm/")
    manager.wait_for_selector("#plan .unit", timeout=90000)
    first = entered(new_page, server, "T1", "/at/elm/round", **PHONE, **WORKER)
    second = entered(new_page, server, "T2", "/at/elm/round", **PHONE, **WORKER)
    for phone in (first, second):
        phone.wait_for_selector("#unit", timeout=60000)
        until(phone, lambda phone=phone: phone.evaluate("navigator.serviceWorker.ready.then(() => true)"))
        until(phone, lambda phone=phone: line(phone) == "all sent")
    given = {"T1": [], "T2": []}
    given["T1"].append(answer(first, "clear"))
    until(first, lambda: line(first) == "all sent")

    second.context.set_offline(True)
    given["T2"] += [answer(second, what) for what in ("nobody", "clear")]
    until(second, lambda: "waiting" in line(second))
    second.reload()  # without a connection: from what the phone keeps
    until(second, lambda: "2 waiting" in line(second))

    server.kill()
    given["T1"].append(answer(first, "clear"))
    until(first, lambda: "1 waiting" in line(first))
    server.start()
    until(first, lambda: line(first) == "all sent", 90)
    second.context.set_offline(False)
    until(second, lambda: line(second) == "all sent", 90)

    rows = rows_of(server, "elm")[before["elm"] :]
    assert sorted((row.by, row.unit) for row in rows) == sorted(
        (code, unit) for code, units in given.items() for unit in units
    ), "every answer once, each by who gave it"
    assert {key: len(rows_of(server, key)) for key in ("oak", "ash")} == {
        key: before[key] for key in ("oak", "ash")
    }

    owner = entered(new_page, server, "O1", "/at/elm/")
    owner.wait_for_url("**/at/elm/past", timeout=60000)
    owner.wait_for_selector("#past-units .scatterlayer", timeout=60000)
    assert owner.locator("#past-unit").count() == 0, "an owner reads no single unit"
    assert owner.goto(f"{server.url}/at/elm/week").status == 403
    assert second.goto(f"{server.url}/at/oak/round").status == 403
    manager.goto(f"{server.url}/at/elm/")
    manager.wait_for_selector("#plan .unit", timeout=60000)
    assert {key: verify(engine, key)[1] for key in KEYS} == dict.fromkeys(KEYS, 0)
    new_page.errors[:] = [
        text
        for text in new_page.errors
        if not any(one in text for one in ("503", "403", "net::ERR_", "Callback error", "Callback failed"))
    ]
