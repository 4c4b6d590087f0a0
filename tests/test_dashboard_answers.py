"""What a browser may send as an answer, honest or not."""

from __future__ import annotations

import datetime as dt

import pytest
from small import made_plan, small_session

from dashboard.plan.answers import fields_of
from dashboard.plan.callbacks import NOT_KEPT, keep_answer
from spread.errors import RecordError
from spread.records import record_from_fields
from spread.records.kinds import EVIDENCE, FIELDS, METHODS_OF

PLAN = made_plan(2, 3)
ON = dt.date(2026, 11, 25)
GOOD = {
    "id": "0a1b2c3d-0000-4000-8000-000000000001",
    "unit": "101",
    "answer": "clear",
    "method": "thorough-visual",
}


def test_a_clear_look_is_an_inspection_of_that_day():
    assert fields_of(GOOD, PLAN, ON) == {
        "id": GOOD["id"], "when": "2026-11-25", "unit": "101", "note": "", "kind": "inspection",
        "method": "thorough-visual", "found": "no",
    }  # fmt: skip


def test_a_find_carries_level_and_known_evidence_only():
    fields = fields_of(
        GOOD | {"answer": "found", "level": "heavy", "evidence": ["skins", "ghosts", "live"]}, PLAN, ON
    )
    assert fields["found"] == "yes"
    assert fields["level"] == "heavy"
    assert fields["evidence"] == "live+skins"


def test_monitors_are_a_period_of_days():
    fields = fields_of(GOOD | {"method": "interceptors", "days": "21"}, PLAN, ON)
    assert (fields["kind"], fields["days"]) == ("monitor", "21")


def test_only_fields_of_a_record_and_words_of_its_kind_come_out():
    for change in ({}, {"answer": "found"}, {"answer": "nobody"}, {"answer": "undo", "undoes": "abcdefgh"}):
        fields = fields_of(
            GOOD | change | {"by": "me", "supersedes": "other-row", "when": "1999-01-01"}, PLAN, ON
        )
        assert set(fields) <= set(FIELDS)
        assert fields["when"] == "2026-11-25"
        assert "by" not in fields
        assert not fields.get("method") or fields["method"] in METHODS_OF[fields["kind"]]
        assert set(filter(None, fields.get("evidence", "").split("+"))) <= set(EVIDENCE)


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (None, "whole"),
        (["x"], "whole"),
        (GOOD | {"id": ""}, "number"),
        (GOOD | {"id": "a,b\n" * 9}, "number"),
        (GOOD | {"id": 7}, "number"),
        (GOOD | {"unit": "999"}, "no unit"),
        (GOOD | {"unit": ["101"]}, "no unit"),
        (GOOD | {"answer": "maybe"}, "three answers"),
        (GOOD | {"answer": "found", "level": "a lot"}, "how heavy"),
        (GOOD | {"answer": "undo"}, "take back"),
        (GOOD | {"note": "x" * 501}, "501"),
    ],
)
def test_a_wrong_answer_is_one_clear_sentence(answer, words):
    with pytest.raises(RecordError, match=words) as caught:
        fields_of(answer, PLAN, ON)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("change", "fields"),
    [
        ({"answer": "treatment", "method": "spray"}, {"kind": "treatment", "method": "spray"}),
        ({"answer": "turnover", "method": ""}, {"kind": "turnover", "method": ""}),
        ({"answer": "refused"}, {"kind": "no-access", "method": "refused"}),
        ({"answer": "report", "said": "seen"}, {"kind": "report", "found": "yes", "evidence": "live"}),
        ({"answer": "report", "said": "nothing"}, {"kind": "report", "found": "no"}),
        ({"answer": "note", "note": "result: handed over"}, {"kind": "note", "note": "result: handed over"}),
        ({"answer": "clear", "day": "2026-11-20"}, {"kind": "inspection", "when": "2026-11-20"}),
        ({"answer": "undo", "undoes": "r0001"}, {"kind": "note", "supersedes": "r0001"}),
    ],
)
def test_what_else_is_recorded_is_a_row_that_the_log_takes(change, fields):
    """Taken by the reader of the log itself."""
    found = fields_of(GOOD | change, PLAN, ON)
    assert fields.items() <= found.items()
    assert record_from_fields(found, PLAN.units, today=ON).unit == "101"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"answer": "treatment", "method": "dog"}, "how it was treated"),
        ({"answer": "turnover", "method": "spray"}, "moved out"),
        ({"answer": "report", "said": ["seen"]}, "reported"),
        ({"answer": "note"}, "Write the note first"),
        ({"day": "20.11.2026"}, "date"),
        ({"answer": "undo", "undoes": "a,b"}, "take back"),
    ],
)
def test_what_else_is_recorded_wrongly_is_one_clear_sentence(change, words):
    with pytest.raises(RecordError, match=words):
        fields_of(GOOD | change, PLAN, ON)


def test_a_note_keeps_its_words_and_loses_its_line_breaks():
    assert fields_of(GOOD | {"note": "  left\nbed\t leg "}, PLAN, ON)["note"] == "left bed leg"


def test_the_same_answer_twice_is_kept_once_and_the_second_reply_still_says_so(tmp_path):
    session = small_session(tmp_path)
    first, version, *_ = keep_answer(session, GOOD)
    second, again, *_ = keep_answer(session, GOOD)
    assert first["ok"]
    assert second["ok"]
    assert first["undo"] == GOOD["id"]
    assert second["undo"] == ""
    assert version == again
    assert len((tmp_path / "records.csv").read_text().splitlines()) == 2


def test_an_answer_is_for_the_day_that_the_session_says_is_today(tmp_path):
    yesterday = dt.date.today() - dt.timedelta(days=1)
    session = small_session(tmp_path, on=yesterday, live=True)
    assert session.on == yesterday
    assert keep_answer(session, GOOD)[0]["ok"]
    assert dt.date.today().isoformat() in (tmp_path / "records.csv").read_text()


def test_a_full_disk_is_said_and_nothing_is_claimed(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    session = small_session(tmp_path)
    monkeypatch.setattr(type(session.building.store), "append", full)
    before = session.chances()
    reply, *_ = keep_answer(session, GOOD)
    assert reply == {"id": GOOD["id"], "ok": False, "words": NOT_KEPT}
    assert not session.view.log.rows
    assert session.chances() == before
