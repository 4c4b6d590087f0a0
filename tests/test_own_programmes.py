"""A building's own programmes: made in the form, kept with the building, compared like any other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dashboard import create_app
from dashboard.programmes.own import groups
from spread.errors import SettingsError
from spread.programmes.own import MOST, key_for, own_toml, parse_own, read_own
from spread.programmes.programme import Clearance, Programme, Ranked, Survey, Treatment, Watch
from spread.programmes.reading import presets
from tests.small import small_session

ODD = Programme(
    "own-odd", 'Every "third" month; läßt nichts aus', complaint=None, ranked=Ranked(doors=0, minutes=90.0),
    survey=Survey(13, 2, 4, 3, "dog", 2), treatment=Treatment("whole-room-heat", 0, 3, 4, True), notice=False,
    confirm="brief-visual", clearance=Clearance(periods=3, monitors=False),
    watch=Watch("thorough-visual", 4, 26, 1),
)  # fmt: skip


def test_programmes_go_to_the_file_and_come_back_the_same():
    kept = [*(replace(one, key=f"own-{one.key}") for one in presets()), ODD]
    assert parse_own(own_toml(kept).encode()) == tuple(kept)
    assert parse_own(b"") == ()


@pytest.mark.parametrize(
    "text",
    [
        b"\xff", b"programme = 3", b"[[programme]]\nname = 'a'",
        b"[[programme]]\nkey = 'complaint'\nname='a'",
        b"[[programme]]\nkey = 'own-a'\nname = 'a'", b"[[programme]]\nkey = 'own-a'\nname = 'a'\nodd = 1\n",
    ],
)  # fmt: skip
def test_a_bad_file_is_told_in_sentences(text):
    with pytest.raises(SettingsError) as told:
        parse_own(text)
    assert "programmes.toml" in str(told.value)


def test_keys_are_new_and_plain():
    assert key_for("Every Month, dogs!", ()) == "own-every-month-dogs"
    assert key_for("Éé", ["own-programme"]) == "own-programme-2"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    session = small_session(tmp_path_factory.mktemp("own") / "made")
    return session, create_app(session).server


def form(**changed):
    """What the form sends when nothing but its name is typed."""
    usual = {each.name: each.usual for _, _, _, fields in groups() for each in fields}
    return {"key": "", "name": "Dogs each quarter", "complaint": "yes", **usual, **changed}


def test_a_programme_is_made_changed_compared_and_removed(place):
    session, server = place
    client = server.test_client()

    def send(**body):
        return client.post("/programmes/own", json=body).json

    typed = form(survey="yes", **{
        "survey.method": "dog", "survey.every_weeks": "13", "survey.times": "2", "treatment.method": "spray",
        "treatment.every_weeks": "3", "notice": "no", "clearance.monitors": "no",
        "watch": "yes", "watch.every_weeks": "8", "treatment.encase": "yes",
    })  # fmt: skip
    made = send(**typed)
    assert (made["problem"], made["bad"], made["key"]) == ("", {}, "own-dogs-each-quarter")
    (one,) = read_own(session.building.store)
    assert (one.survey.method, one.survey.every_weeks, one.survey.times) == ("dog", 13, 2)
    assert (one.treatment.method, one.treatment.every_weeks, one.notice) == ("spray", 3, False)
    assert one.clearance.monitors is False
    assert (one.watch, one.treatment.encase) == (Watch(every_weeks=8), True)
    assert one.ring is one.ranked is one.vacant is None

    (row,) = client.post("/programmes/now", json={}).json["made"]
    again = form(**row["fields"]) | {"key": row["key"]}
    assert send(**(again | {"survey.every_weeks": "26"}))["key"] == one.key
    (changed,) = read_own(session.building.store)
    assert changed == replace(one, survey=replace(one.survey, every_weeks=26)), (
        "all else comes back as it was"
    )

    start = {"programmes": ["complaint", one.key], "runs": 40, "weeks": 26}
    assert client.post("/programmes/start", json=start).json["ok"]
    work = server.extensions["programmes"]
    assert work.wait(300)
    assert [ran.programme.key for ran in work.done.runs] == ["complaint", one.key]
    assert client.post("/programmes/now", json={}).json["shown"]["names"][1] == "Dogs each quarter"

    assert send(key=one.key, remove="yes")["own"] == []
    assert send(key=one.key, remove="yes")["problem"] == "", "gone already"
    assert client.post("/programmes/start", json=start).json["problem"] == "Choose two to four programmes."
    assert "removed meanwhile" in send(**again)["bad"]["name"]


def test_every_mistake_is_told_at_its_field_and_nothing_is_kept(place):
    session, server = place
    client = server.test_client()
    before = read_own(session.building.store)
    sent = form(name="", survey="yes", **{
        "survey.tries": "0", "survey.every_weeks": "often", "treatment.method": "magic",
        "complaint.within_weeks": "99",
    })  # fmt: skip
    bad = client.post("/programmes/own", json=sent).json["bad"]
    assert set(bad) == {
        "name", "survey.tries", "survey.every_weeks", "treatment.method", "complaint.within_weeks",
    }  # fmt: skip
    assert all(sentence.endswith(".") and not sentence[0].islower() for sentence in bad.values())
    assert "1 to 20" in bad["survey.tries"]
    assert not any("=" in sentence for sentence in bad.values()), "no file syntax"
    nobody = {name: value for name, value in form().items() if name != "complaint"}
    assert "Nobody looks" in client.post("/programmes/own", json=nobody).json["bad"]["name"]
    assert read_own(session.building.store) == before


def test_a_building_keeps_a_dozen_and_no_two_of_one_name(place):
    session, server = place
    client = server.test_client()
    for number in range(MOST):
        assert client.post("/programmes/own", json=form(name=f"N{number}")).json["bad"] == {}
        if number == 3:
            assert "that name" in client.post("/programmes/own", json=form(name="n3")).json["bad"]["name"]
    assert "remove one" in client.post("/programmes/own", json=form(name="More")).json["bad"]["name"]
    assert len(read_own(session.building.store)) == MOST
