"""Phones of one building: whose door is whose, doors answered twice, which building, and whose day."""

from __future__ import annotations

import datetime as dt
import json
import shutil
import threading
from dataclasses import replace

import pytest
from buildings import ON, SHORT, clear, find, make_building, row
from databases import cluster
from flask import g, request

from dashboard import create_app
from dashboard.plan.callbacks import keep_answer
from dashboard.round.addresses import building_key
from dashboard.round.claims import FILE, FRESH, LASTS, MOST, Claims
from spread.building import load_building
from spread.decisions.round.twice import answered_twice
from spread.errors import RecordError
from spread.office.buildings import give_out, take_in
from spread.office.connecting import open_office
from spread.office.rows import OfficeStore
from spread.people.roles import Person
from spread.records.by_hand import file_of
from spread.records.identity import identity_of
from spread.records.log import Log
from spread.records.store import FolderStore
from spread.session import Session
from spread.words import ENGLISH, Voice, say

FILE_OF_MOVES = file_of("records.csv")


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = make_building(tmp_path_factory.mktemp("together") / "maple", [find("101", 30), clear("206", 9)])
    return folder, Session.open(folder, on=ON, settings=SHORT)


@pytest.fixture
def session(fitted, tmp_path):
    folder, first = fitted
    own = tmp_path / "maple"
    shutil.copytree(folder, own)
    session = Session(load_building(own), first.view.posterior, first.fit_settings)
    yield session
    session.wait()


class Phone:
    """A phone of somebody: what its scripts send, by its own name and under a work code."""

    def __init__(self, session, who):
        app = create_app(session)
        app.server.before_request(self.sign_in)
        self.client, self.who, self.session = app.server.test_client(), who, session
        self.holds, self.count = [], 0

    def sign_in(self):
        g.person = Person(request.headers.get("X-Who", ""), "", "")

    def send(self, path, **body):
        key = self.client.post(path, json={"building": ""}, headers={"X-Who": self.who}).get_json()[
            "building"
        ]["key"]
        reply = self.client.post(path, json={"building": key, **body}, headers={"X-Who": self.who})
        assert reply.status_code == 200, reply.text
        return reply.get_json()

    def answer(self, unit, what="clear", method="brief-visual", **more):
        self.count += 1
        id_ = f"{self.who}-00000000-{self.count:04d}"
        body = {"id": id_, "unit": unit, "answer": what, "method": method, **more}
        told = self.send("/round/answers", answers=[body])["replies"][0]
        assert told["ok"], told
        return id_

    def now(self):
        told = self.send("/round/now", phone=f"phone of {self.who}", holds=self.holds)
        self.holds = told["holds"]
        return told

    def doors(self):
        want = {"phone": f"phone of {self.who}", "holds": self.holds}
        told = self.send("/round/answers", answers=[], want=want)
        return [door["unit"] for door in told["round"]["doors"]], told["round"]


@pytest.fixture
def phones(session):
    """Two people at one server: its claims are of the server, so one app serves both."""
    first = Phone(session, "T1")
    second = Phone.__new__(Phone)
    second.__dict__.update(first.__dict__, who="T2", holds=[], count=0)
    return first, second


# -- doors taken

UNITS = ("101", "102", "103")


@pytest.fixture(scope="module")
def databases():
    with cluster() as made:
        yield made


def claims_in(folder, **more):
    return Claims(FolderStore(folder / "records.csv", UNITS), **more)


def test_a_door_is_the_first_ones_and_is_given_back(tmp_path):
    claims = claims_in(tmp_path)
    assert claims.hold("a", "T1", ["101", "102", "101"]) == ("101", "102")
    assert claims.hold("b", "T2", ["102", "103"]) == ("103",)
    assert claims.of_others("b", "T2") == {"101": "T1", "102": "T1"}
    assert claims.of_others("a", "T1") == {"103": "T2"}
    assert claims.hold("a", "T1", ["101"]) == ("101",)
    assert claims.hold("b", "T2", ["102", "103"]) == ("102", "103"), "102 was given back"


def test_a_claim_ends_by_itself_and_is_kept_up_by_its_phone(tmp_path):
    clock = [1e9]
    claims = claims_in(tmp_path, now=lambda: clock[0])
    claims.hold("a", "T1", ["101"])
    clock[0] += LASTS - 1
    assert claims.hold("b", "T2", ["101"]) == ()
    claims.hold("a", "T1", ["101"])
    clock[0] += LASTS - 1
    assert claims.hold("b", "T2", ["101"]) == (), "the phone has spoken since"
    clock[0] += 2
    assert claims.hold("b", "T2", ["101"]) == ("101",)
    assert claims.hold("a", "T1", ["101"]) == (), "and the first phone learns of it"


def test_another_person_on_the_same_phone_does_not_hold_the_first_ones_doors(tmp_path):
    claims = claims_in(tmp_path)
    claims.hold("a", "T1", ["101"])
    assert claims.of_others("a", "T2") == {"101": "T1"}


@pytest.fixture(params=("folder", "sqlite", "postgresql"))
def opened(request, tmp_path, fitted):
    """Opens the store of one building anew, as a server does that starts, for every kind of store."""
    if request.param == "folder":
        return lambda: FolderStore(tmp_path / "records.csv", UNITS)
    office = str(tmp_path / "office.db")
    if request.param == "postgresql":
        office = request.getfixturevalue("databases").new()
    take_in(open_office(office, make=True), fitted[0], "maple", "Maple")
    return lambda: OfficeStore(open_office(office), "maple", UNITS)


def test_claims_outlive_the_server_and_spoilt_ones_are_no_harm(opened):
    Claims(opened()).hold("a", "T1", ["101"])
    assert Claims(opened()).of_others("b", "T2") == {"101": "T1"}
    Claims(opened()).hold("a", "T1", [])
    assert Claims(opened()).of_others("b", "T2") == {}, "what was given back stays so"
    for spoilt in (
        "",
        "[]",
        "{",
        '{"101": 3}',
        '{"101": {"phone": "a", "code": "T1", "until": "soon"}}',
        "[" * 99999,
    ):
        opened().keep_beside(FILE, spoilt)
        assert Claims(opened()).of_others("b", "T2") == {}
    opened().keep_beside(FILE, json.dumps({"101": {"phone": "a", "code": "T1", "until": 1e300}}))
    claims = Claims(opened(), now=lambda: dt.datetime.now().timestamp() + LASTS + 60)
    assert claims.of_others("b", "T2") == {}, "none lasts for ever, whatever it says"


def test_two_servers_on_one_store_see_each_others_claims_while_they_run(opened, monkeypatch):
    """Both were started before either claim, as two servers of one office are."""
    clock = [100.0]
    monkeypatch.setattr("dashboard.round.claims.time.monotonic", lambda: clock[0])
    one, two = Claims(opened()), Claims(opened())
    assert one.of_others("a", "T1") == two.of_others("b", "T2") == {}
    assert one.hold("a", "T1", ["101", "102"]) == ("101", "102")
    assert two.hold("b", "T2", ["102", "103"]) == ("103",), "whoever takes a door reads first"
    clock[0] += FRESH
    assert one.of_others("a", "T1") == {"103": "T2"}, "seen within two seconds"
    assert (one.other_phones("a", "T1"), FRESH) == (1, 2.0)
    one.hold("a", "T1", ["101"])
    clock[0] += FRESH
    assert two.of_others("b", "T2") == {"101": "T1"}, "and what is given back too"
    assert two.hold("b", "T2", ["102", "103"]) == ("102", "103")
    assert one.hold("a", "T1", ["101", "102"]) == ("101",)


def test_claims_that_cannot_be_read_or_written_this_moment_are_not_lost(tmp_path, monkeypatch):
    claims = claims_in(tmp_path)
    claims.hold("a", "T1", ["101"])

    def fails(*_):
        raise RecordError.at("records.csv.claims", "", "it is busy", "try again")

    monkeypatch.setattr(FolderStore, "beside", fails)
    assert claims.hold("b", "T2", ["101", "102"]) == ("102",)
    monkeypatch.undo()
    monkeypatch.setattr(FolderStore, "keep_beside", fails)
    assert claims.hold("c", "T3", ["101", "102", "103"]) == ("103",), "nothing could be written"
    assert claims.of_others("a", "T1") == {"102": "T2", "103": "T3"}


def test_a_door_moved_by_hand_is_kept_with_the_building_and_seen_by_its_other_servers(opened, session):
    def served():
        return Session(
            replace(session.building, store=opened()), session.view.posterior, session.fit_settings
        )

    one, two, soon = served(), served(), ON + dt.timedelta(days=3)
    one.move("101", soon)
    two.move("102", ON)
    assert one.moved == two.moved == served().moved == {"101": soon, "102": ON}
    one.building.store.keep_beside(FILE_OF_MOVES, json.dumps({"101": "2001-01-01", "103": str(soon)}))
    assert two.moved == {"103": soon}, "a day that has gone by holds nothing"
    two.move("103", None)
    assert one.moved == {}
    for spoilt in ("{", "[]", '{"101": 5}', "[" * 99999):
        one.building.store.keep_beside(FILE_OF_MOVES, spoilt)
        assert one.moved == {}, "left to the plan"
    one.move("104", soon)
    assert two.moved == {"104": soon}


def test_a_move_that_cannot_be_kept_is_refused_and_changes_nothing(session, monkeypatch):
    def fails(*_):
        raise RecordError.at("records.csv.moves", "", "it is busy", "try again")

    session.move("101", ON)
    for name in ("keep_beside", "beside"):
        with monkeypatch.context() as patch:
            patch.setattr(FolderStore, name, fails)
            with pytest.raises(RecordError):
                session.move("102", ON)
    assert session.moved == {"101": ON}


def test_keeping_a_claim_swallows_no_row_of_another_program(opened):
    store, other = opened(), opened()
    store.refresh()
    other.append(row("101", 0, "report", "", "yes"))
    store.keep_beside(FILE, "{}")
    assert store.refresh(), "what others did is still to be taken in"
    assert len(store.log.rows) == len(other.log.rows)


def test_claims_in_an_office_are_not_given_out_with_the_building(fitted, tmp_path):
    engine = open_office(str(tmp_path / "office.db"), make=True)
    take_in(engine, fitted[0], "maple", "Maple")
    Claims(OfficeStore(engine, "maple", UNITS)).hold("a", "T1", ["101"])
    out = tmp_path / "out"
    out.mkdir()
    give_out(engine, "maple", out)
    assert "building.toml" in {path.name for path in out.iterdir()}
    assert not list(out.glob("*.claims"))


def test_one_phone_cannot_take_the_whole_house(tmp_path):
    claims = claims_in(tmp_path)
    assert len(claims.hold("a", "T1", [str(i) for i in range(MOST + 5)])) == MOST


def test_of_phones_that_take_one_door_at_once_one_gets_it(tmp_path):
    claims, got, start = claims_in(tmp_path), [], threading.Barrier(12)

    def take(n):
        start.wait()
        if claims.hold(f"p{n}", f"T{n}", ["101"]):
            got.append(n)

    threads = [threading.Thread(target=take, args=(n,)) for n in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(got) == 1


def test_two_phones_are_not_sent_to_one_door(phones):
    first, second = phones
    mine = first.doors()[0][:3]
    first.holds = mine
    assert first.now()["holds"] == mine
    others, _ = second.doors()
    assert not set(others) & set(mine)
    told = second.now()
    assert told["taken"] == dict.fromkeys(mine, "T1")
    own, plan = first.doors()
    assert set(own[:3]) == set(mine), "its own doors come first"
    assert plan["planned"] == 3, "and are what is planned"
    assert all(door["beyond"] for door in plan["doors"][3:])
    second.holds = mine[:1]
    assert second.now()["holds"] == [], "what is taken is not granted"
    first.holds = []
    first.now()
    second.holds = mine[:1]
    assert second.now()["holds"] == mine[:1], "what was given back is"


def test_a_team_splits_the_round_and_every_door_is_in_one_part(phones):
    first, second = phones

    def part(phone, of=2):
        want = {"phone": f"phone of {phone.who}", "holds": phone.holds, "split": of, "minutes": 480}
        told = phone.send("/round/answers", answers=[], want=want)
        phone.holds = told["now"]["holds"]
        return told

    alone = first.send("/round/answers", answers=[], want={"minutes": 480})["round"]
    whole = [door["unit"] for door in alone["doors"][: alone["planned"]]]
    mine = part(first)["now"]["part"]
    told = part(second)
    theirs = told["now"]["part"]
    assert mine
    assert theirs
    assert not set(mine) & set(theirs), "no door is in two parts"
    assert set(mine) | set(theirs) == set(whole), "and none is left out"
    assert abs(len(mine) - len(theirs)) <= 2, "nobody has all of them"
    assert set(told["now"]["taken"]) == set(mine)
    own = told["round"]
    assert {door["unit"] for door in own["doors"][: own["planned"]]} == set(theirs)
    assert first.now()["holds"] == mine
    third = Phone.__new__(Phone)
    third.__dict__.update(first.__dict__, who="T3", holds=[])
    assert part(third)["now"]["part"] == [], "nothing is left for another part"
    for odd in (1, 13, "2", None, [], True, 2.0, -1):
        assert "part" not in part(third, odd)["now"], "no crew of that size"


def test_a_claim_stops_nobody_from_answering_and_is_no_row(phones, session):
    first, second = phones
    before = len(session.view.log)
    first.holds = ["103"]
    first.now()
    second.answer("103")
    assert len(session.view.log) == before + 1


def test_what_is_held_is_a_unit_of_the_plan_however_odd_the_request(phones):
    first, _ = phones
    told = first.send("/round/now", phone="p", holds=["101", 7, None, "zzz", ["101"], {"a": 1}])
    assert told["holds"] == ["101"]
    for odd in (None, 3, {}, ["x"], "", "x" * 500):
        assert first.send("/round/now", phone=odd, holds="101")["holds"] == []


# -- answers of others


def test_each_phone_sees_what_the_other_answered_and_by_whom(phones):
    first, second = phones
    assert second.now()["answered"] == {}
    first.answer("103")
    told = second.now()["answered"]["103"]["words"]
    assert told.startswith("T1:")
    assert "nothing found" in told
    assert "103" not in second.doors()[0]


def test_two_answers_to_one_door_are_both_kept_and_named_on_both_phones_and_on_the_desk(phones, session):
    first, second = phones
    first.answer("103")
    second.answer("103", "found", level="heavy")
    kept = [r for r in session.view.log.of("103") if r.when == ON]
    assert [r.found for r in kept] == ["no", "yes"]
    for phone in phones:
        (told,) = phone.now()["twice"]
        assert told["differ"]
        assert "103 has different answers" in told["words"]
        assert "T1:" in told["words"]
        assert "T2:" in told["words"]
    desk = first.client.get("/guard/now").get_json()["twice"]
    assert desk == [told["words"]]
    third = Phone.__new__(Phone)
    third.__dict__.update(first.__dict__, who="T9")
    assert third.now()["twice"] == [], "who was not there is not asked"


def test_an_answer_given_without_a_connection_after_anothers_is_named_though_it_says_the_same(phones):
    first, second = phones
    first.answer("103")
    second.answer("103", when=ON.isoformat())
    (told,) = second.now()["twice"]
    assert not told["differ"]
    assert "answered more than once" in told["words"]
    assert "take one of them back" in told["words"]


def test_a_conflict_ends_when_one_answer_is_taken_back(phones):
    first, second = phones
    first.answer("103")
    wrong = second.answer("103", "found", level="low")
    second.answer("103", "undo", undoes=wrong)
    assert first.now()["twice"] == second.now()["twice"] == []


def test_the_voice_of_the_phone_names_it(phones):
    first, second = phones
    first.answer("103")
    second.answer("103", "nobody")
    key = building_key(first.session)
    reply = first.client.post(
        "/round/now", json={"building": key, "phone": "p"}, headers={"Accept-Language": "es"}
    ).get_json()
    assert reply["twice"][0]["words"] == say(answered_twice(first.session.view.log, ON)[0], Voice("es"))
    assert "103" in reply["twice"][0]["words"]


def test_a_phone_learns_what_the_log_has_lost_and_of_rows_of_other_programs(phones, session):
    first, _ = phones
    assert first.now()["trouble"] == []
    path = session.building.folder / "records.csv"
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join(lines[:-1]))
    assert "lacks 1 row that was known" in first.now()["trouble"][0]
    day = ON.isoformat()
    path.write_text("".join([*lines, f"elsewhere,{day},104,inspection,brief-visual,no,,,,,T7,,\n"]))
    told = first.now()
    assert told["trouble"] == []
    assert told["answered"]["104"]["words"].startswith("T7:")


def twice(*rows, on=ON):
    return [(fact.unit, fact.differ) for fact in answered_twice(Log(rows), on)]


def test_what_counts_as_answered_twice():
    a, b = clear("101", 0, id="a", by="T1"), find("101", 0, id="b", by="T2")
    assert twice(a, b) == [("101", True)]
    assert twice(a, clear("101", 0, id="c", by="T2")) == [("101", False)]
    assert twice(a, find("101", 0, id="b", by="T1")) == [], "one person's closer look is no conflict"
    assert twice(a, find("102", 0, id="b", by="T2")) == []
    assert twice(a, find("101", 1, id="b", by="T2")) == [], "another day is another answer"
    assert twice(a, row("101", 0, "treatment", "combined", id="b", by="T2")) == []
    assert twice(a, find("101", 0, id="b", by="T2", supersedes="a")) == [], "a correction is none"
    assert twice(clear("101", 0, id="a"), find("101", 0, id="b")) == [("101", True)], "nobody signed"
    assert twice(clear("101", 0, id="a"), clear("101", 0, id="b")) == []
    assert twice(clear("101", 8, id="a", by="T1"), find("101", 8, id="b", by="T2")) == [], (
        "a week, not for ever"
    )
    assert twice(clear("101", 7, id="a", by="T1"), find("101", 7, id="b", by="T2")) == [("101", True)]


def test_a_conflict_clears_nobody():
    (fact,) = answered_twice(Log((clear("101", 0, id="a", by="T1"), clear("101", 0, id="b", by="T2"))), ON)
    for voice in (ENGLISH, Voice("es")):
        assert "clear" not in say(fact, voice).lower().replace("clear look", "")
        assert "libre" not in say(fact, voice).lower()


# -- which building


def test_a_copied_folder_is_another_building_and_a_moved_one_is_the_same(tmp_path):
    folder = tmp_path / "maple"
    folder.mkdir()
    first = identity_of(folder / "records.csv")
    assert identity_of(folder / "records.csv") == first
    copy = tmp_path / "copy"
    shutil.copytree(folder, copy)
    second = identity_of(copy / "records.csv")
    assert second != first
    assert identity_of(copy / "records.csv") == second, "it has an id of its own from now on"
    moved = tmp_path / "moved"
    folder.rename(moved)
    assert identity_of(moved / "records.csv") == first
    copy.rename(folder)
    assert identity_of(folder / "records.csv") == second, "also at the place where the first one stood"


def test_a_copy_put_in_the_place_of_a_building_that_moved_is_not_taken_for_it(tmp_path):
    folder = tmp_path / "maple"
    folder.mkdir()
    first = identity_of(folder / "records.csv")
    folder.rename(tmp_path / "moved")
    shutil.copytree(tmp_path / "moved", folder)
    assert identity_of(folder / "records.csv") != first
    assert identity_of(tmp_path / "moved" / "records.csv") == first


@pytest.mark.parametrize("spoilt", ["", "{", "[]", '{"id": 3}', '{"id": "x", "place": 1}', "\x00"])
def test_a_spoilt_id_is_made_anew_and_then_stays(tmp_path, spoilt):
    path = tmp_path / "records.csv"
    (tmp_path / "records.csv.id").write_text(spoilt)
    made = identity_of(path)
    assert len(made) == 32
    assert identity_of(path) == made


def test_without_a_lock_the_id_follows_from_the_place(tmp_path, monkeypatch):
    def refuse(*_):
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr("spread.records.disk.hold", refuse)
    first = identity_of(tmp_path / "records.csv")
    assert identity_of(tmp_path / "records.csv") == first
    (tmp_path / "other").mkdir()
    assert identity_of(tmp_path / "other" / "records.csv") != first


def test_two_buildings_of_one_name_never_share_a_key(session, fitted, tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(session.building.folder, copy)
    keys = {building_key(session)}
    other = Session(load_building(copy), fitted[1].view.posterior, fitted[1].fit_settings)
    keys.add(building_key(other))
    assert other.plan.name == session.plan.name
    assert len(keys) == 2
    again = Session(load_building(copy), fitted[1].view.posterior, fitted[1].fit_settings)
    assert building_key(again) in keys, "the next start of a server knows its phones"


def test_answers_that_waited_for_a_building_are_not_taken_by_its_copy(session, fitted, tmp_path):
    key = building_key(session)
    copy = tmp_path / "copy"
    shutil.copytree(session.building.folder, copy)
    other = Session(load_building(copy), fitted[1].view.posterior, fitted[1].fit_settings)
    body = {"id": "00000000-0000-4000", "unit": "101", "answer": "clear", "method": "brief-visual"}
    reply = (
        create_app(other)
        .server.test_client()
        .post("/round/answers", json={"building": key, "answers": [body]})
    )
    assert reply.status_code == 409
    assert body["id"] not in other.view.log.by_id


# -- whose day

LATER = ON + dt.timedelta(days=1)
WAYS = {
    "door": {"answer": "clear", "method": "brief-visual"},
    "found": {"answer": "found", "method": "thorough-visual", "level": "low"},
    "nobody": {"answer": "nobody"},
    "room": {"answer": "room", "level": "nothing", "items": [{"item": "headboard", "evidence": []}]},
    "treated": {"answer": "treated", "method": "combined"},
    "traps": {"answer": "traps", "method": "interceptors", "caught": 3},
    "set": {"answer": "traps-set", "places": ["bed 1 leg 1", "bed 1 leg 2"]},
}  # fmt: skip


@pytest.mark.parametrize("away", [1, 30, -1, -30])
@pytest.mark.parametrize("way", WAYS)
def test_an_answer_for_another_day_moves_the_servers_day_in_no_way(phones, session, way, away):
    phone, _ = phones
    when = ON + dt.timedelta(days=away)
    more = {key: value for key, value in WAYS[way].items() if key != "answer"}
    id_ = phone.answer("103", WAYS[way]["answer"], **more, when=when.isoformat())
    session.wait()
    assert session.view.log.by_id[id_].when == when, "the row says its own day"
    assert (session.on, session.today) == (ON, ON)
    assert phone.now()["day"] == ON.isoformat()
    other = phone.answer("104")
    assert session.view.log.by_id[other].when == ON, "the next answer is for the server's day"


def test_an_answer_of_the_desk_for_a_later_day_moves_it_neither(session):
    answer = {"id": "00000000-0000-4000", "unit": "103", "answer": "clear", "method": "brief-visual",
              "day": LATER.isoformat()}  # fmt: skip
    reply, *_ = keep_answer(session, answer)
    session.wait()
    assert reply["ok"]
    assert "counts from then on" in reply["words"]
    assert session.on == ON
