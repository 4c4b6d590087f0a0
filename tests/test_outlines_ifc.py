"""Building models: rooms to units, doors by where they stand, pipes, storeys; and models that are spoilt."""

import io
import math
import zipfile
from pathlib import Path

import pytest
from made_ifc import BATH, DEEP, HALL, WALL, WIDE, Model
from read_back import accepting

from spread.drawings import extra
from spread.drawings import ifc as models
from spread.drawings.ifc import is_ifc
from spread.errors import SpreadError
from spread.outlines.found import found_of
from spread.outlines.ifc import read_ifc
from spread.outlines.opening import is_outlines, open_outlines, outlines_of
from spread.outlines.reading import read_outlines
from spread.outlines.units import FLOOR_FIRST, ONE_UNIT
from spread.plan.checks import check_plan
from spread.tables.answers import Answers

MODELS = Path(__file__).parent / "data" / "models"


def found(data, file="model.ifc"):
    return found_of(read_ifc(data, file))


def answered(held, answers=None, file="model.ifc"):
    """Say yes to everything that is suggested; return what was asked, and the plan with its notes."""
    answers, asked = answers or Answers(), []
    for _ in range(4):
        outlined = read_outlines(held, answers, name="Made", file=file)
        if outlined.plan is not None:
            return asked, outlined
        asked += outlined.questions
        answers = accepting(answers, outlined.questions)
    raise AssertionError("it asks without end")


def said(**topics):
    return Answers(topics)


@pytest.fixture(scope="module")
def duplex():
    return found((MODELS / "duplex.ifc").read_bytes())


def test_two_dwellings_over_two_storeys_come_right_from_an_open_model(duplex):
    asked, outlined = answered(duplex)
    plan = outlined.plan
    assert {unit.id: tuple(unit.parts) for unit in plan.units.values()} == {"A": ("1", "2"), "B": ("1", "2")}
    for unit in plan.units.values():
        # The first storey as the outlines of tests/data/duplex.geojson; the second has the stair in it too.
        assert unit.parts["1"].area == pytest.approx(64.2, abs=0.1)
        assert unit.parts["2"].area == pytest.approx(58.8 + 3.8, abs=0.2)
    assert {door.floor for door in plan.doors} == {"1"}
    assert {door.unit for door in plan.doors} == {"A", "B"}
    assert check_plan(plan)[0] == []
    assert all(one.quiet for one in asked), "one press confirms them all"
    assert {one.key for one in asked if one.topic == "storeys"} == {"Level 1", "Level 2"}
    assert any("T/FDN, Roof" in str(note) for note in outlined.notes), "what has no rooms is said"


def test_every_door_finds_its_rooms_by_where_it_stands(duplex):
    names = [room.name for room in duplex.rooms]
    doors = sorted(tuple(sorted(names[n] for n in door.rooms)) for door in duplex.doors)
    assert len(doors) == 14
    half = [
        *[("A101",), ("A101", "A104"), ("A102",), ("A201", "A202")],
        *[("A201", "A203"), ("A201", "A204"), ("A204", "A205")],
    ]
    assert doors == sorted(half + [tuple(name.replace("A", "B") for name in one) for one in half])


def test_rooms_that_open_into_one_another_without_a_wall_are_one_home_and_a_wall_is_none(duplex):
    names = [room.name for room in duplex.rooms]
    links = {tuple(sorted((names[a], names[b]))) for a, b in duplex.links}
    assert {("A102", "A103"), ("A101", "A102"), ("A101", "A105"), ("A105", "A201")} <= links
    assert all(one[0] == other[0] for one, other in links), "no opening leads through the party wall"


def test_a_duct_that_stands_upright_is_a_riser():
    held = found((MODELS / "duct.ifc").read_bytes())
    ((levels, outline),) = held.pipes
    assert levels == (0,)
    assert outline.area == pytest.approx(0.04, abs=1e-3)


@pytest.mark.parametrize(("schema", "millimetres", "zones"), [("IFC2X3", True, False), ("IFC4", False, True)])
def test_homes_along_a_hallway_come_right_by_doors_and_by_zones(schema, millimetres, zones):
    held = found(Model(schema=schema, millimetres=millimetres, zones=zones).bytes())
    asked, outlined = answered(held)
    plan = outlined.plan
    before = "Flat " if zones else ""
    assert set(plan.units) == {f"{before}{floor}{n:02d}" for floor in (1, 2) for n in (1, 2, 3, 4)}
    for unit in plan.units.values():
        assert unit.area == pytest.approx(WIDE * DEEP, rel=1e-3), "the partition belongs to the home"
    assert len(plan.doors) == 8
    assert [(riser.floors, riser.kind) for riser in plan.risers] == [(("1", "2"), "riser")] * 2
    assert [stair.floors for stair in plan.stairs] == [("1", "2")]
    assert {hall.floor for hall in plan.hallways} == {"1", "2"}
    assert check_plan(plan) == ([], [])
    how = next(one for one in asked if one.key == "units")
    assert how.suggestion == ("by zone" if zones else "by the doors between them")


def test_a_bathroom_that_is_no_part_of_a_home_may_be_said_and_then_it_is_none():
    held = found(Model(1, 1).bytes())
    words = {"living room": "home", "bathroom": "leave out", "corridor": "hallway", "stair": "stair"}
    _, outlined = answered(held, said(rooms=words))
    area = (WIDE - BATH - WALL) * DEEP
    assert [unit.area for unit in outlined.plan.units.values()] == pytest.approx([area] * 2)


@pytest.mark.parametrize("degrees", [0.0, 30.0])
def test_true_north_is_turned_up(degrees):
    toward = (math.sin(math.radians(degrees)), math.cos(math.radians(degrees)))
    asked, outlined = answered(found(Model(1, 2, north=toward).bytes()))
    assert "side where north is" not in {one.key for one in asked}
    lower, upper = (outlined.plan.units[code].parts["1"].centroid for code in ("101", "103"))
    up = (upper.x - lower.x, upper.y - lower.y)
    # 103 lies along the file's y from 101; north is clockwise of y, so y is as much anticlockwise.
    assert math.degrees(math.atan2(up[0], up[1])) == pytest.approx(-degrees, abs=0.5)


def test_north_is_asked_where_the_file_does_not_say_it_and_the_answer_turns_the_plan():
    held = found(Model(1, 1).bytes())
    asked, _ = answered(held)
    assert "side where north is" in {one.key for one in asked}
    _, outlined = answered(held, said(outlines={"side where north is": "right"}))
    west, east = (outlined.plan.units[code].parts["1"].centroid for code in ("102", "101"))
    assert west.x < east.x, "what was up on the drawing, 102, is to the west where north is to its right"
    assert west.y == pytest.approx(east.y, abs=0.01)


def test_codes_that_stand_on_each_floor_may_be_one_home_or_several():
    model = Model(2, 1)
    for code, (living, bath) in model.rooms.items():
        for room, number in ((living, 1), (bath, 2)):
            room.Name = f"{'AB'[int(code[-1]) - 1]}.{number}"
    held = found(model.bytes())
    asked, outlined = answered(held)
    above = next(one for one in asked if one.key == "codes that stand on several floors")
    assert not above.quiet, "it says which unit is meant"
    assert above.suggestion == FLOOR_FIRST, "each has a door of its own on its floor"
    assert set(outlined.plan.units) == {"1-A", "1-B", "2-A", "2-B"}
    _, outlined = answered(held, said(outlines={above.key: ONE_UNIT}))
    assert {unit.id: tuple(unit.parts) for unit in outlined.plan.units.values()} == {
        "A": ("1", "2"),
        "B": ("1", "2"),
    }


def test_rooms_whose_names_share_nothing_are_numbered_if_a_person_says_so():
    model = Model(1, 1)
    for n, room in enumerate(room for of in model.rooms.values() for room in of):
        room.Name = "WXYZ"[n]
    asked, outlined = answered(found(model.bytes()))
    assert set(outlined.plan.units) == {"101", "102"}
    assert any(one.key == "units without a code" for one in asked)
    _, outlined = answered(found(Model(1, 1).bytes()))
    assert set(outlined.plan.units) == {"101", "102"}


def test_a_home_without_a_door_gets_one_in_its_wall_and_that_is_said():
    model = Model(1, 1)
    for door in model.file.by_type("IfcDoor"):
        model.file.remove(door)
    words = {"outlines": {"units": "by zone"}}
    for code, rooms in model.rooms.items():
        zone = model.make("IfcZone", GlobalId="0" * 21 + code[-1], Name=code)
        model.make(
            "IfcRelAssignsToGroup", GlobalId="1" * 21 + code[-1], RelatedObjects=rooms, RelatingGroup=zone
        )
    _, outlined = answered(found(model.bytes()), said(**words))
    assert {door.unit for door in outlined.plan.doors} == {"101", "102"}
    assert any("101, 102 had no door" in str(note) for note in outlined.notes)
    assert check_plan(outlined.plan)[0] == []


def test_a_room_without_a_closed_outline_is_refused_by_name_unless_its_kind_is_left_out():
    model = Model(1, 1)
    living, _ = model.rooms["101"]
    living.Representation = None
    held = found(model.bytes())
    with pytest.raises(SpreadError) as told:
        answered(held)
    assert str(told.value) == (
        "model.ifc, room '101.1' on Level 1: it has no closed outline; close it in the drawing, or leave its "
        "kind of room out."
    )


def test_rooms_of_two_homes_that_overlap_are_told_with_their_units():
    model = Model(1, 2)
    box = (WIDE - 1.0, HALL + WALL, WIDE + 2.0, HALL + WALL + DEEP)
    room = model.space(model.storeys[0], "104.3", "Bathroom", box, 0.0)
    model.within(model.storeys[0], [room])
    zones = [("101", ["101"]), ("102", ["102"]), ("103", ["103"]), ("104", ["104"])]
    for n, (name, codes) in enumerate(zones):
        rooms = [one for code in codes for one in model.rooms[code]] + ([room] if name == "104" else [])
        zone = model.make("IfcZone", GlobalId="0" * 21 + str(n), Name=name)
        model.make(
            "IfcRelAssignsToGroup", GlobalId="1" * 21 + str(n), RelatedObjects=rooms, RelatingGroup=zone
        )
    _, outlined = answered(found(model.bytes()))
    errors, _ = check_plan(outlined.plan)
    assert [str(one) for one in errors] == [
        "model.ifc, unit '103' on floor '1': it overlaps unit '104' by 6.00 m2; move the wall between them "
        "so that they only touch."
    ]


def test_a_model_without_rooms_says_to_trace_it():
    with pytest.raises(SpreadError, match="has no rooms on its storeys 00 groundfloor; trace it on the page"):
        answered(found((MODELS / "duct.ifc").read_bytes()))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda data: data[: len(data) // 2], "it is cut short"),
        (lambda data: data.replace(b"IFCUNITASSIGNMENT(", b"IFCNOTHINGATALL("), "spoilt: 239 of its 240"),
        (lambda data: data.replace(b".LENGTHUNIT.", b".MASSUNIT."), "does not say its unit of length"),
        (lambda data: data.replace(b"IFC4", b"IFC2X_FINAL"), "no whole IFC model of a known schema"),
        (
            lambda data: b"ISO-10303-21;\nHEADER;" + b"\xff" * 5000 + b"END-ISO-10303-21;",
            "no whole IFC model",
        ),
    ],
    ids=["cut short", "a part of it", "no unit of length", "a schema nobody reads", "noise"],
)
def test_a_spoilt_model_is_refused_in_one_sentence(change, words):
    data = change(Model(1, 1).bytes())
    assert is_ifc(data)
    with pytest.raises(SpreadError, match=words) as told:
        answered(open_outlines(data, "model.ifc"))
    assert str(told.value).count("\n") == 0


def test_a_model_in_a_zip_is_read_and_two_are_refused():
    data = Model(1, 1).bytes()

    def packed(**files):
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in files.items():
                archive.writestr(f"{name}.ifc", content)
        return stream.getvalue()

    assert is_outlines(packed(house=data), "house.ifczip")
    assert len(found_of(outlines_of(packed(house=data), "house.ifczip")).rooms) == 6
    with pytest.raises(SpreadError, match="it holds 2 models; pack the architect's model alone"):
        outlines_of(packed(house=data, pipes=data), "house.zip")


def test_a_model_of_very_many_entities_is_refused_before_it_is_read(monkeypatch):
    monkeypatch.setattr(models, "MOST_ENTITIES", 100)
    with pytest.raises(
        SpreadError, match=r"it has \d+ entities, more than the 100 that are read; save the floor"
    ):
        read_ifc(Model(1, 1).bytes(), "model.ifc")


def test_without_the_library_one_sentence_says_what_to_install(monkeypatch):
    monkeypatch.setattr(extra, "find_spec", lambda name: None)
    with pytest.raises(
        SpreadError, match=r"not installed here; install them with: pip install 'spread\[ifc\]'"
    ):
        open_outlines(Model(1, 1).bytes(), "model.ifc")


@pytest.mark.parametrize(("wall", "linked"), [(None, 1), ((0.9, 1.1), 0), ((0.9, 1.1, 3.0), 1)])
def test_rooms_drawn_to_the_middle_of_their_wall_are_joined_by_no_wall_but_by_an_opening(wall, linked):
    model = Model(1, 1)
    storey = model.storeys[0]
    rooms = [
        model.space(storey, name, "Room", box, 0.0)
        for name, box in (("X", (30, 0, 31, 4)), ("Y", (31, 0, 32, 4)))
    ]
    model.within(storey, rooms)
    if wall:  # the whole edge, or all of it but a metre
        model.solid("IfcWall", (30 + wall[0], 0, 30 + wall[1], wall[2] if len(wall) > 2 else 4), 0.0, 3.0)
    held = found(model.bytes())
    names = [room.name for room in held.rooms]
    assert sum({names[a], names[b]} == {"X", "Y"} for a, b in held.links) == linked
