"""A building's folder read whole, and each way in which it can be incomplete."""

import json

import pytest

from spread.building import load_building
from spread.errors import PlanError, RecordError, SettingsError, SpreadError

TOML = 'name = "Elm Court"\nfloors = ["1", "2"]\n'
HEADER = "id,when,unit,kind,method,found,level,count,evidence,days,by,note,supersedes\n"


def ring(x0, y0, x1, y1):
    return [[[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]]]


def feature(geometry, coordinates, **properties):
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": geometry, "coordinates": coordinates},
    }


def drawing(second_starts_at=6.0):
    features = []
    for floor in ("1", "2"):
        x = second_starts_at
        features += [
            feature("Polygon", ring(0, 0, 6, 8), kind="unit", id=f"{floor}01", floor=floor),
            feature("Polygon", ring(x, 0, x + 6, 8), kind="unit", id=f"{floor}02", floor=floor),
            feature("Polygon", ring(0, 8, 12, 10), kind="hallway", id="H", floor=floor),
            feature("Point", [3, 8], kind="door", id=f"D{floor}01", unit=f"{floor}01"),
            feature("Point", [9, 8], kind="door", id=f"D{floor}02", unit=f"{floor}02"),
        ]
    return {"type": "FeatureCollection", "coordinates_in": "metres", "features": features}


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "elm-court"
    folder.mkdir()
    (folder / "building.toml").write_text(TOML)
    (folder / "plan.geojson").write_text(json.dumps(drawing()))
    return folder


def test_a_folder_with_settings_and_a_drawing_is_a_building(folder):
    building = load_building(folder)
    assert building.name == "Elm Court"
    assert list(building.plan.units) == ["101", "102", "201", "202"]
    assert list(building.contacts.nodes) == ["101", "102", "201", "202"]
    # By hand: two units side by side share the 8 m wall from y = 0 to 8 and lie 6 x 8 m above one another.
    assert building.contacts.edges["101", "102", "wall"]["metres"] == pytest.approx(8.0)
    assert building.contacts.edges["101", "201", "floor"]["m2"] == pytest.approx(48.0)
    assert building.log.rows == ()
    assert building.warnings == ()
    assert repr(building).startswith("Building('Elm Court': 4 units, ")


def test_records_may_be_missing_empty_or_there(folder):
    (folder / "records.csv").write_text("")
    assert load_building(str(folder)).log.rows == ()
    (folder / "records.csv").write_text(HEADER + "r1,2026-03-02,101,report,,,,,,,,,\n")
    assert [row.unit for row in load_building(folder).log.rows] == ["101"]


def test_a_bad_record_is_a_record_error_that_names_its_line(folder):
    (folder / "records.csv").write_text(HEADER + "r1,2026-03-02,999,report,,,,,,,,,\n")
    with pytest.raises(RecordError, match=r"records\.csv.*999"):
        load_building(folder)


def test_settings_reach_the_plan_and_links_reach_the_contacts(folder):
    (folder / "building.toml").write_text(
        TOML + '[plan]\nstorey_height_m = 3.5\n[[links]]\na = "101"\nb = "202"\nwhy = "share a laundry day"\n'
    )
    building = load_building(folder)
    assert building.plan.storey_height == 3.5
    assert building.contacts.has_edge("101", "202", "link")


def test_a_link_to_an_unknown_unit_is_a_settings_error(folder):
    (folder / "building.toml").write_text(TOML + '[[links]]\na = "101"\nb = "999"\nwhy = "relatives"\n')
    with pytest.raises(SettingsError, match=r"building\.toml.*999"):
        load_building(folder)


def test_access_of_an_unknown_unit_is_one_sentence_beside_every_other_problem_of_the_settings(folder):
    (folder / "building.toml").write_text(
        TOML
        + '[rules]\nset = "good-practise"\n'
        + '[[links]]\na = "101"\nb = "999"\nwhy = "relatives"\n'
        + '[[access]]\nunit = "101"\ndo_not_enter = true\n'
        + '[[access]]\nunit = "103"\ndo_not_enter = true\n'
    )
    with pytest.raises(SettingsError) as caught:
        load_building(folder)
    link, access, rules = str(caught.value).splitlines()
    assert "999" in link
    assert access == (
        "building.toml, access 2, setting 'unit': unit '103' is not on the plan; "
        "correct the unit or remove the table."
    )
    assert rules == (
        "building.toml, [rules], setting 'set': there is no rule set 'good-practise'; "
        "write 'good-practice' if that is meant."
    )


def test_a_rule_set_of_the_buildings_own_that_is_missing_or_broken_is_said_by_its_name(folder):
    (folder / "building.toml").write_text(TOML + '[rules]\nset = "own.toml"\n')
    with pytest.raises(SettingsError, match=r"^own\.toml"):
        load_building(folder)
    (folder / "own.toml").write_text("steps = 3")
    with pytest.raises(SettingsError, match=r"own\.toml"):
        load_building(folder)


def test_a_plan_with_errors_is_refused_and_one_with_warnings_is_used(folder):
    (folder / "plan.geojson").write_text(json.dumps(drawing(second_starts_at=5.0)))
    with pytest.raises(PlanError, match=r"it overlaps unit '102' by 8\.00 m2"):
        load_building(folder)
    (folder / "plan.geojson").write_text(json.dumps(drawing()))
    (folder / "building.toml").write_text(TOML.replace('"2"', '"2", "3"'))
    (warning,) = load_building(folder).warnings
    assert "floor '3': nothing is drawn on it" in str(warning)


def test_a_drawing_wins_over_a_unit_list(folder):
    (folder / "units.csv").write_text("this is no unit list")
    assert len(load_building(folder).plan.units) == 4


def test_a_unit_list_is_drawn_where_there_is_no_drawing(folder):
    (folder / "plan.geojson").unlink()
    rows = [f"{floor}{number:02d},{floor}" for floor in (1, 2) for number in range(1, 9)]
    (folder / "units.csv").write_text("unit,floor\n" + "\n".join(rows) + "\n")
    building = load_building(folder)
    assert sorted(building.plan.units) == sorted(row.split(",")[0] for row in rows)
    assert building.plan.floors == ("1", "2")
    assert building.contacts.number_of_edges() > 0


@pytest.mark.parametrize(
    ("remove", "lines"),
    [
        (["building.toml"], ["elm-court: it has no building.toml; write one with at least name"]),
        (["plan.geojson"], ["elm-court: it has neither plan.geojson nor units.csv; add a drawing"]),
        (["building.toml", "plan.geojson"], ["elm-court: it has no building", "elm-court: it has neither"]),
    ],
)
def test_every_missing_file_is_named_with_its_remedy(folder, remove, lines):
    for name in remove:
        (folder / name).unlink()
    with pytest.raises(SpreadError) as caught:
        load_building(folder)
    found = str(caught.value).splitlines()
    assert len(found) == len(lines)
    for sentence, start in zip(found, lines, strict=True):
        assert sentence.startswith(start)


def test_a_missing_folder_and_a_file_instead_of_one_are_one_sentence_without_our_paths(folder, tmp_path):
    with pytest.raises(SpreadError) as caught:
        load_building(tmp_path / "oak-court")
    assert (
        str(caught.value) == "oak-court: there is no such folder; check its name and where you are working."
    )
    with pytest.raises(
        SpreadError, match=r"^plan\.geojson: it is a file, expected a building's folder; name the"
    ):
        load_building(folder / "plan.geojson")
