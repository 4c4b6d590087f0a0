"""Every list that rests on the model says where the log contradicts it, in text, on pages and as JSON."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from buildings import ON, clear, find, make_building, treatment
from small import small_session

from dashboard import create_app
from dashboard.round.addresses import building_key
from spread import session as session_module
from spread.cli import main
from spread.decisions.trust import LittleReported
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.log import Log
from spread.report.week import week_document, week_view
from spread.words import ENGLISH, say

WARNED = LittleReported(light=False, factor=0.2, sure=0.93)
WORDS = say(WARNED, ENGLISH)
FIRST = "Moderate and heavy infestations are reported here about 20% as often as elsewhere"


@pytest.fixture
def warned(monkeypatch):
    monkeypatch.setattr(session_module.Session, "warnings", lambda _: (WARNED,))


@pytest.fixture
def folder(tmp_path):
    rows = [find("103", 5), find("201", 60), treatment("201", 40)]
    return str(make_building(tmp_path / "maple", rows))


QUICK = ("--runs", "20", "--weeks", "4", "--programmes", "complaint,complaint-ring")
LISTS = {
    "doors": (),
    "round": ("--minutes", "60"),
    "fit": (),
    "methods": ("204",),
    "revisits": (),
    "compare": QUICK,
}


@pytest.mark.parametrize("name", LISTS)
def test_a_command_that_lists_warns_in_text_and_in_json(name, folder, warned, capsys):
    units = [word for word in LISTS[name] if word.isdigit() and len(word) == 3]
    more = [word for word in LISTS[name] if word not in units]
    asked = [name, folder, *units, *more, "--on", ON.isoformat()]
    assert main([*asked, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    rows = told if isinstance(told, list) else [told]
    assert rows
    for row in rows:
        assert [one["words"] for one in row["warnings"]] == [WORDS]
        assert row["warnings"][0]["fact"] == "little-reported"
    if name not in ("fit", "methods"):
        assert main(asked) == 0
        assert FIRST in " ".join(capsys.readouterr().out.split())


def test_where_nothing_is_contradicted_no_list_warns(folder, capsys):
    for name in ("doors", "round", "revisits"):
        assert main([name, folder, "--on", ON.isoformat(), "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        for row in told if isinstance(told, list) else [told]:
            assert row["warnings"] == []


def test_the_phone_and_the_week_warn_before_any_door(tmp_path, warned):
    session = small_session(tmp_path / "house")
    client = create_app(session).server.test_client()
    body = {"building": building_key(session), "answers": [], "want": {"minutes": 60}}
    assert client.post("/round/answers", json=body).json["round"]["warnings"] == [WORDS]
    page = client.get("/week").text
    assert page.index(WORDS) < page.index("Next doors")
    assert client.get("/week/document").text.count(WORDS) == 1
    assert 'id="warned"' in client.get("/round").text


def test_pages_of_a_log_that_contradicts_nothing_hold_no_warning(tmp_path, monkeypatch):
    monkeypatch.setattr(session_module.Session, "warnings", lambda _: ())
    session = small_session(tmp_path / "house")
    client = create_app(session).server.test_client()
    assert "The log speaks against the model" not in client.get("/week").text
    assert WORDS not in str(week_document(week_view(session), session))


def test_an_import_names_rows_that_repeat_another(tmp_path, capsys):
    folder = make_building(tmp_path / "maple", [treatment("201", 40)])
    new = [treatment("201", 40, id="again", note="typed twice"), clear("204", 3), clear("204", 3, id="copy")]
    lines = "".join(to_line(to_fields(record)) for record in new)
    (tmp_path / "in.csv").write_text(HEADER + lines, encoding="utf-8")
    asked = ["import", str(folder), str(tmp_path / "in.csv")]
    assert main([*asked, "--dry-run", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["repeats"]
    assert {one["unit"]: one["kind"] for one in told} == {"201": "repeated", "204": "repeated"}
    assert main(asked) == 0
    out = capsys.readouterr().out
    assert "Note: 201: Rows that say the same but for id and note" in out
    assert "they count once" in out
    assert main(asked) == 0
    assert "Note" not in capsys.readouterr().out, "nothing new, nothing to say"


def test_an_answer_of_today_is_never_taken_for_a_repeat_of_another_day():
    log = Log((clear("204", 3), clear("204", 2, id="u")))
    assert log.worked_out("204", ON + dt.timedelta(1), len) == 2
