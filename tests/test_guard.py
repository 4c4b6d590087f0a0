"""What was known never disappears without a word: the folder's log beside programs that edit it."""

import datetime as dt
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spread.errors import RecordError
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.folder import FolderStore
from spread.records.journal import Journal, journal_of, text_of
from spread.records.kinds import Finding, Record

UNITS = ("101", "102", "103")
DAY = dt.date(2026, 11, 20)
REPO = Path(__file__).resolve().parents[1]


def look(id_, unit="101", day=0, **more):
    fields = {"method": "brief-visual", "found": "no"} | more
    return Record(id_, DAY + dt.timedelta(days=day), unit, "inspection", **fields)


ROWS = [look(f"r{i}", UNITS[i % 3], i, note=f'row {i}, with "quotes" and; marks') for i in range(8)]


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
    """Return what became of a file of eight rows, and which of its rows are lost or altered by it."""
    lines = text.splitlines(keepends=True)
    days = text
    for row in ROWS:
        days = days.replace(row.when.isoformat(), f"{row.when:%d.%m.%Y}")
    return {
        "older copy": ("".join(lines[:3]), {f"r{i}" for i in range(2, 8)}, set()),
        "emptied": ("", ids(ROWS), set()),
        "cut in a row": ("".join(lines[:6]) + lines[6][:14], {"r6", "r7"}, {"r5"}),
        "a row taken out": ("".join(lines[:4] + lines[5:]), {"r3"}, set()),
        "a find made of a look": (text.replace("brief-visual,no", "brief-visual,yes", 1), set(), {"r0"}),
        "days as a spreadsheet writes them": (days, set(), ids(ROWS)),
        "another table": ("apartment,tenant\n101,x\n", ids(ROWS), set()),
        "not text": ("\ufeff".encode("utf-16").decode("latin-1") + text, ids(ROWS), set()),
    }[how]


HOWS = (
    "older copy",
    "emptied",
    "cut in a row",
    "a row taken out",
    "a find made of a look",
    "days as a spreadsheet writes them",
    "another table",
    "not text",
)


@pytest.mark.parametrize("how", HOWS)
@pytest.mark.parametrize("while_open", [True, False])
def test_work_goes_on_with_what_was_known_and_says_so(path, store, how, while_open):
    text, lost, altered = edited(path.read_text(), how)
    path.write_text(text, encoding="latin-1" if how == "not text" else "utf-8")
    if while_open:
        assert store.refresh()
    else:
        store = FolderStore(path, UNITS)
    assert set(store.log.rows) >= set(ROWS), "nothing that was known is gone"
    trouble = store.trouble
    assert (ids(trouble.lost), ids(trouble.altered)) == (lost, altered)
    beside = FolderStore(path.with_name(trouble.beside), UNITS).log
    assert set(beside.rows) == {row for row in ROWS if row.id in lost | altered}
    assert path.read_bytes() == text.encode("latin-1" if how == "not text" else "utf-8"), "the file is theirs"


@pytest.mark.parametrize("how", HOWS)
def test_what_is_lost_can_be_put_back(path, store, how):
    text, lost, altered = edited(path.read_text(), how)
    path.write_text(text, encoding="latin-1" if how == "not text" else "utf-8")
    assert store.put_back() == len(lost | altered)
    assert store.trouble is None
    again = FolderStore(path, UNITS)
    assert again.trouble is None
    assert set(again.log.rows) == set(ROWS)
    kept = [one for one in path.parent.iterdir() if ".before-" in one.name]
    assert [one.read_bytes() for one in kept] == [text.encode("latin-1" if how == "not text" else "utf-8")]


def test_the_file_can_be_taken_as_it_is_and_that_stays_written(path, store):
    text, lost, _ = edited(path.read_text(), "older copy")
    path.write_text(text)
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
    path.write_text(edited(path.read_text(), "a find made of a look")[0])
    assert FolderStore(path, UNITS).accept() == 1
    again = FolderStore(path, UNITS)
    assert again.trouble is None
    assert again.log.by_id["r0"].found == "yes"


@pytest.mark.parametrize("how", ["cut in a row", "another table", "not text"])
def test_a_file_that_cannot_be_read_is_not_taken_as_it_is(path, store, how):
    path.write_text(edited(path.read_text(), how)[0], encoding="latin-1" if how == "not text" else "utf-8")
    with pytest.raises(RecordError):
        store.accept()
    assert set(store.log.rows) == set(ROWS)


@pytest.mark.parametrize("how", HOWS)
def test_an_answer_given_meanwhile_is_kept(path, store, how):
    path.write_text(edited(path.read_text(), how)[0], encoding="latin-1" if how == "not text" else "utf-8")
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
    path.write_text(edited(path.read_text(), "older copy")[0])

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
    def cost(rows):
        path = tmp_path / f"{rows}.csv"
        path.write_text(
            HEADER + "".join(to_line(to_fields(look(f"r{i}", UNITS[i % 3]))) for i in range(rows))
        )
        store = FolderStore(path, UNITS)
        store.append(look("first"))
        times = []
        for i in range(15):
            began = time.perf_counter()
            store.append(look(f"new-{i}"))
            times.append(time.perf_counter() - began)
        return sorted(times)[len(times) // 2]

    assert cost(20_000) < 0.02 + 3 * cost(300)


def test_rows_are_compared_by_what_they_say():
    assert text_of(look("a", note="x")) != text_of(look("a", note="y"))
    assert text_of(look("a", evidence=frozenset({"live", "eggs"}))) == text_of(
        look("a", evidence=frozenset({"eggs", "live"}))
    )
