"""Files of outlines on the set-up page and on the command line: asked, drawn, written whole or not at all."""

import base64
from pathlib import Path

import pytest
from made_ifc import Model

from dashboard.first import create_first_app
from spread.building import load_building
from spread.cli import main
from spread.trade.rules import DEFAULT

pytestmark = pytest.mark.usefixtures("read_here")

DUPLEX = Path(__file__).parent / "data" / "models" / "duplex.ifc"


@pytest.fixture
def client(tmp_path):
    opened = []
    client = create_first_app(tmp_path, opened.append).test_client()
    client.opened = opened
    return client


def sent(data, name="duplex.ifc"):
    return {"file": base64.b64encode(data).decode(), "file_name": name, "answers": {}, "name": "Two Homes"}


def all_answered(client, asked):
    reply = client.post("/setup/draw", json=asked).json
    for _ in range(4):
        if not reply.get("questions"):
            return reply
        for one in reply["questions"]:
            asked["answers"].setdefault(one["topic"], {})[one["key"]] = one["suggestion"]
        reply = client.post("/setup/draw", json=asked).json
    raise AssertionError("it asks without end")


def test_a_model_is_asked_about_drawn_corrected_and_made_into_a_building(client, tmp_path):
    asked = sent(DUPLEX.read_bytes())
    first = client.post("/setup/draw", json=asked).json
    assert (first["ok"], first["outlines"], first["columns"]) == (True, True, False)
    roof = next(one for one in first["questions"] if one["key"] == "Roof")
    assert roof["label"] == "What is a room that is called 'Roof'?"
    assert {"value": "home", "words": "a unit, or a room of one"} in roof["choices"]
    assert (roof["suggestion"], roof["examples"]) == ("leave out", ["R301"])
    reply = all_answered(client, asked)
    assert (reply["units"], reply["floors"]) == (2, ["1", "2"])
    assert any("no rooms are kept on T/FDN, Roof" in note for note in reply["notes"])
    assert list(tmp_path.iterdir()) == [], "nothing is written before Create"
    described = {
        "plan": reply["plan"],
        "plan_floors": reply["floors"],
        "name": "Two Homes",
        "answers": asked["answers"],
    }
    door = {"step": "door", "door": "door-1", "metres": 0.5}
    moved = client.post("/setup/draw", json=described | {"edits": [door]}).json
    assert moved["ok"], moved
    assert moved["drawings"] != reply["drawings"], "a door was moved along its wall"
    rest = {"slug": "two-homes", "rules": DEFAULT, "edits": [door]}
    made = client.post("/setup/create", json=described | rest)
    assert made.status_code == 201, made.json
    building = load_building(tmp_path / "two-homes")
    assert {unit.id: tuple(unit.parts) for unit in building.plan.units.values()} == {
        "A": ("1", "2"),
        "B": ("1", "2"),
    }
    kept = (tmp_path / "words.toml").read_text(encoding="utf-8")
    assert '"roof" = "leave out"' in kept, "the next file of the firm asks no more what a roof is"
    assert "storeys" not in kept, "a building's own floors are no other's"
    again = client.post("/setup/draw", json=sent(DUPLEX.read_bytes())).json
    assert {one["topic"] for one in again["questions"]} == {"storeys", "outlines"}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"file": base64.b64encode(b"ISO-10303-21;\nhello").decode()}, "duplex.ifc: it is cut short"),
        ({"file": "%%%"}, "did not arrive whole"),
        ({"file": None, "plan": "{", "plan_floors": ["1"]}, "The plan: it did not arrive whole"),
        ({"file": None, "plan": "{}", "plan_floors": []}, "its floors did not arrive"),
        ({"file": None, "plan": "[]", "plan_floors": ["1"]}, "not a GeoJSON FeatureCollection"),
    ],
)
def test_what_is_spoilt_is_told_in_a_sentence_and_nothing_is_written(client, tmp_path, change, words):
    asked = sent(DUPLEX.read_bytes()) | change
    reply = client.post("/setup/draw", json=asked)
    assert reply.status_code == 200
    assert words in reply.json["problems"][0]
    assert list(tmp_path.iterdir()) == []


def test_the_command_asks_then_draws_and_says_what_is_missing(tmp_path, capsys):
    words, folder = tmp_path / "words.toml", tmp_path / "two-homes"
    line = ["draw", str(DUPLEX), "-o", str(folder)]
    assert main(line) == 2
    told = capsys.readouterr().err
    assert "14 questions are open and nothing was taken in" in told
    assert "A105" in told, "each question says what it is about"
    assert main([*line, "--ask", str(words)]) == 0
    assert not folder.exists()
    capsys.readouterr()
    lines = words.read_text(encoding="utf-8").splitlines()
    words.write_text(
        "\n".join(one.removeprefix("# ") if '" = "' in one else one for one in lines), encoding="utf-8"
    )
    assert main([*line, "--answers", str(words)]) == 0
    out = capsys.readouterr().out
    assert "units 2, floors 2, doors 4." in out
    assert "Look at the plan before you act on it." in out
    assert set(load_building(folder).plan.units) == {"A", "B"}
    assert main([*line, "--answers", str(words)]) == 2
    assert "nothing is ever written over" in capsys.readouterr().err


def test_an_answer_that_is_none_is_refused_with_its_place(tmp_path, capsys):
    words = tmp_path / "words.toml"
    words.write_text('[rooms]\n"roof" = "attic"\n', encoding="utf-8")
    assert main(["draw", str(DUPLEX), "-o", str(tmp_path / "x"), "--answers", str(words)]) == 2
    told = capsys.readouterr().err
    assert "words.toml, [rooms] Roof: 'attic' is none of them; use one of: home, hallway" in told
    assert not (tmp_path / "x").exists()


def test_homes_that_overlap_stop_the_command_and_nothing_is_written(tmp_path, capsys):
    model = Model(1, 2)
    living, _ = model.rooms["104"]
    living.ObjectPlacement.RelativePlacement.Location.Coordinates = (-1.0, 0.0, 0.0)
    path, words = tmp_path / "model.ifc", tmp_path / "words.toml"
    path.write_bytes(model.bytes())
    words.write_text('[outlines]\nunits = "each room is one"\n', encoding="utf-8")
    line = ["draw", str(path), "-o", str(tmp_path / "x")]
    assert main([*line, "--answers", str(words), "--ask", str(words)]) == 0
    lines = words.read_text(encoding="utf-8").splitlines()
    words.write_text(
        "\n".join(one.removeprefix("# ") if '" = "' in one else one for one in lines), encoding="utf-8"
    )
    capsys.readouterr()
    assert main([*line, "--answers", str(words)]) == 2
    told = capsys.readouterr().err
    assert "it overlaps unit" in told
    assert "Traceback" not in told
    assert not (tmp_path / "x").exists()


def test_a_storey_without_rooms_is_opened_by_the_tracer_with_its_scale_and_places_to_match(client):
    data = (DUPLEX.parent / "tall.ifc").read_bytes()
    sent_ = {"file": base64.b64encode(data).decode(), "file_name": "tall.ifc"}
    lower, upper = (client.post("/trace/open", json=sent_ | {"page": page}).json for page in (1, 4))
    assert (lower["ok"], lower["pages"]) == (True, 5)
    assert lower["metre"] == pytest.approx(upper["metre"]), "both storeys have the same outer walls"
    assert lower["match"] == upper["match"]
    assert {one["text"] for one in lower["texts"]} == {"10", "11", "12"}
    assert "no storey 6" in client.post("/trace/open", json=sent_ | {"page": 6}).json["problems"][0]
