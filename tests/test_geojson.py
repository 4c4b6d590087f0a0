"""Reading and writing drawings: RFC 7946, the WGS 84 ellipsoid, and twenty ways to be wrong."""

import json
import math
import os

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box

from spread.errors import PlanError
from spread.plan import geojson
from spread.plan.checks import check_plan
from spread.plan.geojson import parse_plan, read_plan, write_plan
from spread.plan.geometries import GeometryError, read_geometry
from spread.plan.model import Bed, Door, Outlet, Plan, Shaft, Space, Unit
from spread.plan.projection import LocalPlane, metres_per_degree

FLOORS = ("1", "2", "3")

# Copied from RFC 7946 (IETF, August 2016), section 1.5 and appendix A; values from memory of the text.
RFC_SECTION_1_5 = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [102.0, 0.5]},
            "properties": {"prop0": "value0"},
        },
        {
            "type": "Feature",
            "geometry": {
                "type": "LineString",
                "coordinates": [[102.0, 0.0], [103.0, 1.0], [104.0, 0.0], [105.0, 1.0]],
            },
            "properties": {"prop0": "value0", "prop1": 0.0},
        },
        {
            "type": "Feature",
            "geometry": {
                "type": "Polygon",
                "coordinates": [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]],
            },
            "properties": {"prop0": "value0", "prop1": {"this": "that"}},
        },
    ],
}
RFC_APPENDIX_A = {
    "A.1": {"type": "Point", "coordinates": [100.0, 0.0]},
    "A.2": {"type": "LineString", "coordinates": [[100.0, 0.0], [101.0, 1.0]]},
    "A.3 no holes": {
        "type": "Polygon",
        "coordinates": [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]],
    },
    "A.3 with holes": {
        "type": "Polygon",
        "coordinates": [
            [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
            [[100.8, 0.8], [100.8, 0.2], [100.2, 0.2], [100.2, 0.8], [100.8, 0.8]],
        ],
    },
    "A.4": {"type": "MultiPoint", "coordinates": [[100.0, 0.0], [101.0, 1.0]]},
    "A.5": {
        "type": "MultiLineString",
        "coordinates": [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]],
    },
    "A.6": {
        "type": "MultiPolygon",
        "coordinates": [
            [[[102.0, 2.0], [103.0, 2.0], [103.0, 3.0], [102.0, 3.0], [102.0, 2.0]]],
            [
                [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
                [[100.2, 0.2], [100.2, 0.8], [100.8, 0.8], [100.8, 0.2], [100.2, 0.2]],
            ],
        ],
    },
    "A.7": {
        "type": "GeometryCollection",
        "geometries": [
            {"type": "Point", "coordinates": [100.0, 0.0]},
            {"type": "LineString", "coordinates": [[101.0, 0.0], [102.0, 1.0]]},
        ],
    },
}


@pytest.mark.parametrize("section", RFC_APPENDIX_A)
def test_each_geometry_of_rfc_7946_appendix_a_reads_as_shapelys_own_reader_reads_it(section):
    value = RFC_APPENDIX_A[section]
    ours = read_geometry(value)
    assert ours.geom_type == value["type"]
    # Outside reference: GEOS's own GeoJSON reader.
    assert ours.equals_exact(shapely.from_geojson(json.dumps(value)), 0.0)


def test_the_hole_of_rfc_7946_appendix_a3_is_taken_out():
    # 1 x 1 degree with a hole of 0.6 x 0.6, by hand.
    assert read_geometry(RFC_APPENDIX_A["A.3 with holes"]).area == pytest.approx(1.0 - 0.36)


def test_the_collection_of_rfc_7946_section_1_5_reads_as_geojson_and_is_refused_as_a_building_only():
    for feature in RFC_SECTION_1_5["features"]:
        assert read_geometry(feature["geometry"]).geom_type == feature["geometry"]["type"]
    with pytest.raises(PlanError) as caught:
        parse_plan(RFC_SECTION_1_5, FLOORS, name="RFC")
    assert [problem.what for problem in caught.value.problems][:3] == ["it has no kind"] * 3


def test_the_heights_of_rfc_7946_section_3_1_1_are_dropped():
    assert read_geometry({"type": "Point", "coordinates": [100.0, 0.0, 12.5]}).equals(Point(100, 0))


@pytest.mark.parametrize(
    ("latitude", "north", "east"),
    [
        # Kilometres in a degree of latitude and of longitude on WGS 84, as tabulated in the articles
        # "Latitude" and "Longitude" of Wikipedia (from memory; printed to the metre).
        (0, 110.574, 111.320),
        (15, 110.649, 107.550),
        (30, 110.852, 96.486),
        (45, 111.132, 78.847),
        (60, 111.412, 55.800),
        (75, 111.618, 28.902),
    ],
)
def test_a_degree_is_as_long_as_printed_tables_say(latitude, north, east):
    along_parallel, along_meridian = metres_per_degree(latitude)
    assert along_meridian / 1000 == pytest.approx(north, abs=0.0011)
    assert along_parallel / 1000 == pytest.approx(east, abs=0.0011)


@pytest.mark.parametrize("latitude", [-54.8, -33.9, 0.0, 25.8, 40.7, 51.5, 59.9, 69.6, 78.2])
def test_a_degree_is_as_long_as_the_published_series_says(latitude):
    # The series for WGS 84 quoted in Wikipedia's "Geographic coordinate system" and in "Understanding terms
    # in length of degree formula" (GIS Stack Exchange), whose answer finds it within 0.6 parts in a
    # million of the exact radii.
    phi = math.radians(latitude)
    north = 111132.92 - 559.82 * math.cos(2 * phi) + 1.175 * math.cos(4 * phi) - 0.0023 * math.cos(6 * phi)
    east = 111412.84 * math.cos(phi) - 93.5 * math.cos(3 * phi) + 0.118 * math.cos(5 * phi)
    assert metres_per_degree(latitude) == pytest.approx((east, north), rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(-180, 180),
    st.floats(-57, 79),
    st.lists(st.tuples(st.floats(-2500, 2500), st.floats(-2500, 2500)), min_size=1, max_size=8),
)
def test_metres_to_degrees_and_back_is_exact_to_a_millimetre_anywhere(longitude, latitude, metres):
    plane = LocalPlane(longitude, latitude)
    there = np.array(metres)
    np.testing.assert_allclose(plane.to_metres(plane.to_degrees(there)), there, atol=1e-3)


# --- drawings -------------------------------------------------------------------------------------------


def ring(x0, y0, x1, y1):
    return [[[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]]]


def feature(geometry, coordinates, **properties):
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": geometry, "coordinates": coordinates},
    }


def unit(name="101", floor="1", x=0.0, **more):
    own = {"kind": "unit", "id": name, "floor": floor, **more}
    return feature("Polygon", ring(x, 0, x + 6, 8), **own)


def hallway(**more):
    return feature("Polygon", ring(0, 8, 12, 10), **{"kind": "hallway", "id": "H", "floor": "1", **more})


def door(at=(3, 8), **more):
    return feature("Point", list(at), **{"kind": "door", "id": "D1", "unit": "101", **more})


def drawing(*features, **more):
    return {"type": "FeatureCollection", "coordinates_in": "metres", "features": list(features), **more}


def good(*more):
    return drawing(unit(), unit("102", x=6.0), hallway(), door(), *more)


def parse(value):
    return parse_plan(value, FLOORS, name="Test House")


def sentences(value):
    with pytest.raises(PlanError) as caught:
        parse(value)
    return str(caught.value).splitlines()


def test_a_drawing_in_metres_is_taken_as_it_is():
    plan = parse(good())
    assert list(plan.units) == ["101", "102"]
    assert plan.units["101"].parts["1"].equals(box(0, 0, 6, 8))
    assert plan.doors == (Door("D1", "101", "1", Point(3, 8)),)
    assert [space.kind for space in plan.hallways] == ["hallway"]


def test_units_come_by_floor_and_then_in_the_order_of_the_file():
    plan = parse(drawing(unit("201", "2"), unit("9", "1"), unit("10", "1", x=6.0), unit("202", "2", x=6.0)))
    assert list(plan.units) == ["9", "10", "201", "202"]


def test_a_unit_over_two_floors_is_one_unit_whether_drawn_twice_or_with_floors():
    twice = parse(drawing(unit("M", "1"), unit("M", "2"))).units["M"]
    once = parse(drawing(unit("M", None, floors=["1", "2"]))).units["M"]
    assert list(twice.parts) == list(once.parts) == ["1", "2"]
    assert twice.area == once.area == 96.0


def test_ids_are_text_with_leading_zeros_and_a_whole_number_counts_as_text():
    plan = parse(drawing(unit("007"), {**unit(None, 1, x=6.0), "id": 8}))
    assert list(plan.units) == ["007", "8"]


def test_other_properties_of_a_unit_are_kept_as_notes_and_its_stack_is_read():
    found = parse(drawing(unit(stack="A", layout="studio", rooms=2, empty=None))).units["101"]
    assert found.stack == "A"
    assert found.notes == {"layout": "studio", "rooms": "2"}


def test_a_door_drawn_as_a_line_stands_at_its_middle():
    line = feature("LineString", [[2, 8], [3, 8]], kind="door", id="D1", unit="101")
    assert parse(drawing(unit(), line)).doors[0].at.equals(Point(2.5, 8))


def test_a_riser_is_a_polygon_or_a_point_with_a_radius_and_may_be_drawn_floor_by_floor():
    plan = parse(
        drawing(
            unit(),
            feature("Point", [6, 4], kind="riser", id="R1", floors=["2", "1"]),
            feature("Polygon", ring(0, 0, 1, 1), kind="riser", id="R2", floor="1"),
            feature("Polygon", ring(0, 0, 1, 1), kind="riser", id="R2", floor="3"),
            feature("Polygon", ring(9, 0, 12, 5), kind="stair", id="S", floors=["1", "2", "3"]),
        )
    )
    one, two = plan.risers
    assert one.floors == ("1", "2")
    assert one.outline.distance(Point(6.31, 4)) < 0.011
    assert one.outline.area == pytest.approx(math.pi * 0.09, rel=0.01)
    assert two.floors == ("1", "3")
    assert two.outline.area == 1.0
    assert plan.stairs[0].floors == FLOORS


def test_a_bed_names_its_unit_or_is_found_by_where_it_lies():
    plan = parse(
        good(
            feature("Point", [1, 1], kind="bed", id="B1", unit="101"),
            feature("Point", [7, 1], kind="bed", id="B2", floor="1"),
        )
    )
    assert [(bed.unit, bed.floor) for bed in plan.beds] == [("101", "1"), ("102", "1")]


def outlet(at, name="O1", **more):
    return feature("Point", at, **{"kind": "outlet", "id": name, "floor": "1", **more})


def test_an_outlet_is_found_in_or_on_the_edge_of_its_unit_or_names_it():
    """Units 101 and 102 span x 0 to 6 and 6.2 to 12.2; a slip of up to 0.1 m counts as the edge."""
    plan = parse(
        drawing(
            unit(),
            unit("102", x=6.2),
            outlet([3, 1], "middle"),
            outlet([6, 4], "edge"),
            outlet([6.12, 4], "nearer to the other"),
            outlet([6.1, 4], "half way", unit="102"),
            outlet([3, -0.1], "slip"),
        )
    )
    assert [(one.id, one.unit, one.floor) for one in plan.outlets] == [
        ("middle", "101", "1"),
        ("edge", "101", "1"),
        ("nearer to the other", "102", "1"),
        ("half way", "102", "1"),
        ("slip", "101", "1"),
    ]
    assert plan.outlets[1].at.equals(Point(6, 4))
    assert check_plan(plan)[0] == []


def test_a_unit_may_be_in_two_pieces():
    pieces = feature("MultiPolygon", [ring(0, 0, 5, 5), ring(6, 0, 9, 5)], kind="unit", id="A", floor="1")
    assert parse(drawing(pieces)).units["A"].area == 40.0


def test_longitude_and_latitude_become_metres_of_the_right_size():
    # A unit of 6 x 8 m at 60 N, where a degree is 55,800 m and 111,412 m long (WGS 84 series above).
    def degrees(rings):
        return [[[10 + x / 55_800, 60 + y / 111_412] for x, y in part] for part in rings]

    drawn = feature("Polygon", degrees(ring(0, 0, 6, 8)), kind="unit", id="A", floor="1")
    plan = parse({"type": "FeatureCollection", "features": [drawn]})
    part = plan.units["A"].parts["1"]
    assert part.area == pytest.approx(48.0, rel=1e-4)
    assert part.bounds == pytest.approx((-3, -4, 3, 4), abs=1e-3)


def test_a_site_across_the_180th_meridian_stays_in_one_piece():
    def at(x):
        return [[[(180 + x / 1e5 + d + 180) % 360 - 180, -17 + e] for d, e in SQUARE]]

    SQUARE = [(0, 0), (5e-5, 0), (5e-5, 5e-5), (0, 5e-5), (0, 0)]
    features = [feature("Polygon", at(x), kind="unit", id=str(x), floor="1") for x in (-7, -2, 3)]
    plan = parse({"type": "FeatureCollection", "features": features})
    assert plan.units["-2"].area == pytest.approx(plan.units["3"].area, rel=1e-6)
    whole = shapely.total_bounds([unit.parts["1"] for unit in plan.units.values()])
    assert whole[2] - whole[0] < 20.0


def test_a_byte_order_mark_is_no_fault(tmp_path):
    path = tmp_path / "plan.geojson"
    path.write_bytes(b"\xef\xbb\xbf" + json.dumps(good()).encode())
    assert len(read_plan(path, FLOORS, name="Test House").units) == 2


# --- writing --------------------------------------------------------------------------------------------

corners = st.tuples(*[st.floats(-400, 400) for _ in range(2)], *[st.floats(2, 40) for _ in range(2)])
words = st.text("abcXYZ089-/é ", min_size=1, max_size=6).map(str.strip).filter(bool)


@st.composite
def plans(draw):
    def shape():
        x, y, wide, deep = draw(corners)
        outline = box(x, y, x + wide, y + deep)
        return MultiPolygon([outline, box(x + 60, y, x + 70, y + 5)]) if draw(st.booleans()) else outline

    names = draw(st.lists(words, min_size=1, max_size=5, unique=True))
    units = []
    for name in names:
        level = draw(st.integers(0, 2))
        floors = FLOORS[level : level + draw(st.integers(1, 2))]
        notes = draw(st.dictionaries(words.filter(lambda w: w not in ("id", "kind")), words, max_size=2))
        units.append(Unit(name, {floor: shape() for floor in floors}, draw(st.just("") | words), notes))
    units.sort(key=lambda unit: min(FLOORS.index(floor) for floor in unit.parts))
    first = units[0]
    floor = next(iter(first.parts))
    point = Point(*draw(corners)[:2])
    return Plan(
        "Test House",
        FLOORS,
        {unit.id: unit for unit in units},
        hallways=(Space("H", "hallway", "2", shape()),),
        commons=(Space("C", "common", "1", shape()),),
        doors=(Door("D", first.id, floor, point),),
        shafts=(Shaft("R", "riser", ("1", "3"), shape()), Shaft("S", "stair", FLOORS, shape())),
        beds=(Bed("B", first.id, floor, point),),
        outlets=(Outlet("O", first.id, floor, point),),
    )


def outlines(plan):
    yield from (part for unit in plan.units.values() for part in unit.parts.values())
    yield from (space.outline for space in (*plan.hallways, *plan.commons))
    yield from (shaft.outline for shaft in plan.shafts)
    yield from (thing.at for thing in (*plan.doors, *plan.beds, *plan.outlets))


@settings(max_examples=40, deadline=None)
@given(plans())
def test_writing_and_reading_gives_the_same_plan_to_a_millimetre(tmp_path_factory, plan):
    path = tmp_path_factory.mktemp("plan") / "plan.geojson"
    write_plan(plan, path)
    back = read_plan(path, FLOORS, name=plan.name)
    for mine, other in zip(outlines(plan), outlines(back), strict=True):
        assert mine.normalize().equals_exact(other.normalize(), 1e-3)
    for kind in ("hallways", "commons", "doors", "shafts", "beds"):
        mine, other = getattr(plan, kind), getattr(back, kind)
        assert [one.id for one in mine] == [one.id for one in other]
    assert [(u.id, u.stack, dict(u.notes), list(u.parts)) for u in plan.units.values()] == [
        (u.id, u.stack, dict(u.notes), list(u.parts)) for u in back.units.values()
    ]
    assert [shaft.floors for shaft in plan.shafts] == [shaft.floors for shaft in back.shafts]


def test_a_written_plan_is_geojson_to_an_outside_reader_with_outer_rings_anticlockwise(tmp_path):
    path = tmp_path / "plan.geojson"
    write_plan(parse(good()), path)
    outside = shapely.from_geojson(path.read_text())  # GEOS reads a FeatureCollection as a collection
    assert len(outside.geoms) == 4
    assert outside.geoms[0].exterior.is_ccw  # RFC 7946 section 3.1.6


def test_writing_into_a_missing_folder_is_one_sentence_and_a_failed_write_leaves_the_old_file(
    tmp_path, monkeypatch
):
    plan = parse(good())
    with pytest.raises(PlanError, match=r"plan\.geojson: it cannot be written .*; make the folder"):
        write_plan(plan, tmp_path / "nowhere" / "plan.geojson")
    path = tmp_path / "plan.geojson"
    path.write_text("old")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(PlanError, match="cannot be written \\(no space left on device\\); make room"):
        write_plan(plan, path)
    assert path.read_text() == "old"
    assert [file.name for file in tmp_path.iterdir()] == ["plan.geojson"]


# --- bad input ------------------------------------------------------------------------------------------


def degrees(*features):
    return {"type": "FeatureCollection", "features": list(features)}


def square(lon, lat, size=1e-4):
    return feature("Polygon", ring(lon, lat, lon + size, lat + size), kind="unit", id="101", floor="1")


BAD = {
    "no collection": ([1, 2], "plan.geojson: it is not a GeoJSON FeatureCollection", "export all features"),
    "a topology": ({"type": "Topology"}, "its type is 'Topology'", "export all features"),
    "features no list": (drawing() | {"features": {}}, "its features are not a list", "export the drawing"),
    "no features": (drawing(), "it has no features", "draw at least one unit"),
    "no unit": (drawing(hallway()), "it has no feature of kind 'unit'", "draw at least one unit"),
    "other unit of length": (
        good() | {"coordinates_in": "feet"},
        "member 'coordinates_in': it is 'feet', expected 'metres'",
        "convert the drawing to metres",
    ),
    "old crs": (
        degrees(square(10, 50)) | {"crs": {"properties": {"name": "EPSG:25832"}}},
        "member 'crs': it names another coordinate system",
        "export in longitude and latitude",
    ),
    "not a feature": (good(7), "feature 5: it is not a GeoJSON Feature", 'give it "type": "Feature"'),
    "no properties": (
        good({"type": "Feature", "properties": None, "geometry": None}),
        "feature 5: it has no properties",
        "add at least kind, id and floor",
    ),
    "no kind": (good(unit("9", kind=None)), "feature 5 (id '9'): it has no kind", "set properties.kind"),
    "unknown kind": (
        good(unit("9", x=12, kind="corridor")),
        "feature 5 (id '9'): its kind 'corridor' is not known",
        "write 'hallway' if that is what it is",
    ),
    "misspelt kind": (good(unit("9", kind="unti")), "its kind 'unti' is not known", "write 'unit'"),
    "no id": (good(unit(None)), "feature 5 (unit): it has no id", "give it the text properties.id"),
    "no floor": (good(unit("9", None)), "feature 5 (unit '9'): it has no floor", "set properties.floor"),
    "unknown floor": (
        good(unit("9", "4")),
        "feature 5 (unit '9'): floor '4' is not a floor of the building, which has 1, 2, 3",
        "add it to floors in building.toml",
    ),
    "floors no list": (
        good(unit("9", floors="1-3")),
        "feature 5 (unit '9'): its floors are not a list",
        'write them as in "floors": ["1", "2"]',
    ),
    "floor no name": (good(unit("9", 1.5)), "a floor of it is not a name", "write floors as text"),
    "riser without floors": (
        good(feature("Point", [1, 1], kind="riser", id="R")),
        "feature 5 (riser 'R'): it has no floors",
        "list all it runs through",
    ),
    "id twice on a floor": (
        good(unit("102", x=20.0)),
        "feature 5 (unit '102'): floor '1' already has a unit '102' (feature 2)",
        "give one of them another id",
    ),
    "two stacks": (
        drawing(unit("M", "1", stack="A"), unit("M", "2", stack="B")),
        "unit 'M': its 2 features name different stacks (A, B)",
        "give them the same stack",
    ),
    "door without unit": (
        good(door(id="D2", unit=None)),
        "feature 5 (door 'D2'): it names no unit",
        "set properties.unit",
    ),
    "door of an unknown unit": (
        good(door(id="D2", unit="999")),
        "feature 5 (door 'D2'): its unit '999' is not in the plan",
        "set properties.unit to the id of a unit that is drawn",
    ),
    "door without floor of a tall unit": (
        drawing(unit("M", "1"), unit("M", "2"), door(unit="M")),
        "feature 3 (door 'D1'): its unit 'M' is on several floors (1, 2)",
        "set properties.floor",
    ),
    "door on another floor": (
        good(door(id="D2", floor="2")),
        "feature 5 (door 'D2'): it is on floor '2' but its unit '101' is on 1",
        "mend properties.floor",
    ),
    "long door": (
        good(feature("LineString", [[0, 8], [12, 8]], kind="door", id="D2", unit="101")),
        "feature 5 (door 'D2'): it is a line of 12.0 m",
        "draw it as a point",
    ),
    "door as polygon": (
        good(feature("Polygon", ring(0, 0, 1, 1), kind="door", id="D2", unit="101")),
        "feature 5 (door 'D2'): it is a Polygon, expected Point or LineString",
        "draw it as a Point",
    ),
    "bed outside": (
        good(feature("Point", [50, 50], kind="bed", id="B", floor="1")),
        "feature 5 (bed 'B'): it names no unit and lies in no unit",
        "set properties.unit",
    ),
    "outlet in the open": (
        good(outlet([3, -2.5])),
        "feature 5 (outlet 'O1'): it lies in no unit; the nearest on floor '1' is unit '101', 2.50 m away",
        "move it to a wall of the unit that it is in",
    ),
    "outlet half way": (
        good(outlet([6, 4])),
        "feature 5 (outlet 'O1'): it is as near to unit '101' as to unit '102'",
        "set properties.unit",
    ),
    "outlet on a floor without units": (
        good(outlet([3, 1], floor="3")),
        "feature 5 (outlet 'O1'): it lies in no unit, and floor '3' has none",
        "mend properties.floor",
    ),
    "outlet without a floor": (
        good(outlet([3, 1], floor=None)),
        "feature 5 (outlet 'O1'): it has no floor",
        "set properties.floor",
    ),
    "outlet on two floors": (
        good(outlet([3, 1], floors=["1", "2"])),
        "feature 5 (outlet 'O1'): an outlet is on one floor and not on 2",
        "draw one for each floor",
    ),
    "outlet of no unit": (
        good(outlet([3, 1], unit="109")),
        "feature 5 (outlet 'O1'): its unit '109' is not in the plan",
        "set properties.unit",
    ),
    "outlet as polygon": (
        good(feature("Polygon", ring(0, 0, 1, 1), kind="outlet", id="O1", floor="1")),
        "feature 5 (outlet 'O1'): it is a Polygon, expected Point",
        "draw it as a Point",
    ),
    "socket": (
        good(outlet([3, 1], kind="socket")),
        "feature 5 (id 'O1'): its kind 'socket' is not known",
        "write 'outlet'",
    ),
    "null geometry": (
        good({**unit("9"), "geometry": None}),
        "feature 5 (unit '9'): it has no geometry",
        "draw it or remove the feature",
    ),
    "unknown geometry": (
        good({**unit("9"), "geometry": {"type": "Circle", "coordinates": [0, 0]}}),
        "feature 5 (unit '9'): its geometry type is 'Circle'",
        "use one of the types of RFC 7946",
    ),
    "open ring": (
        good(feature("Polygon", [ring(0, 0, 5, 5)[0][:-1]], kind="unit", id="9", floor="1")),
        "feature 5 (unit '9'): a ring does not end where it starts",
        "repeat its first position",
    ),
    "three positions": (
        good(feature("Polygon", [[[0, 0], [1, 1], [0, 0]]], kind="unit", id="9", floor="1")),
        "feature 5 (unit '9'): a ring has 3 of at least 4 positions",
        "draw it again",
    ),
    "wrong nesting": (
        good(feature("Polygon", ring(0, 0, 5, 5)[0], kind="unit", id="9", floor="1")),
        "feature 5 (unit '9'): its rings are nested in too few brackets",
        "a Polygon is a list of rings",
    ),
    "not a number": (
        good(door((math.nan, 1), id="D2")),
        "feature 5 (door 'D2'): a coordinate is not a finite number",
        "draw that corner again",
    ),
    "infinite": (
        good(door((10**400, 1), id="D2")),
        "feature 5 (door 'D2'): a coordinate is not a finite number",
        "draw that corner again",
    ),
    "null coordinate": (
        good(door((None, 1), id="D2")),
        "feature 5 (door 'D2'): a position is [None, 1], expected two numbers",
        "none is empty",
    ),
    "swapped beyond 90": (
        degrees(square(34.05, -118.24)),
        "feature 1 (unit '101'): its latitude is -118.24, there is none beyond 90",
        "longitude comes first and latitude second",
    ),
    "swapped into the ice": (
        degrees(square(40.7, -74.0)),
        "feature 1 (unit '101'): its latitude is -74, no apartment building stands there",
        "longitude comes first and latitude second",
    ),
    "longitude beyond 180": (
        degrees(square(200.0, 10.0)),
        "feature 1 (unit '101'): its longitude is 200",
        "longitude comes first",
    ),
    "metres read as degrees": (
        degrees(square(10, 10, 40)),
        "read as longitude and latitude the whole drawing would be",
        'add "coordinates_in": "metres"',
    ),
    "degrees read as metres": (
        drawing(square(10.0, 50.0)),
        "its coordinates look like longitude and latitude",
        'remove the member "coordinates_in": "metres"',
    ),
    "millimetres": (
        drawing(feature("Polygon", ring(0, 0, 6000, 8000), kind="unit", id="9", floor="1")),
        "the whole drawing would be 8,000 m wide",
        "draw it in metres",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_each_bad_drawing_gives_one_sentence_that_names_file_feature_and_remedy(case):
    value, what, fix = BAD[case]
    (sentence,) = sentences(value)
    assert sentence.startswith("plan.geojson")
    assert what in sentence
    assert fix in sentence.split(what)[1]
    assert sentence.endswith(".")


def test_all_problems_of_a_drawing_come_at_once_and_a_door_is_not_blamed_for_its_unit():
    lines = sentences(
        drawing(
            {**unit("101"), "geometry": None},
            unit("102", "7"),
            unit("103", "7", x=6.0),
            door(),
            door(id="D2", unit="104"),
            unit("105", x=20.0, kind="flat"),
        )
    )
    assert len(lines) == 4
    assert any("floor '7' (and in 1 more features)" in line for line in lines)
    assert not any("'D1'" in line for line in lines)


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b'{"type": "FeatureCollection", "features": [', "line 1, column 44: it is not JSON"),
        (b"%PDF-1.7 \xe2\xe3", "byte 10: it is not UTF-8 text; save it as UTF-8."),
        (b"", "line 1, column 1: it is not JSON"),
        (b"[" * 200_000, "nested too deep"),
        (b"[" + b"9" * 5000 + b"]", "an endless number"),
    ],
)
def test_a_file_that_is_not_json_is_one_sentence(tmp_path, data, what):
    path = tmp_path / "plan.geojson"
    path.write_bytes(data)
    with pytest.raises(PlanError) as caught:
        read_plan(path, FLOORS, name="Test House")
    (sentence,) = str(caught.value).splitlines()
    assert sentence.startswith("plan.geojson")
    assert what in sentence


def test_a_file_of_100_mb_is_refused_by_its_size_before_it_is_read(tmp_path, monkeypatch):
    path = tmp_path / "plan.geojson"
    with path.open("wb") as file:
        file.truncate(100_000_000)  # sparse: it takes no room on disk
    monkeypatch.setattr(geojson.Path, "read_bytes", lambda _: pytest.fail("the file was read"))
    with pytest.raises(
        PlanError, match=r"plan\.geojson: it is 100 MB, larger than the 50 MB that are read; leave"
    ):
        read_plan(path, FLOORS, name="Test House")


def test_a_missing_file_and_a_folder_are_one_sentence_each(tmp_path):
    with pytest.raises(
        PlanError, match=r"^plan\.geojson: there is no such file; check its name and folder\.$"
    ):
        read_plan(tmp_path / "plan.geojson", FLOORS, name="Test House")
    with pytest.raises(PlanError, match=r"^here: it cannot be read \(is a directory\)"):
        read_plan(tmp_path, FLOORS, name="Test House", shown_as="here")


numbers = st.integers(-200, 200) | st.floats() | st.just(10**400)
json_values = st.recursive(
    st.none() | st.booleans() | numbers | st.text(max_size=4),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["type", "coordinates", "geometries", "id", "kind"]), inner)
    ),
    max_leaves=12,
)
names = st.sampled_from(["101", "1", "unit", "Polygon", "Point"])


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.fixed_dictionaries(
            {
                "type": st.just("Feature"),
                "geometry": st.fixed_dictionaries(
                    {
                        "type": st.sampled_from(["Point", "Polygon", "MultiPolygon", "LineString"]),
                        "coordinates": json_values,
                    }
                )
                | json_values
                | st.sampled_from(list(RFC_APPENDIX_A.values())),
                "properties": st.fixed_dictionaries(
                    {"kind": st.sampled_from(["unit", "door", "bed", "riser", "stair", "hallway"])},
                    optional=dict.fromkeys(("id", "floor", "floors", "unit", "stack"), json_values | names),
                ),
            }
        )
        | json_values,
        max_size=4,
    ),
    st.sampled_from([{}, {"coordinates_in": "metres"}]),
)
def test_no_nonsense_whatever_ends_in_a_traceback(features, member):
    value = {"type": "FeatureCollection", "features": features, **member}
    try:
        outcome = parse(value).units
    except PlanError as error:
        outcome = error.problems
    assert outcome


def test_clockwise_rings_are_read_as_rfc_7946_section_3_1_6_asks():
    clockwise = [list(reversed(ring(0, 0, 6, 8)[0]))]
    plan = parse(drawing(feature("Polygon", clockwise, kind="unit", id="9", floor="1")))
    assert plan.units["9"].parts["1"].equals(Polygon(box(0, 0, 6, 8)))


def test_a_geometry_that_is_no_object_is_refused():
    with pytest.raises(GeometryError, match="its geometry is 'POINT"):
        read_geometry("POINT (1 1)")
