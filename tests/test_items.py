"""Findings item by item: their cell, the row they are part of, the file that gets a column for them."""

from __future__ import annotations

import csv
import datetime as dt
import io
import threading
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spread.errors import RecordError
from spread.records.cells import HEADER, to_fields, to_line
from spread.records.incoming import read_incoming
from spread.records.items import (
    ITEM_LIMIT,
    bugs_counted,
    finding_problems,
    items_text,
    read_items,
    signs_of,
)
from spread.records.kinds import EVIDENCE, FIELDS, STAGES, STATES, Finding, Record
from spread.records.log import Log
from spread.records.parse import record_from_fields
from spread.records.store import append_record, read_log
from spread.records.table import read_table, widened
from spread.report.exchange.tables import records_csv, records_xlsx
from spread.words import ENGLISH
from spread.words.records import describe

pytestmark = pytest.mark.usefixtures("read_here")

UNITS = ("101", "102", "103")
DAY = dt.date(2026, 11, 20)
EXAMPLE = "headboard: live+stains, 12, nymphs, 0.4 m, photo IMG_1.jpg, intact, at bed 1; nightstand: stains"
LOOK = {
    "id": "r1",
    "when": "2026-11-20",
    "unit": "101",
    "kind": "inspection",
    "method": "thorough-visual",
    "found": "yes",
}

codes = st.lists(st.text("abz019", min_size=1, max_size=6), min_size=1, max_size=3).map("-".join)
photo_parts = st.sampled_from(["IMG_1.jpg", "a", "304", "bed (2).png", "é-1.jpeg", "x  y.webp", "_", "(1)"])
places = (
    st.text(st.characters(exclude_categories=("C", "Zl", "Zp"), exclude_characters=",;:"), max_size=30)
    .map(lambda text: " ".join(text.split()))
    .filter(bool)
)


@st.composite
def findings(draw):
    evidence = draw(st.frozensets(st.sampled_from(EVIDENCE)))
    return Finding(
        item=draw(codes),
        evidence=evidence,
        stage=draw(st.sampled_from(("", *STAGES))) if evidence else "",
        count=draw(st.none() | st.sampled_from([1, 3, 12, 50, 9999])) if evidence else None,
        metres=draw(st.none() | st.integers(0, 3000).map(lambda cm: cm / 100)),
        photo=draw(st.just("") | st.lists(photo_parts, min_size=1, max_size=3).map("/".join)),
        state=draw(st.sampled_from(("", *STATES))),
        place=draw(st.just("") | places),
    )


def faults(text):
    read = read_items(text)
    assert isinstance(read, list), read
    assert {name for name, _, _ in read} == {"items"}
    return [f"{what}; {fix}" for _, what, fix in read]


def looked(items, **more):
    return record_from_fields(LOOK | {"items": items} | more, UNITS)


def refused(items, **more):
    with pytest.raises(RecordError) as caught:
        looked(items, **more)
    return [str(problem) for problem in caught.value.problems]


# The cell.


@settings(max_examples=200, deadline=None)
@given(st.lists(findings(), max_size=6).map(tuple))
def test_items_written_and_read_are_the_same_items(items):
    assert read_items(items_text(items)) == items
    assert finding_problems(items) == []


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=80) | st.text(":;,+. abelmnostv0123456789m", max_size=60))
def test_any_text_is_items_or_sentences_and_never_an_error(text):
    read = read_items(text)
    if isinstance(read, tuple):
        assert read_items(items_text(read)) == read
    else:
        assert read
        assert all("\n" not in what and what and fix for _, what, fix in read)


def test_the_cell_that_a_person_types_is_read():
    assert read_items(EXAMPLE) == (
        Finding(
            "headboard", frozenset({"live", "stains"}), "nymphs", 12, 0.4, "IMG_1.jpg", "intact", "bed 1"
        ),
        Finding("nightstand", frozenset({"stains"})),
    )
    assert items_text(read_items(EXAMPLE)) == EXAMPLE


def test_spaces_order_and_a_last_semicolon_do_not_matter():
    loose = (
        " headboard :stains + live,at  bed 1 ,  intact,0.40 m,photo IMG_1.jpg,nymphs,12;nightstand:stains; "
    )
    assert read_items(loose) == read_items(EXAMPLE)


def test_an_item_where_nothing_was_seen_says_so_and_may_have_a_state():
    assert read_items("encasement: nothing, torn; sofa: nothing") == (
        Finding("encasement", state="torn"),
        Finding("sofa"),
    )


def test_feet_are_kept_as_metres_to_the_centimetre():
    # 1 foot is 0.3048 m exactly (international foot, 1959).
    assert read_items("lamp: live, 5 ft")[0].metres == 1.52


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("headboard", "item 1: 'headboard' has no colon; write the item, a colon"),
        (": live", "item 1: '' is not a code of the room sheet"),
        ("Head board: live", "'Head board' is not a code"),
        ("headboard:", "(headboard): what was seen is missing; write nothing or signs"),
        ("headboard: live+", "a sign is missing in 'live+'"),
        ("headboard: lice", "unknown sign 'lice'; write 'live' if that is meant"),
        ("headboard: 12", "unknown sign '12'"),
        ("headboard: live,,12", "nothing stands between two commas"),
        ("headboard: live; ; sofa: live", "item 2: nothing stands between two semicolons"),
        ("headboard: live, 12, 3", "its count is given twice"),
        ("headboard: live, 0", "count 0 is not from 1 to 100000"),
        ("headboard: live, -3", "'-3' is neither a count nor a distance"),
        ("headboard: live, 1.5", "'1.5' is neither a count nor a distance"),
        ("headboard: live, 0.125 m", "neither a count nor a distance"),
        ("headboard: live, 31 m", "31 m from the bed is farther than 30 m"),
        ("headboard: live, nymph", "'nymph' is not understood; write 'nymphs' if"),
        ("headboard: live, broken", "'broken' is not understood; use a count, a stage"),
        ("headboard: nothing, 3", "3 are counted and nothing seen"),
        ("headboard: nothing, adults", "a stage is given and nothing seen"),
        ("headboard: live, at ", "'at' is not understood"),
        ("headboard: live, at " + "x" * 61, "a place has 1 to 60 characters"),
        ("headboard: live, photo /etc/passwd", "leads out of the building's folder"),
        ("headboard: live, photo ../other/a.jpg", "leads out of the building's folder"),
        ("headboard: live, photo a/../../b.jpg", "leads out of the building's folder"),
        ("headboard: live, photo ~/a.jpg", "leads out of the building's folder"),
        ("headboard: live, photo a\\b.jpg", "leads out of the building's folder"),
        ("headboard: live, photo https://example.org/a.jpg", "is an address, not a file"),
        ("headboard: live, photo C:a.jpg", "is an address, not a file"),
        ("headboard: live, photo .hidden", "is not a plain file name"),
        ("headboard: live, photo a//b.jpg", "is not a plain file name"),
        ("headboard: live, photo a?.jpg", "is not a plain file name"),
        ("headboard: live, photo " + "x" * 121, "a photo's file name has 1 to 120 characters"),
        ("x" * 41 + ": live", "is not a code of the room sheet"),
        ("a: live;" * (ITEM_LIMIT + 1), f"{ITEM_LIMIT + 1} items are listed, more than {ITEM_LIMIT}"),
        ("a: live, at " + "b" * 20_000, "characters, more than 20000"),
    ],
)
def test_one_fault_is_one_sentence(text, says):
    (sentence,) = faults(text)
    assert says in sentence


def test_every_fault_of_every_item_is_said_at_once():
    assert len(faults("headboard: lice, 0, photo /a; sofa: nothing, 2; Bed: live")) == 5


@pytest.mark.parametrize(
    "one",
    [
        Finding("headboard", frozenset({"live"}), place="bed; sofa: live"),
        Finding("headboard", frozenset({"live"}), place="bed, 12"),
        Finding("headboard", frozenset({"live"}), photo="a.jpg, 12"),
        Finding("headboard: live; sofa", frozenset({"live"})),
        Finding("headboard", frozenset({"live"}), stage="egg"),
        Finding("headboard", count=3),
    ],
)
def test_items_made_in_code_that_the_cell_would_not_give_back_are_refused(one, tmp_path):
    assert finding_problems([one])
    row = Record("r1", DAY, "101", "inspection", "brief-visual", "yes", items=(one,))
    with pytest.raises(RecordError, match="field 'items'"):
        append_record(tmp_path / "records.csv", row, UNITS)
    assert not (tmp_path / "records.csv").exists()


# The row.


def test_the_words_of_a_row_are_filled_from_its_items_where_they_are_empty():
    record = looked("headboard: live+stains, 2; box-spring: live, 3; nightstand: skins, 40")
    assert record.evidence == {"live", "stains", "skins"}
    assert (record.count, record.level) == (5, "low")  # 40 are skins; classes 1-3, 4-12, 13-50, more
    assert record.items[2] == Finding("nightstand", frozenset({"skins"}), count=40)


def test_what_the_technician_wrote_stands():
    record = looked("headboard: live, 2", level="heavy", count="60", evidence="live+eggs")
    assert (record.level, record.count, record.evidence) == ("heavy", 60, {"live", "eggs"})


def test_old_signs_fill_in_no_level_and_eggs_are_not_counted_as_bugs():
    assert looked("headboard: stains; sofa: skins, 9").level == ""
    eggs = looked("headboard: live+eggs, 30, eggs")
    assert (eggs.count, eggs.level, eggs.evidence) == (None, "", {"live", "eggs"})


def test_items_without_a_sign_leave_the_words_empty():
    record = looked("headboard: nothing; encasement: nothing, torn", found="no")
    assert (record.evidence, record.count, record.level) == (frozenset(), None, "")


def test_items_cannot_say_other_than_the_row():
    assert "though found is no" in refused("headboard: live, 2", found="no")[0]
    (sentence,) = refused("headboard: live+stains", evidence="stains")
    assert "field 'evidence': the items name live, which the evidence 'stains' leaves out" in sentence
    (sentence,) = refused("headboard: live", kind="turnover", method="moved-in", found="")
    assert "field 'items': a row of kind turnover does not say what was found" in sentence


LEFT = "encasement: intact, at bed 1; interceptors: displaced, photo left.jpg"


def test_a_treatment_says_how_it_left_things_and_its_row_comes_back_from_every_file():
    record = looked(LEFT, kind="treatment", method="combined", found="")
    assert record.items == (
        Finding("encasement", state="intact", place="bed 1"),
        Finding("interceptors", state="displaced", photo="left.jpg"),
    )
    assert (record.evidence, record.count, record.level) == (frozenset(), None, "")
    assert describe(record, ENGLISH).endswith("; encasement intact at bed 1, interceptors displaced")
    log = Log((record,))
    for data in (records_csv(log), records_xlsx(log)):
        assert read_incoming(data, "in", Log(), UNITS).new == (record,)


@pytest.mark.parametrize(
    ("items", "said"),
    [
        ("headboard: live", "'headboard' has no state, in a row of kind treatment; write how it was left"),
        ("encasement: nothing", "'encasement' has no state"),
        ("encasement: skins, intact", "'encasement' says what was found"),
        ("encasement: nothing, 3, intact", "3 are counted and nothing seen"),
        ("encasement: installed", "'installed'"),
    ],
)
def test_a_treatment_says_nothing_of_what_was_found(items, said):
    (sentence,) = refused(items, kind="treatment", method="spray", found="")
    assert "field 'items'" in sentence
    assert said in sentence


@settings(max_examples=60, deadline=None)
@given(st.lists(findings(), max_size=4).map(items_text))
def test_filling_in_twice_changes_nothing(items):
    record = looked(items)
    assert record_from_fields(to_fields(record), UNITS) == record
    assert record.evidence == signs_of(record.items)
    assert record.count == bugs_counted(record.items) or record.count is None


def test_a_row_tells_where_in_the_room_it_was():
    assert describe(looked(EXAMPLE), ENGLISH) == (
        "Thorough look: found, low, 12 bugs counted, live + stains; at headboard (12), nightstand"
    )
    assert describe(looked("a: live; b: live; c: live; d: live; e: live; f: nothing"), ENGLISH).endswith(
        "; at a, b, c, d and 1 more"
    )
    assert describe(looked("sofa: nothing", found="no"), ENGLISH) == "Thorough look: nothing found"


# The file.


def row(id_, items=(), **more):
    return Record(
        id_, DAY, "101", "inspection", "thorough-visual", "yes", "low", evidence=frozenset({"live"}),
        items=items, **more,
    )  # fmt: skip


SEEN = (Finding("headboard", frozenset({"live"}), photo="photos/1.jpg", place='the "big" room'),)


def test_a_log_gets_the_column_with_the_first_row_that_needs_it(tmp_path):
    path = tmp_path / "records.csv"
    append_record(path, row("r1"), UNITS)
    assert path.read_text() == HEADER + to_line(to_fields(row("r1")))
    append_record(path, row("r2", SEEN), UNITS)
    append_record(path, row("r3"), UNITS)
    lines = path.read_text().splitlines()
    assert lines[0] == ",".join((*FIELDS, "items"))
    assert lines[1] == to_line(to_fields(row("r1"))).strip() + ","
    assert read_log(path, UNITS).rows == (row("r1"), row("r2", SEEN), row("r3"))
    assert not list(tmp_path.glob("*.new"))


def test_a_new_log_has_the_column_at_once_if_it_needs_it(tmp_path):
    path = tmp_path / "records.csv"
    assert append_record(path, row("r1", SEEN), UNITS)[1]
    assert not append_record(path, row("r1", SEEN), UNITS)[1]  # sent twice, kept once
    assert read_log(path, UNITS).rows == (row("r1", SEEN),)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", [True, False], ids=["ended", "without a last line end"])
def test_every_byte_of_an_old_file_stays_but_for_the_new_cells(end, last, tmp_path):
    """A byte order mark, other columns, quoted notes with new lines, blank lines, rows of commas."""
    columns = [*reversed(FIELDS)]
    notes = ['two\nlines, "quoted"', "plain", "a\n\nb"]
    rows = [row(f"r{i}", note=note) for i, note in enumerate(notes)]
    lines = [",".join(columns), *(to_line(to_fields(one), columns)[:-1] for one in rows)]
    data = "\ufeff" + end.join([*lines, "", "," * 12]) + (end if last else "")
    path = tmp_path / "records.csv"
    path.write_bytes(data.encode())
    old = read_log(path, UNITS).rows
    append_record(path, row("new", SEEN), UNITS)
    assert read_log(path, UNITS).rows == (*old, row("new", SEEN))
    wider = [lines[0] + ",items", *(line + "," for line in lines[1:])]
    kept = "\ufeff" + end.join([*wider, "", "," * 12]) + (end if last else "\n")
    assert path.read_bytes().startswith(kept.encode())
    assert path.read_bytes()[len(kept.encode()) :].count(b"\n") == 1


def test_the_widened_file_is_what_another_csv_reader_expects():
    # Outside reader: pandas, its own C parser; every row has as many cells as the header.
    pandas = pytest.importorskip("pandas")
    data = (HEADER + "".join(to_line(to_fields(row(f"r{i}", note="a\nb"))) for i in range(3))).encode()
    wide = widened(data, ("items",))
    frame = pandas.read_csv(io.BytesIO(wide), dtype=str, keep_default_na=False)
    assert list(frame.columns) == [*FIELDS, "items"]
    assert list(frame["items"]) == ["", "", ""]
    assert frame.drop(columns="items").equals(
        pandas.read_csv(io.BytesIO(data), dtype=str, keep_default_na=False)
    )


def test_a_power_cut_at_any_byte_of_a_row_with_items_never_gives_a_part_of_its_items(tmp_path):
    path = tmp_path / "records.csv"
    append_record(path, row("r1", SEEN), UNITS)
    whole = path.read_bytes()
    torn = looked(EXAMPLE, id="r2", note="last")
    append_record(path, torn, UNITS)
    last = path.read_bytes()[len(whole) :]
    read = 0
    for cut in range(1, len(last)):
        path.write_bytes(whole + last[:cut])
        try:
            rows = read_log(path, UNITS).rows
        except RecordError:
            continue
        read += 1
        # Nothing but the line's end was cut; or the whole cell, behind the last comma, which may as
        # well be a file made by hand.
        assert rows[1:] == (torn,) or (rows[1:] == (replace(torn, items=()),) and last[cut - 1 : cut] == b",")
    assert read == 2


def test_a_disk_that_refuses_the_wider_file_leaves_the_old_one(tmp_path, monkeypatch):
    from pathlib import Path

    path = tmp_path / "records.csv"
    append_record(path, row("r1"), UNITS)
    before = path.read_bytes()

    def full(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(RecordError, match="was not kept"):
        append_record(path, row("r2", SEEN), UNITS)
    assert path.read_bytes() == before
    assert not list(tmp_path.glob("*.new"))


def test_threads_that_widen_one_file_lose_no_row(tmp_path):
    path = tmp_path / "records.csv"
    append_record(path, row("r0"), UNITS)

    def work(number):
        for i in range(5):
            append_record(path, row(f"t{number}-{i}", SEEN if (number + i) % 2 else ()), UNITS)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    rows = read_log(path, UNITS).rows
    assert len(rows) == 21
    assert sum(bool(one.items) for one in rows) == 10
    cells = list(csv.reader(io.StringIO(path.read_text(), newline="")))
    assert {len(line) for line in cells} == {len(FIELDS) + 1}


def test_a_log_with_the_column_and_one_without_read_alike():
    plain = HEADER + to_line(to_fields(row("r1")))
    wide = widened(plain.encode(), ("items",))
    one, other = (read_table(data, UNITS, file="records.csv") for data in (plain.encode(), wide))
    assert one.rows == other.rows
    assert one.rows[0].items == ()


@pytest.mark.parametrize(
    ("header", "says"),
    [
        ("itmes", "unknown column 'itmes'; write 'items'"),
        ("items,items", "column 'items' stands there twice"),
    ],
)
def test_a_slip_in_the_new_column_is_named(header, says):
    with pytest.raises(RecordError, match=says):
        read_table(f"{HEADER.strip()},{header}\n".encode(), UNITS, file="records.csv")


def test_a_bad_cell_is_named_with_its_line():
    text = HEADER.strip() + ",items\n" + to_line(to_fields(row("r1"))).strip() + ',"sofa: lice"\n'
    with pytest.raises(
        RecordError, match=r"records.csv, line 2, field 'items': item 1 \(sofa\): unknown sign"
    ):
        read_table(text.encode(), UNITS, file="records.csv")
