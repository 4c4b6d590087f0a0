"""The import page's addresses: notes are read with a person's word, taken in whole, and taken back."""

from __future__ import annotations

import base64
import datetime as dt
import io
import shutil
from pathlib import Path

import openpyxl
import pytest
from flask import Flask

from dashboard.take_in.page import add_import
from dashboard.web.asked import WORDS_FILE
from spread.building import load_building
from spread.records.kinds import Record
from spread.tables.answers import read_answers

pytestmark = pytest.mark.usefixtures("read_here")

DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
UNITS = tuple(load_building(DEMO).plan.units)[:3]
NOTES = (
    "Pest log\nApt #,Date,Tenant,Result\n"
    f'{UNITS[0]},3/14/2026,somebody,"BB found, heavy"\n'
    f"{UNITS[1]},3/15/2026,somebody,zero activity\n"
    f"{UNITS[2]},3/16/2026,somebody,called office\n"
)


class OpenedBuilding:
    """What the page needs of a session over a real folder: nothing is fitted."""

    today = dt.date(2026, 11, 25)

    def __init__(self, folder):
        self.building = load_building(folder)
        self.refreshed = 0

    def refresh(self):
        self.refreshed += 1
        return True


@pytest.fixture
def session(tmp_path):
    shutil.copytree(DEMO, tmp_path / "there")
    return OpenedBuilding(tmp_path / "there")


@pytest.fixture
def client(session):
    server = Flask("tried")
    add_import(server, session)
    return server.test_client()


def post(client, path, **sent):
    return client.post(f"/import/{path}", json={"pasted": NOTES} | sent).json


def answered(client, **right):
    """Go through the questions as the page does; ``right`` corrects suggestions by wording."""
    answers, asked = {}, []
    while (reply := post(client, "read", answers=answers))["questions"]:
        for one in reply["questions"]:
            asked.append(one)
            said = right.get(one["key"].replace(" ", "_"), one["suggestion"])
            answers.setdefault(one["topic"], {})[one["key"]] = said
    return answers, asked, reply


def test_columns_are_asked_first_and_nothing_is_read_before(client):
    reply = post(client, "read")
    assert reply["columns"]
    assert {one["key"]: one["suggestion"] for one in reply["questions"]} == {
        "Apt #": "unit", "Date": "day", "Tenant": "leave out", "Result": "words",
    }  # fmt: skip
    assert (reply["new"], reply["rows"]) == (0, [])
    refused = post(client, "take", batch=reply["batch"])
    assert not refused["ok"]
    assert "questions are open" in refused["problems"][0]


def test_a_row_that_repeats_one_of_the_log_is_named_before_it_is_taken_in(client, session):
    said = {"zero_activity": "inspection, brief-visual, no"}
    assert answered(client, **said)[2]["repeats"] == []
    there = Record("there", dt.date(2026, 3, 15), UNITS[1], "inspection", "brief-visual", "no")
    session.building.store.append(there)
    told = answered(client, **said)[2]["repeats"]
    assert len(told) == 1
    assert told[0].startswith(f"{UNITS[1]}: Rows that say the same but for id and note")


def test_what_is_shown_is_taken_in_kept_for_the_next_file_and_taken_back(client, session):
    before = session.building.log.current
    answers, asked, reply = answered(client, zero_activity="inspection, brief-visual, no")
    texts = [text for one in asked if one["topic"] == "words" for text in one["examples"]]
    assert texts
    assert not any("somebody" in text for text in texts), "a column left out is not shown again"
    assert all(
        one["suggestion"] in {c["value"] for c in one["choices"]} for one in asked if one["suggestion"]
    )
    took = post(client, "take", answers=answers, batch=reply["batch"])
    assert (took["ok"], took["rows"]) == (True, reply["new"])
    assert session.refreshed == 1
    new = {(row.unit, row.found, row.level) for row in session.building.log.current if row not in before}
    assert new >= {(UNITS[0], "yes", "heavy"), (UNITS[1], "no", "")}
    assert (session.building.folder / WORDS_FILE).exists()
    again = post(client, "read")
    assert again["questions"] == [], "nothing is asked twice"
    assert again["new"] == 0
    back = post(client, "back", batch=took["batch"])
    assert back["rows"] == took["rows"]
    left = {row.id for row in session.building.log.current if row.kind != "note"}
    assert left == {row.id for row in before if row.kind != "note"}
    assert not post(client, "back", batch=took["batch"])["ok"]


def test_what_was_not_shown_is_not_taken_in(client, session):
    length = len(session.building.log)
    answers, _, _ = answered(client)
    refused = post(client, "take", answers=answers, batch="000000")
    assert "nothing was taken in" in refused["problems"][0]
    assert len(session.building.log) == length
    assert not (session.building.folder / WORDS_FILE).exists()


@pytest.mark.parametrize(
    "sent",
    [
        {"pasted": ""},
        {"file": "%%%", "pasted": ""},
        {"file": base64.b64encode(b"PK\x03\x04broken").decode()},
        {"answers": {"columns": {"Apt #": "nonsense"}}},
    ],
)
def test_bad_input_is_one_sentence(client, sent):
    reply = post(client, "read", **sent)
    assert not reply["ok"]
    assert len(reply["problems"]) == 1


def sheets_of():
    book = openpyxl.Workbook()
    book.active.title = "Cover"
    book.active.append(["hello"])
    notes, roll = book.create_sheet("Visits"), book.create_sheet("Units")
    for line in NOTES.splitlines()[1:]:
        notes.append(line.replace('"', "").replace("found, heavy", "found heavy").split(","))
    roll.append(["Apt", "Status", "Move In"])
    roll.append([UNITS[0], "Occupied", "3/14/2026"])
    roll.append([UNITS[1], "Vacant", ""])
    stream = io.BytesIO()
    book.save(stream)
    return {"file": base64.b64encode(stream.getvalue()).decode(), "file_name": "book.xlsx", "pasted": ""}


def test_a_sheet_of_a_workbook_is_chosen_and_each_is_named(client):
    sent = sheets_of()
    reply = post(client, "read", **sent)
    assert (reply["sheets"], reply["sheet"]) == (["Cover", "Visits", "Units"], "Visits")
    reply = post(client, "read", **sent, sheet="Units", table="roll")
    assert [one["key"] for one in reply["questions"]] == ["Apt", "Status", "Move In"]
    assert "choose among" in post(client, "read", **sent, sheet="Nowhere")["problems"][0]


def test_a_rent_roll_gives_only_who_moved_and_what_was_said_is_kept_for_the_firms_other_buildings(
    client, session, tmp_path
):
    sent = sheets_of() | {"sheet": "Units", "table": "roll"}
    answers, before = {}, {row.id for row in session.building.log.current}
    while (reply := post(client, "read", **sent, answers=answers))["questions"]:
        for one in reply["questions"]:
            answers.setdefault(one["topic"], {})[one["key"]] = one["suggestion"]
    assert post(client, "take", **sent, answers=answers, batch=reply["batch"])["ok"]
    new = [row for row in session.building.log.current if row.id not in before]
    assert {(row.unit, row.kind, row.method) for row in new} == {
        (UNITS[0], "turnover", "moved-in"), (UNITS[1], "turnover", "moved-out"),
    }  # fmt: skip
    kept = read_answers(tmp_path / WORDS_FILE)
    assert kept.get("roll", "Status") == "occupancy"
    assert kept.told.keys().isdisjoint({"units", "building", "list"}), "what holds for one building only"
    (session.building.folder / WORDS_FILE).unlink()
    assert post(client, "read", **sent)["questions"] == []


@pytest.mark.parametrize("text", [f"Apt\tDate\tResult\n{UNITS[0]}\t3/14/2026\tBB found\n"])
def test_pasted_cells_are_a_table_as_any_other(client, text):
    reply = post(client, "read", pasted=text)
    assert [one["suggestion"] for one in reply["questions"]] == ["unit", "day", "words"]
    assert reply["questions"][0]["quiet"]


def test_a_wording_that_could_be_a_look_is_asked_alone(client):
    answers = {"columns": {"Apt #": "unit", "Date": "day", "Tenant": "leave out", "Result": "words"}}
    quiet = {one["key"]: one["quiet"] for one in post(client, "read", answers=answers)["questions"]}
    assert quiet == {"BB found, heavy": False, "zero activity": False, "called office": False}
