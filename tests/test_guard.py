"""What was known never disappears without a word: the folder's log beside programs that edit it."""

import datetime as dt
import json
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spread.errors import RecordError
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.folder import FolderStore
from spread.records.journal import Journal, journal_of, text_of
from spread.records.kinds import Finding, Record
from spread.records.table import read_rows
from spread.words import ENGLISH
from spread.words.guard import trouble_sentences

UNITS = ("101", "102", "103")
DAY = dt.date(2026, 11, 20)
REPO = Path(__file__).resolve().parents[1]


def look(id_, unit="101", day=0, **more):
    fields = {"method": "brief-visual", "found": "no"} | more
    return Record(id_, DAY + dt.timedelta(days=day), unit, "inspection", **fields)


ROWS = [look(f"r{i}", UNITS[i % 3], i, note=f'row {i}, with "quotes" and; marks') for i in range(7)]
ROWS.append(look("r7", "102", 7, note="derrière la plinthe"))


@pytest.fixture
def path(tmp_path):
    return tmp_path / "records.csv"


@pytest.fixture
def store(path):
    made = FolderStore(path, UNITS)
    for row in ROWS:
        assert made.append(row)
    return made


def ids(rows):
    return {row.id for row in rows}


def edited(text, how):
    """Return what became of a file of eight rows, and which of its rows are lost or altered by it.

    None is a file that is no more there.
    """
    lines = text.splitlines(keepends=True)

    def days(as_written):
        changed = text
        for row in ROWS:
            changed = changed.replace(row.when.isoformat(), as_written(row.when))
        return changed.encode()

    another = HEADER + to_line(to_fields(look("other", "901")))
    return {
        "older copy": ("".join(lines[:3]).encode(), {f"r{i}" for i in range(2, 8)}, set()),
        "emptied": (b"", ids(ROWS), set()),
        "removed": (None, ids(ROWS), set()),
        "the header alone": (HEADER.encode(), ids(ROWS), set()),
        "blank lines alone": (b"\r\n\r\n", ids(ROWS), set()),
        "cut in a row": (("".join(lines[:6]) + lines[6][:14]).encode(), {"r6", "r7"}, {"r5"}),
        "cut in the header": (HEADER[:20].encode(), ids(ROWS), set()),
        "a row taken out": ("".join(lines[:4] + lines[5:]).encode(), {"r3"}, set()),
        "a find made of a look": (
            text.replace("brief-visual,no", "brief-visual,yes", 1).encode(),
            set(),
            {"r0"},
        ),
        "days as a spreadsheet writes them": (days(lambda day: f"{day:%d.%m.%Y}"), set(), ids(ROWS)),
        "days with the month first": (
            days(lambda day: f"{day.month}/{day.day}/{day.year}"),
            set(),
            ids(ROWS),
        ),
        "a column taken out": (
            "".join(line.split(",", 1)[1] for line in lines).encode(),
            ids(ROWS),
            set(),
        ),
        "another table": (b"apartment,tenant\n101,x\n", ids(ROWS), set()),
        "the log of another building": (another.encode(), ids(ROWS), set()),
        "the encoding of an old spreadsheet": (text.encode("cp1252"), set(), {"r7"}),
        "not text": (text.encode("utf-16"), ids(ROWS), set()),
        "a workbook": (b"PK\x03\x04" + bytes(range(256)), ids(ROWS), set()),
        "zeros, as after a power cut": (text.encode()[:200] + bytes(300), None, None),
    }[how]


HOWS = (
    "older copy",
    "emptied",
    "removed",
    "the header alone",
    "blank lines alone",
    "cut in a row",
    "cut in the header",
    "a row taken out",
    "a find made of a look",
    "days as a spreadsheet writes them",
    "days with the month first",
    "a column taken out",
    "another table",
    "the log of another building",
    "the encoding of an old spreadsheet",
    "not text",
    "a workbook",
    "zeros, as after a power cut",
)


def put(path, how):
    """Let a file become so; return its bytes and the rows that it lost or that it says otherwise."""
    data, lost, altered = edited(path.read_text(), how)
    if data is None:
        path.unlink()
    else:
        path.write_bytes(data)
    return data, lost, altered


@pytest.mark.parametrize("how", HOWS)
@pytest.mark.parametrize("while_open", [True, False])
def test_work_goes_on_with_what_was_known_and_says_so(path, store, how, while_open):
    data, lost, altered = put(path, how)
    if while_open:
        assert store.refresh()
    else:
        store = FolderStore(path, UNITS)
    assert set(store.log.rows) >= set(ROWS), "nothing that was known is gone"
    trouble = store.trouble
    if lost is None:
        lost, altered = ids(trouble.lost), ids(trouble.altered)
        assert lost | altered >= {"r3", "r4", "r5", "r6", "r7"}
    assert (ids(trouble.lost), ids(trouble.altered)) == (lost, altered)
    beside = FolderStore(path.with_name(trouble.beside), UNITS).log
    assert set(beside.rows) == {row for row in ROWS if row.id in lost | altered}
    assert (path.read_bytes() if path.exists() else None) == data, "the file is theirs"


@pytest.mark.parametrize("how", HOWS)
def test_what_is_lost_can_be_put_back(path, store, how):
    data, lost, altered = put(path, how)
    back = store.put_back()
    assert back == len(lost | altered) if lost is not None else back >= 5
    assert store.trouble is None
    again = FolderStore(path, UNITS)
    assert again.trouble is None
    assert set(again.log.rows) == set(ROWS)
    kept = [one for one in path.parent.iterdir() if ".before-" in one.name]
    assert [one.read_bytes() for one in kept] == ([] if data is None else [data])


def test_the_file_can_be_taken_as_it_is_and_that_stays_written(path, store):
    _, lost, _ = put(path, "older copy")
    store.refresh()
    assert store.accept(why="the old copy is right") == len(lost)
    assert store.trouble is None
    again = FolderStore(path, UNITS)
    assert again.trouble is None
    assert ids(again.log.rows) == {"r0", "r1"}
    chosen = [json.loads(line)[2] for line in journal_of(path).read_text().splitlines() if '"-"' in line]
    assert json.loads(chosen[0])["ids"] == sorted(lost)
    assert json.loads(chosen[0])["why"] == "the old copy is right"
    kept = [one for one in path.parent.iterdir() if "let-go" in one.name]
    assert {row.id for row in FolderStore(kept[0], UNITS).log.rows} == lost


def test_a_changed_row_can_be_taken_as_it_is(path, store):
    put(path, "a find made of a look")
    assert FolderStore(path, UNITS).accept() == 1
    again = FolderStore(path, UNITS)
    assert again.trouble is None
    assert again.log.by_id["r0"].found == "yes"


@pytest.mark.parametrize(
    "how",
    ["cut in a row", "another table", "not text", "days with the month first", "a workbook"],
)
def test_a_file_that_cannot_be_read_is_not_taken_as_it_is(path, store, how):
    put(path, how)
    with pytest.raises(RecordError):
        store.accept()
    assert set(store.log.rows) == set(ROWS)


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ("days as a spreadsheet writes them", "'20.11.2026' is not a date of the form 2026-11-25"),
        ("the encoding of an old spreadsheet", "the row holds bytes that are not UTF-8"),
        ("cut in a row", "the last line stops in the middle"),
    ],
)
def test_why_a_known_row_cannot_be_read_is_told(path, store, how, says):
    put(path, how)
    told = " ".join(trouble_sentences(FolderStore(path, UNITS).trouble, ENGLISH))
    assert says in told
    assert "Work goes on with what was known" in told


def test_a_day_that_may_be_two_is_told_and_not_guessed(path):
    store, day = FolderStore(path, UNITS), dt.date(2026, 3, 4)
    store.append(replace(look("r1"), when=day))
    path.write_text(path.read_text().replace("2026-03-04", "3/4/2026"))
    store.refresh()
    for reader in (store, FolderStore(path, UNITS)):
        assert reader.log.by_id["r1"].when == day
        assert "'3/4/2026' could be two different days" in str(reader.trouble.misread[0])
        with pytest.raises(RecordError, match="could be two different days"):
            reader.accept()
    journal_of(path).unlink()
    with pytest.raises(RecordError, match="could be two different days"):
        FolderStore(path, UNITS)


def test_a_row_that_the_journal_could_not_take_does_not_stand_in_the_file_either(path, store, monkeypatch):
    whole = path.read_bytes()

    def full(file, *_args):
        raise RecordError(f"{file.name}: no room")

    for row in (look("plain"), look("items", items=(Finding("headboard"),))):
        with monkeypatch.context() as patch:
            patch.setattr("spread.records.journal.append_bytes", full)
            with pytest.raises(RecordError, match="no room"):
                store.append(row)
        assert path.read_bytes() == whole
        assert row.id not in store.log.by_id
    assert store.append(look("plain"))
    assert FolderStore(path, UNITS).log.rows == (*ROWS, look("plain"))


@pytest.mark.parametrize("how", HOWS)
def test_an_answer_given_meanwhile_is_kept(path, store, how):
    put(path, how)
    row = look("late", "103", 30, found="yes", level="heavy", supersedes="r7")
    assert store.append(row)
    assert not store.append(row), "sent twice, kept once"
    assert row in FolderStore(path, UNITS).log.current
    FolderStore(path, UNITS).put_back()
    assert row in FolderStore(path, UNITS).log.rows
    assert set(FolderStore(path, UNITS).log.rows) == {*ROWS, row}


def test_a_removed_file_and_a_removed_journal_are_noticed_while_the_server_runs(path, store):
    path.unlink()
    journal_of(path).unlink()
    assert store.refresh()
    assert set(store.trouble.lost) == set(ROWS)
    assert store.append(look("more"))
    assert FolderStore(path, UNITS).log.by_id.keys() == ids(ROWS) | {"more"}


def test_an_older_copy_of_the_whole_folder_loses_nothing_that_a_server_knew(path, store):
    old = path.read_bytes(), journal_of(path).read_bytes()
    store.append(look("new"))
    for file, data in zip((path, journal_of(path)), old, strict=True):
        file.unlink()
        file.write_bytes(data)
    assert store.refresh()
    assert ids(store.trouble.lost) == {"new"}
    assert ids(FolderStore(path, UNITS).trouble.lost) == {"new"}, "and the next command is told"
    assert Journal(journal_of(path)).verify() == 0


@pytest.mark.parametrize("separator", [";", "\t"])
@pytest.mark.parametrize("spare", [0, 3])
def test_a_file_as_a_spreadsheet_saves_it_is_the_same_log(path, separator, spare):
    lines = [to_line(to_fields(row), separator=separator, spare=spare) for row in ROWS]
    header = HEADER.strip().replace(",", separator) + separator * spare
    path.write_text("\ufeff" + "\r\n".join([header, *(line.rstrip("\n") for line in lines)]) + "\r\n")
    store = FolderStore(path, UNITS)
    assert store.log.rows == tuple(ROWS)
    plain, items = look("plain", note=f"a{separator}b"), look("items", items=(Finding("headboard"),))
    assert store.append(plain)
    assert store.append(items), "a column is added"
    journal_of(path).unlink()
    assert FolderStore(path, UNITS).log.rows == (*ROWS, plain, items)


def test_rows_typed_by_hand_are_taken_in_and_known_from_then_on(path, store):
    with path.open("a") as file:
        file.write(to_line(to_fields(look("typed"))))
    assert store.refresh()
    assert store.trouble is None
    assert "typed" in store.log.by_id
    path.write_text(HEADER)
    assert "typed" in ids(FolderStore(path, UNITS).trouble.lost)


def test_what_another_program_adds_is_read_without_reading_the_rest_again(path, store, monkeypatch):
    read = []

    def counted(data, *args, **more):
        read.append(len(data))
        return read_rows(data, *args, **more)

    other = FolderStore(path, UNITS)
    monkeypatch.setattr("spread.records.folder.read_rows", counted)
    other.extend([look("x"), look("y", "102", supersedes="r0")])
    assert store.append(look("z"))
    assert other.refresh()
    assert max(read) < path.stat().st_size / 2
    assert len(read) == 2
    for one in (store, other):
        assert one.log == FolderStore(path, UNITS).log
        assert one.trouble is None
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join([*lines, *lines[-2:]]))
    assert not store.refresh(), "the same rows once more are the same log"
    path.write_text("".join([*lines[:3], *lines[4:], to_line(to_fields(look("late")))]))
    assert store.refresh()
    assert ids(store.trouble.lost) == {"r2"}, "a row taken out further up is seen although others came"
    assert "late" in store.log.by_id


@pytest.mark.parametrize(
    "tail", ["more,2026-11-20,999,report,,,,,,,,,\n", "r1,2026-11-20,101,report,,,,,,,,,\n", "a"]
)
def test_what_cannot_stand_at_the_end_is_told_with_its_line(path, store, tail):
    with path.open("a") as file:
        file.write(tail)
    assert store.refresh()
    assert set(store.log.rows) == set(ROWS)
    assert "line 10" in str((*store.trouble.unread, *store.trouble.misread)[0])


def test_a_bad_row_typed_by_hand_stops_a_command_and_not_a_server(path, store):
    with path.open("a") as file:
        file.write("typed,2026-11-20,999,report,,,,,,,,,\n")
    with pytest.raises(RecordError, match=r"line 10, field 'unit'"):
        FolderStore(path, UNITS)
    assert store.refresh()
    assert set(store.log.rows) == set(ROWS)
    assert "line 10" in str(store.trouble.unread[0])
    assert store.append(look("on"))


def test_a_folder_that_cannot_be_written_is_read_all_the_same(path, store, monkeypatch):
    put(path, "older copy")

    def refuse(*_args):
        raise RecordError("not yours")

    monkeypatch.setattr("spread.records.folder.turn", refuse)
    store = FolderStore(path, UNITS)
    assert set(store.log.rows) == set(ROWS)
    assert store.trouble.lost
    assert not store.trouble.beside


def test_a_journal_that_somebody_changed_is_told(path, store):
    journal = journal_of(path)
    lines = journal.read_text().splitlines(keepends=True)
    journal.write_text("".join(lines[:2] + lines[3:]))
    assert FolderStore(path, UNITS).trouble.journal_broken == 3
    journal.write_text("".join(lines).replace("row 4", "row 5"))
    assert FolderStore(path, UNITS).trouble.journal_broken == 5


def test_a_journal_cut_in_its_last_line_is_whole_without_it(path, store):
    journal = journal_of(path)
    data = journal.read_bytes()
    for cut in (1, 40):
        journal.write_bytes(data[:-cut])
        again = FolderStore(path, UNITS)
        assert again.trouble is None
        assert set(again.log.rows) == set(ROWS)
        assert Journal(journal).verify() == 0


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_no_edit_of_the_file_makes_a_known_row_disappear(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("edit") / "records.csv"
    store = FolderStore(path, UNITS)
    for row in ROWS[:4]:
        store.append(row)
    text = bytearray(path.read_bytes())
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, max(0, len(text) - 1)))
        kind = data.draw(st.sampled_from(("cut", "drop", "change", "insert")))
        if kind == "cut":
            del text[at:]
        elif kind == "drop":
            del text[at : at + data.draw(st.integers(1, 60))]
        elif kind == "change" and text:
            text[at] = data.draw(st.integers(0, 255))
        else:
            text[at:at] = data.draw(st.binary(max_size=20))
    path.write_bytes(bytes(text))
    store.refresh()
    assert set(store.log.rows) >= set(ROWS[:4])
    try:
        again = FolderStore(path, UNITS)
    except RecordError:
        return  # rows that nobody knows and nobody can read: said in sentences, nothing is lost
    assert set(again.log.rows) >= set(ROWS[:4])


_WRITER = """
import datetime as dt, sys
from spread.records.folder import FolderStore
from spread.records.kinds import Record
path, name = sys.argv[1:]
store = FolderStore(path, ("101",))
for i in range(200):
    store.append(Record(f"{name}-{i}", dt.date(2026, 11, 20), "101", "report"))
    print(f"{name}-{i}", flush=True)
"""


def test_killed_writers_lose_no_acknowledged_row_and_leave_the_journal_whole(path):
    told = set()
    for round_ in range(4):
        writers = [
            subprocess.Popen(
                [sys.executable, "-c", _WRITER, str(path), f"w{round_}{i}"],
                cwd=REPO,
                stdout=subprocess.PIPE,
                env=os.environ | {"PYTHONPATH": str(REPO)},
            )
            for i in range(3)
        ]
        time.sleep(0.5 + 0.07 * round_)
        for writer in writers:
            writer.kill()
        for writer in writers:
            out = writer.communicate()[0].decode()
            told |= set(out[: out.rfind("\n") + 1].split())
    store = FolderStore(path, UNITS)
    assert store.trouble is None
    assert told <= store.log.by_id.keys()
    assert len(store.log.rows) == len(store.log.by_id), "none twice"
    journal = Journal(journal_of(path))
    journal.catch_up()
    assert store.log.by_id.keys() == journal.known.keys()
    assert journal.broken == 0


def test_an_answer_costs_the_same_in_a_long_log(tmp_path):
    stores, times = [], ([], [])
    for rows in (300, 20_000):
        path = tmp_path / f"{rows}.csv"
        path.write_text(
            HEADER + "".join(to_line(to_fields(look(f"r{i}", UNITS[i % 3]))) for i in range(rows))
        )
        stores.append(FolderStore(path, UNITS))
        stores[-1].append(look("first"))
    for i in range(15):
        for store, kept in zip(stores, times, strict=True):  # turn about: the machine has other work
            began = time.process_time()
            store.append(look(f"new-{i}"))
            kept.append(time.process_time() - began)
    short, long = (sorted(kept)[len(kept) // 2] for kept in times)
    assert long < 0.003 + 2 * short


def test_rows_are_compared_by_what_they_say():
    assert text_of(look("a", note="x")) != text_of(look("a", note="y"))
    assert text_of(look("a", evidence=frozenset({"live", "eggs"}))) == text_of(
        look("a", evidence=frozenset({"eggs", "live"}))
    )
