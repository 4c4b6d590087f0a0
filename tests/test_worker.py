"""A file that would take the server down is ended in a process of its own."""

import functools
import io
import time
import zipfile

import pytest
from openpyxl import Workbook

from spread.errors import SpreadError
from spread.plan.spreadsheet import read_workbook, write_workbook
from spread.worker import in_worker

SHARED = (
    b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.'
    b'spreadsheetml.sharedStrings+xml" />'
)


def sleepy(data, file):
    time.sleep(30)


def refusing(data, file):
    raise SpreadError(f"{file} is refused.")


def greedy(data, file):
    return len(bytearray(5_000_000_000))


def bomb(texts):
    """Return a small workbook whose table of shared texts holds very many."""
    book = Workbook()
    book.active.append(["unit", "floor"])
    whole, out = io.BytesIO(), io.BytesIO()
    book.save(whole)
    whole.seek(0)
    with zipfile.ZipFile(whole) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name in source.namelist():
            data = source.read(name)
            if name == "[Content_Types].xml":
                data = data.replace(b"</Types>", SHARED + b"</Types>")
            made.writestr(name, data)
        head = '<?xml version="1.0"?><sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        made.writestr("xl/sharedStrings.xml", head + "<si><t>a</t></si>" * texts + "</sst>")
    return out.getvalue()


@pytest.mark.parametrize(
    ("reader", "says"),
    [("sleepy", "more than 1 seconds"), ("refusing", "list.xlsx is refused"), ("greedy", "too much memory")],
)
def test_a_reader_is_ended_and_one_sentence_says_so(reader, says):
    began = time.monotonic()
    with pytest.raises(SpreadError, match=says) as caught:
        in_worker(f"test_worker:{reader}", b"", "list.xlsx", seconds=1 if reader == "sleepy" else 20)
    assert str(caught.value).count("\n") == 0
    assert time.monotonic() - began < 15


@pytest.mark.parametrize("seconds", [3, pytest.param(20, marks=pytest.mark.slow)])
def test_a_small_file_with_ten_million_texts_is_refused_in_seconds(monkeypatch, seconds):
    """It is read until it takes too long: 20 seconds as the product has it."""
    monkeypatch.setattr(
        "spread.plan.spreadsheet.in_worker", functools.partial(in_worker, seconds=float(seconds))
    )
    data = bomb(10_000_000)
    assert len(data) < 1_000_000
    began = time.monotonic()
    with pytest.raises(SpreadError, match=r"^list\.xlsx: it (takes|unpacks)"):
        read_workbook(data, "list.xlsx")
    assert time.monotonic() - began < 40


def test_a_large_honest_workbook_is_read_as_a_small_one_is():
    rows = [["unit", "floor"], *([str(i), "1"] for i in range(12_000))]
    read = read_workbook(write_workbook([("units", rows)]), "list.xlsx")
    assert [cells for _, cells in read] == rows
