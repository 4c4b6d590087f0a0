"""Tracing drawings whose truth is known: a photograph, a PDF page, a DXF; limits; and the command."""

import io
import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from drawn import Sheet, as_jpeg, as_png, neighbours
from PIL import Image
from shapely import Polygon, box
from small import made_plan

from spread.building import load_building
from spread.cli import main
from spread.drawings import extra, opening
from spread.drawings.opening import LARGEST_FILE, open_drawing, read_drawing
from spread.drawings.pictures import proportion_of
from spread.drawings.squaring import squared
from spread.drawings.stacking import stacked
from spread.drawings.tracer import trace
from spread.drawings.tracing import Opening, tracings_of
from spread.errors import SpreadError
from spread.plan import read_plan

pytestmark = pytest.mark.usefixtures("read_here")

PLAN = made_plan(1, 12)
"""A floor of 23 homes, one of them an L around the stair, and a laundry."""


def traced(seeds, *pictures):
    got = trace({"floors": seeds}, pictures, "seeds.json")
    return stacked(tracings_of({"floors": seeds}, "seeds.json"), got, name="Traced", file="seeds.json"), got


def off(plan, truth, floor, wall=0.1):
    """Return the homes whose area, to the middle of their walls, is more than a twentieth off."""
    wrong = []
    for unit in truth.on_floor(floor):
        there = unit.parts[floor].buffer(wall, join_style="mitre").area
        if abs(plan.units[unit.id].parts[floor].area / there - 1) > 0.05:
            wrong.append(unit.id)
    return wrong


@pytest.fixture(scope="module")
def photograph():
    """A photograph held askew in poor light; the file and the corners of its sheet on the picture."""
    sheet = Sheet(PLAN, "1", scale=34)
    picture, corners = sheet.photograph()
    data = as_jpeg(picture)
    wide = open_drawing(data, "photo.jpg").wide
    return sheet, data, [[x * wide / picture.width, y * wide / picture.width] for x, y in corners]


def test_a_photograph_of_23_homes_becomes_a_floor_with_every_neighbour_right(photograph):
    sheet, data, corners = photograph
    opened = open_drawing(data, "photo.jpg", Opening(corners=tuple(tuple(one) for one in corners)))
    seeds = sheet.seeds(straightened=(opened.wide, opened.high))
    plan, got = traced([seeds], opened.image)
    assert neighbours(plan, "1") == neighbours(PLAN, "1")
    assert len(plan.units) == 23
    assert off(plan, PLAN, "1") == []
    assert sum(door["seen"] for door in got[0]["doors"]) >= 21
    clicks = 4 + len(seeds["outline"]) + 2 + len(seeds["clicks"])
    assert clicks <= 60, "corners, outline, length, hallway, units and stairs"
    # Walls are shared: the outlines neither overlap nor leave a gap inside the floor.
    shapes = [unit.parts["1"] for unit in plan.units.values()] + [hall.outline for hall in plan.hallways]
    shapes += [part.outline for part in (*plan.stairs, *plan.commons)]
    whole = shapely.union_all(shapes)
    assert whole.area == pytest.approx(sum(shape.area for shape in shapes), rel=1e-3)
    assert sum(Polygon(ring).area for part in shapely.get_parts(whole) for ring in part.interiors) < 1.0


def test_the_proportion_of_a_sheet_is_worked_out_from_its_perspective(photograph):
    sheet, _, _ = photograph
    picture, corners = sheet.photograph()
    at = np.array(corners) - np.array(picture.size) / 2
    assert proportion_of(at, float(np.hypot(*picture.size))) == pytest.approx(sheet.size[0] / sheet.size[1])
    straight = np.array([(-300, -200), (300, -200), (300, 200), (-300, 200)], dtype=float)
    assert proportion_of(straight, 900.0) == pytest.approx(1.5)


SMALL = made_plan(2, 2)


@pytest.mark.own_process
def test_a_page_of_a_pdf_is_traced(tmp_path):
    sheet = Sheet(SMALL, "1", scale=60)
    stream = io.BytesIO()
    blank = Image.new("L", sheet.size, 255)
    blank.save(stream, "PDF", save_all=True, append_images=[sheet.picture()])
    data = stream.getvalue()
    opened = open_drawing(data, "plan.pdf", Opening(page=2))
    assert opened.pages == 2
    plan, _ = traced([sheet.seeds(straightened=(opened.wide, opened.high)) | {"page": 2}], opened.image)
    assert neighbours(plan, "1") == neighbours(SMALL, "1")
    assert off(plan, SMALL, "1") == []
    with pytest.raises(SpreadError, match="there is no page 3"):
        open_drawing(data, "plan.pdf", Opening(page=3))


def as_dxf(sheet, *, unit=4):
    """The walls of a sheet in inches on one layer, furniture on another; the header lies of the unit."""
    import ezdxf

    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = unit
    space = document.modelspace()
    inch = 0.0254
    for part in shapely.get_parts(sheet.walls):
        for ring in (part.exterior, *part.interiors):
            line = [(x / inch, y / inch) for x, y in ring.coords]
            space.add_lwpolyline(line, dxfattribs={"layer": "xref$A-WALL"})
    for unit_ in sheet.units:
        x, y = unit_.parts[sheet.floor].representative_point().coords[0]
        space.add_text(unit_.id, dxfattribs={"insert": (x / inch, y / inch), "height": 12})
        space.add_line((x / inch - 100, y / inch), (x / inch + 100, y / inch), dxfattribs={"layer": "FURN"})
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def test_a_dxf_is_traced_from_the_layers_of_its_walls_whatever_its_header_says():
    sheet = Sheet(SMALL, "1", scale=60)
    data = as_dxf(sheet)
    every = open_drawing(data, "plan.dxf")
    assert set(every.layers) == {"xref$A-WALL", "FURN"}
    opened = open_drawing(data, "plan.dxf", Opening(layers=("xref$A-WALL",)))
    assert {text for text, _, _ in opened.texts} == {unit.id for unit in sheet.units}, (
        "they propose the clicks"
    )
    x0, y0, x1, y1 = sheet.outline.bounds
    scale = (opened.wide - 40) / (x1 - x0)

    def px(x, y):
        return [(x - x0) * scale + 20, (y1 - y) * scale + 20]

    seeds = sheet.seeds()
    there = [(x - 60) / 60 for x, _ in seeds["outline"]], [(y - 60) / 60 for _, y in seeds["outline"]]
    seeds["outline"] = [[x * scale + 20, y * scale + 20] for x, y in zip(*there, strict=True)]
    seeds["clicks"] = [{"kind": "unit", "code": text, "at": [x, y]} for text, x, y in opened.texts]
    hall = sheet.halls[0].representative_point()
    stair = SMALL.stairs[0]
    seeds["clicks"] += [{"kind": "hallway", "at": px(hall.x, hall.y)}]
    seeds["clicks"] += [
        {"kind": "common", "code": "laundry", "at": px(*SMALL.commons[0].outline.centroid.coords[0])}
    ]
    seeds["clicks"] += [{"kind": "stair", "code": stair.id, "at": px(*stair.outline.centroid.coords[0])}]
    seeds["length"] = {"from": px(x0, y0), "to": px(x1, y0), "feet": (x1 - x0) / 0.3048}
    plan, _ = traced([seeds], opened.image)
    assert neighbours(plan, "1") == neighbours(SMALL, "1")
    assert off(plan, SMALL, "1") == []
    with pytest.raises(SpreadError, match="no lines on a layer"):
        open_drawing(data, "plan.dxf", Opening(layers=("WALLS",)))


def test_floors_are_laid_over_one_another_by_two_places_and_copied_with_their_codes(tmp_path):
    lower, upper = Sheet(SMALL, "1", scale=60), Sheet(SMALL, "2", scale=45)  # another scale
    (tmp_path / "1.png").write_bytes(as_png(lower.picture()))
    (tmp_path / "2.png").write_bytes(as_png(upper.picture()))
    one, two = lower.seeds(), upper.seeds()
    places = [(lower.x0, lower.y1), (lower.x0 + 9, lower.y1 - 12)]
    one["match"], two["match"] = (
        [list(lower.place(*p)) for p in places],
        [list(upper.place(*p)) for p in places],
    )
    del two["length"]
    codes = {unit.id: f"3{unit.id[1:]}" for unit in upper.units}
    two["copies"] = [{"floor": "3", "codes": codes}]
    seeds = tmp_path / "seeds.json"
    seeds.write_text(json.dumps({"floors": [one, two]}), encoding="utf-8")
    out = tmp_path / "elm-court"
    assert (
        main(
            ["trace", str(tmp_path / "1.png"), str(tmp_path / "2.png"), "--seeds", str(seeds), "-o", str(out)]
        )
        == 0
    )
    plan = load_building(out).plan
    assert plan.floors == ("1", "2", "3")
    assert set(codes.values()) <= set(plan.units)
    for unit in lower.units:
        above, twice = (plan.units[f"{n}{unit.id[1:]}"].parts[str(n)] for n in (2, 3))
        below = plan.units[unit.id].parts["1"]
        assert below.intersection(above).area > 0.95 * below.area
        assert twice.equals(above)
    assert [stair.floors for stair in plan.stairs] == [("1", "2", "3")]
    two["length"] = {"from": [0, 0], "to": [100, 0], "metres": 9}
    seeds.write_text(json.dumps({"floors": [one, two]}), encoding="utf-8")
    with pytest.raises(SpreadError, match="differ in scale"):
        trace({"floors": [one, two]}, [b"", b""], "seeds.json")


def test_a_corner_moved_by_hand_moves_for_both_its_homes():
    sheet = Sheet(SMALL, "1")
    seeds = sheet.seeds()
    picture = as_png(sheet.picture())
    plan, _ = traced([seeds], picture)
    a, b = (plan.units[code].parts["1"] for code in ("101", "103"))
    shared = sorted(shapely.get_coordinates(a.intersection(b)).tolist())
    x0 = min(shapely.get_coordinates([u.parts["1"] for u in plan.units.values()])[:, 0])
    least = np.array(seeds["outline"]).min(axis=0)[0], np.array(seeds["outline"]).max(axis=0)[1]
    at = [least[0] + (shared[0][0] - x0) * 30, least[1] - shared[0][1] * 30]
    moved, got = traced(
        [seeds | {"moved": [{"from": at, "to": [at[0] + 30, at[1]]}, {"from": [1, 1], "to": [9, 9]}]}],
        picture,
    )
    assert [list(one) for one in got[0]["lost"]] == [[1, 1]]
    changed = [
        code for code in plan.units if not moved.units[code].parts["1"].equals(plan.units[code].parts["1"])
    ]
    assert {"101", "103"} <= set(changed)
    assert moved.units["101"].parts["1"].intersection(moved.units["103"].parts["1"]).area < 1e-6


def test_walls_that_nearly_stand_in_line_are_put_in_line_and_stay_shared():
    a = Polygon([(0, 0), (100, 0), (101, 80), (0, 80)])
    b = Polygon([(100, 0), (200, 0), (200, 80), (101, 80)])
    left, right = squared([a, b], box(0, 0, 200, 80), 20.0)
    assert left.area + right.area == pytest.approx(200 * 80)
    assert left.intersection(right).length == pytest.approx(80)
    assert len({round(x, 6) for x, _ in left.intersection(right).coords}) == 1


ASKED = {
    "floor": "1", "outline": [[10, 10], [200, 10], [200, 150], [10, 150]],
    "length": {"from": [10, 10], "to": [200, 10], "metres": 10},
    "clicks": [{"code": "101", "at": [50, 50]}, {"code": "102", "at": [150, 50]}],
}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outline": [[0, 0], [9, 9]]}, "no list of 3 to 500 places"),
        ({"outline": [[10, 10], [200, 150], [200, 10], [10, 150]]}, "crosses itself"),
        ({"length": None}, "it is no known length|no length is known"),
        ({"length": {"from": [1, 1], "to": [90, 1]}}, "no known length"),
        ({"length": {"from": [1, 1], "to": [90, 1], "metres": float("inf")}}, "no number from"),
        ({"clicks": []}, "no unit is clicked"),
        ({"clicks": [{"kind": "flat", "code": "1", "at": [50, 50]}]}, "'flat' is not known"),
        ({"clicks": [{"kind": "unit", "code": "1", "at": [900, 50]}]}, "outside the outline"),
        ({"clicks": [{"kind": "unit", "code": "a\u200bb", "at": [50, 50]}]}, "it is no name"),
        ({"clicks": [{"kind": "unit", "code": "1", "at": ["x", 50]}]}, "no place on the picture"),
        ({"corners": [[0, 0], [10, 10], [10, 0], [0, 10]]}, "four corners of a sheet"),
        ({"layers": ["\u0101" * 9000]}, "too long a list"),
        ({"layers": "A-WALL"}, "no list of names"),
        ({"dark": 7}, "no number from 0.05 to 0.98"),
        ({"copies": [{"floor": "2", "codes": {"101": "201"}}]}, "no code for the unit over '102'"),
        ({"copies": [{"floor": "2", "codes": {"101": "101", "102": "202"}}]}, "it is there 2 times"),
        ({"copies": [{"floor": "1", "codes": {"101": "201", "102": "202"}}]}, "it is there twice"),
    ],
)
def test_what_was_clicked_wrongly_is_said_in_a_sentence(change, words):
    with pytest.raises(SpreadError, match=words):
        tracings_of({"floors": [ASKED | change]}, "seeds.json")


@pytest.mark.parametrize("sent", [None, [], {}, {"floors": []}, {"floors": [7]}, {"floors": "x"}])
def test_seeds_that_are_none_are_refused(sent):
    with pytest.raises(SpreadError):
        tracings_of(sent, "seeds.json")


def test_two_homes_of_one_code_that_do_not_touch_are_not_made_one():
    sheet = Sheet(SMALL, "1")
    seeds = sheet.seeds()
    for click in seeds["clicks"]:
        if click.get("code") == "103":
            click["code"] = "102"
    with pytest.raises(SpreadError, match="unit '102' has parts that do not touch"):
        traced([seeds], as_png(sheet.picture()))


def encrypted():
    from pypdf import PdfWriter

    writer, stream = PdfWriter(), io.BytesIO()
    writer.add_blank_page(200, 200)
    writer.encrypt("secret")
    writer.write(stream)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("none.png", b"", "it is empty"),
        ("text.png", b"hello", "no picture, PDF or DXF"),
        ("cut.png", as_png(Image.effect_noise((300, 300), 50))[:9000], "cut short or spoilt"),
        ("locked.pdf", encrypted(), "locked with a password"),
        ("cut.pdf", b"%PDF-1.7\n1 0 obj", "no whole PDF"),
        ("cut.dxf", b"0\nSECTION\n2\nENTITIES\n0\nLINE\n", "no whole DXF|no lines to trace"),
        ("page.html", b"<svg onload=alert(1)>", "no picture, PDF or DXF"),
    ],
)
def test_a_file_that_is_no_drawing_is_refused_in_one_sentence(name, data, words):
    with pytest.raises(SpreadError, match=words) as refused:
        open_drawing(data, name)
    assert str(refused.value).count("\n") == 0


@pytest.mark.own_process
def test_a_picture_of_endless_pixels_is_refused_before_it_is_unpacked():
    stream = io.BytesIO()
    Image.new("1", (20_000, 9_000)).save(stream, "PNG")
    assert len(stream.getvalue()) < 100_000
    with pytest.raises(SpreadError, match="pixels"):
        open_drawing(stream.getvalue(), "wide.png")


def test_a_file_over_the_limit_is_not_read(tmp_path):
    path = tmp_path / "vast.pdf"
    with path.open("wb") as file:
        file.truncate(LARGEST_FILE + 1)
    with pytest.raises(SpreadError, match="larger than the 200 MB"):
        read_drawing(path)


@pytest.mark.own_process
def test_reading_that_takes_too_long_is_ended(monkeypatch):
    monkeypatch.setattr(opening, "SECONDS", 0.01)
    with pytest.raises(SpreadError, match="seconds to read"):
        open_drawing(as_png(Image.new("L", (50, 50))), "slow.png")


def test_without_the_extra_it_is_said_in_one_sentence(monkeypatch):
    monkeypatch.setattr(extra, "find_spec", lambda name: None)
    with pytest.raises(SpreadError, match=r"pip install 'spread\[drawings\]'"):
        open_drawing(b"x", "plan.png")


@pytest.mark.own_process
def test_the_command_writes_nothing_when_anything_is_wrong(tmp_path, capsys):
    sheet = Sheet(SMALL, "1")
    (tmp_path / "1.png").write_bytes(as_png(sheet.picture()))
    seeds = tmp_path / "seeds.json"
    seeds.write_text(json.dumps({"floors": [sheet.seeds() | {"dark": 9}]}), encoding="utf-8")
    command = ["trace", str(tmp_path / "1.png"), "--seeds", str(seeds), "-o", str(tmp_path / "out")]
    assert main(command) == 2
    assert not (tmp_path / "out").exists()
    seeds.write_text("{", encoding="utf-8")
    assert main(command) == 2
    assert main(["trace", str(tmp_path / "nowhere.png"), "--picture", str(tmp_path / "p.png")]) == 2
    assert sorted(one.name for one in tmp_path.iterdir()) == ["1.png", "seeds.json"]
    lines = capsys.readouterr().err.strip().splitlines()
    assert len(lines) == 3
    assert not any("Traceback" in line for line in lines)
    assert main(["trace", str(tmp_path / "1.png"), "--picture", str(tmp_path / "p.png")]) == 0
    assert Image.open(tmp_path / "p.png").width <= 1600


def test_the_reference_midrise_is_traced_with_every_neighbour_right():
    """The reference mid-rise apartment of the US Department of Energy (tests/data/SOURCES.md)."""
    path = Path(__file__).parent / "data" / "doe_midrise.geojson"
    truth = read_plan(path, ["1", "2", "3", "4"], name="Reference")
    floor = truth.floors[1]
    sheet = Sheet(truth, floor)
    plan, _ = traced([sheet.seeds()], as_png(sheet.picture()))
    assert neighbours(plan, floor) == neighbours(truth, floor)
    assert off(plan, truth, floor, wall=0.0) == []
