"""What a row means, how it is written, and how it is told."""

from __future__ import annotations

import csv
import datetime as dt
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.errors import RecordError
from spread.plain import unseen
from spread.records.cells import guard, to_fields, to_line, unguard
from spread.records.kinds import EVIDENCE, FIELDS, FOUND, KINDS, LEVELS, METHODS_OF, Record
from spread.records.log import Log
from spread.records.parse import record_from_fields
from spread.records.table import read_table
from spread.words import ENGLISH
from spread.words.records import describe

UNITS = ("101", "102", "103", "PH-1", "+2B", "'=3")
TODAY = dt.date(2026, 11, 25)
DAY = dt.date(2026, 11, 20)
GOOD = {
    "id": "r1",
    "when": "2026-11-20",
    "unit": "101",
    "kind": "inspection",
    "method": "dog",
    "found": "yes",
}

# Any text that UTF-8 can hold, except the NUL that a row may not hold.
texts = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=40)
formulas = st.builds(
    str.__add__,
    st.sampled_from(["=", "+", "-", "@", "\t", "\r", "\n", "'", "''=", " =", "' +", '"', ","]),
    texts,
)
notes = texts | formulas
codes = notes.filter(lambda text: not unseen(text))
past_days = st.dates(dt.date(1990, 1, 1), TODAY)
ids = st.from_regex(r"[a-z][a-z0-9._-]{0,12}", fullmatch=True)


@st.composite
def records(draw, id_=ids, when=past_days):
    kind = draw(st.sampled_from(KINDS))
    methods = METHODS_OF[kind]
    must = kind in ("inspection", "monitor", "treatment")
    method = draw(st.sampled_from(methods if must else (*methods, "")))
    looked = kind in ("inspection", "monitor")
    found = draw(st.sampled_from(FOUND if looked else (*FOUND, ""))) if looked or kind == "report" else ""
    says = (looked or kind == "report") and found != "no"
    return Record(
        id=draw(id_),
        when=draw(when),
        unit=draw(st.sampled_from(UNITS)),
        kind=kind,
        method=method,
        found=found,
        level=draw(st.sampled_from((*LEVELS, ""))) if says else "",
        count=draw(st.none() | st.integers(0, 100_000)) if says else None,
        evidence=draw(st.frozensets(st.sampled_from(EVIDENCE))) if says else frozenset(),
        days=draw(st.none() | st.integers(1, 365)) if kind == "monitor" else None,
        by=draw(codes),
        note=draw(notes),
    )


def problems_of(**changes):
    with pytest.raises(RecordError) as caught:
        record_from_fields(GOOD | changes, UNITS, file="records.csv", today=TODAY)
    return [str(problem) for problem in caught.value.problems]


def file_of(rows):
    return (",".join(FIELDS) + "\n" + "".join(to_line(to_fields(row)) for row in rows)).encode()


@settings(max_examples=150, deadline=None)
@given(st.lists(records(), unique_by=lambda row: row.id, max_size=5))
def test_rows_written_and_read_are_the_same_rows(rows):
    assert read_table(file_of(rows), UNITS, file="records.csv").rows == tuple(rows)


@settings(max_examples=150, deadline=None)
@given(records())
def test_fields_of_a_record_mean_that_record(record):
    assert record_from_fields(to_fields(record), UNITS) == record


@settings(max_examples=100, deadline=None)
@given(records())
def test_another_programs_csv_reader_sees_the_cells_that_were_written(record):
    # Outside reader: pandas, its own C parser (not the csv module that the store reads with).
    pandas = pytest.importorskip("pandas")
    frame = pandas.read_csv(
        io.BytesIO(file_of([record])),
        dtype=str,
        keep_default_na=False,
        na_filter=False,
        skip_blank_lines=False,
    )
    row = frame.iloc[0].to_dict()
    fields = to_fields(record)
    assert list(frame.columns) == list(FIELDS)
    assert {name: unguard(cell) for name, cell in row.items()} == fields


@settings(max_examples=200, deadline=None)
@given(notes)
def test_no_written_cell_starts_like_a_formula_and_every_text_comes_back(text):
    # First characters: OWASP ASVS 5.0, requirement 1.2.10 (= + - @ tab; NUL is refused); CWE-1236.
    assert guard(text)[:1] not in {"=", "+", "-", "@", "\t", "\r", "\n"} or not text
    assert unguard(guard(text)) == text


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", '=HYPERLINK("x","y")'])
def test_a_formula_is_kept_behind_an_apostrophe(text):
    # The mitigation named by CWE-1236: a single apostrophe before the first character.
    line = to_line(to_fields(Record("r1", DAY, "101", "note", note=text, by=text)))
    cells = next(csv.reader(io.StringIO(line, newline="")))
    assert cells[FIELDS.index("note")] == cells[FIELDS.index("by")] == "'" + text


def test_an_ordinary_apostrophe_is_left_alone():
    assert guard("'tis") == unguard("'tis") == "'tis"


def test_quotes_commas_and_line_breaks_are_written_as_rfc_4180_shows():
    # RFC 4180 section 2, rules 6 and 7: "b CRLF bb" in quotes, and "b""bb" for a quote in a cell.
    assert to_line({"a": "aaa", "b": "b\r\nbb", "c": "ccc"}, "abc") == 'aaa,"b\r\nbb",ccc\n'
    assert to_line({"a": "aaa", "b": 'b"bb', "c": "ccc"}, "abc") == 'aaa,"b""bb",ccc\n'


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"id": ""}, "id", "no id"),
        ({"id": "=cmd"}, "id", "not an id"),
        ({"when": ""}, "when", "no date"),
        ({"when": "03/04/2026"}, "when", "could be two different days"),
        ({"when": "25/11/2026"}, "when", "not a date of the form"),
        ({"when": "20261125"}, "when", "not a date of the form"),
        ({"when": "2026-W47-3"}, "when", "not a date of the form"),
        ({"when": "２０２６-11-20"}, "when", "not a date of the form"),
        ({"when": "2026-02-29"}, "when", "no day"),
        ({"when": "1989-12-31"}, "when", "before 1990"),
        ({"when": "2026-11-27"}, "when", "still to come"),
        ({"unit": ""}, "unit", "no unit"),
        ({"unit": "10l"}, "unit", "write '10"),
        ({"unit": "ph-1"}, "unit", "write 'PH-1'"),
        ({"kind": ""}, "kind", "word is missing"),
        ({"kind": "inspecton"}, "kind", "write 'inspection'"),
        ({"method": ""}, "method", "must name its method"),
        ({"method": "dgo"}, "method", "write 'dog'"),
        ({"method": "spray"}, "method", "method of treatment, not of inspection"),
        ({"kind": "note", "found": ""}, "method", "method of inspection, not of note"),
        ({"kind": "monitor", "method": "", "found": "no"}, "method", "must name its method"),
        ({"kind": "treatment", "method": "", "found": ""}, "method", "must name its method"),
        ({"found": ""}, "found", "must say what was found"),
        ({"found": "Yes"}, "found", "write 'yes'"),
        ({"found": "no", "level": "low"}, "level", "though found is no"),
        ({"level": "havy"}, "level", "write 'heavy'"),
        ({"count": "-1"}, "count", "whole number"),
        ({"count": "2.5"}, "count", "whole number"),
        ({"count": "1e3"}, "count", "whole number"),
        ({"found": "no", "count": "3"}, "count", "though found is no"),
        ({"evidence": "live+egg"}, "evidence", "write 'eggs'"),
        ({"evidence": "live+"}, "evidence", "word is missing"),
        ({"found": "no", "evidence": "live"}, "evidence", "though found is no"),
        ({"days": "14"}, "days", "only a monitor"),
        ({"kind": "monitor", "method": "interceptors", "days": "0"}, "days", "from 1 to 365"),
        ({"kind": "monitor", "method": "interceptors", "days": "366"}, "days", "from 1 to 365"),
        ({"kind": "treatment", "method": "spray"}, "found", "does not say what was found"),
        ({"note": "x" * 2001}, "note", "2001 characters"),
        ({"by": "x" * 101}, "by", "101 characters"),
        ({"note": "a\0b"}, "note", "NUL"),
        ({"note": "\ud83d"}, "note", "half a character"),
        ({"supersedes": "r1"}, "supersedes", "supersedes itself"),
        ({"colour": "red"}, "colour", "no field"),
    ],
)
def test_one_thing_wrong_is_one_sentence_that_names_its_field(changes, field, says):
    (sentence,) = problems_of(**changes)
    assert f"field '{field}'" in sentence
    assert says in sentence
    assert "\n" not in sentence


def test_everything_wrong_with_a_row_is_said_at_once():
    sentences = problems_of(when="x", unit="999", method="spray", level="big", count="some", days="3")
    assert [sentence.split("field ")[1].split(":")[0] for sentence in sentences] == [
        "'when'",
        "'unit'",
        "'method'",
        "'days'",
        "'level'",
        "'count'",
    ]


@pytest.mark.parametrize("when", ["1990-01-01", "2024-02-29", "2026-11-25", "2026-11-26"])
def test_days_from_1990_to_tomorrow_are_taken(when):
    assert record_from_fields(GOOD | {"when": when}, UNITS, today=TODAY).when == dt.date.fromisoformat(when)


def test_stains_may_be_seen_where_nothing_was_found():
    # Stains of an old infestation stay: NPMA best management practices 9.4, from memory.
    assert record_from_fields(GOOD | {"found": "no", "evidence": "stains"}, UNITS).evidence == {"stains"}


def test_a_monitor_without_days_and_a_complaint_without_words_are_taken():
    row = GOOD | {"kind": "monitor", "method": "interceptors", "found": "no"}
    assert record_from_fields(row, UNITS).days is None
    row = GOOD | {"kind": "report", "method": "", "found": ""}
    assert record_from_fields(row, UNITS).found == ""


@settings(max_examples=60, deadline=None)
@given(
    st.lists(records(when=st.just(DAY)), unique_by=lambda row: row.id, max_size=8).flatmap(
        lambda rows: st.tuples(st.just(rows), st.permutations(rows))
    )
)
def test_the_order_of_rows_of_one_day_changes_nothing(both):
    rows, shuffled = both
    assert Log(tuple(rows)).current == Log(tuple(shuffled)).current


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 8), st.randoms())
def test_of_a_chain_of_corrections_only_the_last_stands(length, random):
    chain = [Record(f"c{i}", DAY, "101", "note", supersedes=f"c{i - 1}" if i else "") for i in range(length)]
    other = Record("other", DAY, "101", "note")
    rows = [*chain, other]
    random.shuffle(rows)
    log = read_table(file_of(rows), UNITS, file="records.csv")
    assert {row.id for row in log.current} == {chain[-1].id, "other"}
    assert len(log.rows) == length + 1


def test_a_row_may_be_corrected_into_another_unit_and_units_list_their_newest_row_last():
    log = Log().with_row(Record("b", dt.date(2026, 1, 2), "101", "report"))
    log = log.with_row(Record("a", dt.date(2026, 1, 1), "101", "report"))
    log = log.with_row(Record("c", dt.date(2026, 1, 2), "102", "report", supersedes="b"))
    assert [row.id for row in log.of("101")] == ["a"]
    assert [row.id for row in log.current] == ["a", "c"]
    assert [row.id for row in log.rows] == ["b", "a", "c"]
    assert log.of("nowhere") == ()


def test_adding_a_row_leaves_the_old_log_as_it_was_and_adding_it_again_changes_nothing():
    old = Log()
    row = Record("a", DAY, "101", "report")
    new = old.with_row(row)
    assert (len(old), len(new)) == (0, 1)
    assert new.with_row(row) is new


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (Record("a", DAY, "102", "report"), "is taken by a row that says something else"),
        (Record("c", DAY, "101", "note", supersedes="zzz"), "there is no row 'zzz'"),
        (Record("c", DAY, "101", "note", supersedes="a"), "superseded by row 'b' already"),
        (Record("c", DAY, "101", "note", supersedes="c"), "supersedes itself"),
    ],
)
def test_a_row_that_does_not_fit_the_log_is_refused(row, says):
    log = Log((Record("a", DAY, "101", "report"), Record("b", DAY, "101", "note", supersedes="a")))
    with pytest.raises(RecordError, match=says):
        log.with_row(row)


@pytest.mark.parametrize(
    ("kind", "method", "more", "words"),
    [
        (
            "inspection",
            "brief-visual",
            {"found": "yes", "level": "low", "evidence": frozenset({"stains", "live"})},
            "Brief look: found, low, live + stains",
        ),
        ("inspection", "thorough-visual", {"found": "no"}, "Thorough look: nothing found"),
        ("inspection", "brief-visual", {"found": "unsure"}, "Brief look: not sure"),
        ("inspection", "dog", {"found": "yes"}, "Dog: alert (not yet confirmed)"),
        (
            "inspection",
            "dog",
            {"found": "yes", "evidence": frozenset({"live", "alert"})},
            "Dog: found, live + alert",
        ),
        ("inspection", "dog", {"found": "no"}, "Dog: no alert"),
        ("inspection", "dog", {"found": "unsure"}, "Dog: not sure"),
        (
            "inspection",
            "interview",
            {"found": "yes", "evidence": frozenset({"bites"})},
            "Interview: says yes, bites",
        ),
        ("monitor", "interceptors", {"found": "no", "days": 14}, "Interceptors for 14 days: nothing caught"),
        ("monitor", "lure-trap", {"found": "yes", "count": 1}, "Lure trap: caught, 1 bug counted"),
        ("treatment", "steam-dust-encase", {}, "Steam, dust and encasement treatment"),
        ("no-access", "nobody-home", {}, "Nobody home"),
        ("no-access", "", {}, "No access"),
        ("turnover", "moved-out", {}, "Moved out"),
        ("turnover", "", {}, "Moved out and in on one day"),
        ("report", "", {}, "Report of bed bugs"),
        ("report", "", {"found": "no"}, "Report: nothing seen"),
        ("report", "", {"evidence": frozenset({"bites"})}, "Report: bites"),
        (
            "note",
            "",
            {"note": "Wrong\ndoor", "supersedes": "r0"},
            "Note: Wrong door (corrects an earlier row)",
        ),
    ],
)
def test_a_row_is_told_in_plain_words(kind, method, more, words):
    assert describe(Record("r1", DAY, "101", kind, method, **more), ENGLISH) == words


@settings(max_examples=150, deadline=None)
@given(records())
def test_every_valid_row_can_be_told_and_none_promises_a_clear_unit(record):
    words = describe(Record(**{name: getattr(record, name) for name in FIELDS} | {"note": ""}), ENGLISH)
    assert words
    assert "clear" not in words.lower()
