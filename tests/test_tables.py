"""Lists and notes as people have them: nothing is read that nobody has said, and nothing silently wrong."""

from __future__ import annotations

import datetime as dt
import io
import shutil
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from spread.building import load_building
from spread.errors import SettingsError, SpreadError
from spread.plan.drawing.reading import parse_unit_list
from spread.records.log import Log
from spread.tables.answers import Answers, read_answers
from spread.tables.codes import bare, near
from spread.tables.dates import DAY_FIRST, MONTH_FIRST, fitting_orders, read_day
from spread.tables.grid import read_grid
from spread.tables.meanings import LEAVE_OUT, NOTES, suggested
from spread.tables.notes import read_notes, taken_back
from spread.tables.roll import read_roll
from spread.tables.wordings import NOTHING, read_meaning, suggested_meaning

pytestmark = pytest.mark.usefixtures("read_here")

DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
TODAY = dt.date(2026, 11, 20)
UNITS = ("101", "102", "103", "104", "201", "202", "203", "204")


def workbook(*rows, sheet="Sheet1"):
    book = Workbook()
    book.active.title = sheet
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


NOTES_FILE = workbook(
    ("Hollow Ridge Apartments", None, None, None, None),
    ("Pest log 2026", None, None, None, None),
    (),
    ("Apt #", "Date", "Tenant", "Result", "Tech"),
    ("101", "3/14/2026", "(left out)", "BB found, heavy", "T4"),
    ("Apt 102", "3/14/26", "(left out)", "bb found,  heavy", "Maria"),
    ("103", dt.date(2026, 3, 15), "(left out)", "zero activity", "T4"),
    ("1O4", "3/15/2026", "(left out)", "K9 alert", "T4"),
    ("201", "3/16/2026", "(left out)", "tenant refused", "T4"),
    ("201", "3/16/2026", "(left out)", "tenant refused", "T4"),
    ("202", 46098, "(left out)", "no longer active", "T4"),
    ("203", "soon", "(left out)", "BB found, heavy", "T4"),
    ("204", "3/18/2026", "(left out)", "called office", "T4"),
    (None, None, "(left out)", "Total: 9 visits", None),
)
SAID = Answers(
    {
        "columns": {"apt": "unit", "date": "day", "tenant": LEAVE_OUT, "result": "words", "tech": "by"},
        "words": {
            "bb found, heavy": "inspection, brief-visual, yes, heavy",
            "zero activity": "inspection, brief-visual, no",
            "k9 alert": "inspection, dog, yes",
            "tenant refused": "no-access, refused",
            "no longer active": "inspection, brief-visual, no",
            "called office": LEAVE_OUT,
            "total: 9 visits": LEAVE_OUT,
        },
        "units": {"1o4": "104"},
    }
)


def notes(answers=SAID, log=None, data=NOTES_FILE, name="notes.xlsx"):
    return read_notes(read_grid(data, name), answers, UNITS, log or Log(), TODAY)


def test_nothing_is_read_before_somebody_has_said_what_it_means():
    read = notes(Answers())
    assert read.records == ()
    assert {one.topic for one in read.questions} == {"columns", "words", "units"}
    assert [one.key for one in read.questions if one.topic == "units"] == ["1O4"]
    asked = [one.key for one in read.questions if one.topic == "words"]
    assert len(asked) == len(set(asked)) == 7, "each wording once, however it is spaced"
    assert next(one for one in read.questions if one.key == "Tenant").suggestion == LEAVE_OUT
    assert len(read.questions) == 13


def test_with_the_answers_every_row_is_read_or_its_reason_told():
    read = notes()
    assert read.questions == ()
    rows = [(r.when.isoformat(), r.unit, r.kind, r.method, r.found, r.level, r.by) for r in read.records]
    assert rows == [
        ("2026-03-14", "101", "inspection", "brief-visual", "yes", "heavy", "T4"),
        ("2026-03-14", "102", "inspection", "brief-visual", "yes", "heavy", ""),
        ("2026-03-15", "103", "inspection", "brief-visual", "no", "", "T4"),
        ("2026-03-15", "104", "inspection", "dog", "yes", "", "T4"),
        ("2026-03-16", "201", "no-access", "refused", "", "", "T4"),
        ("2026-03-17", "202", "inspection", "brief-visual", "no", "", "T4"),
    ]
    assert dict(read.left_out) == {"a repeat": 1, "no day": 1, "said so": 2}
    assert len(read.rows) == 10, "every wording of the file is accounted for"
    assert read.records[0].note == "BB found, heavy", "the original stays with the row"


def test_a_name_in_a_column_of_workers_is_never_kept():
    assert {row.by for row in notes().records} == {"T4", ""}


def test_the_same_file_again_adds_nothing_and_can_be_taken_back_and_read_anew():
    first = notes()
    log = Log(first.records)
    again = notes(log=log)
    assert again.records == ()
    assert again.left_out["known already"] == 6
    back = taken_back(log, first.batch, TODAY)
    assert len(back) == 6
    log = Log((*log.rows, *back))
    assert {row.kind for row in log.current} == {"note"}, "nothing of it counts any more"
    other = SAID.having("words", "K9 alert", "inspection, dog, unsure")
    third = notes(other, log)
    assert len(third.records) == 6
    assert not {row.id for row in third.records} & log.by_id.keys()


def test_a_later_file_of_the_firm_asks_only_what_is_new():
    data = workbook(
        ("Apt #", "Date", "Tenant", "Result", "Tech"),
        ("201", "4/20/2026", "x", "Zero Activity", "T4"),
        ("202", "4/21/2026", "x", "eggs in seam", "T4"),
    )
    asked = notes(data=data).questions
    assert [(one.topic, one.key) for one in asked] == [("words", "eggs in seam")]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(st.characters(codec="ascii", exclude_categories=("Cc",)), max_size=20), max_size=5))
def test_no_wording_whatever_becomes_a_row_without_an_answer(wordings):
    """The property that matters: suggestions alone never make a record."""
    lines = "\n".join(f'101,3/14/2026,"{text.replace(chr(34), "")}"' for text in ["BB found", *wordings])
    answers = Answers({"columns": {"unit": "unit", "date": "day", "result": "words"}})
    read = read_notes(
        read_grid(f"unit,date,result\n{lines}\n".encode(), "x.csv"), answers, UNITS, Log(), TODAY
    )
    assert read.records == ()
    assert all(row.record is None for row in read.rows)


def test_a_typo_is_suggested_and_never_given_to_another_home():
    question = next(one for one in notes(Answers()).questions if one.topic == "units")
    assert question.options[0] == "104"
    assert question.suggestion == LEAVE_OUT
    left = notes(SAID.having("units", "1O4", LEAVE_OUT))
    assert "104" not in {row.unit for row in left.records}


@pytest.mark.parametrize(
    ("code", "left"), [("Apt. #304-B", "304b"), ("unit 12", "12"), ("0304", "0304"), (" 3 0 4", "304")]
)
def test_codes_in_other_clothes(code, left):
    assert bare(code) == left


def test_two_units_that_look_alike_bare_are_asked():
    data = b"unit,date,result\n12b,3/14/2026,none\n"
    answers = Answers({"columns": {"unit": "unit", "date": "day", "result": "words"}})
    read = read_notes(read_grid(data, "x.csv"), answers, ("1-2B", "12B", "13"), Log(), TODAY)
    assert [one.key for one in read.questions if one.topic == "units"] == ["12b"]
    assert near("l01", ("101", "102")) == ("101",)


# -- days


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("2026-03-04", MONTH_FIRST, "2026-03-04"), ("3/4/26", MONTH_FIRST, "2026-03-04"),
        ("3/4/26", DAY_FIRST, "2026-04-03"), ("04.03.2026", DAY_FIRST, "2026-03-04"),
        ("Mar 4, 2026", MONTH_FIRST, "2026-03-04"), ("4-Mar-26", DAY_FIRST, "2026-03-04"),
        ("4 March 2026", MONTH_FIRST, "2026-03-04"), ("Wed, Mar 4th, 2026", MONTH_FIRST, "2026-03-04"),
        ("46085", MONTH_FIRST, "2026-03-04"), ("3/4/2026 10:30 AM", MONTH_FIRST, "2026-03-04"),
        ("3/4/98", MONTH_FIRST, "1998-03-04"), ("13/14/2026", MONTH_FIRST, None), ("soon", DAY_FIRST, None),
        ("2026", DAY_FIRST, None), ("31/2/2026", DAY_FIRST, None), ("Mar 2026", MONTH_FIRST, None),
    ],
)  # fmt: skip
def test_days_as_people_write_them(text, order, day):
    read = read_day(text, order, TODAY)
    assert (read.isoformat() if read else None) == day


def test_the_order_of_a_column_is_what_fits_all_of_it_and_else_a_question():
    assert fitting_orders(["3/4/2026", "3/14/2026"], TODAY) == (MONTH_FIRST,)
    assert fitting_orders(["3/4/2026", "14/3/2026"], TODAY) == (DAY_FIRST,)
    assert len(fitting_orders(["3/4/2026", "4/3/2026"], TODAY)) == 2
    assert fitting_orders(["3/14/2026", "14/3/2026"], TODAY) == ()
    assert fitting_orders(["12/1/2026", "3/4/2026"], TODAY) == (DAY_FIRST,), "a log has no days ahead"
    assert fitting_orders(["2026-03-04", "soon"], TODAY) == (MONTH_FIRST,)


def test_a_column_that_fits_both_orders_is_asked_and_the_answer_used():
    data = b"unit,date,result\n101,3/4/2026,none\n102,4/3/2026,none\n"
    answers = Answers({"columns": {"unit": "unit", "date": "day", "result": "words"},
                       "words": {"none": "inspection, brief-visual, no"}})  # fmt: skip
    grid = read_grid(data, "x.csv")
    asked = read_notes(grid, answers, UNITS, Log(), TODAY)
    assert [one.topic for one in asked.questions] == ["days"]
    assert asked.records == ()
    read = read_notes(grid, answers.having("days", "date", DAY_FIRST), UNITS, Log(), TODAY)
    assert [row.when.isoformat() for row in read.records] == ["2026-04-03", "2026-03-04"]


# -- meanings


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("inspection, dogg", "is no word of the log"), ("yes, no", "are both a found"),
        ("treatment, dog", "is no method of 'treatment'"), ("", "is no word of the log"),
    ],
)  # fmt: skip
def test_an_answer_that_is_none_is_one_sentence(text, sentence):
    with pytest.raises(SettingsError, match=sentence):
        read_meaning(text, "words.toml", "[words] x")


def test_an_answer_may_leave_words_out_and_stand_in_any_order():
    assert read_meaning("heavy, yes, dog", "f", "w").words == "inspection, dog, yes, heavy"
    assert read_meaning("Leave out", "f", "w") == NOTHING


@pytest.mark.parametrize(
    "wording", ["zero activity", "no longer active", "No BB", "clear", "negative", "none found"]
)
def test_wordings_that_deny_are_not_suggested_as_finds(wording):
    assert suggested_meaning(wording).found == "no"


def test_headings_of_people_and_money_are_proposed_to_be_left_out():
    for heading in ("Tenant Name", "Resident", "Phone", "E-mail", "Rent", "DOB", "Balance due", "", "xyz"):
        assert suggested(heading, NOTES) == LEAVE_OUT


# -- files


def ods(rows):
    cells = "".join(
        "<table:table-row>" + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>'
            for cell in row
        ) + "</table:table-row>" for row in rows
    )  # fmt: skip
    spaces = "urn:oasis:names:tc:opendocument:xmlns"
    content = (
        f'<?xml version="1.0"?><office:document-content xmlns:office="{spaces}:office:1.0" '
        f'xmlns:table="{spaces}:table:1.0" xmlns:text="{spaces}:text:1.0"><office:body><office:spreadsheet>'
        f'<table:table table:name="Log">{cells}</table:table></office:spreadsheet></office:body>'
        "</office:document-content>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
        archive.writestr("content.xml", content)
    return stream.getvalue()


ROWS = (("unit", "date", "result"), ("101", "3/14/2026", "none, really"), ("102", "3/15/2026", "none"))


@pytest.mark.parametrize(
    "data",
    [
        workbook(*ROWS), ods(ROWS),
        "\n".join('"' + '","'.join(row) + '"' for row in ROWS).encode(),
        "\n".join(";".join(row) for row in ROWS).encode("utf-8-sig"),
        "\n".join("\t".join(row) for row in ROWS).encode("utf-16"),
        "\n".join("|".join(row) for row in ROWS).encode(),
        ("sep=;\n" + "\r\n".join(";".join(row) for row in ROWS)).encode("cp1252"),
    ],
    ids=["xlsx", "ods", "quoted", "semicolons", "pasted", "bars", "sep"],
)  # fmt: skip
def test_the_same_table_in_every_form_is_the_same(data):
    assert [cells for _, cells in read_grid(data, "x").rows] == [tuple(row) for row in ROWS]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "it is empty"), (b"PK\x03\x04 not really", "no workbook that can be read"),
        (b"\xd0\xcf\x11\xe0 not really", "no workbook that can be read"), (b"\x00\x01\x02", "it is not text"),
        (workbook(), "it is empty"), (b"unit,date\n", "there are no rows below"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_one_sentence(data, sentence):
    with pytest.raises(SpreadError, match=sentence) as caught:
        read_notes(read_grid(data, "x.dat"), Answers(), UNITS, Log(), TODAY)
    assert "\n" not in str(caught.value)


def test_a_sheet_is_chosen_by_name_or_size():
    book = Workbook()
    book.active.title = "Cover"
    book.active.append(["hello"])
    more = book.create_sheet("Log")
    for row in ROWS:
        more.append(row)
    stream = io.BytesIO()
    book.save(stream)
    assert read_grid(stream.getvalue(), "x").sheet == "Log"
    assert read_grid(stream.getvalue(), "x", "Cover").rows == ((1, ("hello",)),)
    with pytest.raises(SpreadError, match="choose among: Cover, Log"):
        read_grid(stream.getvalue(), "x", "Nowhere")


# -- rent rolls

ROLL = workbook(
    ("Rent Roll as of 11/01/2026", None, None, None, None),
    ("Apt #", "Flr", "Sq Ft", "Resident", "Unit Type"),
    ("101", "1", "650", "x", "1BR"),
    ("102", None, "1,050", "x", "2BR"),
    ("204", None, 650, "x", "1BR"),
    (None, None, None, "Total", None),
)
ROLL_SAID = Answers(
    {
        "roll": {
            "apt": "unit",
            "flr": "floor",
            "sq ft": "area sq ft",
            "resident": LEAVE_OUT,
            "unit type": "layout",
        },
        "list": {"floors": "before the last two digits"},
    }
)


def test_a_rent_roll_as_it_is_becomes_a_list_that_can_be_drawn():
    asked = read_roll(read_grid(ROLL, "roll.xlsx"), Answers())
    assert [(one.topic, one.suggestion) for one in asked.questions] == [
        ("roll", "unit"), ("roll", "floor"), ("roll", "area sq ft"), ("roll", LEAVE_OUT),
        ("roll", "layout"), ("list", "before the last two digits"),
    ]  # fmt: skip
    read = read_roll(read_grid(ROLL, "roll.xlsx"), ROLL_SAID)
    assert read.questions == ()
    units = parse_unit_list(read.text)
    assert [(row.unit, row.floor, row.area, row.layout) for row in units.rows] == [
        ("101", "1", 60.4, "1BR"), ("102", "1", 97.5, "2BR"), ("204", "2", 60.4, "1BR"),
    ]  # fmt: skip
    assert read.left_out == ((6, "a total"),)
    assert "x" not in read.text


def test_the_file_of_answers_is_read_as_it_was_written_with_what_is_open_as_comments(tmp_path):
    told = Answers().having("columns", "Apt #", "unit")
    path = tmp_path / "words.toml"
    path.write_text(told.text(notes(told).questions), encoding="utf-8")
    text = path.read_text(encoding="utf-8")
    assert '# "1o4" = "leave out"' in text
    assert "one of: 104" in text
    assert read_answers(path).get("columns", "apt #") == "unit"
    bare_lines = [line[2:] if line.startswith('# "') else line for line in text.splitlines()]
    path.write_text("\n".join(bare_lines), encoding="utf-8")
    assert notes(read_answers(path)).questions == (), "every # taken off, nothing more is asked"


@pytest.mark.parametrize(
    ("text", "sentence"), [("[word]\n", "no such table"), ("[words]\na = 3\n", "is no text"), ("[", "TOML")]
)
def test_a_spoilt_file_of_answers_is_one_sentence(tmp_path, text, sentence):
    path = tmp_path / "words.toml"
    path.write_text(text)
    with pytest.raises(SettingsError, match=sentence):
        read_answers(path)


# -- the commands


@pytest.fixture
def building(tmp_path):
    folder = tmp_path / DEMO.name
    shutil.copytree(DEMO, folder)
    return folder


def test_notes_come_in_by_the_command_after_their_questions_and_go_again(building, tmp_path, run):
    units = list(load_building(building).plan.units)[:2]
    file, words = tmp_path / "notes.csv", tmp_path / "words.toml"
    file.write_text(f"Apt,Date,Result\n{units[0]},3/14/2026,BB found\n{units[1]},3/15/2026,nothing seen\n")
    before, known = (building / "records.csv").read_bytes(), len(load_building(building).log.rows)
    code, out, err = run("import", building, file)
    assert code == 2
    assert "what does 'BB found' mean (inspection, brief-visual, yes?): in 1 row" in err
    assert "5 questions are open and nothing was taken in" in err
    assert (building / "records.csv").read_bytes() == before
    assert run("import", building, file, "--ask", words)[0] == 0
    text = "\n".join(line[2:] if line.startswith('# "') else line for line in words.read_text().splitlines())
    words.write_text(text)
    assert run("import", building, file, "--answers", words, "--dry-run")[1].count("->") == 2
    assert (building / "records.csv").read_bytes() == before
    code, out, err = run("import", building, file, "--answers", words)
    assert (code, err) == (0, "")
    assert "2 rows taken in" in out
    assert len(load_building(building).log.rows) == known + 2
    assert "0 rows taken in" in run("import", building, file, "--answers", words)[1]
    batch = out.split("--take-back ")[1].strip()
    assert "2 rows are taken back" in run("import", building, "--take-back", batch)[1]
    notes_of = [row for row in load_building(building).log.current if row.note == "An import taken back."]
    assert len(notes_of) == 2
    assert not [row for row in load_building(building).log.current if row.id.startswith("t-")]
    assert run("import", building, "--take-back", batch)[0] == 2


def test_a_rent_roll_is_tidied_by_the_command(tmp_path, run):
    file, words, out = tmp_path / "roll.xlsx", tmp_path / "words.toml", tmp_path / "units.csv"
    file.write_bytes(ROLL)
    assert run("tidy", file, "-o", out)[0] == 2
    assert not out.exists()
    words.write_text(ROLL_SAID.text())
    code, told, _ = run("tidy", file, "-o", out, "--answers", words)
    assert code == 0
    assert "3 units on 2 floors" in told
    assert run("draw", out, "-o", tmp_path / "drawn")[0] == 0
