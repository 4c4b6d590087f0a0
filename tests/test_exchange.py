"""Exports that other programs open, and records that come back from them without a difference."""

import csv
import io
import json
import zipfile
from xml.etree import ElementTree as ET

import networkx as nx
import numpy as np
import openpyxl
import pytest
import shapely
from buildings import CODES, ON, clear, find, make_building, open_building, treatment
from hypothesis import given, settings
from hypothesis import strategies as st
from networkx.utils import graphs_equal
from read_back import read_contacts
from test_records import UNITS, notes, records

from spread.cli import main
from spread.errors import RecordError, SpreadError
from spread.plan import spreadsheet
from spread.plan.geojson import parse_plan, write_plan
from spread.plan.projection import LocalPlane
from spread.plan.spreadsheet import read_workbook, write_workbook
from spread.records import read_log
from spread.records.folder import FolderStore
from spread.records.incoming import read_incoming
from spread.records.log import Log
from spread.report.exchange.bundle import EXPORTS, README, make_export, make_zip, write_exports
from spread.report.exchange.graph import contacts_graphml
from spread.report.exchange.tables import records_csv, records_xlsx, units_table

ROWS = [
    clear("101", 60),
    find("203", 20, evidence="live+stains", note='=HYPERLINK("x"),\n"two" lines', by="-crew"),
    treatment("203", 18, note="+1 more, see 204"),
]


@pytest.fixture(scope="module")
def maple(tmp_path_factory):
    return open_building(make_building(tmp_path_factory.mktemp("exchange") / "maple-row", ROWS))


FILES = [file for export in EXPORTS.values() if export.ready for file in (export.file, *export.beside)]

logs = st.lists(records(), unique_by=lambda row: row.id, max_size=4).map(lambda rows: Log(tuple(rows)))


@settings(max_examples=40, deadline=None)
@given(logs)
def test_records_come_back_from_csv_without_a_difference(log):
    assert read_incoming(records_csv(log), "in.csv", Log(), UNITS).new == log.rows


@settings(max_examples=15, deadline=None)
@given(logs)
def test_records_come_back_from_xlsx_without_a_difference(log):
    assert read_incoming(records_xlsx(log), "in.xlsx", Log(), UNITS).new == log.rows


@settings(max_examples=15, deadline=None)
@given(st.lists(notes.filter(str.strip), min_size=1, max_size=4))
def test_every_text_of_a_workbook_comes_back_and_none_is_a_formula(texts):
    data = write_workbook([("s", [["head"] * len(texts), texts])])
    assert read_workbook(data, "x.xlsx")[1] == (2, texts)
    # Outside reader: openpyxl in its own full mode, which tells formulas ("f") from text ("s").
    sheet = openpyxl.load_workbook(io.BytesIO(data)).active
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s", "inlineStr"}


def test_a_workbook_that_a_person_typed_is_read_with_its_days_and_numbers():
    book = openpyxl.Workbook()
    book.active.append(["id", "when", "unit", "kind", "method", "found", "level", "count", "evidence"])
    book.active.append(["a1", ON, 101, "inspection", "dog", "yes", None, 3.0, "alert"])
    stream = io.BytesIO()
    book.save(stream)
    assert read_workbook(stream.getvalue(), "x.xlsx")[1] == (
        2,
        ["a1", ON.isoformat(), "101", "inspection", "dog", "yes", "", "3", "alert"],
    )


def test_a_workbook_that_unpacks_to_no_end_is_refused_before_it_is_unpacked(monkeypatch):
    monkeypatch.setattr(spreadsheet, "LARGEST_UNPACKED", 1_000_000)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"<x/>")
        archive.writestr("xl/bomb.xml", b"0" * 3_000_000)
    with pytest.raises(SpreadError, match=r"it unpacks to 3 MB, more than 1 MB"):
        read_workbook(stream.getvalue(), "x.xlsx")


@pytest.mark.parametrize("data", [b"PK\x03\x04", b"PK\x03\x04" + b"\0" * 99])
def test_a_broken_workbook_is_one_sentence(data):
    with pytest.raises(SpreadError, match="it is not an XLSX workbook; save it as XLSX"):
        read_workbook(data, "x.xlsx")


def test_a_list_with_semicolons_as_european_spreadsheets_write_it_is_taken():
    data = records_csv(Log((clear("101", 3),))).replace(b",", b";")
    assert read_incoming(b"\xef\xbb\xbf" + data, "in.csv", Log(), CODES).new == (clear("101", 3),)


def test_an_import_is_idempotent_and_a_dry_run_writes_nothing(tmp_path, capsys):
    whole = make_building(tmp_path / "whole", ROWS)
    bare = make_building(tmp_path / "bare", ROWS[:1])
    before = (bare / "records.csv").read_bytes()
    file = str(whole / "records.csv")
    assert main(["import", str(bare), file, "--dry-run"]) == 0
    assert "new 2, known 1, refused 0. Nothing was written" in capsys.readouterr().out
    assert (bare / "records.csv").read_bytes() == before
    for words in ("new 2, known 1", "new 0, known 3"):
        assert main(["import", str(bare), file]) == 0
        assert words in capsys.readouterr().out
        assert read_log(bare / "records.csv", CODES).rows == tuple(ROWS)
    assert main(["import", str(bare), file, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "new": 0,
        "known": 3,
        "refused": 0,
        "written": True,
        "repeats": [],
    }


def add_incoming(path, data, file, units):
    """As the import command does it: weighed against the log, taken whole or not at all."""
    store = FolderStore(path, units)
    incoming = read_incoming(data, file, store.log, units)
    if incoming.problems:
        raise RecordError(incoming.problems)
    store.extend(incoming.new)
    return store.log, incoming


def test_an_import_into_a_building_without_a_log_makes_one(tmp_path):
    path = tmp_path / "records.csv"
    log, incoming = add_incoming(path, records_xlsx(Log(tuple(ROWS))), "in.xlsx", CODES)
    assert len(incoming.new) == 3
    assert log == read_log(path, CODES) == Log(tuple(ROWS))


def test_one_bad_row_refuses_the_whole_file_and_every_fault_is_named(tmp_path, capsys):
    folder = make_building(tmp_path / "maple-row", ROWS[:1])
    before = (folder / "records.csv").read_bytes()
    other = clear("102", 60, id=ROWS[0].id)
    lost = clear("103", 5, id="x1", supersedes="nowhere")
    rows = list(csv.reader(io.StringIO(records_csv(Log((other, lost, *ROWS[1:]))).decode())))
    rows[3][2] = "999"
    file = tmp_path / "in.csv"
    with file.open("w", newline="") as stream:
        csv.writer(stream).writerows(rows)
    assert main(["import", str(folder), str(file)]) == 2
    told = capsys.readouterr().err
    assert f"in.csv, line 2, field 'id': id '{ROWS[0].id}' is taken by a row" in told
    assert "in.csv, line 3, field 'supersedes': there is no row 'nowhere'" in told
    assert "in.csv, line 4, field 'unit': unit '999' is not in the plan" in told
    assert "nothing was taken in (new 2, known 0, refused 3)" in told
    assert (folder / "records.csv").read_bytes() == before


def test_a_correction_of_a_row_that_the_log_has_is_taken_once(tmp_path):
    path = tmp_path / "records.csv"
    add_incoming(path, records_csv(Log(tuple(ROWS[:1]))), "a.csv", CODES)
    fix = clear("101", 60, id="fix", supersedes=ROWS[0].id)
    log, _ = add_incoming(path, records_csv(Log((fix,))), "b.csv", CODES)
    assert log.current == (fix,)
    again = clear("101", 60, id="fix2", supersedes=ROWS[0].id)
    with pytest.raises(RecordError, match="superseded by row 'fix' already"):
        add_incoming(path, records_csv(Log((again,))), "c.csv", CODES)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "it is empty"),
        (b"a,b\n1,2\n", "the first line is not the header of a log"),
        (b"\xff\xfe\x00", "it is not UTF-8 text"),
        (b"id,when\n", "column 'unit' is missing"),
        (b"\x89PNG\0", "it is not"),
    ],
)
def test_a_file_that_is_no_log_is_refused_in_a_sentence(data, words):
    with pytest.raises(SpreadError, match=words):
        read_incoming(data, "in.csv", Log(), CODES)


def test_a_row_that_is_short_or_long_is_named():
    data = records_csv(Log((clear("101", 3),))) + b"only,three,cells\n"
    problems = read_incoming(data, "in.csv", Log(), CODES).problems
    assert [str(p) for p in problems] == [
        "in.csv, line 3: the row has 3 cells and the header 13; put a cell that holds the separator in "
        "double quotes, and leave no column out."
    ]


def test_the_table_of_units_says_what_the_session_says(maple):
    heads, *rows = units_table(maple)
    assert [row[0] for row in rows] == list(maple.plan.units)
    chance = dict(zip((row[0] for row in rows), (row[heads.index("chance")] for row in rows), strict=True))
    for unit, known in maple.chances().items():
        assert chance[unit] == pytest.approx(known, abs=1e-4)
    found = rows[list(maple.plan.units).index("203")]
    assert found[heads.index("status")] == "look again"
    assert found[heads.index("last_find")] == ROWS[1].when.isoformat()


def test_the_map_in_metres_is_read_by_shapely_and_as_a_plan(maple):
    data = json.loads(make_export(maple, "geojson"))
    assert data["coordinates_in"] == "metres"
    assert "LOCAL_CS" in data["crs"]["properties"]["name"]
    shapes = {f["properties"]["id"]: shapely.from_geojson(json.dumps(f)) for f in data["features"]}
    for unit in maple.plan.units.values():
        (part,) = unit.parts.values()
        assert shapely.equals_exact(shapes[unit.id].normalize(), part.normalize(), tolerance=1e-3)
        assert shapes[unit.id].exterior.is_ccw, "RFC 7946, 3.1.6"
    plan = parse_plan(data, ("1", "2"), name="Maple Row")
    assert list(plan.units) == list(maple.plan.units)


def test_a_gis_opens_the_map_in_metres_as_a_plane_that_is_nowhere_on_earth(maple, tmp_path):
    # Outside reader: GDAL, through pyogrio.
    pyogrio = pytest.importorskip("pyogrio")
    path = tmp_path / "units.geojson"
    path.write_bytes(make_export(maple, "geojson"))
    info = pyogrio.read_info(path)
    kinds = [f["properties"]["kind"] for f in json.loads(path.read_text())["features"]]
    assert kinds.count("unit") == kinds.count("door") == len(CODES)
    assert kinds.count("contact") == maple.contacts.number_of_edges()
    assert {"hallway", "riser", "stair"} <= set(kinds)
    assert info["features"] == len(kinds)
    assert info["crs"].startswith("LOCAL_CS")
    assert {"id", "floor", "chance", "reason"} <= set(info["fields"])


def test_a_plan_that_says_where_it_stands_is_exported_in_longitude_and_latitude(tmp_path, maple):
    plane = LocalPlane(-79.38, 43.65)
    folder = tmp_path / "placed"
    folder.mkdir()
    (folder / "building.toml").write_text('name = "Placed"\nfloors = ["1", "2"]\n')
    write_plan(maple.plan, folder / "plan.geojson")
    drawn = json.loads((folder / "plan.geojson").read_text())
    del drawn["coordinates_in"]
    moved = json.loads(json.dumps(drawn))
    for feature in moved["features"]:
        shape = shapely.from_geojson(json.dumps(feature["geometry"]))
        feature["geometry"] = json.loads(shapely.to_geojson(shapely.transform(shape, plane.to_degrees)))
    (folder / "plan.geojson").write_text(json.dumps(moved))
    data = json.loads(make_export(open_building(folder), "geojson"))
    assert "crs" not in data
    for feature, was in zip(data["features"], moved["features"], strict=False):
        assert feature["properties"]["id"] == was["properties"]["id"]
        new, old = (shapely.from_geojson(json.dumps(f["geometry"])) for f in (feature, was))
        assert shapely.hausdorff_distance(new, old) < 2e-8, "two millimetres"


def test_the_graph_comes_back_from_graphml_equal(maple):
    data = contacts_graphml(maple.contacts)
    assert graphs_equal(read_contacts(data), maple.contacts)
    ids = [edge.get("id") for edge in ET.fromstring(data).iter("{http://graphml.graphdrawing.org/xmlns}edge")]
    assert len(set(ids)) == len(ids) == maple.contacts.number_of_edges()
    assert nx.read_graphml(io.BytesIO(data)).number_of_nodes() == len(CODES)


def test_the_table_of_units_in_csv_is_safe_and_read_by_another_program(maple):
    pandas = pytest.importorskip("pandas")
    frame = pandas.read_csv(io.BytesIO(make_export(maple, "units-csv")), dtype={"unit": str})
    assert list(frame["unit"]) == list(maple.plan.units)
    assert np.isfinite(frame["chance"]).all()


def test_the_calendar_has_the_visits_and_duties_that_are_due(maple):
    # Outside reader: the icalendar package.
    icalendar = pytest.importorskip("icalendar")
    events = icalendar.Calendar.from_ical(make_export(maple, "icalendar")).walk("VEVENT")
    assert any("203" in str(event["SUMMARY"]) for event in events)


def test_all_exports_are_in_the_zip_with_a_page_that_explains_them(maple):
    with zipfile.ZipFile(io.BytesIO(make_zip(maple))) as archive:
        assert archive.testzip() is None
        assert set(archive.namelist()) == {README, *FILES}
        words = archive.read(README).decode()
        assert all(export.file in words for export in EXPORTS.values())
        assert archive.read("records.csv") == (maple.building.folder / "records.csv").read_bytes()


def test_exports_never_write_over_a_file_or_into_the_building_unless_told(maple, tmp_path):
    folder = tmp_path / "out"
    assert [path.name for path in write_exports(maple, folder, ["graphml"])] == ["contacts.graphml"]
    with pytest.raises(SpreadError, match="it is there already; name another folder, or add --replace"):
        write_exports(maple, folder)
    assert [path.name for path in folder.iterdir()] == ["contacts.graphml"], "nothing half written"
    assert len(write_exports(maple, folder, replace=True)) == len(FILES) + 1
    with pytest.raises(SpreadError, match="it is the building's own folder"):
        write_exports(maple, maple.building.folder, ["records-csv"], replace=True)


def test_the_formats_of_the_command_are_those_that_can_be_made():
    from spread.commands.exchange import FORMATS

    assert (*EXPORTS, "zip") == FORMATS
