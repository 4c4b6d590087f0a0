"""The log on disk: bad files, power cuts, full disks, many writers."""

from __future__ import annotations

import datetime as dt
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from spread.errors import RecordError
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.journal import journal_of
from spread.records.kinds import FIELDS, Record
from spread.records.store import append_record, new_id, read_log

UNITS = ("101", "102", "103")
DAY = dt.date(2026, 11, 20)
REPO = Path(__file__).resolve().parents[1]
FIRST = Record("r1", DAY, "101", "report")


def line(record):
    return to_line(to_fields(record))


def said(path, **options):
    with pytest.raises(RecordError) as caught:
        read_log(path, UNITS, **options)
    return [str(problem) for problem in caught.value.problems]


def write(path, text):
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.fixture
def path(tmp_path):
    return tmp_path / "records.csv"


@pytest.mark.parametrize(
    "text", [None, "", HEADER, HEADER.strip(), "\ufeff" + HEADER, HEADER + "\n,,,,,,,,,,,,\n"]
)
def test_a_log_without_rows_is_empty(path, text):
    if text is not None:
        write(path, text)
    assert read_log(path, UNITS).rows == ()


def test_a_file_saved_by_a_spreadsheet_is_read(path):
    # A byte order mark, CRLF line ends and columns in another order.
    columns = list(reversed(FIELDS))
    row = to_line(to_fields(FIRST), columns).replace("\n", "\r\n")
    write(path, "\ufeff" + ",".join(columns) + "\r\n" + row)
    assert read_log(path, UNITS).rows == (FIRST,)
    second = Record("r2", DAY, "102", "note", note="a, b", supersedes="r1")
    append_record(path, second, UNITS)
    assert read_log(path, UNITS).rows == (FIRST, second)


def test_every_bad_row_is_named_at_once_with_its_line_as_an_editor_counts(path):
    rows = [
        'r1,2026-11-20,101,note,,,,,,,,"two\nlines",',  # lines 2 and 3
        "r2,20.11.2026,101,report,,,,,,,,,",  # line 4
        "",
        "r3,2026-11-20,999,report,,,,,,,,,",  # line 6
        "r4,2026-11-20,101,report,,,,,",  # line 7
        "r5,2026-11-20,101,inspection,brief-visual,,,,,,,,",  # line 8
        'r6,2026-11-20,101,note,,,,,,,,"a"b,',  # line 9
        "r7,2026-11-20,101,note,,,,,,,,,r99",  # line 10
        "r1,2026-11-21,101,note,,,,,,,,,",  # line 11
    ]
    write(path, HEADER + "\n".join(rows) + "\n")
    sentences = said(path, shown_as="demo/records.csv")
    assert all(sentence.startswith("demo/records.csv, line ") for sentence in sentences)
    assert sorted(int(sentence.split("line ")[1].split(",")[0].split(":")[0]) for sentence in sentences) == [
        4,
        6,
        7,
        8,
        9,
        10,
        11,
    ]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (HEADER.replace(",days", ""), "line 1: column 'days' is missing"),
        (HEADER.replace("days", "dayz"), "line 1: unknown column 'dayz'; write 'days'"),
        (HEADER.replace("note", "note,note"), "column 'note' stands there twice"),
        ("hello\n", "not the header"),
        ("id,when,un", "the header stops in the middle"),
        (HEADER.encode("utf-16"), "UTF-16"),
        (
            HEADER.encode() + b"r1,2026-11-20,101,note,,,,,,,,caf\xe9,\n",
            "line 2: the row holds bytes that are not UTF-8",
        ),
        (HEADER + "r1,2026-11-20,101,note,,,,,,,,a\0b,\n", "line 2: the row holds a NUL byte"),
        (
            HEADER + "r1,2026-11-20,101,note,,,,,,,," + "x" * 2001 + ",\n",
            "line 2, field 'note': the text has 2001",
        ),
        (HEADER + "r1,2026-11-20,101,note,,,,,,,," + "x" * 140_000 + ",\n", "longer than 131,072"),
        (
            HEADER + 'r1,2026-11-20,101,note,,,,,,,,"open,\n',
            "line 2: the row is not CSV: a double quote is opened",
        ),
        (
            HEADER + "a,2026-11-20,101,note,,,,,,,,,b\nb,2026-11-20,101,note,,,,,,,,,a\n",
            "rows 'a', 'b' supersede each other in a circle",
        ),
        (
            HEADER
            + "".join(
                f"{i},2026-11-20,101,note,,,,,,,,,{s}\n" for i, s in (("a", ""), ("b", "a"), ("c", "a"))
            ),
            "line 4, field 'supersedes': row 'a' is superseded by row 'b' already",
        ),
    ],
)
def test_a_bad_file_is_told_in_a_sentence(path, text, says):
    assert any(says in sentence for sentence in said(write(path, text)))


def test_a_bad_row_is_not_blamed_on_the_row_that_corrects_it(path):
    write(path, HEADER + "a,2026-11-20,999,note,,,,,,,,,\nb,2026-11-20,101,note,,,,,,,,,a\n")
    (sentence,) = said(path)
    assert "line 2, field 'unit'" in sentence


def test_the_same_row_twice_is_one_record(path):
    write(path, HEADER + line(FIRST) + line(FIRST))
    assert read_log(path, UNITS).rows == (FIRST,)


def test_a_file_that_is_too_large_is_refused_unread(path):
    with path.open("wb") as stream:
        stream.truncate(50_000_001)
    assert "more than 50,000,000" in said(path)[0]


def test_a_folder_in_place_of_the_file_is_told_in_a_sentence(path):
    path.mkdir()
    assert "cannot be read" in said(path)[0]


def test_a_missing_folder_is_told_in_a_sentence(path):
    with pytest.raises(RecordError, match="check that the folder exists"):
        append_record(path / "in" / "records.csv", FIRST, UNITS)


def test_a_new_row_is_kept_and_a_repeat_of_it_is_not_kept_twice(path):
    log, new = append_record(path, FIRST, UNITS)
    assert (log.rows, new) == ((FIRST,), True)
    once = path.read_bytes()
    log, new = append_record(path, FIRST, UNITS)
    assert (log.rows, new) == ((FIRST,), False)
    assert path.read_bytes() == once == (HEADER + line(FIRST)).encode()


@pytest.mark.parametrize(
    ("record", "says"),
    [
        (Record("r1", DAY, "102", "report"), "is taken by a row"),
        (Record("r2", DAY, "999", "report"), "not in the plan"),
        (Record("r2", DAY, "101", "note", count=-1), "whole number"),
        (Record("r2", DAY, "101", "note", supersedes="rr"), "there is no row"),
        (Record("r2", DAY, "101", "note", note="a\0b"), "NUL"),
        (Record("r2", dt.date(2026, 12, 24), "101", "note"), "still to come"),
    ],
)
def test_a_row_that_is_wrong_changes_nothing_on_disk(path, record, says):
    append_record(path, FIRST, UNITS)
    before = path.read_bytes()
    with pytest.raises(RecordError, match=says):
        append_record(path, record, UNITS, today=dt.date(2026, 11, 25))
    assert path.read_bytes() == before


def test_a_row_without_a_line_end_is_not_glued_to_the_next(path):
    write(path, HEADER + line(FIRST).rstrip("\n"))
    second = Record("r2", DAY, "102", "report")
    append_record(path, second, UNITS)
    assert read_log(path, UNITS).rows == (FIRST, second)


def test_a_power_cut_at_any_byte_of_a_row_loses_no_other_row(path):
    """Cut the last row at every byte: refused with its line named, or read; never glued onto."""
    torn = Record("r12", DAY, "102", "note", note='she said "no",\nthen left', by="crew-2", supersedes="r1")
    whole = (HEADER + line(FIRST) + line(Record("r2", DAY, "101", "report"))).encode()
    last = line(torn).encode()
    third = Record("r3", DAY, "103", "report")
    # Read are only a row cut behind its last comma (which may as well be a file made by hand) and
    # one that lacks nothing but its line end.
    readable = {last.rindex(b",") + 1, len(last) - 1}
    for cut in range(1, len(last)):
        write(path, whole + last[:cut])
        journal_of(path).unlink(missing_ok=True)  # nothing is known: the file alone has to tell
        if cut in readable:
            append_record(path, third, UNITS)
            assert [row.id for row in read_log(path, UNITS).rows] == ["r1", "r2", "r12", "r3"]
        else:
            with pytest.raises(RecordError, match=r"line 4.*(stops in the middle|never closed)"):
                append_record(path, third, UNITS)
            assert path.read_bytes() == whole + last[:cut]


@pytest.mark.parametrize("text", ["", "\ufeff", "\n", HEADER, HEADER.strip(), "\n" + HEADER])
def test_a_first_row_gets_a_header_where_there_is_none(path, text):
    write(path, text)
    append_record(path, FIRST, UNITS)
    assert read_log(path, UNITS).rows == (FIRST,)
    assert path.read_text(encoding="utf-8-sig").count("supersedes") == 1


def test_a_header_cut_short_is_named_and_never_written_onto(path):
    for cut in range(1, len(HEADER) - 1):
        write(path, HEADER[:cut])
        with pytest.raises(RecordError, match="line 1"):
            append_record(path, FIRST, UNITS)
        assert path.read_text() == HEADER[:cut]


def test_ids_are_unique_short_and_sort_by_time():
    made = [new_id() for _ in range(2000)]
    assert len(set(made)) == 2000
    assert {len(id_) for id_ in made} == {16}
    # Those a whole millisecond apart sort by time; within a microsecond chance decides.
    stamps = [id_[:12] for id_ in made]
    assert stamps == sorted(stamps)


def test_eight_threads_add_25_rows_each_and_none_is_lost(path):
    logs = []

    def work(number):
        for i in range(25):
            logs.append(append_record(path, Record(f"t{number}-{i}", DAY, "101", "report"), UNITS))

    threads = [threading.Thread(target=work, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {row.id for row in read_log(path, UNITS).rows} == {
        f"t{n}-{i}" for n in range(8) for i in range(25)
    }
    assert len(path.read_text().splitlines()) == 201
    assert sorted(len(log) for log, _ in logs) == list(range(1, 201))


WORKER = """
import datetime as dt, sys
from spread.records.kinds import Record
from spread.records.store import append_record
path, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
for i in range(count):
    append_record(path, Record(f"{name}-{i}", dt.date(2026, 11, 20), "101", "note", note="x" * 500), ("101",))
    append_record(path, Record(f"same-{i}", dt.date(2026, 11, 20), "101", "report"), ("101",))
    print(f"{name}-{i}", flush=True)
"""


def start(path, name, count, before=""):
    return subprocess.Popen(
        [sys.executable, "-c", before + WORKER, str(path), name, str(count)],
        cwd=REPO,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_four_processes_write_while_another_reads_and_every_row_is_there_once(path):
    workers = [start(path, f"p{number}", 20) for number in range(4)]
    seen = 0
    while any(worker.poll() is None for worker in workers):
        rows = len(read_log(path, UNITS).rows)  # never half a row, never fewer
        assert rows >= seen
        seen = rows
    errors = [worker.communicate()[1] for worker in workers]
    assert errors == [""] * 4
    ids = [text.split(",")[0] for text in path.read_text().splitlines()[1:]]
    assert sorted(ids) == sorted(
        [f"p{n}-{i}" for n in range(4) for i in range(20)] + [f"same-{i}" for i in range(20)]
    )


@pytest.mark.skipif(os.name != "posix", reason="kills a process the POSIX way")
def test_a_killed_writer_leaves_every_row_that_it_said_was_kept(path):
    worker = start(path, "k", 5000)
    told = [worker.stdout.readline().strip() for _ in range(25)]
    worker.send_signal(signal.SIGKILL)
    told += worker.communicate()[0].split()
    kept = {row.id for row in read_log(path, UNITS).rows}
    assert set(told) <= kept
    append_record(path, Record("after", DAY, "101", "report"), UNITS)  # its lock died with it


@pytest.mark.skipif(os.name != "posix", reason="needs a POSIX limit on file size")
def test_a_disk_that_fills_up_in_the_middle_of_a_row_keeps_none_of_it(path):
    limit = "import resource, signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
    worker = start(path, "f", 5000, limit + "resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000))\n")
    out, err = worker.communicate(timeout=60)
    assert "was not kept" in err
    data = path.read_bytes()
    assert data.endswith(b"\n")
    assert len(data) <= 20000
    assert set(out.split()) <= {row.id for row in read_log(path, UNITS).rows}


def test_a_hundred_thousand_rows_are_read_in_seconds(path):
    # A loose bound, so that a busy machine does not fail it; about 1.5 s was measured.
    import time

    rows = "".join(
        f"r{i},20{i % 20:02d}-01-{i % 28 + 1:02d},10{i % 3 + 1},report,,,,,,,crew-1,,\n"
        for i in range(100_000)
    )
    write(path, HEADER + rows)
    before = time.process_time()
    log = read_log(path, UNITS)
    assert len(log) == 100_000
    assert time.process_time() - before < 8
