"""The addresses of the tracer: what they answer, and that nothing is written but whole."""

import base64

import pytest
from drawn import Sheet, as_png
from small import made_plan

from dashboard.first import create_first_app
from spread.building import load_building

pytestmark = pytest.mark.usefixtures("read_here")

PLAN = made_plan(1, 2)


@pytest.fixture(scope="module")
def drawn():
    sheet = Sheet(PLAN, "1")
    return sheet.seeds(), base64.b64encode(as_png(sheet.picture())).decode()


@pytest.fixture
def client(tmp_path):
    opened = []
    client = create_first_app(tmp_path, opened.append).test_client()
    client.opened = opened
    return client


def test_the_page_is_there_before_there_is_a_building(client):
    page = client.get("/trace")
    assert page.status_code == 200
    assert 'href="/setup"' in page.text
    assert client.get("/files/trace/page.js").status_code == 200
    assert client.get("/files/trace/geometry.js").status_code == 200


def test_a_file_is_opened_seen_and_made_into_a_building_that_is_opened(client, drawn, tmp_path):
    seeds, picture = drawn
    opened = client.post("/trace/open", json={"file": picture, "file_name": "plan.png"}).json
    assert (opened["ok"], opened["pages"], opened["layers"]) == (True, 1, [])
    seen = client.post("/trace/see", json={"floors": [seeds], "pictures": [opened["picture"]]}).json
    assert {one["id"] for one in seen["regions"] if one["kind"] == "unit"} == set(PLAN.units)
    assert seen["metre"] == pytest.approx(30, rel=0.01)
    sent = {"floors": [seeds], "pictures": [opened["picture"]], "name": "Birch House", "slug": "birch-house"}
    assert list(tmp_path.iterdir()) == []
    made = client.post("/trace/create", json=sent)
    assert (made.status_code, made.json["open"]) == (201, "/")
    assert [one.name for one in client.opened] == ["birch-house"]
    building = load_building(tmp_path / "birch-house")
    assert (building.plan.name, set(building.plan.units)) == ("Birch House", set(PLAN.units))
    again = client.post("/trace/create", json=sent).json
    assert "already" in again["problems"][0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pictures": []}, "not one picture for each floor"),
        ({"pictures": ["%%%"]}, "did not arrive whole"),
        ({"pictures": [base64.b64encode(b"hello").decode()]}, "no picture, PDF or DXF"),
        ({"floors": []}, "no list of floors"),
        ({"slug": "../up"}, "no name for a folder"),
    ],
)
def test_what_cannot_be_made_is_said_and_writes_nothing(client, drawn, tmp_path, change, words):
    seeds, picture = drawn
    sent = {"floors": [seeds], "pictures": [picture], "name": "Elm", "slug": "elm"} | change
    reply = client.post("/trace/create", json=sent)
    assert reply.status_code == 200
    assert words in " ".join(reply.json["problems"])
    assert list(tmp_path.iterdir()) == []
