"""A building opened for work: what recording a door keeps, moves and refits.

Fits are short (two chains of 100 sweeps): they hold directions, not decimals.
"""

import datetime as dt
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
from buildings import CODES, ON, SHORT, clear, day, find, make_building, open_building, row, treatment

from spread import session as session_module
from spread.building import load_building
from spread.errors import RecordError, SpreadError
from spread.records import append_record, read_log
from spread.records.log import Log
from spread.words import ENGLISH, say

WAIT = 30  # seconds that a refit may take on a machine under load


@pytest.fixture
def folder(tmp_path):
    return make_building(tmp_path / "maple-row", [clear("101", 60), clear("203", 45)])


@pytest.fixture
def maple(folder):
    return open_building(folder)


def rows_on_disk(session):
    return read_log(session.building.folder / "records.csv", session.plan.units).rows


def answer(unit, found, **more):
    fields = {"unit": unit, "kind": "inspection", "method": "brief-visual", "found": found}
    return fields | {name: str(value) for name, value in more.items()}


def test_an_open_building_answers_for_its_day(maple):
    assert maple.on == ON
    assert maple.method == "brief-visual"
    assert set(maple.chances()) == set(CODES)
    assert next(d.unit for d in maple.doors() if d.status == "look") in CODES
    assert maple.why("101").unit == "101"
    assert not maple.busy


def test_a_session_of_a_given_day_stays_there_and_a_live_one_moves_on_overnight(folder, monkeypatch):
    assert open_building(folder).today == ON
    live = session_module.Session.open(folder, settings=SHORT)
    opened = live.on
    assert live.live
    assert opened <= live.today

    class Tomorrow(dt.date):
        @classmethod
        def today(cls):
            return opened + dt.timedelta(days=1)

    monkeypatch.setattr(session_module.dt, "date", Tomorrow)
    assert live.today == opened + dt.timedelta(days=1)
    told = live.record({"unit": "101", "kind": "no-access"})
    assert told.record.when == opened + dt.timedelta(days=1)
    live.wait()


def test_an_answer_dated_ahead_moves_no_day_of_a_live_session_and_counts_when_its_day_comes(
    folder, monkeypatch
):
    live = session_module.Session.open(folder, settings=SHORT)
    opened, before = live.on, live.chances()["103"]
    ahead = opened + dt.timedelta(days=1)
    told = live.record(answer("103", "yes", level="heavy", evidence="live", when=ahead))
    assert told.new
    assert "counts from then on" in say(told.told, ENGLISH)
    assert (live.on, live.today) == (opened, opened)
    assert live.chances()["103"] == before
    assert told.record in live.view.log.rows, "it is on record all the same"

    class Tomorrow(dt.date):
        @classmethod
        def today(cls):
            return ahead

    monkeypatch.setattr(session_module.dt, "date", Tomorrow)
    live.record({"unit": "101", "kind": "no-access"})
    live.wait()
    assert live.on == ahead
    assert live.chances()["103"] > 0.8


def test_the_same_seed_gives_the_same_answer_and_another_seed_another(folder):
    assert open_building(folder, seed=3).chances() == open_building(folder, seed=3).chances()
    assert open_building(folder, seed=3).chances() != open_building(folder, seed=4).chances()


def test_a_recorded_row_is_on_the_disk_and_in_the_log(maple):
    told = maple.record(answer("103", "yes", level="moderate", evidence="live", id="abc"))
    assert told.new
    assert told.record in rows_on_disk(maple)
    assert len(rows_on_disk(maple)) == 3
    assert told.record in maple.view.log.rows
    assert told.record.when == ON
    assert maple.why("103").history[0] == told.record
    maple.wait()


def test_a_find_raises_the_unit_and_its_wall_neighbour(tmp_path):
    alerts = [row("103", ago, method="dog", found="yes", evidence="alert") for ago in (50, 40)]
    longer = replace(SHORT, sweeps=1000, most_sweeps=1000)
    maple = open_building(make_building(tmp_path / "alerts", alerts), settings=longer)
    before, version = maple.chances(), maple.version
    assert 0.1 < before["103"] < 0.9, "suspected, so that enough draws hold what is about to be found"
    told = maple.record(answer("103", "yes", level="heavy", evidence="live"))
    after = maple.chances()
    assert after["103"] > 0.95
    assert after["101"] > before["101"]
    assert maple.version > version
    told_before, told_now = ENGLISH.percent(before["103"]), ENGLISH.percent(after["103"])
    assert say(told.told, ENGLISH).startswith(f"Recorded. 103: {told_before} before, {told_now} now.")
    assert "Moved most: " in say(told.told, ENGLISH)
    assert maple.why("103").status == "treat"
    maple.wait()


def test_a_find_that_nobody_expected_wears_out_the_draws_and_is_fitted_again(maple):
    before = maple.chances()
    told = maple.record(answer("103", "yes", level="heavy", evidence="live"))
    assert maple.chances()["103"] > max(0.8, before["103"])
    assert "fitted again" in say(told.told, ENGLISH)
    maple.wait()
    assert maple.chances()["103"] > 0.8
    assert maple.chances()["101"] > before["101"]
    assert maple.view.posterior.effective_share == pytest.approx(1.0)


def test_a_clear_look_lowers_the_unit(folder):
    append_record(folder / "records.csv", find("103", 10, "heavy", evidence="live"), CODES)
    maple = open_building(folder)
    before = maple.chances()
    maple.record(answer("101", "no"))
    assert maple.chances()["101"] < before["101"]
    assert maple.chances()["103"] > 0.8
    assert maple.doors()[-1].status == "treat"
    maple.wait()


def test_a_treatment_lowers_the_unit_and_asks_for_a_visit(folder):
    append_record(folder / "records.csv", find("103", 3, "moderate", evidence="live"), CODES)
    maple = open_building(folder)
    before = maple.chances()["103"]
    maple.record({"unit": "103", "kind": "treatment", "method": "whole-room-heat"})
    assert maple.chances()["103"] < before
    assert maple.why("103").status == "revisit"
    maple.wait()


def test_a_shut_door_moves_no_chance_but_waits_at_the_end(maple):
    before, first = maple.chances(), maple.doors()[0].unit
    maple.record({"unit": first, "kind": "no-access", "method": "nobody-home"})
    assert maple.chances() == pytest.approx(before, abs=1e-9)
    assert [d.unit for d in maple.doors() if d.status == "look"][-1] == first


def test_the_same_id_twice_is_one_row_and_moves_nothing(maple):
    fields = answer("103", "yes", level="low", id="tap-1")
    assert maple.record(fields).new
    maple.wait()
    chances, version = maple.chances(), maple.version
    again = maple.record(fields)
    assert not again.new
    assert say(again.told, ENGLISH) == "This answer was already recorded."
    assert (maple.chances(), maple.version) == (chances, version)
    assert len(rows_on_disk(maple)) == 3


def test_the_same_id_with_other_words_is_refused(maple):
    maple.record(answer("103", "no", id="tap-1"))
    with pytest.raises(RecordError, match="'tap-1' is taken"):
        maple.record(answer("104", "no", id="tap-1"))
    assert len(rows_on_disk(maple)) == 3


def test_a_bad_row_keeps_nothing_and_names_every_problem(maple):
    chances, version = maple.chances(), maple.version
    before = (maple.building.folder / "records.csv").read_bytes()
    bad = {"unit": "999", "kind": "inspection", "method": "sniff", "found": "perhaps", "when": "15.5.2024"}
    with pytest.raises(RecordError) as caught:
        maple.record(bad | {"colour": "red"})
    fields = {problem.where.rsplit("'", 2)[1] for problem in caught.value.problems}
    assert fields == {"unit", "method", "found", "when", "colour"}
    assert all(problem.file == "records.csv" for problem in caught.value.problems)
    assert (maple.building.folder / "records.csv").read_bytes() == before
    assert (maple.chances(), maple.version) == (chances, version)


def test_a_row_from_the_future_is_refused_as_a_slip(maple):
    with pytest.raises(RecordError, match="still to come"):
        maple.record(answer("103", "no", when="2099-05-15"))
    assert len(rows_on_disk(maple)) == 2


def test_a_later_day_moves_the_day_of_the_answers_on(maple):
    later = ON + dt.timedelta(days=1)
    maple.record(answer("103", "no", when=later))
    assert maple.on == later
    assert maple.record(answer("104", "no")).record.when == later, "and is the day of the next answer"


def test_a_new_week_is_fitted_again_and_moves_the_window(maple):
    first = maple.view.posterior.first_week
    maple.record(answer("103", "no", when=ON + dt.timedelta(days=14)))
    maple.wait()
    assert maple.on == ON + dt.timedelta(days=14)
    assert maple.view.posterior.first_week == first + 2
    assert not maple.view.posterior.late


def test_a_late_row_is_taken_in_by_a_refit(maple):
    before = maple.chances()["103"]
    maple.record(answer("103", "yes", level="heavy", evidence="live", when=day(20)))
    assert maple.on == ON
    maple.wait()
    assert maple.chances()["103"] > max(0.5, before)
    assert not maple.view.posterior.late


def test_a_withdrawn_find_lets_the_chance_fall_again(maple):
    maple.record(answer("103", "yes", level="heavy", evidence="live", id="slip"))
    maple.wait()
    high = maple.chances()["103"]
    maple.record({"unit": "103", "kind": "note", "note": "wrong door", "supersedes": "slip"})
    maple.wait()
    assert maple.chances()["103"] < 0.5 * high
    assert maple.why("103").status == "look"
    assert len(rows_on_disk(maple)) == 4, "a correction deletes nothing"


def test_a_move_out_is_taken_in_and_clears_nothing(folder):
    append_record(folder / "records.csv", find("103", 3, "heavy", evidence="live"), CODES)
    maple = open_building(folder)
    maple.record({"unit": "103", "kind": "turnover", "method": "moved-out"})
    maple.wait()
    assert maple.view.standings["103"].vacant
    assert maple.chances()["103"] > 0.8
    assert maple.why("103").status == "treat"


def test_a_row_that_another_program_added_is_fitted_too(maple):
    path = maple.building.folder / "records.csv"
    append_record(path, find("206", 2, "heavy", evidence="live"), CODES)
    assert maple.chances()["206"] < 0.5, "nothing has been read yet"
    maple.record(answer("101", "no"))
    assert maple.why("206").status == "treat"
    maple.wait()
    assert maple.chances()["206"] > 0.8


def test_rows_that_were_still_to_come_are_fitted_when_the_day_moves_on(tmp_path):
    folder = make_building(tmp_path / "ahead", [clear("101", 60), find("206", 1, "heavy", evidence="live")])
    maple = open_building(folder, on=day(2))
    assert maple.chances()["206"] < 0.5
    assert maple.why("206").status == "look"
    maple.record(answer("101", "no", when=ON))
    maple.wait()
    assert maple.why("206").status == "treat"
    assert maple.chances()["206"] > 0.8


def test_ten_threads_recording_at_once_leave_ten_rows_and_one_state(maple):
    fields = [answer(unit, "no", id=f"tap-{unit}") for unit in CODES[:10]]
    with ThreadPoolExecutor(10) as pool:
        answers = list(pool.map(maple.record, fields))
    assert all(a.new for a in answers)
    rows = rows_on_disk(maple)
    assert {r.id for r in rows} >= {f["id"] for f in fields}
    assert len(rows) == 12
    assert set(maple.view.log.rows) == set(rows)
    maple.wait()
    alone = open_building(maple.building.folder)
    for unit in CODES:  # draws reweighted ten times against a fresh fit: within sampling error
        assert maple.chances()[unit] == pytest.approx(alone.chances()[unit], abs=0.08)


def test_ten_threads_sending_one_answer_leave_one_row(maple):
    with ThreadPoolExecutor(10) as pool:
        answers = list(pool.map(maple.record, [answer("103", "no", id="tap")] * 10))
    assert [a.new for a in answers].count(True) == 1
    assert len(rows_on_disk(maple)) == 3


def hold_fit(monkeypatch: pytest.MonkeyPatch) -> tuple[threading.Event, threading.Event, list[int]]:
    """Let every refit wait for a word; return (it began, let it go, rows each fit saw)."""
    began, go, seen = threading.Event(), threading.Event(), []
    fit: Callable = session_module.fit

    def slow(network, records, *args, **more):
        seen.append(len(records))
        began.set()
        assert go.wait(WAIT)
        return fit(network, records, *args, **more)

    monkeypatch.setattr(session_module, "fit", slow)
    return began, go, seen


def test_answers_go_on_while_a_refit_runs_and_are_in_the_next_one(maple, monkeypatch):
    began, go, seen = hold_fit(monkeypatch)
    told = maple.record(answer("206", "yes", level="heavy", evidence="live", when=day(30)))
    assert say(told.told, ENGLISH).endswith("The log is being fitted again; the figures follow.")
    assert began.wait(WAIT)
    assert maple.busy
    maple.record(answer("103", "no"))
    assert maple.why("103").history[0].found == "no", "seen at once"
    assert maple.doors()
    go.set()
    maple.wait()
    assert not maple.busy
    assert seen == [3, 4], "the first refit was out of date when it ended, so a second one followed"
    assert len(maple.view.log.rows) == 4
    assert maple.chances()["206"] > 0.5


def test_a_refit_that_fails_leaves_the_answers_and_the_next_row_tries_again(maple, monkeypatch):
    fit, calls = session_module.fit, []

    def broken(*args, **more):
        calls.append(1)
        if len(calls) == 1:
            raise MemoryError
        return fit(*args, **more)

    monkeypatch.setattr(session_module, "fit", broken)
    monkeypatch.setattr(threading, "excepthook", lambda _: None)
    maple.record(answer("206", "yes", level="heavy", evidence="live", when=day(30)))
    maple.wait()
    assert not maple.busy
    assert maple.view.posterior.late
    maple.record(answer("101", "no"))
    maple.wait()
    assert len(calls) >= 2
    assert maple.chances()["206"] > 0.5


def test_waiting_without_a_refit_returns_at_once(maple):
    maple.wait()


def test_a_view_once_taken_never_changes(maple):
    view, chances = maple.view, maple.chances()
    maple.record(answer("103", "yes", level="heavy"))
    maple.wait()
    assert dict(zip(view.posterior.units, map(float, view.posterior.chance), strict=True)) == chances
    assert len(view.log.rows) == 2


def test_an_unknown_unit_and_an_unknown_method_are_one_sentence_each(maple):
    with pytest.raises(SpreadError, match=r"Maple Row: there is no unit '1O1'; write '101' if that is meant"):
        maple.why("1O1")
    with pytest.raises(SpreadError, match="'sniff' is not known"):
        maple.doors("sniff")


def test_a_building_without_a_log_gets_one_with_its_first_row(tmp_path):
    maple = open_building(make_building(tmp_path / "new"))
    assert not (maple.building.folder / "records.csv").exists()
    first = maple.record(answer("103", "no"))
    assert first.new
    assert rows_on_disk(maple) == (first.record,)
    assert load_building(maple.building.folder).log.rows == (first.record,)
    maple.wait()


def test_other_methods_rank_by_their_own_chance_of_a_find(maple):
    by_eye, by_trap = maple.doors("brief-visual"), maple.doors("interceptors")
    assert {d.unit for d in by_eye} == {d.unit for d in by_trap}
    finds = {d.unit: d.chance_of_find for d in by_eye}
    assert all(d.chance_of_find > finds[d.unit] for d in by_trap)
    assert maple.doors("dog") is maple.doors("dog"), "worked out once"


def test_a_treatment_row_and_a_clear_look_at_once_stay_in_step_with_the_disk(maple):
    maple.record(answer("103", "yes", level="low", when=day(2)))
    append_record(maple.building.folder / "records.csv", treatment("103", 1), CODES)
    maple.record(row_fields(row("105", 0, "no-access", "nobody-home")))
    maple.wait()
    assert maple.why("103").status == "revisit"


def row_fields(record):
    return {"unit": record.unit, "kind": record.kind, "method": record.method}


@pytest.mark.parametrize(
    ("rows", "weeks"),
    [
        ((), session_module.LEAD),
        ((clear("101", 0),), session_module.LEAD),
        ((clear("101", 70), clear("102", 7)), session_module.LEAD + 10),
        ((clear("101", 700), clear("102", 7)), 104),
        ((clear("101", -7),), session_module.LEAD),
    ],
)
def test_history_begins_half_a_year_before_the_first_row(rows, weeks):
    assert session_module.history_weeks(Log(tuple(rows)), ON, 104) == weeks
    assert session_module.history_weeks(Log(tuple(rows)), ON, 20) == 20


def test_a_new_building_is_near_the_share_it_was_given_and_not_full_of_bugs(tmp_path):
    """Two years that nobody wrote down would have made a third of it infested at the central rates."""
    folder = make_building(tmp_path / "new", [])
    toml = folder / "building.toml"
    toml.write_text(toml.read_text().replace("history_weeks = 26", "history_weeks = 104"))
    chances = open_building(folder, settings=replace(SHORT, sweeps=400, most_sweeps=400)).chances()
    assert 0.03 < sum(chances.values()) / len(chances) < 0.15


def test_a_row_from_before_the_history_makes_it_longer(tmp_path):
    folder = make_building(tmp_path / "new", [clear("101", 7)])
    toml = folder / "building.toml"
    toml.write_text(toml.read_text().replace("history_weeks = 26", "history_weeks = 104"))
    session = open_building(folder)
    first = session.view.posterior.first_week
    session.record(answer("204", "no", when=day(300).isoformat()))
    session.wait()
    assert session.view.posterior.first_week < first - 30
