"""People, sign-ins and audit in a folder, in SQLite and in PostgreSQL: the same behaviour of each."""

from __future__ import annotations

import datetime as dt
import json
import threading

import pytest
from databases import KINDS, cluster
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError
from staff import a_person, hash_cheaply

from spread.errors import SettingsError
from spread.office.buildings import take_in
from spread.office.connecting import open_office
from spread.office.people import OfficePeople
from spread.people import kept
from spread.people.folder import FolderPeople

PHRASE = "three lamps under oak"


@pytest.fixture(scope="module")
def server():
    with cluster() as made:
        yield made


@pytest.fixture(params=("folder", *KINDS))
def people(request, tmp_path, monkeypatch):
    hash_cheaply(monkeypatch)
    if request.param == "folder":
        yield FolderPeople(tmp_path)
        return
    url = str(tmp_path / "o.db") if request.param == "sqlite" else request.getfixturevalue("server").new()
    engine = open_office(url, make=True)
    folder = tmp_path / "elm"
    folder.mkdir()
    (folder / "building.toml").write_text('name = "Elm"\n')
    take_in(engine, folder, "elm", "Elm")
    yield OfficePeople(engine)
    engine.dispose()


def another(people):
    """The same store as a second program has it."""
    return OfficePeople(people._engine) if isinstance(people, OfficePeople) else FolderPeople(people._folder)


def test_somebody_is_kept_changed_and_taken_out(people):
    first = a_person("T1", PHRASE, ("technician",))
    assert people.keep(first)
    assert not people.keep(a_person("T1", PHRASE, ("manager", "technician"), sees_units=True))
    found = another(people).everyone()["T1"]
    assert set(found.roles) == {"manager", "technician"}
    assert found.sees_units
    people.take_out("T1")
    assert another(people).everyone() == {}
    with pytest.raises(SettingsError, match="there is no T1; choose among: nobody"):
        people.take_out("T1")


def test_a_sign_in_lasts_until_it_is_ended_from_wherever(people):
    people.keep(a_person("T1", PHRASE))
    here, there = people.sign_in("T1"), people.sign_in("T1")
    assert here != there
    assert another(people).signed_in(here).code == "T1"
    another(people).sign_out(here)
    assert people.signed_in(here) is None
    assert people.signed_in(there) is not None
    another(people).end_all("T1")
    assert people.signed_in(there) is None
    assert people.signed_in("never given") is None
    assert people.signed_in("") is None


@pytest.mark.parametrize("change", ["phrase", "taken out"])
def test_a_new_pass_phrase_and_taking_out_end_every_sign_in(people, change):
    person = a_person("T1", PHRASE)
    people.keep(person)
    token = people.sign_in("T1")
    people.keep(person)
    assert people.signed_in(token) is not None, "the same hash: only what they are was kept anew"
    if change == "phrase":
        people.keep(a_person("T1", "nine kettles by a door"))
    else:
        people.take_out("T1")
        people.keep(a_person("T1", PHRASE))
    assert people.signed_in(token) is None


def test_a_sign_in_ends_by_itself(people, monkeypatch):
    people.keep(a_person("T1", PHRASE))
    for module in ("spread.people.folder", "spread.office.people"):
        monkeypatch.setattr(f"{module}.LASTS", dt.timedelta(seconds=-1))
    assert people.signed_in(people.sign_in("T1")) is None
    assert dt.timedelta(hours=12) == kept.LASTS


def test_what_is_kept_of_a_token_cannot_be_used_as_one(people, tmp_path):
    people.keep(a_person("T1", PHRASE))
    token = people.sign_in("T1")
    assert people.signed_in(kept.digest(token)) is None
    if isinstance(people, FolderPeople):
        assert token not in (tmp_path / "sign-ins.json").read_text()
    else:
        with people._engine.connect() as connection:
            assert token not in str(connection.execute(text("SELECT * FROM sign_in")).all())


def test_what_was_done_is_noted_newest_first_and_cannot_be_changed(people):
    people.keep(a_person("T1", PHRASE), by="A1")
    people.note("T1", "sign-in")
    people.note("T1", "export", "elm", "log")
    deeds = people.deeds()
    assert [(one.who, one.what, one.building, one.detail) for one in deeds] == [
        ("T1", "export", "elm", "log"), ("T1", "sign-in", "", ""), ("A1", "person kept", "", "T1: manager"),
    ]  # fmt: skip
    assert all(one.when.tzinfo is not None for one in deeds)
    assert abs(dt.datetime.now(dt.UTC) - deeds[0].when) < dt.timedelta(minutes=5)
    assert len(people.deeds(2)) == 2
    if isinstance(people, OfficePeople):
        for words in ("UPDATE audit SET who = 'X'", "DELETE FROM audit"):
            with pytest.raises(DBAPIError, match="append-only"), people._engine.begin() as connection:
                connection.execute(text(words))


def test_everything_noted_is_a_word_of_the_list(people):
    people.keep(a_person("T1", PHRASE))
    people.end_all("T1")
    people.take_out("T1")
    assert {one.what for one in people.deeds()} <= set(kept.WHAT)


def test_an_office_knows_for_which_buildings_somebody_works(people):
    if isinstance(people, FolderPeople):
        people.keep(a_person("T1", PHRASE, buildings=("elm",)))
        assert people.everyone()["T1"].buildings == (), "a folder has one building"
        return
    people.keep(a_person("T1", PHRASE, buildings=("elm",)))
    assert people.everyone()["T1"].buildings == ("elm",)
    with pytest.raises(SettingsError, match="there is no building 'oak'; the office has elm"):
        people.keep(a_person("T2", PHRASE, buildings=("oak",)))
    assert set(people.everyone()) == {"T1"}, "nothing half written"
    with pytest.raises(DBAPIError), people._engine.begin() as connection:
        connection.execute(text("INSERT INTO person_role (code, role) VALUES ('T1', 'chief')"))


def test_many_who_sign_in_at_once_are_all_signed_in(people):
    people.keep(a_person("T1", PHRASE))
    tokens = []
    threads = [threading.Thread(target=lambda: tokens.append(people.sign_in("T1"))) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(tokens)) == 12
    assert all(people.signed_in(token) for token in tokens)


def test_a_people_file_of_an_earlier_version_lets_everybody_do_what_they_could(tmp_path):
    from werkzeug.security import generate_password_hash

    from spread.people.phrases import is_right

    path = tmp_path / "people.json"
    old = {"hash": generate_password_hash(PHRASE, "scrypt:1024:8:1"), "since": "2026-01-02"}
    path.write_text(json.dumps({"key": "ab" * 32, "people": {"T1": old}}))
    path.chmod(0o600)
    person = FolderPeople(tmp_path).everyone()["T1"]
    assert set(person.roles) == {"manager", "administrator"}
    assert is_right(person, PHRASE)
    assert not is_right(person, PHRASE + "x")
