"""Map layers and IMDF archives: what is asked of them, their true size, and those that are spoilt."""

import io
import json
import math
import time
import uuid
import zipfile
from pathlib import Path

import pytest
import shapely
from read_back import accepting
from shapely import box
from small import made_plan

from spread.errors import SpreadError
from spread.outlines import archives, found, opening
from spread.outlines.asking import FIRST
from spread.outlines.found import Found, found_of
from spread.outlines.opening import is_outlines, open_outlines, outlines_of
from spread.outlines.reading import read_outlines
from spread.plan.checks import check_plan
from spread.plan.geojson import plan_text
from spread.plan.projection import LocalPlane
from spread.tables.answers import Answers

PLACE = LocalPlane(13.4, 52.5)


def held(data, file):
    """Read a file as the worker does, here."""
    return found_of(outlines_of(data, file))


def answered(got: Found, file, answers=None):
    """Say yes to what is suggested and to what ``answers`` has; return what was asked, and the plan."""
    answers, asked = answers or Answers(), []
    for _ in range(5):
        outlined = read_outlines(got, answers, name="Made", file=file)
        if outlined.plan is not None:
            return asked, outlined
        asked += outlined.questions
        assert all(one.suggestion for one in outlined.questions), [one.key for one in outlined.questions]
        answers = accepting(answers, outlined.questions)
    raise AssertionError("it asks without end")


def flats(*, size=1.0, codes=None):
    """Two floors of three flats each along a hallway, as a table with areas."""
    import geopandas

    rows = []
    for floor in (1, 2):
        for n in range(3):
            code = codes[n] if codes else f"{floor}{n + 1:02d}"
            rows.append((code, floor, "Apartment", "Jane Doe", box(n * 8, 2, n * 8 + 8, 9)))
        rows.append((f"H{floor}", floor, "Corridor", "", box(0, 0, 24, 2)))
    return geopandas.GeoDataFrame(
        [one[:4] for one in rows],
        columns=["Apt No", "storey", "use", "tenant"],
        geometry=[shapely.transform(one[4], lambda at: at * size) for one in rows],
    )


def on_earth(frame, system):
    """The same place on Earth, in a system of coordinates."""
    placed = frame.set_geometry(shapely.transform(frame.geometry.values, PLACE.to_degrees))
    return placed.set_crs("EPSG:4326").to_crs(system)


def geopackage(tmp_path, **layers):
    path = tmp_path / "plan.gpkg"
    for name, frame in layers.items():
        frame.to_file(path, layer=name, driver="GPKG")
    return path.read_bytes()


def zipped(files, **more):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content, **more)
    return stream.getvalue()


def shapefile(tmp_path, frame, *, leave=()):
    frame.to_file(tmp_path / "units.shp")
    files = {
        f"gis/{one.name}": one.read_bytes() for one in tmp_path.glob("units.*") if one.suffix not in leave
    }
    return zipped(files)


def imdf(*, names=True, encoding="utf-8", drop=()):
    """Return the files of an archive of our own: two levels with a walkway, stairs and three units each."""
    level_id = {n: str(uuid.UUID(int=n)) for n in (0, 1)}

    def feature(kind, shape, **properties):
        geometry = (
            None if shape is None else shapely.geometry.mapping(shapely.transform(shape, PLACE.to_degrees))
        )
        return {
            "type": "Feature",
            "feature_type": kind,
            "id": str(uuid.uuid4()),
            "geometry": geometry,
            "properties": properties,
        }

    levels = [
        feature("level", box(-3, 0, 24, 9), ordinal=n, short_name={"en": f"L{n + 1}"}) | {"id": level_id[n]}
        for n in (1, 0)
    ]
    units, doors = [], []
    for n in (0, 1):
        for k in range(3):
            name = {"en": f"{n + 1}{k + 1:02d}"} if names else None
            units.append(
                feature("unit", box(k * 8, 2, k * 8 + 8, 9), category="room", level_id=level_id[n], name=name)
            )
            line = shapely.LineString([(k * 8 + 1, 2), (k * 8 + 2, 2)])
            doors.append(feature("opening", line, category="pedestrian", level_id=level_id[n]))
        units.append(feature("unit", box(0, 0, 24, 2), category="walkway", level_id=level_id[n]))
        units.append(feature("unit", box(-3, 0, 0, 2), category="stairs", level_id=level_id[n]))
        units.append(feature("unit", box(-3, 2, 0, 5), category="elevator", level_id=level_id[n]))
    files = {"manifest.json": {"version": "1.0.0"}}
    for kind, features in (("level", levels), ("unit", units), ("opening", doors)):
        files[f"{kind}.geojson"] = {"type": "FeatureCollection", "features": features}
    return {
        f"venue/{name}": json.dumps(of).encode(encoding) for name, of in files.items() if name not in drop
    }


def areas(plan):
    return {unit.id: round(unit.area, 1) for unit in plan.units.values()}


SIX = {f"{floor}{n}": 56.0 for floor in (1, 2) for n in ("01", "02", "03")}


@pytest.mark.parametrize("system", ["EPSG:4326", "EPSG:25833", "EPSG:3857", "EPSG:2263"])
def test_a_geopackage_comes_out_in_true_metres_whatever_its_system_of_coordinates(tmp_path, system):
    place = (-73.98, 40.75) if system == "EPSG:2263" else (13.4, 52.5)  # feet of New York's own grid
    frame = flats().set_geometry(shapely.transform(flats().geometry.values, LocalPlane(*place).to_degrees))
    data = geopackage(tmp_path, units=frame.set_crs("EPSG:4326").to_crs(system))
    asked, outlined = answered(held(data, "plan.gpkg"), "plan.gpkg")
    assert areas(outlined.plan) == pytest.approx(SIX, rel=2e-3)
    assert outlined.plan.floors == ("1", "2")
    assert {one.key for one in asked if one.topic == "outlines"} == {*FIRST[1:]}, (
        "neither length nor north is asked"
    )
    assert {hall.floor for hall in outlined.plan.hallways} == {"1", "2"}
    assert check_plan(outlined.plan)[0] == []
    low = min(unit.parts[floor].bounds[1] for unit in outlined.plan.units.values() for floor in unit.parts)
    assert low == pytest.approx(2.0, abs=0.05), "the hallway is south of the flats: north is up"


def test_columns_are_proposed_as_those_of_a_list_of_units_and_a_tenants_name_never_is(tmp_path):
    data = geopackage(tmp_path, units=on_earth(flats(), "EPSG:25833"))
    asked, outlined = answered(held(data, "plan.gpkg"), "plan.gpkg")
    said = {one.key: one.suggestion for one in asked}
    columns = {"column of codes": "Apt No", "column of floors": "storey", "column of kinds": "use"}
    assert {key: said[key] for key in columns} == columns
    assert (said["Apartment"], said["Corridor"]) == ("home", "hallway")
    assert "Jane" not in plan_text(outlined.plan), "what nobody chose is not kept"
    assert not any("Jane" in text for one in asked for text in one.examples)


def test_the_layer_is_asked_where_there_are_several(tmp_path):
    import geopandas

    other = geopandas.GeoDataFrame({"n": [1]}, geometry=[box(0, 0, 50, 50)])
    data = geopackage(tmp_path, land=on_earth(other, "EPSG:25833"), units=on_earth(flats(), "EPSG:25833"))
    asked, outlined = answered(held(data, "plan.gpkg"), "plan.gpkg")
    first = asked[0]
    assert (first.key, first.suggestion, set(first.options)) == ("layer", "units", {"land", "units"})
    assert set(outlined.plan.units) == set(SIX)


@pytest.mark.parametrize(
    ("word", "size"), [("foot", 1 / 0.3048), ("millimetre", 1000.0), ("inch", 1 / 0.0254)]
)
def test_where_nothing_says_how_long_a_unit_is_it_is_asked_and_never_guessed(tmp_path, word, size):
    data = shapefile(tmp_path, flats(size=size))
    got = held(data, "plan.zip")
    first = read_outlines(got, Answers(), name="Made", file="plan.zip").questions[0]
    assert (first.key, first.quiet) == ("unit of length", False)
    assert "of them wide" in first.examples[0]
    _, outlined = answered(got, "plan.zip", Answers({"outlines": {"unit of length": word}}))
    assert areas(outlined.plan) == pytest.approx(SIX, rel=1e-3)


def test_a_header_that_names_degrees_over_a_drawing_in_metres_is_not_believed(tmp_path):
    frame = flats().set_crs("EPSG:4326", allow_override=True)
    got = held(geopackage(tmp_path, units=frame), "plan.gpkg")
    assert (got.metre, got.north) == (None, None)


def test_codes_that_stand_on_each_floor_are_asked_about(tmp_path):
    got = held(geopackage(tmp_path, units=on_earth(flats(codes="ABC"), "EPSG:25833")), "plan.gpkg")
    told = {"outlines": {"codes that stand on several floors": "a unit on each, the floor before its code"}}
    _, outlined = answered(got, "plan.gpkg", Answers(told))
    assert set(outlined.plan.units) == {f"{floor}-{code}" for floor in "12" for code in "ABC"}
    asked, outlined = answered(got, "plan.gpkg")
    assert not next(one for one in asked if one.key in told["outlines"]).quiet
    assert {tuple(unit.parts) for unit in outlined.plan.units.values()} == {("1", "2")}


def test_two_areas_of_one_code_on_one_floor_are_told_by_their_rows(tmp_path):
    got = held(geopackage(tmp_path, units=on_earth(flats(codes=("A", "A", "C")), "EPSG:25833")), "plan.gpkg")
    first = Answers({"outlines": {"codes that stand on several floors": "one unit over its floors"}})
    with pytest.raises(AssertionError, match="codes that stand twice on a floor"):
        answered(got, "plan.gpkg", first)  # nothing is suggested: it may be a slip
    told = first.having("outlines", "codes that stand twice on a floor", "a mistake in the file")
    with pytest.raises(SpreadError) as refused:
        answered(got, "plan.gpkg", told)
    assert str(refused.value) == (
        "plan.gpkg, unit 'A': it is there twice on one floor: row 1 ('A') on 1, row 2 ('A') on 1, "
        "row 5 ('A') on 2, row 6 ('A') on 2; give each home a code of its own in the file."
    )
    joined = first.having("outlines", "codes that stand twice on a floor", "rooms of one unit")
    _, outlined = answered(got, "plan.gpkg", joined)
    assert areas(outlined.plan) == pytest.approx({"A": 224.0, "C": 112.0}, rel=2e-3)


def test_one_code_in_two_corners_of_a_floor_is_refused_with_its_rows(tmp_path):
    got = held(geopackage(tmp_path, units=on_earth(flats(codes=("A", "B", "A")), "EPSG:25833")), "plan.gpkg")
    told = {
        "codes that stand on several floors": "one unit over its floors",
        "codes that stand twice on a floor": "rooms of one unit",
    }
    with pytest.raises(
        SpreadError, match=r"unit 'A' on floor '1': it lies in 2 parts that do not touch \(row 1"
    ):
        answered(got, "plan.gpkg", Answers({"outlines": told}))


def test_areas_that_overlap_are_told_with_their_codes(tmp_path):
    frame = flats()
    frame.loc[0, "geometry"] = box(0, 2, 9, 9)
    _, outlined = answered(
        held(geopackage(tmp_path, units=on_earth(frame, "EPSG:25833")), "plan.gpkg"), "plan.gpkg"
    )
    (error,) = check_plan(outlined.plan)[0]
    assert "unit '101' on floor '1': it overlaps unit '102' by 7." in str(error)


def test_lines_that_close_are_areas_and_one_that_does_not_is_told_by_its_row(tmp_path):
    frame = flats()
    lines = frame.set_geometry([shapely.LineString(one.exterior) for one in frame.geometry])
    _, outlined = answered(
        held(geopackage(tmp_path, units=on_earth(lines, "EPSG:25833")), "plan.gpkg"), "plan.gpkg"
    )
    assert areas(outlined.plan) == pytest.approx(SIX, rel=2e-3)
    lines.loc[1, "geometry"] = shapely.LineString([(8, 2), (16, 2), (16, 9), (8, 9), (8, 4)])
    open_ = tmp_path / "open"
    open_.mkdir()
    with pytest.raises(
        SpreadError, match=r"row 2 \('102'\): its outline is a line that is not closed: .* 2.00 apart"
    ):
        answered(held(geopackage(open_, units=on_earth(lines, "EPSG:25833")), "plan.gpkg"), "plan.gpkg")


def test_an_area_that_crosses_itself_is_told_by_its_row(tmp_path):
    frame = flats()
    frame.loc[2, "geometry"] = shapely.Polygon([(16, 2), (24, 9), (24, 2), (16, 9)])
    with pytest.raises(
        SpreadError, match=r"row 3 \('103'\): its outline is no valid area \(self-intersection"
    ):
        answered(held(geopackage(tmp_path, units=on_earth(frame, "EPSG:25833")), "plan.gpkg"), "plan.gpkg")


def test_a_geojson_of_somebody_elses_is_a_layer_and_one_of_ours_is_read_as_it_is():
    path = Path(__file__).parent / "data" / "doe_midrise.geojson"
    asked, outlined = answered(held(path.read_bytes(), path.name), path.name)
    assert asked == []
    assert len(outlined.plan.units) == 32
    drawing = json.loads(path.read_text(encoding="utf-8"))
    for one in drawing["features"]:
        of = one["properties"]
        one["properties"] = {"unit": of["id"], "level": of["floor"], "use": of["kind"]}
    asked, outlined = answered(held(json.dumps(drawing).encode(), "theirs.geojson"), "theirs.geojson")
    assert len(outlined.plan.units) == 32
    assert {one.key for one in asked} >= {*FIRST[1:]}


def test_our_own_drawing_of_a_building_is_read_whole():
    plan = made_plan(2, 2)
    asked, outlined = answered(held(plan_text(plan).encode(), "plan.geojson"), "plan.geojson")
    assert asked == []
    assert set(outlined.plan.units) == set(plan.units)
    assert len(outlined.plan.doors) == len(plan.doors)


def test_an_imdf_archive_becomes_floors_with_doors_hallways_and_stairs():
    got = held(zipped(imdf()), "venue.zip")
    assert got.levels == ("L1", "L2"), "by their ordinals, not as they stand in the file"
    asked, outlined = answered(got, "venue.zip")
    plan = outlined.plan
    assert areas(plan) == pytest.approx(SIX, rel=1e-3)
    assert (plan.floors, len(plan.doors)) == (("1", "2"), 6)
    assert [stair.floors for stair in plan.stairs] == [("1", "2")]
    assert {one.key: one.suggestion for one in asked if one.topic == "rooms"} == {
        "room": "home",
        "walkway": "hallway",
        "stairs": "stair",
        "elevator": "leave out",
    }
    assert check_plan(plan) == ([], [])


def test_units_of_an_archive_without_names_are_numbered_if_a_person_says_so():
    asked, outlined = answered(held(zipped(imdf(names=False)), "venue.zip"), "venue.zip")
    assert "units without a code" in {one.key for one in asked}
    assert set(outlined.plan.units) == set(SIX)


def locked(files):
    """Mark every file of an archive as locked: the first bit of its flags, in both of its places."""
    data = bytearray(zipped(files))
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        start = data.find(mark)
        while start >= 0:
            data[start + at] |= 1
            start = data.find(mark, start + 4)
    return bytes(data)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: zipped({**imdf(), "../../evil.json": b"{}"}), "names a place outside of the archive"),
        (lambda: zipped({**imdf(), "C:\\evil.json": b"{}"}), "names a place outside of the archive"),
        (
            lambda: zipped({**imdf(), **{f"{n}.txt": b"" for n in range(600)}}),
            "holds 604 files, more than the 500",
        ),
        (lambda: locked(imdf()), "locked with a password"),
        (lambda: zipped(imdf())[:-200], "cut short or no ZIP archive"),
        (lambda: zipped(imdf(encoding="utf-16")), "level.geojson|unit.geojson"),
        (lambda: zipped({**imdf(), "venue/unit.geojson": b"[" * 100_000}), "unit.geojson: it is no GeoJSON"),
        (lambda: zipped(imdf(drop=("level.geojson",))), "it has no units or no levels"),
        (lambda: zipped({"a.shp": b"<OGRVRTDataSource></OGRVRTDataSource>"}), "a.shp: it is no shapefile"),
        (lambda: zipped({"readme.txt": b"hello"}), "holds no IMDF manifest and no shapefile"),
        (lambda: b"", "it is empty"),
        (lambda: b"hello", "it is no IFC, GeoPackage, GeoJSON or archive"),
        (lambda: b"\x00\x00\x27\x0a" + bytes(200), "a shapefile alone does not say"),
        (lambda: b'{"type": "FeatureCollection", "features": []}', "no GeoJSON with features"),
        (lambda: b"{" * 200_000, "not JSON in UTF-8"),
    ],
    ids=[
        *(
            "up and out",
            "a drive",
            "many files",
            "locked",
            "cut short",
            "utf-16",
            "nested",
            "no levels",
            "another in disguise",
        ),
        *("no plan", "empty", "text", "shp alone", "no features", "braces"),
    ],
)
def test_what_is_spoilt_or_hostile_is_refused_in_one_sentence(make, words):
    with pytest.raises(SpreadError, match=words) as told:
        held(make(), "file.zip")
    assert "\n" not in str(told.value)
    assert str(told.value).startswith("file.zip")


def test_an_archive_that_grows_beyond_all_bounds_is_stopped_while_it_is_unpacked(monkeypatch):
    monkeypatch.setattr(archives, "MOST_BYTES", 2_000_000)
    data = zipped({**imdf(), "venue/unit.geojson": b" " * 50_000_000})
    assert len(data) < 100_000
    begun = time.monotonic()
    with pytest.raises(SpreadError, match="larger than 2 MB when it is unpacked"):
        held(data, "venue.zip")
    assert time.monotonic() - begun < 5


def test_what_takes_too_long_is_ended(monkeypatch):
    monkeypatch.setattr(opening, "SECONDS", 0.01)
    with pytest.raises(
        SpreadError, match=r"venue\.zip: it takes more than 0 seconds to read; save the floor plan alone"
    ):
        open_outlines(zipped(imdf()), "venue.zip")


def test_more_outlines_than_a_building_has_are_refused(monkeypatch):
    monkeypatch.setattr(found, "MOST_ROOMS", 5)
    with pytest.raises(SpreadError, match="it has 12 outlines with 60 corners, more than are read"):
        held(zipped(imdf()), "venue.zip")


def test_a_shapefile_without_its_table_asks_for_what_that_would_say(tmp_path):
    data = shapefile(tmp_path, on_earth(flats(), "EPSG:25833"), leave=(".dbf",))
    asked, outlined = answered(held(data, "plan.zip"), "plan.zip")
    assert {one.key: one.suggestion for one in asked}["column of codes"] == "number them by floor"
    assert len(outlined.plan.units) == 8


def test_a_spoilt_geopackage_is_refused(tmp_path):
    data = geopackage(tmp_path, units=on_earth(flats(), "EPSG:25833"))
    for bad in (data[: len(data) // 3], data[:200] + bytes(len(data) - 200)):
        with pytest.raises(SpreadError, match=r"no whole GeoPackage|missing or spoilt|no layer of areas"):
            held(bad, "plan.gpkg")


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_coordinate_that_is_no_number_is_refused(tmp_path, value):
    frame = flats()
    frame.loc[0, "geometry"] = shapely.Polygon([(0, 2), (8, 2), (8, value), (0, 9)])
    with pytest.raises(SpreadError):
        answered(held(geopackage(tmp_path, units=frame.set_crs("EPSG:25833")), "plan.gpkg"), "plan.gpkg")


@pytest.mark.parametrize(
    ("data", "file", "ours"),
    [
        (b"unit,floor\n101,1\n", "list.csv", False),
        (zipped({"xl/workbook.xml": b"<x/>"}), "list.xlsx", False),
        (zipped({"content.xml": b"<x/>"}), "list.ods", False),
        (zipped(imdf()), "venue.zip", True),
        (zipped(imdf()), "venue", True),
        (b"ISO-10303-21;\n", "model", True),
        (b'\xef\xbb\xbf {"type": 1}', "plan.json", True),
    ],
)
def test_lists_of_units_are_told_from_files_of_outlines(data, file, ours):
    assert is_outlines(data, file) is ours


def test_a_unit_of_an_archive_that_is_no_area_is_told_by_its_name():
    files = imdf()
    units = json.loads(files["venue/unit.geojson"])
    units["features"][1]["geometry"] = {"type": "Point", "coordinates": [13.4, 52.5]}
    data = zipped({**files, "venue/unit.geojson": json.dumps(units).encode()})
    with pytest.raises(SpreadError, match=r"feature 2 \('102'\): it has no outline that is an area"):
        answered(held(data, "venue.zip"), "venue.zip")


@pytest.mark.parametrize(
    "odd", [{"type": "Feature", "geometry": None}, {"type": "Feature", "properties": [1]}]
)
def test_a_drawing_of_ours_with_a_feature_that_says_nothing_is_told_its_row(odd):
    drawing = json.loads(plan_text(made_plan(1, 2)))
    drawing["features"].append(odd)
    with pytest.raises(SpreadError, match=f"row {len(drawing['features'])}: it has no geometry"):
        held(json.dumps(drawing).encode(), "plan.geojson")


def test_a_number_without_end_in_a_table_is_an_empty_cell(tmp_path):
    frame = on_earth(flats(), "EPSG:25833").assign(rent=[math.inf, *[math.nan] * 7])
    _, outlined = answered(held(geopackage(tmp_path, units=frame), "plan.gpkg"), "plan.gpkg")
    assert set(outlined.plan.units) == set(SIX)
