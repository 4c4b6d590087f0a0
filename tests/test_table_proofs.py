"""Messy tables of several hands: every row right, none silently wrong, nothing asked twice."""

from __future__ import annotations

import datetime as dt
import functools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from read_back import accepting

from proofs.tables import FILES, HELD_OUT, every_table, of_wordings
from spread.records.log import Log
from spread.tables.answers import Answers
from spread.tables.grid import read_grid
from spread.tables.meanings import plain
from spread.tables.notes import read_notes

pytestmark = pytest.mark.usefixtures("read_here")

TODAY = dt.date(2026, 11, 29)


@functools.cache
def measured():
    return {one.file: one for one in (*every_table(), *every_table(HELD_OUT))}


@pytest.mark.parametrize("file", [*FILES, *HELD_OUT])
def test_every_row_is_right_and_none_silently_wrong(file):
    one = measured()[file]
    assert one.wrong == ()
    assert one.right == one.expected > 20
    keys = [(asked.topic, plain(asked.key)) for asked in one.questions]
    assert len(keys) == len(set(keys)), "nothing is asked twice"


def test_a_year_of_notes_and_a_rent_roll_take_25_decisions_at_most_and_the_next_ones_none():
    tables = measured()
    assert tables["roll-140.xlsx"].decisions + tables["notes-204.xlsx"].decisions <= 25
    assert sum(len(of.rows) for of, _ in [tables["notes-204.xlsx"].read]) >= 204
    for following in ("notes-next.csv", "roll-140-next.xls"):
        assert tables[following].questions == ()


def test_what_is_left_out_of_a_table_is_named_with_its_row():
    notes, roll = measured()["roll-140.xlsx"].read
    assert {why for _, why in roll.left_out} == {"a total", "the headings again"}
    assert all(row.why for row in notes.rows if row.record is None)
    assert dict(measured()["caretaker.xlsx"].read[0].left_out).keys() >= {"a title", "a total", "a repeat"}


def test_of_the_wordings_held_out_none_that_is_a_look_is_confirmed_with_others():
    found = of_wordings()
    assert found["a find for a clear look, or the other way"], "suggestions do go wrong"
    for wording in found["may be confirmed together"]:
        meant = measured()["held-out-notes.csv"].answers.get("words", wording) or ""
        assert not {"inspection", "monitor", "report", "treatment"} & set(meant.split(", ")), wording


WORDS = (
    *("no", "not", "BB", "bugs", "found", "seen", "clear", "cleared", "refused", "no access", "tenant"),
    *("K9", "alert", "moved out", "heavy", "vacant", "treated", "live", "eggs", "nobody home", "locked"),
    *("zero", "activity", "?", "+", "positive", "neg", "complaint", "bites", "trap", "unable to enter"),
    *("declined", "2", "heat", "sprayed", "empty"),
)
WORDING = st.lists(st.sampled_from(WORDS), min_size=1, max_size=5).map(" ".join)


@settings(max_examples=150, deadline=None)
@given(st.lists(WORDING, min_size=1, max_size=6))
def test_what_may_be_confirmed_together_never_becomes_a_look_a_report_or_a_treatment(wordings):
    """What matters most: recognition, even confirmed in one press, makes no find and no clear look."""
    lines = [f"101,2026-03-{at:02d},{text}" for at, text in enumerate(wordings, 1)]
    grid = read_grid("\n".join(["unit,date,result", *lines]).encode(), "x.csv")
    said = Answers()
    for _ in range(2):  # columns, then wordings
        asked = read_notes(grid, said, ("101",), Log(), TODAY).questions
        said = accepting(said, (one for one in asked if one.quiet))
    assert not any(one.quiet for one in read_notes(grid, said, ("101",), Log(), TODAY).questions)
    for one in read_notes(grid, said, ("101",), Log(), TODAY).questions:
        said = said.having(one.topic, one.key, "leave out")  # nobody has a word of their own for it
    read = read_notes(grid, said, ("101",), Log(), TODAY)
    assert {row.kind for row in read.records} <= {"no-access", "turnover"}
    assert not any(row.found for row in read.records)
