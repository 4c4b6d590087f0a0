"""Rent rolls as they are: floors asked once, totals named, who moved in or out, nothing about people."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from posterior_buildings import ON, row
from read_back import accepting
from test_observations import gather, silent_weeks

from spread.building import load_building
from spread.errors import SpreadError
from spread.plan.drawing.reading import parse_unit_list
from spread.records.kinds import FROM_A_LIST
from spread.records.log import Log
from spread.tables.answers import Answers
from spread.tables.grid import read_grid
from spread.tables.moves import read_moves, suggested_occupancy
from spread.tables.roll import read_roll, roll_of

pytestmark = pytest.mark.usefixtures("read_here")

TODAY = dt.date(2026, 11, 29)
TABLES = Path(__file__).parent / "data" / "tables"
ROLL = """Elm Court, rent roll as of 11/01/2026
Apt #,Flr,Sq Ft,Resident,Status,Move In,Move Out
101,,650,x,Occupied,3/14/2024,
102,,650,x,Vacant,,
103,,700,x,Notice,12/1/2023,12/31/2026
104,,700,x,Occupied,12/15/2026,
201,,0,x,Vacant,,9/3/2026
1204,,700,x,Occupied,6/1/2020,
PH1,,900,x,Occupied,1/1/2026,
Total,,5000,,7 units,,
"""


def answered(text, **more):
    """Answer every question with its suggestion, or with what is given by its key."""
    answers, asked = Answers(), []
    while True:
        roll = roll_of(text.encode(), "roll.csv", answers)
        assert roll is not None
        moves = read_moves(roll.grid, answers, (), Log(), TODAY)
        open_questions = [*dict.fromkeys((*roll.questions, *moves.questions))]
        if not open_questions:
            return roll, moves, asked
        for one in open_questions:
            asked.append((one.topic, one.key))
            said = more.get(one.key.replace(" ", "_"), one.suggestion or "leave out")
            answers = answers.having(one.topic, one.key, said)


def moves_of(moves):
    return {(row.unit, row.method, row.when.isoformat()) for row in moves.records}


def test_a_roll_becomes_units_with_floors_asked_once_and_moves_for_the_log():
    roll, moves, asked = answered(ROLL)
    assert [key for topic, key in asked if topic == "list"] == ["floors", "floor of PH", "vacant since"]
    units = {row.unit: (row.floor, row.area) for row in parse_unit_list(roll.text).rows}
    assert units["101"] == ("1", 60.4)
    assert units["201"] == ("2", None), "nought square feet are none"
    assert units["1204"] == ("12", 65.0)
    assert units["PH1"] == ("PH", 83.6)
    assert roll.left_out == ((10, "a total"),)
    assert moves_of(moves) == {
        ("101", "moved-in", "2024-03-14"), ("102", "moved-out", "2026-11-01"),
        ("103", "moved-in", "2023-12-01"), ("201", "moved-out", "2026-09-03"),
        ("1204", "moved-in", "2020-06-01"), ("PH1", "moved-in", "2026-01-01"),
    }  # fmt: skip
    assert dict(moves.left_out) == {"lies ahead": 1, "a total": 1}
    assert "x" not in roll.text
    assert {row.by for row in moves.records} == {FROM_A_LIST}


def test_a_vacancy_may_begin_on_the_day_of_reading():
    _, moves, _ = answered(ROLL, vacant_since="the day it is read")
    assert ("102", "moved-out", "2026-11-29") in moves_of(moves)


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ("101,1,Vacant,,\n101,1,Occupied,10/1/2026,\n", "two rows of the unit say different things"),
        ("101,1,Vacant,10/1/2026,\n", "it is empty and somebody moved in: which is right?"),
        ("101,1,Occupied,1/1/2020,10/1/2026\n", "it is lived in and was left since: which is right?"),
        ("101,1,Occupied,soon,\n", "no day"),
    ],
)
def test_a_row_that_contradicts_itself_is_left_out_and_told(rows, why):
    text = "Apt,Flr,Status,Move In,Move Out\n" + rows + "102,1,Vacant,,\n103,1,Occupied,13/12/2025,\n"
    _, moves, _ = answered(text.replace("13/12", "12/13"))
    assert why in {row.why for row in moves.rows if row.number == 2}
    assert "101" not in {row.unit for row in moves.records}


@pytest.mark.parametrize(
    ("key", "meaning"),
    [
        ("Vacant - Rented Ready", "vacant"), ("VAC", "vacant"), ("unoccupied", "vacant"),
        ("Occupied", "lived in"),
        ("NTV", "lived in"), ("Occ?: N", "vacant"), ("Occ?: yes", "lived in"), ("Vacant: yes", "vacant"),
        ("Vacant: no", "lived in"), ("applicant", ""), ("Flag: yes", ""),
    ],
)  # fmt: skip
def test_how_a_unit_is_lived_in_is_suggested_and_no_more(key, meaning):
    assert suggested_occupancy(key) == meaning


@pytest.mark.parametrize(
    ("codes", "rule", "floors"),
    [
        ("104 1204 B-305", "before the last two digits", "1 12 3"), ("11 12 23", "the first digit", "1 1 2"),
        ("3F 12C 4A", "the digits before the letter", "3 12 4"), ("1 2 3", "one floor", "1 1 1"),
        ("1-04 2-11 3-02", "before the last two digits", "1 2 3"),
    ],
)  # fmt: skip
def test_one_rule_for_floors_is_suggested_by_the_codes(codes, rule, floors):
    text = "Apt,Beds\n" + "".join(f"{code},1\n" for code in codes.split())
    question = next(
        one for one in roll_of(text.encode(), "x.csv", Answers()).questions if one.key == "floors"
    )
    assert question.suggestion == rule
    roll, _, _ = answered(text)
    assert [row.floor for row in parse_unit_list(roll.text).rows] == floors.split()


def test_rows_of_another_building_and_repeats_are_left_out_and_named():
    text = "Bldg,Apt,Flr\nNorth,101,1\nSouth,101,1\nNorth,102,1\nNorth,102,1\n"
    roll, _, asked = answered(text, North="this building", South="leave out")
    assert [key for topic, key in asked if topic == "building"] == ["North", "South"]
    assert [row.unit for row in parse_unit_list(roll.text).rows] == ["101", "102"]
    assert roll.left_out == ((3, "another building"), (5, "a repeat"))
    both, _, _ = answered(text, North="before the code of its units", South="before the code of its units")
    assert [row.unit for row in parse_unit_list(both.text).rows] == ["North-101", "South-101", "North-102"]


def test_a_unit_twice_with_other_facts_is_refused_and_not_chosen():
    roll, _, _ = answered("Apt,Flr,Sq Ft\n101,1,600\n101,1,900\n102,1,600\n")
    with pytest.raises(SpreadError, match="the unit '101' is listed 2 times"):
        parse_unit_list(roll.text)


def test_a_list_of_our_own_asks_nothing_unless_it_says_more():
    assert roll_of(b"unit,floor,tenant\n101,1,x\n", "x.csv", Answers()) is None
    assert roll_of(b"unit,floor\n101,1\n", "x.csv", Answers()) is None
    roll = roll_of(b"unit,floor,status\n101,1,vacant\n102,,occupied\n", "x.csv", Answers())
    assert [(one.topic, one.key) for one in roll.questions] == [("roll", "status"), ("list", "floors")]


@pytest.mark.parametrize("kind", ["xls", "ods"])
def test_a_list_of_our_own_in_an_old_workbook_asks_nothing_and_is_read(kind):
    """Written by LibreOffice, see tests/data/SOURCES.md."""
    data = (TABLES / f"our-columns.{kind}").read_bytes()
    roll = roll_of(data, f"list.{kind}", Answers())
    assert roll.questions == ()
    rows = parse_unit_list(roll.text).rows
    assert [(row.unit, row.floor, row.area) for row in rows] == [("0101", "1", 48.5), ("0102", "1", 52.0)]


def test_headings_in_two_rows_are_one():
    text = "Unit,Move,Move,Sq\n,In,Out,Ft\n101,1/31/2020,,600\n102,2/3/2021,,600\n"
    table = read_roll(read_grid(text.encode(), "x.csv"), Answers()).table
    assert list(table.meanings) == ["Unit", "Move In", "Move Out", "Sq Ft"]
    assert len(table.lines) == 2


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(max_size=12), min_size=1, max_size=6), st.lists(st.text(max_size=12), max_size=6))
def test_whatever_stands_in_a_roll_no_look_no_report_and_no_treatment_comes_of_it(states, dates):
    cells = [text.replace(",", " ").replace('"', "").replace("\n", " ").replace("\r", " ") for text in states]
    days = [*(text.replace(",", " ").replace('"', "") for text in dates), *["1/31/2020"] * 6]
    lines = [f"10{at},1,{cell},{' '.join(days[at].split())}" for at, cell in enumerate(cells)]
    try:
        grid = read_grid("\n".join(["Apt,Flr,Status,Move In", *lines]).encode(), "x.csv")
        answers = Answers()
        for _ in range(3):
            answers = accepting(answers, read_moves(grid, answers, (), Log(), TODAY).questions)
        moves = read_moves(grid, answers, (), Log(), TODAY)
    except SpreadError:
        return
    assert {row.kind for row in moves.records} <= {"turnover"}
    assert all(row.when <= TODAY for row in moves.records)


def test_moves_from_a_list_do_not_say_that_complaints_were_written_down_by_then():
    """A lease of years ago is no log of years: silence counts from the first row that somebody kept."""
    old = row(18, "A", "turnover", "moved-in", by=FROM_A_LIST)
    kept = gather(old, row(5, "B", "note"), on=ON)
    assert list(silent_weeks(kept, 1)) == list(range(14, 19))
    assert len(silent_weeks(gather(old))) == 0
    assert len(silent_weeks(gather(row(18, "A", "turnover", "moved-in")), 1)) == 18, "a row of the log does"


def test_draw_reads_a_roll_and_begins_the_log_and_import_takes_the_next(tmp_path, run):
    file, words, out = tmp_path / "roll.csv", tmp_path / "words.toml", tmp_path / "elm"
    file.write_text(ROLL)
    code, _, err = run("draw", file, "-o", out)
    assert code == 2
    assert "what does the column 'Apt #' mean (unit?)" in err
    assert not out.exists()
    assert run("draw", file, "-o", out, "--ask", words)[0] == 0
    assert not out.exists()
    words.write_text(words.read_text().replace('# "', '"'))
    code, told, err = run("draw", file, "-o", out, "--answers", words)
    assert (code, err) == (0, "")
    assert "Left out: row 10 (a total)." in told
    assert "Moved in or out: 6." in told
    made = load_building(out)
    assert (len(made.plan.units), len(made.log.rows)) == (7, 6)
    later = ROLL.replace("102,,650,x,Vacant,,", "102,,650,x,Occupied,11/20/2026,").replace(
        "11/01/2026", "11/28/2026"
    )
    file.write_text(later)
    code, told, err = run("import", out, file, "--roll", "--answers", words)
    assert (code, err) == (0, "")
    assert "1 rows taken in" in told
    assert [r.method for r in load_building(out).log.current if r.unit == "102"] == ["moved-out", "moved-in"]
