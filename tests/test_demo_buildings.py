"""The demo buildings: invented, reproducible, valid, and holding what their READMEs say."""

import csv
import datetime as dt
import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))  # the demos are not part of the installed package

from demo_buildings.life import known_infested  # noqa: E402
from demo_buildings.make import DEMOS, SEED, main, make_building  # noqa: E402
from spread.building import load_building  # noqa: E402
from spread.plan.checks import check_plan  # noqa: E402

LAST_DAY = dt.date(2026, 11, 20)
SHIPPED = ROOT / "demo_buildings"
SIZES = {"ostrel-court": (88, 5), "verrin-tower": (225, 15), "tolliwick-gardens": (48, 3)}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Make every demo afresh with the shipped seed."""
    folder = tmp_path_factory.mktemp("demos")
    main(["--into", str(folder)])
    return folder


def truth_of(folder):
    with (folder / "truth.csv").open(encoding="utf-8", newline="") as file:
        return {row["unit"]: row["level"] for row in csv.DictReader(file)}


@pytest.mark.parametrize("name", DEMOS)
def test_the_shipped_files_are_what_the_script_makes(made, name):
    for file in sorted((made / name).iterdir()):
        # If this fails after a change of rates: run python -m demo_buildings.make
        assert (SHIPPED / name / file.name).read_bytes() == file.read_bytes(), file.name


@pytest.mark.parametrize("name", DEMOS)
def test_a_demo_loads_without_an_error_or_a_warning(name):
    building = load_building(SHIPPED / name)
    assert (len(building.plan.units), len(building.plan.floors)) == SIZES[name]
    errors, warnings = check_plan(building.plan)
    assert errors == []
    assert building.log.rows[-1].when <= LAST_DAY
    assert list(truth_of(SHIPPED / name)) == list(building.contacts.nodes)
    assert [str(w) for w in warnings] == []


@pytest.mark.parametrize("name", DEMOS)
def test_6_to_14_percent_are_infested_some_known_and_more_unknown(name):
    truth = truth_of(SHIPPED / name)
    infested = {unit for unit, level in truth.items() if level != "clear"}
    known = set(known_infested(load_building(SHIPPED / name).log.current))
    assert 0.06 <= len(infested) / len(truth) <= 0.14
    assert infested & known
    assert len(infested - known) >= 2
    readme = (SHIPPED / name / "README.md").read_text(encoding="utf-8")
    said = f"Infested: {len(infested)} of {len(truth)} units"
    assert said in readme
    assert f"{len(infested & known)} of them known to the firm and {len(infested - known)} not" in readme
    assert "Invented: there is no such building, and no such people or firm." in readme


def test_the_mid_rise_has_a_silent_source_a_missed_interception_and_a_false_alert():
    folder = SHIPPED / "ostrel-court"
    log, truth = load_building(folder).log, truth_of(folder)
    readme = (folder / "README.md").read_text(encoding="utf-8")
    source = re.search(r"Unit (\d+) was infested before the log begins", readme)[1]
    assert truth[source] == "heavy"
    assert not [r for r in log.of(source) if r.kind == "report" or r.found == "yes"]
    method, missed = re.search(r"a look by (\S+) said no in unit (\d+)", readme).groups()
    assert truth[missed] != "clear"
    assert missed != source
    assert [r for r in log.of(missed) if r.is_look and r.found == "no" and r.method == method]
    alerted = re.search(r"the dog alerted in unit (\d+), which was clear", readme)[1]
    assert [r for r in log.of(alerted) if r.method == "dog" and r.found == "yes"]
    assert [r for r in log.rows if r.kind == "turnover"]


def test_the_tower_comes_as_a_unit_list_only():
    assert not (SHIPPED / "verrin-tower" / "plan.geojson").exists()
    assert (SHIPPED / "verrin-tower" / "units.csv").exists()


def test_the_gardens_are_four_buildings_that_share_no_wall_and_no_hallway():
    graph = load_building(SHIPPED / "tolliwick-gardens").contacts
    edges = [(a[0] == b[0], data["route"]) for a, b, data in graph.edges(data=True)]
    assert {route for same, route in edges if not same} == {"link"}
    assert {route for same, route in edges if same} == {"wall", "floor", "riser", "hallway"}


def test_another_seed_is_another_life_in_the_same_walls(made, tmp_path):
    make_building("tolliwick-gardens", SEED + 1, tmp_path)
    here, there = tmp_path, made / "tolliwick-gardens"
    assert (here / "plan.geojson").read_bytes() == (there / "plan.geojson").read_bytes()
    assert (here / "records.csv").read_bytes() != (there / "records.csv").read_bytes()


def test_no_product_code_reads_the_truth():
    for package in ("spread", "dashboard"):
        for source in (ROOT / package).rglob("*"):
            if source.suffix in {".py", ".js"}:
                assert "truth.csv" not in source.read_text(encoding="utf-8"), source


def test_an_unknown_demo_is_refused_with_the_names_there_are(capsys):
    with pytest.raises(SystemExit) as stop:
        main(["elm-court"])
    assert stop.value.code == 2
    assert "ostrel-court" in capsys.readouterr().err
